// SPDX-License-Identifier: GPL-3.0-or-later
// Conditions of a study: in dimensions they cost no solve, in figures the row keeps what was
// computed; they go with any kind of cell.
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "scan/one_shape.h"
#include "study_files.h"
#include "support.h"

enum { MOST_SHAPES = 8 };

/** A computed study. */
typedef struct computed_study {
  study_files files;
  cavum_study *study;
  int num_shapes;
  unsigned char *rows;
  char reasons[MOST_SHAPES][CAVUM_MESSAGE_SIZE];
} computed_study;

static void compute(computed_study *c, const char *cell, const char *text) {
  cavum_scan_worker worker = {0};
  cavum_error error = {0};
  study_files_make(&c->files, cell, text);
  c->study = study_files_open(&c->files);
  c->num_shapes = (int)cavum_study_num_shapes(c->study);
  ck_assert_int_le(c->num_shapes, MOST_SHAPES);
  c->rows = calloc((size_t)c->num_shapes, cavum_study_row_size(c->study));
  ck_assert_int_eq(cavum_scan_worker_open(&worker, c->study, NULL, NULL, NULL), CAVUM_OK);
  for (int i = 0; i < c->num_shapes; i++) {
    unsigned char *row = c->rows + (size_t)i * cavum_study_row_size(c->study);
    cavum_status status = cavum_scan_compute(row, c->reasons[i], &worker, i, &error);
    ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  }
  cavum_scan_worker_clear(&worker);
}

static void clear(computed_study *c) {
  free(c->rows);
  cavum_study_close(&c->study);
  temporary_folder_delete(c->files.folder);
}

static double value_of(const computed_study *c, int shape, const char *key) {
  int count = 0;
  const cavum_column *columns = cavum_study_columns(&count, c->study);
  for (int i = 0; i < count; i++) {
    if (strcmp(columns[i].key, key) != 0) continue;
    return cavum_column_value(&columns[i],
                              c->rows + (size_t)shape * cavum_study_row_size(c->study));
  }
  ck_abort_msg("no column %s", key);
  return NAN;
}

static int status_of(const computed_study *c, int shape) {
  return (int)value_of(c, shape, "status");
}

#define IRISES "cell: cell.yaml\nvary: {iris_radius_mm: [31.0, 33.0, 35.0, 37.0]}\n"

// A condition between the values of two neighbours parts the rows there; figures stay.
static void check_figure(const char *key, const char *more) {
  computed_study free_of, limited;
  char text[512];
  snprintf(text, sizeof text, IRISES "%s", more);
  compute(&free_of, STUDY_CELL, text);
  double limit = 0.5 * (value_of(&free_of, 1, key) + value_of(&free_of, 2, key));
  snprintf(text, sizeof text, IRISES "%slimits: {where: ['%s < %.17g']}\n", more, key, limit);
  compute(&limited, STUDY_CELL, text);
  int excluded = 0;
  for (int i = 0; i < 4; i++) {
    bool meets = value_of(&free_of, i, key) < limit;
    printf("%s = %.9g, limit %.9g: %s\n", key, value_of(&limited, i, key), limit,
           limited.reasons[i]);
    ck_assert_int_eq(status_of(&free_of, i), CAVUM_SHAPE_DONE);
    ck_assert_int_eq(status_of(&limited, i), meets ? CAVUM_SHAPE_DONE : CAVUM_SHAPE_EXCLUDED);
    ck_assert(value_of(&limited, i, key) == value_of(&free_of, i, key));
    ck_assert((strstr(limited.reasons[i], key) != NULL) == !meets);
    excluded += !meets;
  }
  ck_assert_int_eq(excluded, 2);
  clear(&free_of);
  clear(&limited);
}

START_TEST(figures_are_limited) {
  check_figure("epk_over_eacc", "");
  check_figure("k_cc", "coupling: yes\n");
  check_figure("wall_angle_deg", "");
  check_figure("volume_m3", "");
}
END_TEST

