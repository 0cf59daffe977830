// SPDX-License-Identifier: GPL-3.0-or-later
// cavum coldtest with pictures and reports.
#include "cavum/picture.h"
#include "cli/cmd_coldtest.h"
#include "cli/commands.h"

static cavum_status check(const char *path, cavum_error *error) {
  cavum_picture_format format;
  return cavum_picture_find_format(&format, path, error);
}

static cavum_status draw(char **bytes, size_t *size, const char *path,
                         const cavum_coldtest_report *report, cavum_error *error) {
  cavum_picture_options options = cavum_picture_options_default();
  cavum_status status = cavum_picture_find_format(&options.format, path, error);
  if (status != CAVUM_OK) return status;
  return cavum_picture_draw_coldtest(bytes, size, report, &options, error);
}

int cavum_cmd_coldtest_draw(int argc, char **argv) {
  const cavum_coldtest_drawing drawing = {check, draw, cavum_picture_report_coldtest};
  return cavum_coldtest_command(argc, argv, &drawing);
}
