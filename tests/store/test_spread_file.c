// SPDX-License-Identifier: GPL-3.0-or-later
// Spreads in files: written, read back, damaged.
#include <check.h>
#include <string.h>

#include "hdf5/hdf5_file.h"
#include "store/spread_file.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }
static void tear_down(void) { temporary_folder_delete(folder); }

// Two dimensions; f linear, E_pk sampled alone, B_pk curved.
static void fill(cavum_spread *s, cavum_cell_key_info dimensions[2], cavum_tolerance tolerances[2],
                 double covariance[4]) {
  memset(s, 0, sizeof *s);
  memset(dimensions, 0, 2 * sizeof *dimensions);
  snprintf(tolerances[0].key, sizeof tolerances[0].key, "iris_radius_mm");
  snprintf(tolerances[1].key, sizeof tolerances[1].key, "left.half_length_mm");
  tolerances[0].width = 0.1;
  tolerances[1].width = 0.2;
  tolerances[1].kind = CAVUM_TOLERANCE_UNIFORM;
  dimensions[0].value = 35.0;
  dimensions[1].value = 57.7;
  const double c[4] = {0.01, -0.002, -0.002, 0.04 / 3.0};
  memcpy(covariance, c, sizeof c);
  *s = (cavum_spread){.num_dimensions = 2,
                      .dimensions = dimensions,
                      .tolerances = tolerances,
                      .covariance = covariance,
                      .num_pilot = 32,
                      .num_samples = 1000,
                      .num_failed = 3,
                      .samples_degree = 4,
                      .samples_error = 0.0065,
                      .num_missing[CAVUM_FIGURE_BPK_OVER_EACC] = 17,
                      .label = "TM010"};
  s->figures[CAVUM_FIGURE_FREQUENCY] = (cavum_figure_spread){.state = CAVUM_FIGURE_PRESENT,
                                                             .value = 1.3e9,
                                                             .has_linear = true,
                                                             .deviation = 4e5,
                                                             .slope = {4e6, -1e6},
                                                             .share = {1.1, -0.1},
                                                             .has_shares = true,
                                                             .departure = 0.01,
                                                             .sampled_mean = 1.31e9,
                                                             .sampled_deviation = 4.1e5,
                                                             .sampled_low = 1.29e9,
                                                             .sampled_high = 1.32e9};
  s->figures[CAVUM_FIGURE_BPK_OVER_EACC] = (cavum_figure_spread){.state = CAVUM_FIGURE_PRESENT,
                                                                 .value = 4e-9,
                                                                 .has_linear = true,
                                                                 .is_curved = true,
                                                                 .deviation = 1e-12,
                                                                 .slope = {1e-11, 2e-11},
                                                                 .share = {0.5, 0.3},
                                                                 .has_shares = true,
                                                                 .has_sampled_shares = true,
                                                                 .share_together = 0.2,
                                                                 .departure = NAN,
                                                                 .sampled_mean = NAN,
                                                                 .sampled_deviation = NAN,
                                                                 .sampled_low = NAN,
                                                                 .sampled_high = NAN};
  s->figures[CAVUM_FIGURE_EPK_OVER_EACC] =
      (cavum_figure_spread){.state = CAVUM_FIGURE_PRESENT, .value = 2.0, .reason = "two places"};
  s->shape[CAVUM_GEOMETRY_WALL_ANGLE] = (cavum_figure_spread){.state = CAVUM_FIGURE_PRESENT,
                                                              .value = 0.14,
                                                              .has_linear = true,
                                                              .deviation = 2e-3,
                                                              .slope = {3e-3, -1e-3},
                                                              .share = {0.75, 0.25},
                                                              .has_shares = true,
                                                              .departure = 0.01,
                                                              .sampled_mean = NAN,
                                                              .sampled_deviation = NAN,
                                                              .sampled_low = NAN,
                                                              .sampled_high = NAN};
}

static void same(double a, double b) {
  if (isnan(a) && isnan(b)) return;
  CAVUM_CHECK_RELATIVE(a, b, 1e-15);  // to a unit and back
}

