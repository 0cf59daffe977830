// SPDX-License-Identifier: GPL-3.0-or-later
// Power series after reduction to a quarter turn.
#include "figures/phases.h"

#include "base/base.h"
#include "base/fast.h"

enum { TERMS = 12 };

// Coefficients of cos x and of sin x / x in x^2: up to pi / 2 the last term is below 1e-18.
static const double COSINE[TERMS] = {1.0,
                                     -1.0 / 2.0,
                                     1.0 / 24.0,
                                     -1.0 / 720.0,
                                     1.0 / 40320.0,
                                     -1.0 / 3628800.0,
                                     1.0 / 479001600.0,
                                     -1.0 / 87178291200.0,
                                     1.0 / 20922789888000.0,
                                     -1.0 / 6402373705728000.0,
                                     1.0 / 2432902008176640000.0,
                                     -1.0 / 1.1240007277776077e21};
static const double SINE[TERMS] = {1.0,
                                   -1.0 / 6.0,
                                   1.0 / 120.0,
                                   -1.0 / 5040.0,
                                   1.0 / 362880.0,
                                   -1.0 / 39916800.0,
                                   1.0 / 6227020800.0,
                                   -1.0 / 1307674368000.0,
                                   1.0 / 355687428096000.0,
                                   -1.0 / 121645100408832000.0,
                                   1.0 / 5.109094217170944e19,
                                   -1.0 / 2.5852016738884978e22};
// The first 33 bits of pi, of which multiples up to 2^20 are exact, and the rest.
static const double PI_HIGH = 3.14159265346825122834, PI_LOW = 1.21542010130123844986e-10;

CAVUM_FAST void cavum_phases(cavum_lanes *restrict cosine, cavum_lanes *restrict sine,
                             const cavum_lanes *restrict angle, int count) {
  const double per_pi = 1.0 / CAVUM_PI, round = 0x1.8p52;  // adding it leaves an integer
  for (int i = 0; i < count; i++) {
    cavum_lanes x = angle[i], turns = (x * per_pi + round) - round;
    cavum_lanes odd = turns - 2.0 * ((0.5 * turns + round) - round);  // 0 or +-1
    cavum_lanes y = (x - turns * PI_HIGH) - turns * PI_LOW, square = y * y;
    cavum_lanes c = {0}, s = {0}, sign = 1.0 - 2.0 * odd * odd;
    for (int n = TERMS - 1; n >= 0; n--) {
      c = c * square + COSINE[n];
      s = s * square + SINE[n];
    }
    cosine[i] = sign * c;
    sine[i] = sign * y * s;
  }
}
