// SPDX-License-Identifier: GPL-3.0-or-later
// Voltages of CAVUM_LANES speeds at a time, and the largest of them.
#include "figures/axis_speed.h"

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"
#include "base/maximum.h"
#include "figures/phases.h"

enum { LANES = CAVUM_LANES, BESSEL_MARGIN = 20, BESSEL_MOST = 128 };
// Speeds that are looked at for the largest |V|, 0.024 apart: |V| has no narrower lobe in a single
// cell.
enum { SCAN_STEPS = 5 * LANES, ZOOMS_MOST = 20 };
// Half width of what is looked at around a hint, and the change of phase at the ends of the axis
// that a polynomial through CAVUM_LANES values follows to 1e-12.
static const double HINT_STEP = 2e-3, HINT_PHASE = 0.15, BETA_TOLERANCE = 1e-8;
// A maximum at the end of the range, where |V| rises up to here, needs no search.
static const double INSIDE = 1e-4;

// Where the downward recurrence of the spherical Bessel functions starts.
static int first_order(int most, double largest_x) {
  double wanted = cavum_max(most, 1.2 * largest_x) + BESSEL_MARGIN;
  return wanted < BESSEL_MOST ? (int)wanted : BESSEL_MOST;
}

// Spherical Bessel functions of all lanes by the recurrence of cavum_axis_spherical_bessel(), which
// must not overflow between its first order and order 0.
CAVUM_FAST static void bessel_of_lanes(cavum_lanes *restrict j, int most, int first,
                                       const cavum_lanes *restrict x,
                                       const cavum_lanes *restrict cosine,
                                       const cavum_lanes *restrict sine) {
  cavum_lanes table[BESSEL_MOST + 2], inverse = 1.0 / x[0];
  table[first + 1] = (cavum_lanes){0};
  table[first] = (cavum_lanes){0} + 1e-280;
  for (int n = first; n > 0; n--) {
    table[n - 1] = (2 * n + 1) * inverse * table[n] - table[n + 1];
  }
  cavum_lanes j0 = sine[0] * inverse, j1 = (j0 - cosine[0]) * inverse, scale;
  for (int l = 0; l < LANES; l++) {
    scale[l] = fabs(j0[l]) > fabs(j1[l]) ? j0[l] / table[0][l] : j1[l] / table[1][l];
  }
  for (int n = 0; n <= most; n++) j[n] = scale * table[n];
}

// Adds the voltages of one edge. angle: wave numbers times half its length and times the place of
// its middle, with their cosines and sines.
CAVUM_FAST static void add_edge(cavum_lanes *restrict re, cavum_lanes *restrict im,
                                const cavum_axis_edge *restrict edge, int degree, int first,
                                const cavum_lanes *restrict angle,
                                const cavum_lanes *restrict cosine,
                                const cavum_lanes *restrict sine) {
  cavum_lanes j[CAVUM_DEGREE_MOST + 1], even = {0}, odd = {0};
  bessel_of_lanes(j, degree, first, &angle[0], &cosine[0], &sine[0]);
  for (int n = 0; n <= degree; n++) {
    double c = n % 4 < 2 ? edge->coeff[n] : -edge->coeff[n];
    if (n % 2) {
      odd += c * j[n];
    } else {
      even += c * j[n];
    }
  }
  *re += 2.0 * edge->half_m * (even * cosine[1] - odd * sine[1]);
  *im += 2.0 * edge->half_m * (even * sine[1] + odd * cosine[1]);
}

// Edges so long or so short against the wavelength that the recurrence needs more care.
static bool needs_care(double smallest_x, double largest_x, int first) {
  const double decades_most = 500.0;
  return 1.2 * largest_x + BESSEL_MARGIN >= BESSEL_MOST ||
         first * log10((2 * first + 1) / smallest_x) > decades_most;
}

static void sizes_one_by_one(double *size, const cavum_axis_field *axis, double k_per_m,
                             const double *beta) {
  for (int l = 0; l < LANES; l++) {
    cavum_phasor v = cavum_axis_voltage(axis, k_per_m, beta[l]);
    size[l] = hypot(v.re, v.im);
  }
}

