// SPDX-License-Identifier: GPL-3.0-or-later
// The R/Q of other particle speeds: its uncertainty holds at every speed, against a much higher
// degree on a finer mesh, also where two degrees happen to agree, and is not far too large.
#include "solving.h"

enum { MODES_MOST = 3, ERRORS_MOST = MODES_MOST * 96 };

#define TO(z, r, kind) "    - {line_to: {z_mm: " z ", r_mm: " r "}, boundary: " kind "}\n"
// At a hundredth or so of the speeds below 0.2 c two degrees agree by chance.
#define CORNERS                                                                                 \
  "beta: 0.676544585108098\naccelerating_length_mm: 82.1557796094803\ncontour:\n"               \
  "  kind: path\n  start: {z_mm: -46.968624752444576, r_mm: 0}\n  path:\n" TO(                  \
      "46.968624752444576", "0", "axis") TO("30.36369306880179", "25.735235099307907", "metal") \
      TO("20.169676765321913", "58.13358157470103", "metal")                                    \
          TO("-30.64015346831845", "74.40967894737433", "metal")                                \
              TO("-46.968624752444576", "0", "metal") "modes: {count: 3}\n"
// Two cells that hardly couple, through an iris with rounded edges; of nearly the same length.
#define ARC(z, r, at_z, at_r, turn)                                                 \
  "    - {arc_to: {z_mm: " z ", r_mm: " r "}, centre: {z_mm: " at_z ", r_mm: " at_r \
  "}, turn: " turn ", boundary: metal}\n"
#define PAIR                                                                                       \
  "accelerating_length_mm: 78.43020556023528\ncontour:\n  kind: path\n"                            \
  "  start: {z_mm: -52.550132693000414, r_mm: 0}\n  path:\n" TO("52.550132693000414", "0", "axis") \
      TO("52.550132693000414", "72.1739118699638", "metal")                                        \
          ARC("47.550132693000414", "77.1739118699638", "47.550132693000414", "72.1739118699638",  \
              "left") TO("4.0108282701760105", "77.1739118699638", "metal")                        \
              ARC("1.01082827017601", "74.1739118699638", "4.01082827017601", "74.1739118699638",  \
                  "left") TO("1.01082827017601", "6.204472180301541", "metal")                     \
                  ARC("0.10108282701760085", "5.294726737143131", "0.10108282701760096",           \
                      "6.20447218030154",                                                          \
                      "right") TO("-0.10108282701760085", "5.294726737143131", "metal")            \
                      ARC("-1.01082827017601", "6.204472180301541", "-0.10108282701760096",        \
                          "6.20447218030154",                                                      \
                          "right") TO("-1.01082827017601", "74.1741826445291", "metal")            \
                          ARC("-4.0108282701760105", "77.1741826445291", "-4.01082827017601",      \
                              "74.1741826445291",                                                  \
                              "left") TO("-47.550132693000414", "77.1741826445291", "metal")       \
                              ARC("-52.550132693000414", "72.1741826445291",                       \
                                  "-47.550132693000414", "72.1741826445291", "left")               \
                                  TO("-52.550132693000414", "0", "metal") "modes: {count: 2}\n"

// As a user does, or far more accurately, as far as it gets.
static cavum_result *solve(const char *text, bool better) {
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  cavum_result *result = NULL;
  cavum_error error = {0};
  options.profiles = true;
  if (better) {
    options.refinement = 1.5;
    cell.accuracy_frequency = 1e-9;
    cell.accuracy_other_figures = 1e-6;
  }
  cavum_status status = cavum_solve(&result, &cell, &options, &error);
  ck_assert_msg(status == CAVUM_OK || (better && status == CAVUM_ERR_NOT_CONVERGED), "%s",
                error.message);
  cavum_cell_clear(&cell);
  return result;
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

// Every point inside, and a median of uncertainty over error of at most `most` where the error can
// be told.
static void check_curves(const char *text, double most) {
  cavum_result *result = solve(text, false), *top = solve(text, true);
  double over_error[ERRORS_MOST];
  int told = 0, outside = 0;
  ck_assert_int_le(result->num_modes, MODES_MOST);
  for (int m = 0; m < result->num_modes; m++) {
    const cavum_beta_curve *a = &result->modes[m].beta_curve, *b = &top->modes[m].beta_curve;
    ck_assert_int_eq(a->num_points, 96);
    for (int i = 0; i < a->num_points; i++) {
      double error = fabs(a->r_over_q_linac_ohm[i] - b->r_over_q_linac_ohm[i]);
      if (!(error <= a->uncertainty_ohm[i] + b->uncertainty_ohm[i])) {
        printf("mode %d, beta %.2f: off by %.1e ohm, stated %.1e\n", m + 1, a->beta[i], error,
               a->uncertainty_ohm[i]);
        outside++;
      }
      if (error > 3.0 * b->uncertainty_ohm[i]) {
        over_error[told++] = a->uncertainty_ohm[i] / error;
      }
    }
  }
  ck_assert_int_eq(outside, 0);
  ck_assert_int_gt(told, 40);
  qsort(over_error, (size_t)told, sizeof *over_error, by_size);
  printf("%d errors, median of uncertainty over error %.1f\n", told, over_error[told / 2]);
  ck_assert_double_lt(over_error[told / 2], most);
  cavum_result_destroy(&result);
  cavum_result_destroy(&top);
}

// Of the figures the median is 8 (solve/uncertainty.h); the largest change of the speeds nearby is
// about twice the one of a speed.
START_TEST(degrees_that_agree_by_chance) { check_curves(CORNERS, 40.0); }
END_TEST

// Modes that are nearly degenerate are told far less closely, also where nothing is small by
// chance.
START_TEST(cells_that_hardly_couple) { check_curves(PAIR, 1000.0); }
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, degrees_that_agree_by_chance);
  tcase_add_test(tests, cells_that_hardly_couple);
}

CAVUM_TEST_MAIN("beta_curve", add_tests)
