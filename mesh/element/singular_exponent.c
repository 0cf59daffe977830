// SPDX-License-Identifier: GPL-3.0-or-later
// Exponents of the singular fields at corners and tips.
#include "element/singular_exponent.h"

#include "base/base.h"

// A needle on the axis is no worse than this.
static const double SMALLEST_TIP_EXPONENT = 0.2;

double cavum_corner_exponent(double interior_rad, bool mixed) {
  return (mixed ? 0.5 : 1.0) * CAVUM_PI / interior_rad;
}

// Sharp cones have the first zero of J0 over the angle, less about a half [Olver2010] 14.15.
static const double FIRST_ZERO_OF_J0 = 2.404825557695773, LESS = 0.531;

double cavum_tip_exponent(double interior_rad, bool magnetic) {
  if (interior_rad < 0.5 * CAVUM_PI) {
    return magnetic ? 2.0 : FIRST_ZERO_OF_J0 / interior_rad - LESS;
  }
  double beyond = 2.0 - interior_rad / (0.5 * CAVUM_PI);
  beyond = cavum_min(1.0, cavum_max(0.0, beyond));
  return magnetic ? 1.0 + beyond * beyond : cavum_max(beyond, SMALLEST_TIP_EXPONENT);
}
