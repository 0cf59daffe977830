// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape in the tables of all commands: one unit, against those of a cylinder.
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"

// Length 80 mm, radius 100 mm: volume pi R^2 L, metal 2 pi R (R + L).
static const char CYLINDER[] =
    "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 80, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 80, r_mm: 100}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"
    "tolerances: {\"path[2].line_to.r_mm\": {normal: 0.1}}\n";

static char folder[128];

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", CYLINDER);
  program_write_text(folder, "other.yaml", CYLINDER);
  ck_assert_int_eq(program_run(folder,
                               "$CAVUM solve cell.yaml -q -o cell.hdf && "
                               "$CAVUM solve other.yaml -q -o other.hdf"),
                   0);
}

static void tear_down(void) { temporary_folder_delete(folder); }

// The first number behind a name in a line, and the word at its end or behind the number.
static void check_row(const char *table, const char *name, double expected, const char *unit) {
  const char *row = strstr(table, name), *end = row ? strchr(row + 1, '\n') : NULL;
  ck_assert_msg(row && end, "no row %s", name);
  CAVUM_CHECK_NEAR(strtod(row + strlen(name), NULL), expected, 1e-4 * expected);
  char line[256];
  snprintf(line, sizeof line, "%.*s", (int)(end - row), row);
  ck_assert_msg(strstr(line, unit) != NULL, "no %s in: %s", unit, line);
}

START_TEST(tables_have_one_unit) {
  static const char *const commands[] = {
      "$CAVUM solve cell.yaml --all", "$CAVUM tolerances cell.yaml --samples 0",
      "$CAVUM tune cell.yaml --set frequency_MHz=1147.5 --by path[2].line_to.r_mm -o tuned.yaml",
      "$CAVUM compare cell.hdf other.hdf"};
  const double radius_m = 0.1, length_m = 0.08;
  double volume_l = 1e3 * CAVUM_PI * radius_m * radius_m * length_m;
  double area_cm2 = 1e4 * 2.0 * CAVUM_PI * radius_m * (radius_m + length_m);
  ck_assert_int_eq(program_run(folder, "%s", commands[_i]), 0);
  const char *table = program_read_text(folder, "out");
  fputs(table, stdout);
  check_row(table, "\n  volume ", volume_l, " l");
  check_row(table, "\n  wall area ", area_cm2, " cm^2");
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_loop_test(tests, tables_have_one_unit, 0, 4);
}

CAVUM_TEST_MAIN("shape_rows", add)
