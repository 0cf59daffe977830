// SPDX-License-Identifier: GPL-3.0-or-later
// Coverage factor of a sum of normal parts and of waves of unknown phase.
#include <gsl/gsl_cdf.h>

#include "coldtest/coldtest_private.h"

enum { NUM_WAVES = 3 };

static const int WAVES[NUM_WAVES] = {CAVUM_INPUT_DIRECTIVITY, CAVUM_INPUT_FORWARD_DIRECTIVITY,
                                     CAVUM_INPUT_CIRCULATOR};

// Normal parts together, and the amplitudes of the cosines, all in units of the combined standard
// uncertainty.
typedef struct mixture {
  double normal;
  double wave[NUM_WAVES];  // the largest one first
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

// Probability of low to high for the normal part and the first `count` cosines.
static double within(const mixture *m, int count, double low, double high) {
  if (count == 1) return at_most(m, high) - at_most(m, low);
  double smoother = m->normal;
  for (int i = 0; i < count - 1; i++) smoother = hypot(smoother, 0.25 * m->wave[i]);
  double amplitude = m->wave[count - 1], sum = 0.0;
  int n = phases_for(amplitude, smoother);
  for (int i = 0; i < n; i++) {
    double shift = amplitude * cosine_of(i, n);
    sum += within(m, count - 1, low - shift, high - shift);
  }
  return sum / n;
}

// Probability of -factor to factor, less the coverage that is wanted.
static double excess(double factor, const mixture *m) {
  return within(m, NUM_WAVES, -factor, factor) - m->coverage;
}

// By halves: it lies between 0 and where even the largest errors are inside.
static double solve_for_factor(const mixture *m) {
  double low = 0.0, high = 8.0 * m->normal;
  for (int i = 0; i < NUM_WAVES; i++) high += m->wave[i];
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

static void sort_falling(double wave[NUM_WAVES]) {
  for (int i = 1; i < NUM_WAVES; i++) {
    for (int k = i; k > 0 && wave[k] > wave[k - 1]; k--) {
      double larger = wave[k];
      wave[k] = wave[k - 1];
      wave[k - 1] = larger;
    }
  }
}

double cavum_coldtest_budget_coverage_factor(const cavum_coldtest_budget *budget, double coverage) {
  if (!budget || !(coverage > 0.0 && coverage < 1.0)) return NAN;
  mixture m = {.coverage = coverage};
  double waves = 0.0, rest = 0.0;
  for (int i = 0; i < NUM_WAVES; i++) {
    double part = budget->contribution[WAVES[i]];
    waves += part * part;
    // The standard deviation of a cosine is its amplitude over the root of two.
    m.wave[i] = sqrt(2.0) * fabs(part) / budget->uncertainty;
  }
  double normal = cavum_coldtest_coverage_factor(coverage);
  // Below this the factor of a normal distribution is right to 1e-4.
  if (!(sqrt(waves) > 0.1 * budget->uncertainty)) return normal;
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) {
    bool wave = i == WAVES[0] || i == WAVES[1] || i == WAVES[2];
    if (!wave) rest += budget->contribution[i] * budget->contribution[i];
  }
  m.normal = sqrt(rest) / budget->uncertainty;
  sort_falling(m.wave);
  return solve_for_factor(&m);
}