// |V| at CAVUM_LANES rising speeds, as cavum_axis_voltage() has it.
static void sizes_at(double *size, const cavum_axis_field *axis, double k_per_m,
                     const double *beta) {
  cavum_lanes re = {0}, im = {0}, k_z_per_m;
  for (int l = 0; l < LANES; l++) k_z_per_m[l] = k_per_m / beta[l];
  for (cavum_index i = 0; i < axis->num_edges; i++) {
    const cavum_axis_edge *edge = &axis->edges[i];
    cavum_lanes cosine[2], sine[2];
    cavum_lanes angle[2] = {k_z_per_m * edge->half_m, k_z_per_m * edge->middle_m};
    int first = first_order(axis->degree, angle[0][0]);
    if (needs_care(angle[0][LANES - 1], angle[0][0], first)) {
      sizes_one_by_one(size, axis, k_per_m, beta);
      return;
    }
    cavum_phases(cosine, sine, angle, 2);
    add_edge(&re, &im, edge, axis->degree, first, angle, cosine, sine);
  }
  for (int l = 0; l < LANES; l++) {
    // A mirrored half doubles one part and cancels the other.
    size[l] = axis->parity == CAVUM_PARITY_EVEN
                  ? 2.0 * fabs(re[l])
                  : (axis->parity == CAVUM_PARITY_ODD ? 2.0 * fabs(im[l]) : hypot(re[l], im[l]));
  }
}

// Half width about a speed over which a polynomial is good enough.
static double narrow_step(const cavum_axis_field *axis, double k_per_m, double beta) {
  double extent_m = 0.0;
  for (cavum_index i = 0; i < axis->num_edges; i++) {
    extent_m = cavum_max(extent_m, fabs(axis->edges[i].middle_m) + axis->edges[i].half_m);
  }
  return cavum_min(HINT_STEP, HINT_PHASE * beta * beta / (k_per_m * extent_m));
}

// Evenly spread speeds in a range and |V| there.
typedef struct samples {
  double low, high, beta[LANES], size[LANES];
  int best;
} samples;

static samples sample(const cavum_axis_field *axis, double k_per_m, double low, double high) {
  samples x = {.low = low, .high = high};
  for (int i = 0; i < LANES; i++) {
    x.beta[i] = i == LANES - 1 ? high : low + i * (high - low) / (LANES - 1);
  }
  sizes_at(x.size, axis, k_per_m, x.beta);
  for (int i = 1; i < LANES; i++) x.best = x.size[i] > x.size[x.best] ? i : x.best;
  return x;
}

// The polynomial through all samples.
static double interpolate(double beta, const void *context) {
  static const double weight[LANES] = {1.0, -7.0, 21.0, -35.0, 35.0, -21.0, 7.0, -1.0};
  const samples *x = context;
  double above = 0.0, below = 0.0;
  for (int i = 0; i < LANES; i++) {
    double distance = beta - x->beta[i];
    if (distance == 0.0) return x->size[i];
    above += weight[i] / distance * x->size[i];
    below += weight[i] / distance;
  }
  return above / below;
}

// The maximum between the samples beside the best one.
static double refine(double *size, const samples *x) {
  int low = x->best > 0 ? x->best - 1 : 0, high = x->best + 1 < LANES ? x->best + 1 : x->best;
  double place[3] = {x->beta[low], x->beta[x->best], x->beta[high]};
  double value[3] = {x->size[low], x->size[x->best], x->size[high]};
  bool at_end = x->best == LANES - 1 && x->high == 1.0;
  if (at_end && interpolate(1.0 - INSIDE, x) < value[1]) {
    *size = value[1];
    return 1.0;
  }
  cavum_maximum_find(place, value, BETA_TOLERANCE, interpolate, x);
  *size = value[1];
  return place[1];
}

// The best of evenly spread speeds over the whole range.
static double scan(const cavum_axis_field *axis, double k_per_m, double from) {
  double best = 1.0, most = -1.0, step = (1.0 - from) / (SCAN_STEPS - 1);
  for (int i = 0; i < SCAN_STEPS; i += LANES) {
    double low = from + i * step, high = from + (i + LANES - 1) * step;
    samples x = sample(axis, k_per_m, low, i + LANES == SCAN_STEPS ? 1.0 : high);
    if (x.size[x.best] <= most) continue;
    most = x.size[x.best];
    best = x.beta[x.best];
  }
  return best;
}

double cavum_axis_best_beta(double *size, const cavum_axis_field *axis, double k_per_m, double from,
                            double hint) {
  double step = narrow_step(axis, k_per_m, hint);
  samples x;
  if (hint > 0.0) {
    x = sample(axis, k_per_m, cavum_max(from, hint - step), cavum_min(1.0, hint + step));
    bool inside = x.best > 0 && (x.best + 1 < LANES || x.high == 1.0);
    if (inside) return refine(size, &x);
  }
  double middle = scan(axis, k_per_m, from);
  step = (1.0 - from) / (SCAN_STEPS - 1);
  for (int i = 0; i < ZOOMS_MOST; i++) {
    x = sample(axis, k_per_m, cavum_max(from, middle - step), cavum_min(1.0, middle + step));
    middle = x.beta[x.best];
    if (x.high - x.low <= 2.0 * narrow_step(axis, k_per_m, middle)) break;
    step = (x.high - x.low) / (LANES - 1);
  }
  return refine(size, &x);
}
