// SPDX-License-Identifier: GPL-3.0-or-later
// How many derivatives of figures by dimensions lie inside their uncertainty on random outlines,
// with one and three modes, those of the default accuracy against those of a tight one. Half of the
// cells are solved after a neighbour by the same solver, and a fifth without derivatives of peaks,
// as half where they are mirrored. Two rows for each family: those alone, and those after a
// neighbour.
//
// Usage: bench_derivative_coverage [SHAPES [FIRST_FAMILY [LAST_FAMILY [SEED]]]]   default 20, all,
// 1
#include "derivative_tally.h"

static tally alone, after;

static void print_row(const char *name, const char *way, tally *of) {
  char row[64];
  snprintf(row, sizeof row, "%s, %s", name, way);
  printf("%-36s %9d %8.3f%% %9.3g %9.1f\n", row, of->count,
         of->count > 0 ? 100.0 * of->inside / of->count : 100.0, tally_worst(of),
         tally_median_inflation(of));
}

int main(int argc, char **argv) {
  int shapes = argc > 1 ? (int)strtol(argv[1], NULL, 10) : 20,
      first = argc > 2 ? (int)strtol(argv[2], NULL, 10) : 0;
  int last = argc > 3 ? (int)strtol(argv[3], NULL, 10) : RANDOM_NUM_FAMILIES;
  uint64_t seed = argc > 4 ? strtoull(argv[4], NULL, 10) : 1;
  printf("%-36s %9s %9s %9s %9s\n", "family", "numbers", "inside", "worst e/u", "u/error");
  for (int family = first; family <= last && family <= RANDOM_NUM_FAMILIES; family++) {
    random_state state = {seed * 7919 + (uint64_t)family};
    const char *name = family == 0 ? "two-ellipse cells" : RANDOM_FAMILIES[family - 1].name;
    memset(&alone, 0, sizeof alone);
    memset(&after, 0, sizeof after);
    for (int i = 0; i < shapes; i++) {
      char where[64];
      cavum_cell cell = family == 0 ? random_two_ellipse(&state)
                                    : random_family_cell(&state, &RANDOM_FAMILIES[family - 1]);
      derivative_tally_way way = {.warm = i / 2 % 2 == 1, .without_peaks = i % 5 == 4};
      cell.num_modes = i % 2 == 0 ? 1 : 3;
      snprintf(where, sizeof where, "%s %d", name, i);
      derivative_tally_cell(way.warm ? &after : &alone, &cell, where, way);
      cavum_cell_clear(&cell);
      fflush(stdout);
    }
    print_row(name, "alone", &alone);
    print_row(name, "after a neighbour", &after);
    fflush(stdout);
  }
  return EXIT_SUCCESS;
}
