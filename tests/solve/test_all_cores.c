// SPDX-License-Identifier: GPL-3.0-or-later
// A solve on several threads gives the bits of a solve on one: each step of a shared loop is the
// same whichever thread does it, and what steps have in common is summed in a fixed order.
#include <stdint.h>
#include <string.h>

#include "base/threads.h"
#include "cavum/cavum.h"
#include "solve/solve.h"
#include "solving.h"

// Two modes, so that blocks of vectors are solved for together; so many elements that loops over
// their batches are shared and their factorisation has subtrees.
enum { BATCHES_LEAST = 100, SUBTREES_LEAST = 3 };
// Unknowns from which factors are in single precision here, so that a mesh of few seconds has such.
enum { SINGLE_FROM = 20000 };
static const char CELL[] =
    "modes: {count: 2}\ncontour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n"
    "  iris_radius_mm: 35\n  equator_radius_mm: 103.3\n"
    "  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
    "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
    "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n";

static cavum_result *solve_on(int num_threads, bool single) {
  cavum_cell cell = solving_read(CELL);
  cavum_solve_options options = cavum_solve_options_default();
  cavum_solver_memory memory = {.main = {.large_from = single ? SINGLE_FROM : 0}};
  cavum_result *result = NULL;
  options.degree = 6;
  options.refinement = 8;
  int before = cavum_threads_set(num_threads);
  ck_assert_int_eq(cavum_solve_remembering(&result, &memory, &cell, &options, NULL), CAVUM_OK);
  cavum_threads_set(before);
  const cavum_solution *last = memory.main.last;
  ck_assert_int_ge(last->discretisation.num_batches, BATCHES_LEAST);
  ck_assert(last->classes[0].pencil.is_single == single);
  ck_assert_int_ge(last->classes[0].pencil.levels[0].factor.num_subtrees, SUBTREES_LEAST);
  cavum_solver_memory_clear(&memory);
  cavum_cell_clear(&cell);
  return result;
}

static uint64_t bits_of(double value) {
  uint64_t bits;
  memcpy(&bits, &value, sizeof bits);
  return bits;
}

static void compare_threads(bool single) {
  cavum_result *one = solve_on(1, single);
  printf("%d elements, %d unknowns\n", (int)one->mesh.num_elements, (int)one->num_unknowns);
  for (int threads = 2; threads <= 5; threads += 3) {
    cavum_result *many = solve_on(threads, single);
    ck_assert_int_eq(many->num_modes, one->num_modes);
    for (int m = 0; m < one->num_modes; m++) {
      const cavum_mode_result *a = &one->modes[m], *b = &many->modes[m];
      ck_assert_uint_eq(bits_of(a->k2_per_m2), bits_of(b->k2_per_m2));
      ck_assert_uint_eq(bits_of(a->residual), bits_of(b->residual));
      for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
        const cavum_figure *f = &a->figures[id], *g = &b->figures[id];
        ck_assert_int_eq(f->state, g->state);
        ck_assert_msg(bits_of(f->value) == bits_of(g->value) &&
                          bits_of(f->uncertainty) == bits_of(g->uncertainty),
                      "%s on %d threads", cavum_figure_describe((cavum_figure_id)id).key, threads);
      }
    }
    cavum_result_destroy(&many);
  }
  cavum_result_destroy(&one);
}

START_TEST(threads_change_no_bit) { compare_threads(false); }
END_TEST

START_TEST(threads_change_no_bit_of_single_factors) { compare_threads(true); }
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, threads_change_no_bit);
  tcase_add_test(tests, threads_change_no_bit_of_single_factors);
}

CAVUM_TEST_MAIN("solve.all_cores", add_tests)
