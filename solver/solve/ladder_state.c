// SPDX-License-Identifier: GPL-3.0-or-later
// The state of a ladder: how far the figures are from what is asked for.
#include "solve/ladder_state.h"

#include <string.h>

#include "base/base.h"
#include "solve/accuracy.h"
#include "solve/figure_policy.h"

void cavum_ladder_clear(cavum_ladder *ladder) {
  if (!ladder) return;
  for (int m = 0; ladder->history && m < ladder->num_modes; m++) {
    cavum_mode_history_clear(&ladder->history[m]);
  }
  free(ladder->history);
  memset(ladder, 0, sizeof *ladder);
}

void cavum_ladder_require(cavum_ladder *ladder, int missing) {
  ladder->missing = missing > ladder->missing ? missing : ladder->missing;
  if (missing > 0 && (ladder->nearest == 0 || missing < ladder->nearest)) ladder->nearest = missing;
}

void cavum_ladder_judge(cavum_ladder *ladder, const cavum_cell *cell,
                        const cavum_mode_values *values, const cavum_history *history,
                        cavum_figure_id id) {
  const cavum_figure_policy *policy = cavum_figure_policy_of(id);
  int missing = cavum_accuracy_missing_degrees(values, id, cell, history);
  bool goes_on = missing > 0 && ladder->degree + missing <= CAVUM_DEGREE_MOST;
  if (goes_on && ladder->keeps_mesh &&
      cavum_accuracy_is_out_of_reach(values, id, cell, history, ladder->degree)) {
    missing = CAVUM_DEGREE_MOST;
    ladder->out_of_reach = true;
  }
  ladder->reached = ladder->reached && missing == 0;
  cavum_ladder_require(ladder, missing);
  double less = cavum_uncertainty_one_less(history, policy->convergence, policy->rounding_floor);
  ladder->worst_one_less =
      cavum_max(ladder->worst_one_less, cavum_accuracy_over_wanted(less, values, id, cell));
}

bool cavum_ladder_has_all_modes(const cavum_solution *solution,
                                const cavum_ladder_request *request) {
  return solution->num_modes >= request->cell->num_modes;
}
