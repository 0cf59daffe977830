// SPDX-License-Identifier: GPL-3.0-or-later
// Long chains: their elements are as large as those of one cell, so that a solve begins with the
// same degree, and sharp irises, whose peaks are unbounded, do not make it refine further and
// further.
#include <stdlib.h>

#include "cavum/cavum.h"
#include "solve/degree_choice.h"
#include "solving.h"
#include "support.h"

START_TEST(first_degrees) {
  cavum_problem_memory memory = {.mesh = {.num_elements = 100}};
  cavum_cell cell;
  cavum_cell_set_defaults(&cell);
  int usual = cavum_degree_choose_first(&cell, &memory, false);
  for (int n = 1000; n <= 10000; n *= 10) {
    memory.mesh.num_elements = n;
    memory.mesh.node_order = 0;
    ck_assert_int_eq(cavum_degree_choose_first(&cell, &memory, false), usual);
    ck_assert_int_lt(cavum_degree_choose_first(&cell, &memory, true), usual);
    memory.mesh.node_order = 2;
    ck_assert_int_lt(cavum_degree_choose_first(&cell, &memory, false), usual);
  }
}
END_TEST

#ifndef CAVUM_SANITIZED
static void line_to(FILE *out, double z_mm, double r_mm, const char *boundary) {
  fprintf(out, "    - {line_to: {z_mm: %g, r_mm: %g}, boundary: %s}\n", z_mm, r_mm, boundary);
}

// Pillboxes with right-angled irises of 10 mm between them.
static cavum_cell chain(int num_cells) {
  char *text = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&text, &size);
  double z_mm = 90.0 * num_cells - 10.0;
  fputs("contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n", out);
  line_to(out, z_mm, 0.0, "axis");
  for (int i = 0; i < num_cells; i++) {
    line_to(out, z_mm, 100.0, "metal");
    line_to(out, z_mm -= 80.0, 100.0, "metal");
    if (i + 1 == num_cells) break;
    line_to(out, z_mm, 35.0, "metal");
    line_to(out, z_mm -= 10.0, 35.0, "metal");
  }
  line_to(out, 0.0, 0.0, "metal");
  fprintf(out, "modes: {count: %d}\n", num_cells);
  fclose(out);
  cavum_cell cell = solving_read(text);
  free(text);
  return cell;
}

// 51,661 unknowns as it was measured; 229,461 while the second mesh began at degree 5, with fewer
// modes than were wanted, and was given up before there was a rate to judge by.
START_TEST(nine_cells_with_sharp_irises) {
  enum { CELLS = 9, UNKNOWNS_MOST = 75000 };
  cavum_cell cell = chain(CELLS);
  cavum_result *result = solving_solve(&cell, NULL);
  printf("%d unknowns at the last of %d steps\n",
         (int)result->steps[result->num_steps - 1].num_unknowns, result->num_steps);
  ck_assert(result->accuracy_reached);
  ck_assert_int_eq(result->num_modes, CELLS);
  for (int i = 0; i < result->num_steps; i++) {
    ck_assert_int_lt(result->steps[i].num_unknowns, UNKNOWNS_MOST);
  }
  for (int m = 0; m < CELLS; m++) {
    ck_assert_int_eq(result->modes[m].figures[CAVUM_FIGURE_EPK_OVER_EACC].state,
                     CAVUM_FIGURE_UNBOUNDED);
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST
#endif

static void add_tests(TCase *tests) {
  tcase_add_test(tests, first_degrees);
#ifndef CAVUM_SANITIZED
  tcase_add_test(tests, nine_cells_with_sharp_irises);
#endif
}

CAVUM_TEST_MAIN("solve.chains", add_tests)
