// SPDX-License-Identifier: GPL-3.0-or-later
// How far apart places of one peak at two degrees are held: fields of closed forms along an edge.
#include "base/base.h"
#include "figures/surface.h"
#include "support.h"

enum { EDGES = 2 };

typedef struct two_fields {
  cavum_mesh_boundary boundary;
  cavum_wall_samples upper[EDGES], lower[EDGES];
} two_fields;

static const double TOP = 0.3, WAVE = 1e-3;

// A hill of curvature 2, and the same with a wave whose slope is 0 at the top and 10 WAVE at most.
static two_fields make_hill(void) {
  two_fields fields = {0};
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    double s = -cos(CAVUM_PI * k / (CAVUM_WALL_SAMPLES - 1)), x = s - TOP;
    fields.boundary.sample[k] = s;
    fields.upper[0].h[k] = 1.0 - x * x;
    fields.lower[0].h[k] = -(1.0 - x * x + WAVE * cos(10.0 * x));  // of any sign
    fields.upper[0].e[k] = fields.lower[0].e[k] = 1.0 - 0.02 * (s + 1.0) - (s + 1.0) * (s + 1.0);
  }
  return fields;
}

static cavum_peak_place hold(const two_fields *fields, cavum_index edge, double s, double upper_s,
                             bool electric) {
  cavum_peak_place lower = {edge, s, 1.0}, upper = {0, upper_s, 1.0};
  return cavum_surface_hold_apart(&lower, &upper, fields->lower, fields->upper, &fields->boundary,
                                  electric);
}

START_TEST(places_that_agree_by_chance_are_held_apart) {
  two_fields fields = make_hill();
  // 0.7 of the difference of the slopes, 10 WAVE, over the curvature. Samples see it to a tenth.
  double apart = 0.7 * 10.0 * WAVE / 2.0;
  CAVUM_CHECK_NEAR(hold(&fields, 0, TOP + 1e-5, TOP, false).s, TOP + apart, 0.1 * apart);
  CAVUM_CHECK_NEAR(hold(&fields, 0, TOP - 1e-5, TOP, false).s, TOP - apart, 0.1 * apart);
  CAVUM_CHECK_NEAR(hold(&fields, 0, TOP, TOP, false).s, TOP + apart, 0.1 * apart);
  cavum_peak_place far_away = hold(&fields, 0, TOP - 0.01, TOP, false);
  CAVUM_CHECK_NEAR(far_away.s, TOP - 0.01, 0.0);
  ck_assert_int_eq(far_away.edge, 0);
}
END_TEST

// Where two edges meet a maximum may be a bend of the approximation: a slope of 0.02 there.
START_TEST(places_at_ends_of_edges_go_inside) {
  two_fields fields = make_hill();
  // Over the first two samples the mean slope is larger by their distance; the curvature is 2.
  double apart = 0.5 * (0.02 + fields.boundary.sample[1] + 1.0) / 2.0;
  for (cavum_index edge = 0; edge < EDGES; edge++) {
    cavum_peak_place place = hold(&fields, edge, edge == 0 ? -1.0 : 1.0, -1.0, true);
    ck_assert_int_eq(place.edge, 0);
    CAVUM_CHECK_NEAR(place.s, -1.0 + apart, 1e-12);
  }
}
END_TEST

START_TEST(places_of_straight_fields_are_held_a_tenth_apart) {
  two_fields fields = make_hill();
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    fields.upper[0].e[k] = 2.0 + fields.boundary.sample[k];
    fields.lower[0].e[k] = 2.0 + 1.01 * fields.boundary.sample[k];
  }
  CAVUM_CHECK_NEAR(hold(&fields, 0, 1.0, 1.0, true).s, 0.9, 1e-12);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, places_that_agree_by_chance_are_held_apart);
  tcase_add_test(tests, places_at_ends_of_edges_go_inside);
  tcase_add_test(tests, places_of_straight_fields_are_held_a_tenth_apart);
}

CAVUM_TEST_MAIN("surface_apart", add)
