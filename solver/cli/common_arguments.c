// SPDX-License-Identifier: GPL-3.0-or-later
// -o, --json, --quiet and --overwrite.
#include "cli/common_arguments.h"

#include <stdlib.h>
#include <string.h>

#include "cavum/store.h"
#include "cli/options.h"

bool cavum_common_take(cavum_common_arguments *common, int key, const char *value,
                       struct argp_state *state) {
  switch (key) {
    case 'o':
      cavum_option_set_file(&common->output_path, "-o", value, state);
      return true;
    case 'q':
      common->quiet = true;
      return true;
    case CAVUM_OPTION_JSON:
      if (!*value) argp_error(state, "--json: expected a file name, or '-'");
      common->json_path = value;
      return true;
    case CAVUM_OPTION_OVERWRITE:
      common->overwrite = true;
      return true;
    default:
      return false;
  }
}

bool cavum_common_json_on_screen(const cavum_common_arguments *common) {
  return common->json_path && strcmp(common->json_path, "-") == 0;
}

void cavum_common_check(const cavum_common_arguments *common, const char *other,
                        struct argp_state *state) {
  if (!common->quiet || common->output_path || common->json_path || other) return;
  argp_error(state, "--quiet: nothing is written");
}

bool cavum_common_prints(const cavum_common_arguments *common) {
  return !common->quiet && !cavum_common_json_on_screen(common);
}

cavum_status cavum_common_write_json(const cavum_common_arguments *common, cavum_status status,
                                     char **json, cavum_error *error) {
  if (status == CAVUM_OK) status = cavum_store_write_text(common->json_path, *json, error);
  free(*json);
  *json = NULL;
  return status;
}
