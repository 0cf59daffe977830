// SPDX-License-Identifier: GPL-3.0-or-later
// A program that was built with the headers of an earlier version, kept beside it, and runs with
// the library of now: its cell and its options are shorter than those of the library, and what lies
// behind them stays as it was.
#include <stdio.h>
#include <string.h>

#include "cavum/solver.h"

#define GUARD 0x5a

// Something that lies right behind a struct of the program.
typedef struct guarded_cell {
  cavum_cell cell;
  unsigned char guard[256];
} guarded_cell;

typedef struct guarded_options {
  cavum_solve_options options;
  unsigned char guard[256];
} guarded_options;

static int is_whole(const unsigned char *guard) {
  for (int i = 0; i < 256; i++) {
    if (guard[i] != GUARD) return 0;
  }
  return 1;
}

static int check(int good, const char *what, const cavum_error *error) {
  if (!good) printf("FAILED: %s: %s\n", what, error->message);
  return good ? 0 : 1;
}

static void fill(cavum_cell *cell) {
  cell->kind = CAVUM_CONTOUR_TWO_ELLIPSE;
  cell->left = (cavum_half_cell){0.0577, 0.035, 0.1033, 0.042, 0.042, 0.012, 0.019};
  cell->right = cell->left;
  cell->left_end.kind = cell->right_end.kind = CAVUM_END_MAGNETIC;
}

int main(void) {
  guarded_cell g;
  guarded_options o;
  cavum_error error = {CAVUM_OK, ""};
  cavum_result *result = NULL;
  cavum_solver *solver = NULL;
  int failures = 0;
  memset(&g, GUARD, sizeof g);
  memset(&o, GUARD, sizeof o);
  cavum_cell_set_defaults(&g.cell);
  o.options = cavum_solve_options_default();
  fill(&g.cell);
  failures += check(cavum_cell_check(&g.cell, &error) == CAVUM_OK, "check", &error);
  failures += check(cavum_solve(&result, &g.cell, &o.options, &error) == CAVUM_OK, "solve", &error);
  if (result) {
    const cavum_mode_result *mode = cavum_result_mode(result, 0);
    cavum_figure f = cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY);
    printf("%.9g Hz\n", f.value);
    failures += check(f.value > 1.2e9 && f.value < 1.4e9, "frequency", &error);
    failures += check(strcmp(mode->label, "TM010") == 0, "label", &error);
  }
  cavum_result_destroy(&result);
  failures += check(cavum_solver_create(&solver, &o.options, &error) == CAVUM_OK, "solver", &error);
  failures +=
      check(cavum_solver_solve(&result, solver, &g.cell, &error) == CAVUM_OK, "warm", &error);
  cavum_result_destroy(&result);
  cavum_solver_destroy(&solver);
  const char *text = "contour: {kind: mesh, file: a.msh, unit: mm, axis: x}\n";
  failures += check(cavum_cell_read_text(&g.cell, text, strlen(text), NULL, &error) == CAVUM_OK,
                    "read", &error);
  cavum_cell_clear(&g.cell);
  // A mesh within the cell is what this program has no place for.
  text = "contour: {kind: mesh, file_base64: TWVzaA==, unit: mm, axis: x}\n";
  failures +=
      check(cavum_cell_read_text(&g.cell, text, strlen(text), NULL, &error) == CAVUM_ERR_USAGE,
            "a mesh in the text", &error);
  printf("%s\n", error.message);
  failures += check(is_whole(g.guard), "what lies behind the cell", &error);
  failures += check(is_whole(o.guard), "what lies behind the options", &error);
  printf("cell of %zu bytes, options of %zu bytes, version %s\n", sizeof g.cell, sizeof o.options,
         cavum_version());
  return failures ? 1 : 0;
}
