// SPDX-License-Identifier: GPL-3.0-or-later
// The estimator on sequences whose limit is known.
#include <stdbool.h>

#include "solve/mode_history.h"
#include "solve/uncertainty.h"
#include "support.h"

static const cavum_convergence kinds[] = {CAVUM_CONVERGENCE_STEADY,
                                          CAVUM_CONVERGENCE_STEADY_BEHIND_CORNERS,
                                          CAVUM_CONVERGENCE_SIGNED, CAVUM_CONVERGENCE_UNEVEN};
enum { NUM_KINDS = sizeof kinds / sizeof *kinds };

// q_n = 1 + size x^n, with alternating signs if wanted: covered from the third value on, and not
// without measure. How far off is allowed depends on the ratio: the estimate counts the last
// difference as a part of the one before, which costs up to 0.2 / x^3 in a fast sequence; in a slow
// one that alternates the tail is taken for x / (1 - x) differences and is 1 / (1 + x) of one: up
// to 36 times, times the safety.
START_TEST(geometric_sequences_are_covered) {
  static const double ratios[] = {0.02, 0.1, 0.3, 0.5, 0.7, 0.9};
  for (int k = 0; k < NUM_KINDS; k++) {
    for (size_t i = 0; i < sizeof ratios / sizeof *ratios; i++) {
      for (int alternating = 0; alternating < 2; alternating++) {
        cavum_history history = {0};
        double term = 0.3, x = alternating ? -ratios[i] : ratios[i];
        for (int n = 1; n <= 12; n++, term *= x) {
          cavum_history_add(&history, 1.0 + term, 0.0, 0.0);
          double u = cavum_uncertainty_of_last(&history, kinds[k], 1e-15), error = fabs(term);
          if (n < 3 || error < 1e-12) continue;
          printf("kind %d ratio %.2f value %d: error %.1e uncertainty %.1e\n", kinds[k], x, n,
                 error, u);
          ck_assert_double_ge(u, error);
          ck_assert_double_le(u, error * (120.0 + 0.2 / fabs(x * x * x)));
        }
      }
    }
  }
}
END_TEST

// Algebraic: q_n = 1 + n^-4, where ratios rise toward one.
START_TEST(algebraic_sequences_are_covered) {
  for (int k = 0; k < NUM_KINDS; k++) {
    cavum_history history = {0};
    for (int n = 3; n <= 16; n++) {
      cavum_history_add(&history, 1.0 + pow(n, -4.0), 0.0, 0.0);
      double u = cavum_uncertainty_of_last(&history, kinds[k], 1e-15);
      if (n < 5) continue;
      ck_assert_double_ge(u, pow(n, -4.0));
      ck_assert_double_le(u, 20.0 * pow(n, -4.0));
    }
  }
}
END_TEST

// Algebraic and slow: q_n = 1 + n^-s, as at strong corners and tips. The error is d n / s to first
// order in 1 / n; the safety is 1.5.
START_TEST(slow_algebraic_sequences_are_covered_with_their_power) {
  static const double powers[] = {0.8, 1.6, 2.6};
  for (size_t i = 0; i < sizeof powers / sizeof *powers; i++) {
    cavum_history history = {0};
    for (int n = 4; n <= 16; n++) {
      double error = pow(n, -powers[i]);
      cavum_history_add(&history, 1.0 + error, 0.0, 0.0);
      double u = cavum_uncertainty_algebraic(&history, CAVUM_CONVERGENCE_SIGNED, powers[i], n);
      if (n < 6) continue;
      ck_assert_double_ge(u, error);
      ck_assert_double_le(u, 2.0 * error);
    }
  }
}
END_TEST

// Derivatives by the shape, where the exponent changes with it: q_n = 1 + ln(n) n^-s, s = 4 lambda.
// The upper limit is that of algebraic sequences by their ratios above.
START_TEST(derivatives_of_algebraic_sequences_are_covered) {
  static const double exponents[] = {0.3, 0.5, 0.65};
  for (size_t i = 0; i < sizeof exponents / sizeof *exponents; i++) {
    cavum_history history = {0};
    for (int n = 4; n <= 16; n++) {
      double error = log(n) * pow(n, -4.0 * exponents[i]);
      cavum_history_add(&history, 1.0 + error, 0.0, 0.0);
      double u = cavum_mode_history_tail_of_derivative(&history, exponents[i], n);
      if (n < 6) continue;
      ck_assert_double_ge(u, error);
      ck_assert_double_le(u, 20.0 * error);
    }
  }
}
END_TEST