START_TEST(what_is_written_is_read) {
  char path[160];
  cavum_spread s;
  cavum_cell_key_info dimensions[2];
  cavum_tolerance tolerances[2] = {0};
  double covariance[4];
  const cavum_spread_band band = {CAVUM_FIGURE_FREQUENCY, 2.5e5};
  cavum_stored_spread read = {0};
  cavum_error error = {0};
  fill(&s, dimensions, tolerances, covariance);
  snprintf(path, sizeof path, "%s/s.hdf", folder);
  ck_assert_int_eq(cavum_store_write_spread(path, &s, "A cell", &band, 1, &error), CAVUM_OK);
  cavum_status status = cavum_stored_spread_read(&read, path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_str_eq(read.title, "A cell");
  ck_assert_str_eq(read.spread->label, "TM010");
  ck_assert_int_eq(read.spread->num_samples, 1000);
  ck_assert_int_eq(read.spread->num_failed, 3);
  ck_assert_int_eq(read.spread->samples_degree, 4);
  ck_assert(read.spread->samples_error == 0.0065);
  ck_assert_int_eq(read.spread->num_missing[CAVUM_FIGURE_BPK_OVER_EACC], 17);
  ck_assert_int_eq(read.spread->num_missing[CAVUM_FIGURE_FREQUENCY], 0);
  ck_assert_int_eq(read.num_bands, 1);
  CAVUM_CHECK_RELATIVE(read.bands[0].band, band.band, 1e-15);
  for (int j = 0; j < 2; j++) {
    ck_assert_str_eq(read.spread->tolerances[j].key, tolerances[j].key);
    ck_assert_int_eq(read.spread->tolerances[j].kind, tolerances[j].kind);
    CAVUM_CHECK_NEAR(read.spread->tolerances[j].width, tolerances[j].width, 0.0);
    CAVUM_CHECK_NEAR(read.spread->dimensions[j].value, dimensions[j].value, 0.0);
  }
  for (int k = 0; k < 4; k++) CAVUM_CHECK_NEAR(read.spread->covariance[k], covariance[k], 0.0);
  const cavum_figure_spread *angle = &read.spread->shape[CAVUM_GEOMETRY_WALL_ANGLE];
  ck_assert(angle->state == CAVUM_FIGURE_PRESENT && angle->has_linear && !angle->is_curved);
  same(angle->value, 0.14);
  same(angle->deviation, 2e-3);
  same(angle->slope[1], -1e-3);
  ck_assert_int_eq(read.spread->shape[CAVUM_GEOMETRY_VOLUME].state, CAVUM_FIGURE_ABSENT);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_spread *a = &read.spread->figures[id], *b = &s.figures[id];
    ck_assert_int_eq(a->state, b->state);
    ck_assert_int_eq(a->has_linear, b->has_linear);
    ck_assert_int_eq(a->is_curved, b->is_curved);
    ck_assert_int_eq(a->reason != NULL, b->reason != NULL);
    same(a->value, b->value);
    ck_assert_int_eq(a->has_shares, b->has_shares);
    ck_assert_int_eq(a->has_sampled_shares, b->has_sampled_shares);
    same(a->share_together, b->share_together);
    if (!b->has_linear) continue;
    same(a->deviation, b->deviation);
    same(a->departure, b->departure);
    same(a->sampled_mean, b->sampled_mean);
    same(a->sampled_high, b->sampled_high);
    for (int j = 0; j < 2; j++) same(a->slope[j], b->slope[j]);
    for (int j = 0; j < 2; j++) same(a->share[j], b->share[j]);
  }
  cavum_stored_spread_clear(&read);
}
END_TEST

// A column that is shorter than the others, and a file of another kind.
START_TEST(damaged_files_are_refused) {
  char path[160];
  cavum_hdf5_file *file = NULL;
  cavum_stored_spread read = {0};
  cavum_error error = {0};
  const double counts[3] = {1.0, NAN, 1e300};
  const char *title = "";
  const cavum_hdf5_array array = {
      .path = "/samples", .rank = 1, .extent = {_i == 0 ? 2 : 3}, .data = counts};
  snprintf(path, sizeof path, "%s/d.hdf", folder);
  ck_assert_int_eq(cavum_hdf5_create(&file, NULL), CAVUM_OK);
  if (_i < 2) {
    ck_assert_int_eq(
        cavum_hdf5_write_text_attribute(file, "/", "format", CAVUM_STORE_SPREAD_FORMAT, NULL),
        CAVUM_OK);
  }
  ck_assert_int_eq(cavum_hdf5_write_text_attribute(file, "/", "label", "", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_write_texts(file, "/input/title", 0, &title, "", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_write_array(file, &array, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_save(file, path, "spread", NULL), CAVUM_OK);
  cavum_hdf5_destroy(&file);
  ck_assert_int_eq(cavum_stored_spread_read(&read, path, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_null(read.spread);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, what_is_written_is_read);
  tcase_add_loop_test(tests, damaged_files_are_refused, 0, 3);
}

CAVUM_TEST_MAIN("spread_file", add)
