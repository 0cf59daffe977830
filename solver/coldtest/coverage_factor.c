// SPDX-License-Identifier: GPL-3.0-or-later
// Coverage factor of a sum of normal parts and of waves of unknown phase.
#include <gsl/gsl_cdf.h>

#include "coldtest/coldtest_private.h"

// Normal parts together, and the amplitudes of the two cosines, all in units of the combined
// standard uncertainty.
typedef struct mixture {
  double normal;
  double wave[2];  // the larger one first
  double coverage;
} mixture;

enum { FEWEST_PHASES = 8, MOST_PHASES = 256 };

// The mean over a phase of a function with details as wide as `width`: equally spaced phases
// converge geometrically once their spacing resolves it.
static int phases_for(double amplitude, double width) {
  if (amplitude == 0.0) return 1;
  double wanted = FEWEST_PHASES + 6.0 * amplitude / cavum_max(width, 1e-9);
  return wanted < MOST_PHASES ? (int)wanted : MOST_PHASES;
}

static double cosine_of(int phase, int num_phases) {
  return num_phases == 1 ? 0.0 : cos(CAVUM_PI * (phase + 0.5) / num_phases);
}

// Probability that normal part and first cosine together are at most x.
static double at_most(const mixture *m, double x) {
  if (m->normal < 1e-3) {
    if (m->wave[0] == 0.0) return x < 0.0 ? 0.0 : 1.0;
    double ratio = cavum_max(-1.0, cavum_min(1.0, x / m->wave[0]));
    return 0.5 + asin(ratio) / CAVUM_PI;
  }
  int n = phases_for(m->wave[0], m->normal);
  double sum = 0.0;
  for (int i = 0; i < n; i++) {
    sum += gsl_cdf_ugaussian_P((x - m->wave[0] * cosine_of(i, n)) / m->normal);
  }
  return sum / n;
}

// Probability of -factor to factor, less the coverage that is wanted.
static double excess(double factor, const mixture *m) {
  int n = phases_for(m->wave[1], hypot(m->normal, 0.25 * m->wave[0]));
  double sum = 0.0;
  for (int i = 0; i < n; i++) {
    double shift = m->wave[1] * cosine_of(i, n);
    sum += at_most(m, factor - shift) - at_most(m, -factor - shift);
  }
  return sum / n - m->coverage;
}

// By halves: it lies between 0 and where even the largest errors are inside.
static double solve_for_factor(const mixture *m) {
  double low = 0.0, high = m->wave[0] + m->wave[1] + 8.0 * m->normal;
  for (int i = 0; i < 60 && high - low > 1e-6; i++) {
    double middle = 0.5 * (low + high);
    if (excess(middle, m) < 0.0) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return 0.5 * (low + high);
}

double cavum_coldtest_budget_coverage_factor(const cavum_coldtest_budget *budget, double coverage) {
  if (!budget || !(coverage > 0.0 && coverage < 1.0)) return NAN;
  double leak = fabs(budget->contribution[CAVUM_INPUT_DIRECTIVITY]);
  double match = fabs(budget->contribution[CAVUM_INPUT_CIRCULATOR]);
  double normal = cavum_coldtest_coverage_factor(coverage);
  // Below this the factor of a normal distribution is right to 1e-4.
  if (!(hypot(leak, match) > 0.1 * budget->uncertainty)) return normal;
  double rest = 0.0;
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) {
    if (i == CAVUM_INPUT_DIRECTIVITY || i == CAVUM_INPUT_CIRCULATOR) continue;
    rest += budget->contribution[i] * budget->contribution[i];
  }
  // The standard deviation of a cosine is its amplitude over the root of two.
  mixture m = {.normal = sqrt(rest) / budget->uncertainty,
               .wave = {sqrt(2.0) * cavum_max(leak, match) / budget->uncertainty,
                        sqrt(2.0) * cavum_min(leak, match) / budget->uncertainty},
               .coverage = coverage};
  return solve_for_factor(&m);
}
