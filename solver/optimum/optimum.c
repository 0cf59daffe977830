// SPDX-License-Identifier: GPL-3.0-or-later
// What a best shape owns. By itself, since whoever reads a result file needs it, and nothing of
// goals.
#include "cavum/optimum.h"

#include <stdlib.h>

const char *cavum_optimum_end_word(cavum_optimum_end end) {
  switch (end) {
    case CAVUM_OPTIMUM_CONVERGED:
      return "converged";
    case CAVUM_OPTIMUM_STALLED:
      return "stalled";
    case CAVUM_OPTIMUM_OUT_OF_SOLVES:
      return "out-of-solves";
    case CAVUM_OPTIMUM_INFEASIBLE:
      return "infeasible";
    case CAVUM_OPTIMUM_STOPPED:
      return "stopped";
    case CAVUM_OPTIMUM_NO_SHAPE:
      break;
  }
  return "no-shape";
}

const char *cavum_robust_kind_word(cavum_robust_kind kind) {
  switch (kind) {
    case CAVUM_ROBUST_WORST:
      return "worst";
    case CAVUM_ROBUST_MEAN:
      return "mean";
    case CAVUM_ROBUST_NONE:
      break;
  }
  return "nominal";
}

void cavum_optimum_destroy(cavum_optimum **optimum) {
  if (!optimum || !*optimum) return;
  cavum_optimum *old = *optimum;
  for (int i = 0; old->starts && i < old->num_starts; i++) {
    free(old->starts[i].first);
    free(old->starts[i].last);
  }
  for (int i = 0; old->steps && i < old->num_steps; i++) free(old->steps[i].values);
  free(old->variables);
  free(old->limits);
  free(old->terms);
  free(old->starts);
  free(old->steps);
  for (int c = 0; c < old->num_others; c++) {
    free(old->others[c].cell_text);
    cavum_result_destroy(&old->others[c].result);
    cavum_result_destroy(&old->others[c].before);
  }
  free(old->others);
  cavum_result_destroy(&old->before);
  cavum_result_destroy(&old->result);
  free(old->cell_text);
  free(old->free_wall.two_ellipse_text);
  cavum_optimum_destroy(&old->free_wall.two_ellipse_search);
  free(old);
  *optimum = NULL;
}
