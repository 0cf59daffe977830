// SPDX-License-Identifier: GPL-3.0-or-later
// How many derivatives of figures by dimensions lie inside their uncertainty on random outlines,
// with one and three modes, those of the default accuracy against those of a tight one.
//
// Usage: bench_derivative_coverage [SHAPES [FIRST_FAMILY [LAST_FAMILY [SEED]]]]   default 20, all,
// 1
#include "derivative_tally.h"

int main(int argc, char **argv) {
  static tally t;
  int shapes = argc > 1 ? atoi(argv[1]) : 20, first = argc > 2 ? atoi(argv[2]) : 0;
  int last = argc > 3 ? atoi(argv[3]) : RANDOM_NUM_FAMILIES;
  uint64_t seed = argc > 4 ? strtoull(argv[4], NULL, 10) : 1;
  printf("%-26s %9s %9s %9s %9s\n", "family", "numbers", "inside", "worst e/u", "u/error");
  for (int family = first; family <= last && family <= RANDOM_NUM_FAMILIES; family++) {
    random_state state = {seed * 7919 + (uint64_t)family};
    const char *name = family == 0 ? "two-ellipse cells" : RANDOM_FAMILIES[family - 1].name;
    memset(&t, 0, sizeof t);
    for (int i = 0; i < shapes; i++) {
      char where[64];
      cavum_cell cell = family == 0 ? random_two_ellipse(&state)
                                    : random_family_cell(&state, &RANDOM_FAMILIES[family - 1]);
      cell.num_modes = i % 2 == 0 ? 1 : 3;
      snprintf(where, sizeof where, "%s %d", name, i);
      derivative_tally_cell(&t, &cell, where);
      cavum_cell_clear(&cell);
      fflush(stdout);
    }
    printf("%-26s %9d %8.3f%% %9.3g %9.1f\n", name, t.count, 100.0 * t.inside / t.count,
           tally_worst(&t), tally_median_inflation(&t));
    fflush(stdout);
  }
  return EXIT_SUCCESS;
}
