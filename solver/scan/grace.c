// SPDX-License-Identifier: GPL-3.0-or-later
// Whether what is left of a batch is worth waiting for.
#include "scan/grace.h"

// When the batch will be complete. While its first shape is computed, that has taken so long at
// least as it has by now.
static double expected_end_s(const cavum_grace *g, double now_s) {
  double pace_s = g->num_done > 0 ? (g->shape_started_s - g->batch_started_s) / g->num_done
                                  : now_s - g->batch_started_s;
  return g->shape_started_s + pace_s * (g->num_rows - g->num_done);
}

bool cavum_grace_is_over(cavum_grace *grace, double now_s) {
  if (!grace->told) {
    grace->told = true;
    grace->told_s = now_s;
  }
  // A clock that goes back would make the grace longer.
  if (now_s < grace->told_s || now_s - grace->told_s >= CAVUM_GRACE_S) return true;
  return expected_end_s(grace, now_s) > grace->told_s + CAVUM_GRACE_S;
}
