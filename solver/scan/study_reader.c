// SPDX-License-Identifier: GPL-3.0-or-later
// What the parts of reading a study file share.
#include "scan/study_reader.h"

#include <libgen.h>

#include "base/base.h"

cavum_status cavum_study_reader_fail(const cavum_study_reader *r, const cavum_yaml_node *node,
                                     cavum_status status, const cavum_error *what) {
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(r->reader->error);
  return cavum_yaml_tree_fail(r->reader->error, status, r->reader->name, node->line, node->column,
                              "%s", what->message);
}

char *cavum_study_beside(const char *study_path, const char *name) {
  char *copy = cavum_copy_text(study_path);
  char *joined = NULL;
  if (copy)
    joined = cavum_format_text("%s%s%s", name[0] == '/' ? "" : dirname(copy),
                               name[0] == '/' ? "" : "/", name);
  free(copy);
  return joined;
}
