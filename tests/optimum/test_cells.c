// SPDX-License-Identifier: GPL-3.0-or-later
// Cells that share the dimensions, against closed forms: two pillboxes of one gap and two radii.
#include "base/base.h"
#include "cavum/optimum.h"
#include "solving.h"
#include "temporary_folder.h"

#define PILLBOX(radius)                                          \
  "contour:\n"                                                   \
  "  kind: path\n"                                               \
  "  start: {z_mm: -40.0, r_mm: 0.0}\n"                          \
  "  path:\n"                                                    \
  "    - {line_to: {z_mm: 40.0, r_mm: 0.0}, boundary: axis}\n"   \
  "    - {line_to: {z_mm: 40.0, r_mm: " radius                   \
  "}, boundary: metal}\n"                                        \
  "    - {line_to: {z_mm: -40.0, r_mm: " radius                  \
  "}, boundary: metal}\n"                                        \
  "    - {line_to: {z_mm: -40.0, r_mm: 0.0}, boundary: metal}\n" \
  "modes: {count: 1}\naccuracy: {frequency: 1.0e-11, other_figures: 1.0e-8}\n"

#define GAP                                                \
  "cell: small.yaml\ncells: {wide: {cell: wide.yaml}}\n"   \
  "vary: {\"path[2].line_to.z_mm\": {from: 20, to: 90}}\n" \
  "linked:\n"                                              \
  "  - path[1].line_to.z_mm = path[2].line_to.z_mm\n"      \
  "  - path[3].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "  - start.z_mm = -path[2].line_to.z_mm\n"               \
  "  - path[4].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "starts: 1\ntolerance: 1.0e-8\n"

static const double X01 = 2.404825557695773, R1_MM = 100.0, R2_MM = 120.0;
static char folder[128];

static void write_text(const char *name, const char *text) {
  char path[192];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  ck_assert_int_ge(fputs(text, file), 0);
  ck_assert_int_eq(fclose(file), 0);
}

static void set_up(void) {
  temporary_folder_make(folder);
  write_text("small.yaml", PILLBOX("100.0"));
  write_text("wide.yaml", PILLBOX("120.0"));
}

static void tear_down(void) { temporary_folder_delete(folder); }

static cavum_optimum *optimise(const char *text) {
  char path[192];
  cavum_goal *goal = NULL;
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  write_text("goal.yaml", text);
  snprintf(path, sizeof path, "%s/goal.yaml", folder);
  cavum_status status = cavum_goal_open(&goal, path, &error);
  if (status == CAVUM_OK) status = cavum_optimise(&optimum, goal, NULL, &error);
  if (status != CAVUM_OK) printf("%s\n", error.message);
  ck_assert_int_eq(status, CAVUM_OK);
  ck_assert_int_eq(cavum_goal_num_cells(goal), 2);
  ck_assert_str_eq(cavum_goal_cell_name(goal, 1), "wide");
  cavum_goal_close(&goal);
  return optimum;
}

// The largest R/Q of the small one for a G of at least 220 ohm of the wide one, which is
// 453 ohm / (1 + R / d).
START_TEST(limit_of_another_cell) {
  cavum_optimum *o = optimise(
      GAP "maximise: r_over_q_linac_ohm\nlimits: {wide.geometry_factor_ohm: {least: 220}}\n");
  double largest_g = 0.5 * 376.730313412 * X01;
  double half_gap = 0.5 * R2_MM / (largest_g / 220.0 - 1.0);
  printf("half gap %.9f mm, expected %.9f, %d solves\n", o->variables[0].value, half_gap,
         o->num_solves);
  // The limit is met to a tenth of 1e-8.
  CAVUM_CHECK_RELATIVE(o->variables[0].value, half_gap, 1e-7);
  ck_assert_str_eq(o->limits[0].what.key, "wide.geometry_factor_ohm");
  ck_assert_int_eq(o->limits[0].active, -1);
  ck_assert_int_eq(o->num_others, 1);
  cavum_figure g = o->others[0].result->modes[0].figures[CAVUM_FIGURE_GEOMETRY_FACTOR];
  CAVUM_CHECK_NEAR(g.value, 220.0, 1e-6 * 220.0);
  ck_assert_ptr_nonnull(strstr(o->others[0].cell_text, "120"));
  cavum_optimum_destroy(&o);
}
END_TEST

// R/Q of the small one times G of the wide one goes as sin^2 x / (x + c), x = k d / 2 and
// c = x01 R2 / (2 R1): largest where tan x = 2 (x + c).
START_TEST(product_of_two_cells) {
  cavum_optimum *o =
      optimise(GAP "maximise: {r_over_q_linac_ohm: 1, wide.geometry_factor_ohm: 1}\n");
  double c = 0.5 * X01 * R2_MM / R1_MM, low = 1.0, high = 1.57;
  for (int i = 0; i < 100; i++) {
    double x = 0.5 * (low + high);
    if (tan(x) > 2.0 * (x + c)) high = x;
    if (tan(x) <= 2.0 * (x + c)) low = x;
  }
  double x = X01 / R1_MM * o->variables[0].value;
  printf("x %.9f, expected %.9f\n", x, low);
  CAVUM_CHECK_RELATIVE(x, low, 1e-6);
  cavum_optimum_destroy(&o);
}
END_TEST

static const struct {
  const char *text, *message;
} refused[] = {
    {"cell: small.yaml\ncells: {wide: {cell: two-ellipse.yaml}}\n", "in the cell 'wide'"},
    {"cell: small.yaml\ncells: {a.b: {cell: wide.yaml}}\n", "a name"},
    {"cell: small.yaml\ncells: {wide: {}}\n", "cell"},
    {"cell: small.yaml\ncells: {wide: {cell: nothing.yaml}}\n", "nothing.yaml"},
    {"cell: small.yaml\nlimits: {wide.geometry_factor_ohm: {least: 1}}\n", "wide"},
    {"cell: small.yaml\ncells: {wide: {cell: wide.yaml, coupling: yes}}\n", "coupling"},
    {"cell: small.yaml\ncells: {wide: {cell: wide.yaml}}\n"
     "front: {wide.geometry_factor_ohm: {from: 1, to: 2, points: 2}}\n",
     "of the first cell"}};

START_TEST(what_is_wrong_is_said) {
  char path[192], text[1000];
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  write_text("two-ellipse.yaml",
             "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35.0\n"
             "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"
             "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"
             "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n");
  snprintf(text, sizeof text,
           "vary: {\"path[2].line_to.z_mm\": {from: 20, to: 90}}\nmaximise: r_over_q_linac_ohm\n%s",
           refused[_i].text);
  write_text("goal.yaml", text);
  snprintf(path, sizeof path, "%s/goal.yaml", folder);
  ck_assert_int_ne(cavum_goal_open(&goal, path, &error), CAVUM_OK);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].message));
  ck_assert_ptr_null(goal);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, limit_of_another_cell);
  tcase_add_test(tests, product_of_two_cells);
  tcase_add_loop_test(tests, what_is_wrong_is_said, 0, sizeof refused / sizeof *refused);
}

CAVUM_TEST_MAIN("cells", add)
