// SPDX-License-Identifier: GPL-3.0-or-later
// Uncertainties are bounds, so two values differ when their difference is larger than both
// together. Both may rest on one fit, whose error they share: then the numerical part decides,
// which is that of Q0 to G.
#include "cli/compare_difference.h"

#include <math.h>

#include "format/quantity.h"

// Fits of one material at one frequency are the same number, but for what two cells made for it are
// off; a fit is known to percents.
static const double SAME_FIT = 1e-6;

static bool share_basis(const cavum_figure *a, const cavum_figure *b, cavum_figure_basis basis) {
  return a->basis == basis && b->basis == basis;
}

static double share_of_fit(const cavum_figure *fit) {
  bool there = fit->state == CAVUM_FIGURE_PRESENT && fabs(fit->value) > 0.0;
  return there ? fabs(fit->uncertainty / fit->value) : 0.0;
}

bool cavum_stored_differ(const cavum_figure *a, const cavum_figure *b) {
  if (a->state != b->state) return true;
  if (a->state != CAVUM_FIGURE_PRESENT) return false;
  if (share_basis(a, b, CAVUM_BASIS_FIT)) {
    return fabs(a->value - b->value) > SAME_FIT * fabs(a->value);
  }
  return fabs(a->value - b->value) > a->uncertainty + b->uncertainty;
}

double cavum_stored_difference_uncertainty(const cavum_figure *a, const cavum_figure *b) {
  if (!share_basis(a, b, CAVUM_BASIS_FIT)) return a->uncertainty + b->uncertainty;
  return fmax(share_of_fit(a), share_of_fit(b)) * fabs(b->value - a->value);
}

bool cavum_shown_differ(const cavum_figure *a, const cavum_figure *b, cavum_figure_id id) {
  const cavum_figure one = cavum_quantity_shown_figure(a, id);
  const cavum_figure other = cavum_quantity_shown_figure(b, id);
  bool one_fit = share_basis(&one, &other, CAVUM_BASIS_WITH_FIT);
  return one_fit ? cavum_stored_differ(&a[id], &b[id]) : cavum_stored_differ(&one, &other);
}

double cavum_shown_difference_uncertainty(const cavum_figure *a, const cavum_figure *b,
                                          cavum_figure_id id) {
  const cavum_figure one = cavum_quantity_shown_figure(a, id);
  const cavum_figure other = cavum_quantity_shown_figure(b, id);
  if (!share_basis(&one, &other, CAVUM_BASIS_WITH_FIT)) {
    return cavum_stored_difference_uncertainty(&one, &other);
  }
  const cavum_figure_id fit = CAVUM_FIGURE_SURFACE_RESISTANCE;
  double share = fmax(share_of_fit(&a[fit]), share_of_fit(&b[fit]));
  return hypot(cavum_stored_difference_uncertainty(&a[id], &b[id]),
               share * fabs(other.value - one.value));
}
