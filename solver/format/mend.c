// SPDX-License-Identifier: GPL-3.0-or-later
#include "format/mend.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "base/units.h"

// Part of a dimension up to which a line through one point is worth a number.
static const double LINEAR_SHARE = 0.05;

// Shapes are made for their bounds to this part of them.
static const double AT_BOUND = 1e-8;

void cavum_margin_write(char text[CAVUM_MEND_SIZE], const cavum_verdict *verdict) {
  text[0] = '\0';
  if (verdict->kind == CAVUM_VERDICT_ABSENT || !isfinite(verdict->margin)) return;
  bool is_met = verdict->kind == CAVUM_VERDICT_MET;
  if (is_met && fabs(verdict->margin) <= AT_BOUND * fabs(verdict->value)) {
    snprintf(text, CAVUM_MEND_SIZE, "at the bound");
    return;
  }
  snprintf(text, CAVUM_MEND_SIZE, "by %.3g", fabs(verdict->margin));
}

bool cavum_mend_write(char text[CAVUM_MEND_SIZE], const cavum_verdict *verdict, double value) {
  text[0] = '\0';
  if (!verdict->dimension[0]) return true;
  double share = verdict->change / fabs(value);
  bool beyond = isfinite(share) && fabs(share) > LINEAR_SHARE;
  if (beyond) {
    snprintf(text, CAVUM_MEND_SIZE, "%+.3g (%+.2g %%), beyond what a derivative tells",
             verdict->change, cavum_in_unit(share, CAVUM_UNIT_PERCENT));
  } else {
    snprintf(text, CAVUM_MEND_SIZE, "%+.3g", verdict->change);
  }
  return !beyond;
}