// Requirements of the base cell are columns: met or missed, and by how much; held figures count at
// the frequency that is held.
START_TEST(requirements_are_columns) {
  computed_study c;
  compute(&c,
          STUDY_CELL
          "requirements:\n  frequency_MHz: {is: 1300, within: 0.01}\n"
          "  aperture_radius_mm: {least: 34}\n  k_cc: {least: 0.01}\n",
          IRISES "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n");
  for (int i = 0; i < 4; i++) {
    double radius = value_of(&c, i, "contour.iris_radius_mm");
    bool wide = radius >= 34.0;
    ck_assert_int_eq((int)value_of(&c, i, "verdict_frequency_MHz"), CAVUM_VERDICT_MET);
    // Held to the accuracy of the cell file, 1e-6 of 1300 MHz.
    CAVUM_CHECK_NEAR(value_of(&c, i, "margin_frequency_MHz"), 0.01, 1.3e-3);
    ck_assert_int_eq((int)value_of(&c, i, "verdict_aperture_radius_mm"),
                     wide ? CAVUM_VERDICT_MET : CAVUM_VERDICT_MISSED);
    CAVUM_CHECK_NEAR(value_of(&c, i, "margin_aperture_radius_mm"), radius - 34.0, 1e-12);
    ck_assert_int_eq((int)value_of(&c, i, "verdict_k_cc"), CAVUM_VERDICT_ABSENT);
    ck_assert(isnan(value_of(&c, i, "margin_k_cc")));
  }
  clear(&c);
}
END_TEST

// Q0 with R_s of a fit is no more certain than the fit, some 20 % of it at 1300 MHz.
START_TEST(requirements_know_the_fit) {
  static const char WALL[] =
      STUDY_CELL "wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 5.0}\n";
  computed_study plain, judged;
  char text[sizeof WALL + 64];
  compute(&plain, WALL, IRISES);
  double bound = 0.99 * value_of(&plain, 1, "q0");
  snprintf(text, sizeof text, "%srequirements: {q0: {least: %.17g}}\n", WALL, bound);
  compute(&judged, text, IRISES);
  for (int i = 0; i < 4; i++) {
    ck_assert_int_eq((int)value_of(&judged, i, "verdict_q0"), CAVUM_VERDICT_UNDECIDED);
    // A study's numbers do not depend on what is required; the bound has 17 digits.
    CAVUM_CHECK_NEAR(value_of(&judged, i, "margin_q0"), value_of(&plain, i, "q0") - bound, 1.0);
  }
  clear(&plain);
  clear(&judged);
}
END_TEST

// Figures of the shape are columns when they are listed or nothing is; angle and curvature always.
START_TEST(figures_of_the_shape_are_columns) {
  computed_study all, some;
  cavum_cell cell;
  cavum_geometry *geometry = NULL;
  compute(&all, STUDY_CELL, IRISES);
  compute(&some, STUDY_CELL, IRISES "figures: [wall_area_m2, r_over_q_linac_ohm]\n");
  cavum_cell_set_defaults(&cell);
  ck_assert_int_eq(cavum_cell_read_text(&cell, STUDY_CELL, strlen(STUDY_CELL), NULL, NULL), 0);
  ck_assert_int_eq(cavum_cell_set(&cell, "iris_radius_mm", 33.0, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_geometry_measure(&geometry, &cell, false, NULL), CAVUM_OK);
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    cavum_geometry_info info = cavum_geometry_describe((cavum_geometry_id)id);
    double expected = geometry->value[id] / info.unit_si;
    CAVUM_CHECK_RELATIVE(value_of(&all, 1, info.key), expected, 1e-14);  // a unit and back
  }
  CAVUM_CHECK_RELATIVE(value_of(&some, 1, "wall_area_m2"), value_of(&all, 1, "wall_area_m2"), 0.0);
  CAVUM_CHECK_RELATIVE(value_of(&some, 1, "wall_angle_deg"), value_of(&all, 1, "wall_angle_deg"),
                       0.0);
  int count = 0;
  const cavum_column *columns = cavum_study_columns(&count, some.study);
  for (int i = 0; i < count; i++) ck_assert_str_ne(columns[i].key, "volume_m3");
  cavum_geometry_destroy(&geometry);
  cavum_cell_clear(&cell);
  clear(&all);
  clear(&some);
}
END_TEST