// The same behind a geometric sequence that is larger at first. Where that falls by 0.1 a degree
// and rules the changes there is nothing algebraic to see.
START_TEST(algebraic_tails_show_behind_geometric_sequences) {
  cavum_history history = {0}, geometric = {0};
  for (int n = 4; n <= 16; n++) {
    double tail = 1e-5 * pow(n, -0.8), fast = pow(0.1, n - 3);
    cavum_history_add(&history, 1.0 + tail + fast, 0.0, 0.0);
    cavum_history_add(&geometric, 1.0 + fast, 0.0, 0.0);
    double u = cavum_uncertainty_algebraic(&history, CAVUM_CONVERGENCE_SIGNED, 0.8, n);
    if (n >= 11) ck_assert_double_ge(u, tail);
    if (n < 8) {
      double none = cavum_uncertainty_algebraic(&geometric, CAVUM_CONVERGENCE_SIGNED, 0.8, n);
      ck_assert_double_le(none, 1e-3 * fast);
    }
  }
}
END_TEST

// Of a sum of two terms of a mesh that is not graded changes vanish at some degree, and the value
// that is nearest to the limit is elsewhere: two powers of opposite signs, as of two corners, and a
// power with a slow geometric sequence, as of large elements. What is left over in the power alone
// is covered in good measure.
START_TEST(sums_of_powers_on_ungraded_meshes_are_covered) {
  static const double powers[] = {1.6, 2.4, 3.0}, others[] = {3.5, 4.5, 6.0};
  for (int i = 0; i < 3; i++) {
    for (int geometric = 0; geometric < 2; geometric++) {
      cavum_history history = {0};
      // The two changes are as large at degree 11.
      double power = powers[i], other = others[i], ratio = 0.4 + 0.1 * i;
      double change = power * pow(10.5, -power - 1.0);
      double size = geometric ? change / ((1.0 / ratio - 1.0) * pow(ratio, 11.0))
                              : change / (other * pow(10.5, -other - 1.0));
      bool was_missed = false;
      for (int n = 4; n <= 16; n++) {
        double fast = geometric ? pow(ratio, n) : pow(n, -other);
        double error = pow(n, -power) - size * fast;
        cavum_history_add(&history, 1.0 + error, 0.0, 0.0);
        double u = cavum_uncertainty_ungraded(&history, power, n, 1e-15);
        double tail = cavum_uncertainty_algebraic(&history, CAVUM_CONVERGENCE_SIGNED, power, n);
        if (n < 8) continue;
        was_missed = was_missed || tail < fabs(error);
        ck_assert_double_ge(u, fabs(error));
        if (n >= 14) ck_assert_double_le(u, 12.0 * pow(n, -power));
      }
      ck_assert(was_missed);  // by the last change alone
    }
  }
}
END_TEST

// Of three values that turned back the first two steps are all there is.
START_TEST(three_values_that_turn_back_on_ungraded_meshes) {
  static const double powers[] = {1.6, 2.0, 2.6}, more[] = {1.0, 2.0, 3.0};
  int turned = 0;
  for (int i = 0; i < 9; i++) {
    double power = powers[i / 3], other = power + more[i % 3];
    for (double turn = 5.5; turn < 14.0; turn += 0.1) {
      double size = power * pow(turn, -power) / (other * pow(turn, -other)), error = 0.0;
      int first = (int)(turn - 0.5);
      cavum_history history = {0};
      for (int n = first; n < first + 3; n++) {
        error = pow(n, -power) - size * pow(n, -other);
        cavum_history_add(&history, 1.0 + error, 0.0, 0.0);
      }
      const double *value = history.value;
      if ((value[2] - value[1]) * (value[1] - value[0]) >= 0.0) continue;
      double u = cavum_uncertainty_ungraded(&history, power, first + 2, 1e-15);
      turned++;
      ck_assert_double_ge(u, fabs(error));
      ck_assert_double_le(u, 5.0 * fabs(error));
    }
  }
  ck_assert_int_gt(turned, 100);
}
END_TEST

// A power alone is known as well as elsewhere, and steps that cannot be told from rounding tell
// nothing.
START_TEST(powers_on_ungraded_meshes) {
  cavum_history history = {0}, still = {0};
  for (int n = 4; n <= 16; n++) {
    double error = pow(n, -2.4);
    cavum_history_add(&history, 1.0 + error, 0.0, 0.0);
    cavum_history_add(&still, 1.0 + 1e-14 * (n % 3), 0.0, 0.0);
    double u = cavum_uncertainty_ungraded(&history, 2.4, n, 1e-15);
    if (n < 8) continue;  // higher orders in 1 / n
    ck_assert_double_ge(u, error);
    ck_assert_double_le(u, 2.0 * error);
    // Three changes of 2e-14 at most, times n / s and the safety.
    ck_assert_double_le(cavum_uncertainty_ungraded(&still, 2.4, n, 1e-13), 3e-14 * n / 2.4);
  }
  ck_assert_double_eq(cavum_uncertainty_ungraded(&(cavum_history){0}, 2.4, 5.0, 1e-15), 0.0);
}
END_TEST

