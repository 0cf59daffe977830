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

static bool is_at_bound(const cavum_verdict *verdict) {
  return verdict->kind == CAVUM_VERDICT_MET &&
         fabs(verdict->margin) <= AT_BOUND * fabs(verdict->value);
}

void cavum_margin_write_amount(char text[CAVUM_MEND_SIZE], const cavum_verdict *verdict) {
  text[0] = '\0';
  if (verdict->kind == CAVUM_VERDICT_ABSENT || !isfinite(verdict->margin)) return;
  if (is_at_bound(verdict)) {
    snprintf(text, CAVUM_MEND_SIZE, "at the bound");
  } else {
    snprintf(text, CAVUM_MEND_SIZE, "%.3g", fabs(verdict->margin));
  }
}

void cavum_margin_write(char text[CAVUM_MEND_SIZE], const cavum_verdict *verdict) {
  char amount[CAVUM_MEND_SIZE];
  cavum_margin_write_amount(amount, verdict);
  bool by = amount[0] && !is_at_bound(verdict);
  snprintf(text, CAVUM_MEND_SIZE, "%s%.*s", by ? "by " : "", CAVUM_MEND_SIZE - 4, amount);
}

bool cavum_mend_write(char text[CAVUM_MEND_SIZE], const cavum_verdict *verdict, double value) {
  text[0] = '\0';
  if (!verdict->dimension[0]) return true;
  double share = verdict->change / fabs(value);
  bool beyond = isfinite(share) && fabs(share) > LINEAR_SHARE;
  if (beyond) {
    double percent = cavum_in_unit(share, CAVUM_UNIT_PERCENT);
    bool large = fabs(percent) >= 99.5 && fabs(percent) < 1e9;
    snprintf(text, CAVUM_MEND_SIZE,
             large ? "%+.3g (%+.0f %%), beyond what a derivative tells"
                   : "%+.3g (%+.2g %%), beyond what a derivative tells",
             verdict->change, percent);
  } else {
    snprintf(text, CAVUM_MEND_SIZE, "%+.3g", verdict->change);
  }
  return !beyond;
}