// The iris ellipse of half axes a and b (along and across the axis) is bent to
// a^2 b^2 / (a^2 cos^2 + b^2 sin^2)^(3/2) where its normal has this angle to the axis (its support
// function plus that one's second derivative). From the aperture, at 90 degrees, to the wall, at
// the wall's angle, the radius rises or falls; the smaller end counts.
START_TEST(iris_curvature_is_that_of_the_ellipse) {
  computed_study c;
  const double a = 12.0, radial[] = {8.0, 11.0, 14.0, 19.0};
  compute(&c, STUDY_CELL,
          "cell: cell.yaml\nvary: {iris_ellipse.radial_mm: [8.0, 11.0, 14.0, 19.0]}\n");
  for (int i = 0; i < 4; i++) {
    double b = radial[i], angle = value_of(&c, i, "wall_angle_deg") * CAVUM_PI / 180.0;
    ck_assert(angle > 0.0);
    double square = a * a * cos(angle) * cos(angle) + b * b * sin(angle) * sin(angle);
    double at_wall = a * a * b * b / (square * sqrt(square)), at_aperture = a * a / b;
    ck_assert(b < a ? at_wall < at_aperture : at_aperture < at_wall);
    CAVUM_CHECK_RELATIVE(value_of(&c, i, "iris_curvature_mm"), fmin(at_wall, at_aperture), 1e-12);
  }
  clear(&c);
}
END_TEST

START_TEST(places_that_vary_together_are_limited_without_a_solve) {
  computed_study c;
  compute(&c, STUDY_CELL,
          IRISES
          "linked: ['iris_ellipse.axial_mm = 12 + (iris_radius_mm - 35) / 2']\n"
          "limits: {where: ['iris_radius_mm + iris_ellipse.axial_mm < 47.5',\n"
          "                 'half_length_mm > 2 * iris_ellipse.axial_mm',\n"
          "                 'left.iris_radius_mm > 31.5']}\n");
  static const bool meets[] = {false, true, true, false};
  for (int i = 0; i < 4; i++) {
    ck_assert_int_eq(status_of(&c, i), meets[i] ? CAVUM_SHAPE_DONE : CAVUM_SHAPE_EXCLUDED);
    ck_assert_int_eq((int)value_of(&c, i, "solves"), meets[i]);
    ck_assert(isfinite(value_of(&c, i, "frequency_Hz")) == meets[i]);
  }
  ck_assert_ptr_nonnull(strstr(c.reasons[0], "'left.iris_radius_mm > 31.5' does not hold"));
  clear(&c);
}
END_TEST

static const char *pillbox_text(void) {
  static char text[8192];
  char path[256];
  snprintf(path, sizeof path, "%s/pillbox.yaml", CAVUM_CELLS_FOLDER);
  FILE *file = fopen(path, "r");
  ck_assert_ptr_nonnull(file);
  text[fread(text, 1, sizeof text - 1, file)] = '\0';
  fclose(file);
  return text;
}

START_TEST(paths_are_limited) {
  computed_study c;
  compute(&c, pillbox_text(),
          "cell: cell.yaml\n"
          "vary: {'contour.path[2].line_to.r_mm': [70.5, 80.25]}\n"
          "linked: ['contour.path[3].line_to.r_mm = contour.path[2].line_to.r_mm']\n"
          "limits: {where: ['path[2].line_to.r_mm * path[3].line_to.r_mm < 6000']}\n");
  ck_assert_int_eq(status_of(&c, 0), CAVUM_SHAPE_DONE);
  ck_assert_int_eq(status_of(&c, 1), CAVUM_SHAPE_EXCLUDED);
  clear(&c);
}
END_TEST

// Conditions are part of what rows mean, spaces in them are not.
START_TEST(conditions_are_settings) {
  static const char *const lines[] = {"", "limits: {where: ['q0>1']}\n",
                                      "limits: {where: [' q0 >  1']}\n"};
  char settings[3][80];
  for (int i = 0; i < 3; i++) {
    char text[256];
    study_files files;
    snprintf(text, sizeof text, IRISES "%s", lines[i]);
    study_files_make(&files, STUDY_CELL "wall: {kind: resistance, surface_resistance_nohm: 10.0}\n",
                     text);
    cavum_study *study = study_files_open(&files);
    snprintf(settings[i], sizeof settings[i], "%s", cavum_study_settings(study));
    cavum_study_close(&study);
    temporary_folder_delete(files.folder);
  }
  ck_assert_str_ne(settings[0], settings[1]);
  ck_assert_str_eq(settings[1], settings[2]);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, figures_are_limited);
  tcase_add_test(tests, requirements_are_columns);
  tcase_add_test(tests, requirements_know_the_fit);
  tcase_add_test(tests, figures_of_the_shape_are_columns);
  tcase_add_test(tests, iris_curvature_is_that_of_the_ellipse);
  tcase_add_test(tests, places_that_vary_together_are_limited_without_a_solve);
  tcase_add_test(tests, paths_are_limited);
  tcase_add_test(tests, conditions_are_settings);
}

CAVUM_TEST_MAIN("limits", add)