// A difference that is small by luck in an otherwise slow sequence must not pass for convergence.
START_TEST(one_lucky_difference_is_not_believed) {
  for (int k = 0; k < NUM_KINDS; k++) {
    cavum_history history = {0};
    const double error[] = {1e-1, 6e-2, 3.6e-2, 2.2e-2, 2.2e-2 + 1e-9};
    for (int n = 0; n < 5; n++) cavum_history_add(&history, 1.0 + error[n], 0.0, 0.0);
    double u = cavum_uncertainty_of_last(&history, kinds[k], 1e-15);
    printf("kind %d: uncertainty %.2e, the last difference was 1e-9\n", kinds[k], u);
    // At least a part of the true error, and a million times the difference.
    ck_assert_double_ge(u, 1e-3);
  }
}
END_TEST

START_TEST(short_histories) {
  cavum_history history = {0};
  cavum_history_add(&history, 3.0, 0.0, 0.0);
  ck_assert(isinf(cavum_uncertainty_of_last(&history, CAVUM_CONVERGENCE_STEADY, 1e-12)));
  cavum_history_add(&history, 3.5, 0.0, 0.0);
  CAVUM_CHECK_NEAR(cavum_uncertainty_of_last(&history, CAVUM_CONVERGENCE_STEADY, 1e-12), 0.5, 0.0);
}
END_TEST

START_TEST(rounding_floor_holds) {
  cavum_history history = {0};
  for (int n = 0; n < 6; n++) cavum_history_add(&history, -4.0, 0.0, 0.0);
  double u = cavum_uncertainty_of_last(&history, CAVUM_CONVERGENCE_UNEVEN, 1e-10);
  CAVUM_CHECK_RELATIVE(u, 4e-10, 1e-12);
  // Differences of the size of the floor: still about the floor.
  cavum_history_add(&history, -4.0 + 1e-10, 0.0, 0.0);
  u = cavum_uncertainty_of_last(&history, CAVUM_CONVERGENCE_UNEVEN, 1e-10);
  ck_assert_double_ge(u, 3.99e-10);
  ck_assert_double_le(u, 4e-9);
}
END_TEST

START_TEST(old_values_are_dropped) {
  cavum_history history = {0};
  for (int n = 0; n < CAVUM_HISTORY_MOST + 7; n++) cavum_history_add(&history, n, 0.0, 0.0);
  ck_assert_int_eq(history.count, CAVUM_HISTORY_MOST);
  CAVUM_CHECK_NEAR(history.value[0], 7.0, 0.0);
  CAVUM_CHECK_NEAR(history.value[CAVUM_HISTORY_MOST - 1], CAVUM_HISTORY_MOST + 6.0, 0.0);
}
END_TEST

// Values that the iteration left off by a little: of changes within that the ratio is that of what
// was left, 0.7 at most; the changes count themselves. Ratios of that kind are 0.4 to 0.95, the
// safety is 3 (uncertainty.c).
START_TEST(ratios_of_blurred_changes) {
  static const struct {
    double first, second, iteration_error, ratio;
  } cases[] = {{1e-6, 1.5e-6, 0.0, 0.95},   // sharp
               {1e-6, 1.5e-6, 1e-6, 0.7},   // both within the iteration_error of 2e-6
               {4e-6, 1.5e-6, 1e-6, 0.5},   // it may have been 2e-6
               {1e-4, 1.5e-6, 1e-6, 0.4}};  // far smaller in any case
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    cavum_history history = {0};
    cavum_history_add(&history, 1.0, 0.0, cases[i].iteration_error);
    cavum_history_add(&history, 1.0 + cases[i].first, 0.0, cases[i].iteration_error);
    cavum_history_add(&history, 1.0 + cases[i].first + cases[i].second, 0.0,
                      cases[i].iteration_error);
    double u = cavum_uncertainty_of_last(&history, CAVUM_CONVERGENCE_SIGNED, 1e-15);
    // A change counts as a quarter of the one before at least.
    double change = fmax(cases[i].second, 0.25 * cases[i].first), ratio = cases[i].ratio;
    CAVUM_CHECK_RELATIVE(u, 3.0 * change * ratio / (1.0 - ratio), 1e-9);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, ratios_of_blurred_changes);
  tcase_add_test(tests, geometric_sequences_are_covered);
  tcase_add_test(tests, algebraic_sequences_are_covered);
  tcase_add_test(tests, slow_algebraic_sequences_are_covered_with_their_power);
  tcase_add_test(tests, derivatives_of_algebraic_sequences_are_covered);
  tcase_add_test(tests, algebraic_tails_show_behind_geometric_sequences);
  tcase_add_test(tests, sums_of_powers_on_ungraded_meshes_are_covered);
  tcase_add_test(tests, three_values_that_turn_back_on_ungraded_meshes);
  tcase_add_test(tests, powers_on_ungraded_meshes);
  tcase_add_test(tests, one_lucky_difference_is_not_believed);
  tcase_add_test(tests, short_histories);
  tcase_add_test(tests, rounding_floor_holds);
  tcase_add_test(tests, old_values_are_dropped);
}

CAVUM_TEST_MAIN("uncertainty", add_tests)
