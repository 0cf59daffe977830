// SPDX-License-Identifier: GPL-3.0-or-later
// Integrals of E_z along the axis from Legendre expansions on every axis edge.
#include "axis.h"

#include <string.h>

#include "base.h"
#include "fast.h"
#include "lanes.h"
#include "maximum.h"

// Lobes of E_z weaker than this part of the largest do not count in a mode label.
static const double LOBE_LEAST = 0.1;
// Looks at the polynomial of one edge for its sign changes; degree 16 has at most 16.
enum { LOOKS = 24, BESSEL_MARGIN = 20, BESSEL_MOST = 512, BESSEL_LANES_MOST = 128 };
// Speeds that are looked at for the largest |V|, 0.024 apart: |V| has no narrower lobe in a single
// cell. Around a hint this far is enough.
enum { SCAN_STEPS = 5 * CAVUM_LANES };
static const double HINT_STEP = 2e-3, BETA_TOLERANCE = 1e-8;

// Segment functions in Legendre polynomials: N_0 = (P_0 - P_1)/2, N_1 = (P_0 + P_1)/2,
// N_k = (P_k - P_{k-2}) / sqrt(2 (2k - 1)).
static void to_legendre(double *legendre, const double *coeff, int degree) {
  memset(legendre, 0, (CAVUM_DEGREE_MOST + 1) * sizeof *legendre);
  legendre[0] = 0.5 * (coeff[0] + coeff[1]);
  legendre[1] = 0.5 * (coeff[1] - coeff[0]);
  for (int k = 2; k <= degree; k++) {
    double c = coeff[k] / sqrt(2.0 * (2 * k - 1));
    legendre[k] += c;
    legendre[k - 2] -= c;
  }
}

static void expand_edge(cavum_axis_edge *edge, const cavum_view *view, cavum_side side,
                        double origin_m) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_element *element = &mesh->elements[side.element];
  cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
  double from = mesh->vertices[element->vertex[side.local_edge]].z_m;
  double to = mesh->vertices[element->vertex[(side.local_edge + 1) % element->num_corners]].z_m;
  double factor =
      2.0 / (view->field.angular_frequency * CAVUM_EPS0 * mesh->regions[element->region].eps_r);
  int degree = view->field.discretisation->reference->degree;
  to_legendre(edge->coeff, trace.coeff, degree);
  edge->middle_m = 0.5 * (from + to) - origin_m;
  edge->half_m = 0.5 * fabs(to - from);
  for (int n = 0; n <= degree; n++) {
    edge->coeff[n] *= to < from && n % 2 ? -factor : factor;
  }
}

cavum_status cavum_axis_expand(cavum_axis_field *axis, const cavum_view *view, cavum_error *error) {
  cavum_index count = view->sides->num_axis;
  cavum_axis_edge *edges = cavum_alloc(count, sizeof *edges);
  if (!edges) return cavum_fail_memory(error);
  double plane = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  for (cavum_index i = 0; i < count; i++) expand_edge(&edges[i], view, view->sides->axis[i], plane);
  *axis =
      (cavum_axis_field){count, view->field.discretisation->reference->degree, view->parity, edges};
  return CAVUM_OK;
}

void cavum_axis_clear(cavum_axis_field *axis) {
  if (!axis) return;
  free(axis->edges);
  memset(axis, 0, sizeof *axis);
}

double cavum_axis_value(const cavum_axis_field *axis, cavum_index edge, double s) {
  const double *c = axis->edges[edge].coeff;
  double before = 1.0, p = s, sum = c[0] + c[1] * s;
  for (int n = 2; n <= axis->degree; n++) {
    double next = ((2 * n - 1) * s * p - (n - 1) * before) / n;
    before = p;
    p = next;
    sum += c[n] * p;
  }
  return sum;
}

void cavum_axis_spherical_bessel(double *j, int most, double x) {
  // Downward recurrence from an order where j is negligible (Miller), scaled to the larger of the
  // closed forms j_0 and j_1, of which at most one is close to zero.
  double table[BESSEL_MOST + 2];
  if (x < 1e-8) {
    for (int n = 0; n <= most; n++) j[n] = n == 0 ? 1.0 : (n == 1 ? x / 3.0 : 0.0);
    return;
  }
  double wanted = cavum_max(most, 1.2 * x) + BESSEL_MARGIN;
  int top = wanted < BESSEL_MOST ? (int)wanted : BESSEL_MOST;
  table[top + 1] = 0.0;
  table[top] = 1e-280;
  for (int n = top; n > 0; n--) {
    table[n - 1] = (2 * n + 1) / x * table[n] - table[n + 1];
    if (fabs(table[n - 1]) > 1e250) {
      for (int k = n - 1; k <= top; k++) table[k] *= 1e-250;
    }
  }
  double j0 = sin(x) / x, j1 = (j0 - cos(x)) / x;
  double scale = fabs(j0) > fabs(j1) ? j0 / table[0] : j1 / table[1];
  for (int n = 0; n <= most; n++) j[n] = scale * table[n];
}

// sum over n of c_n 2 j^n j_n(x) for one edge, phase exp(j wave_number middle), times half.
static cavum_phasor edge_voltage(const cavum_axis_field *axis, const cavum_axis_edge *edge,
                                 double wave_number) {
  double j[CAVUM_DEGREE_MOST + 1], even = 0.0, odd = 0.0;
  cavum_axis_spherical_bessel(j, axis->degree, wave_number * edge->half_m);
  for (int n = 0; n <= axis->degree; n++) {
    double term = n % 4 < 2 ? edge->coeff[n] * j[n] : -edge->coeff[n] * j[n];
    if (n % 2) {
      odd += term;
    } else {
      even += term;
    }
  }
  double c = cos(wave_number * edge->middle_m), s = sin(wave_number * edge->middle_m);
  double size = 2.0 * edge->half_m;
  return (cavum_phasor){size * (even * c - odd * s), size * (even * s + odd * c)};
}

cavum_phasor cavum_axis_voltage(const cavum_axis_field *axis, double k_per_m, double beta) {
  cavum_phasor sum = {0.0, 0.0};
  for (cavum_index i = 0; i < axis->num_edges; i++) {
    cavum_phasor v = edge_voltage(axis, &axis->edges[i], k_per_m / beta);
    sum.re += v.re;
    sum.im += v.im;
  }
  // The mirrored half of an even E_z doubles the cosine part and cancels the sine part.
  if (axis->parity == CAVUM_PARITY_EVEN) return (cavum_phasor){2.0 * sum.re, 0.0};
  if (axis->parity == CAVUM_PARITY_ODD) return (cavum_phasor){0.0, 2.0 * sum.im};
  return sum;
}

// Integral of the Legendre series from -1 to s: int P_n = (P_{n+1} - P_{n-1}) / (2n + 1).
static double primitive(const cavum_axis_field *axis, const double *c, double s) {
  double p[CAVUM_DEGREE_MOST + 2], sum = c[0] * (s + 1.0);
  p[0] = 1.0;
  p[1] = s;
  for (int n = 2; n <= axis->degree + 1; n++) {
    p[n] = ((2 * n - 1) * s * p[n - 1] - (n - 1) * p[n - 2]) / n;
  }
  for (int n = 1; n <= axis->degree; n++) sum += c[n] * (p[n + 1] - p[n - 1]) / (2 * n + 1);
  return sum;
}

// Root of E_z between two positions where it has opposite signs, by bisection to rounding.
static double find_root(const cavum_axis_field *axis, cavum_index edge, double low, double high) {
  double at_low = cavum_axis_value(axis, edge, low);
  for (int step = 0; step < 50; step++) {
    double middle = 0.5 * (low + high);
    if (cavum_axis_value(axis, edge, middle) * at_low > 0.0) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return 0.5 * (low + high);
}

// int |E_z| ds over one edge: the primitive is taken between the sign changes.
static double integrate_abs(const cavum_axis_field *axis, cavum_index edge) {
  const double *c = axis->edges[edge].coeff;
  double sum = 0.0, from = 0.0, before = cavum_axis_value(axis, edge, -1.0);
  for (int i = 1; i <= LOOKS; i++) {
    double s = -1.0 + 2.0 * i / LOOKS, value = cavum_axis_value(axis, edge, s);
    if (value * before < 0.0) {
      double to = primitive(axis, c, find_root(axis, edge, s - 2.0 / LOOKS, s));
      sum += fabs(to - from);
      from = to;
    }
    before = value;
  }
  return sum + fabs(2.0 * c[0] - from);
}

void cavum_axis_plain_integrals(double *of_e, double *of_abs, const cavum_axis_field *axis) {
  double copies = axis->parity == CAVUM_PARITY_NONE ? 1.0 : 2.0;
  *of_e = *of_abs = 0.0;
  for (cavum_index i = 0; i < axis->num_edges; i++) {
    *of_e += axis->edges[i].half_m * 2.0 * axis->edges[i].coeff[0];
    *of_abs += axis->edges[i].half_m * integrate_abs(axis, i);
  }
  *of_e *= axis->parity == CAVUM_PARITY_ODD ? 0.0 : copies;
  *of_abs *= copies;
}

static double voltage_size(const cavum_axis_field *axis, double k_per_m, double beta) {
  cavum_phasor v = cavum_axis_voltage(axis, k_per_m, beta);
  return hypot(v.re, v.im);
}

static double largest_half(const cavum_axis_field *axis) {
  double half = 0.0;
  for (cavum_index i = 0; i < axis->num_edges; i++) {
    half = cavum_max(half, axis->edges[i].half_m);
  }
  return half;
}

typedef struct voltage_curve {
  const cavum_axis_field *axis;
  double k_per_m;
} voltage_curve;

static double size_at(double beta, const void *context) {
  const voltage_curve *curve = context;
  return voltage_size(curve->axis, curve->k_per_m, beta);
}

// The largest |V| in [low, high] about a speed between them.
static double search_beta(const cavum_axis_field *axis, double k_per_m, double low, double middle,
                          double high) {
  voltage_curve curve = {axis, k_per_m};
  double beta[3] = {low, middle, high}, size[3];
  for (int i = 0; i < 3; i++) size[i] = size_at(beta[i], &curve);
  cavum_maximum_find(beta, size, BETA_TOLERANCE, size_at, &curve);
  return beta[1];
}

// Spherical Bessel functions of CAVUM_LANES arguments at once, by the same recurrence; none of them
// is small against 1.
CAVUM_FAST static void bessel_of_lanes(cavum_lanes *restrict j, int most,
                                       const cavum_lanes *restrict x) {
  cavum_lanes table[BESSEL_LANES_MOST + 2], inverse = 1.0 / x[0];
  double largest = 0.0;
  for (int l = 0; l < CAVUM_LANES; l++) largest = x[0][l] > largest ? x[0][l] : largest;
  double wanted = (most > 1.2 * largest ? most : 1.2 * largest) + BESSEL_MARGIN;
  int top = wanted < BESSEL_LANES_MOST ? (int)wanted : BESSEL_LANES_MOST;
  table[top + 1] = (cavum_lanes){0};
  table[top] = (cavum_lanes){0} + 1e-280;
  for (int n = top; n > 0; n--) {
    table[n - 1] = (2 * n + 1) * inverse * table[n] - table[n + 1];
    for (int l = 0; l < CAVUM_LANES; l++) {
      if (fabs(table[n - 1][l]) <= 1e250) continue;
      for (int k = n - 1; k <= top; k++) table[k][l] *= 1e-250;
    }
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    double j0 = sin(x[0][l]) / x[0][l], j1 = (j0 - cos(x[0][l])) / x[0][l];
    double scale = fabs(j0) > fabs(j1) ? j0 / table[0][l] : j1 / table[1][l];
    for (int n = 0; n <= most; n++) j[n][l] = scale * table[n][l];
  }
}

// |V| at CAVUM_LANES speeds, as cavum_axis_voltage() has it.
static void voltage_of_lanes(double *size, const cavum_axis_field *axis, double k_per_m,
                             const double *beta) {
  cavum_lanes j[CAVUM_DEGREE_MOST + 1], x, re = {0}, im = {0};
  for (cavum_index i = 0; i < axis->num_edges; i++) {
    const cavum_axis_edge *edge = &axis->edges[i];
    cavum_lanes even = {0}, odd = {0};
    for (int l = 0; l < CAVUM_LANES; l++) x[l] = k_per_m / beta[l] * edge->half_m;
    bessel_of_lanes(j, axis->degree, &x);
    for (int n = 0; n <= axis->degree; n++) {
      double c = n % 4 < 2 ? edge->coeff[n] : -edge->coeff[n];
      if (n % 2) {
        odd += c * j[n];
      } else {
        even += c * j[n];
      }
    }
    for (int l = 0; l < CAVUM_LANES; l++) {
      double phase = k_per_m / beta[l] * edge->middle_m, c = cos(phase), s = sin(phase);
      re[l] += 2.0 * edge->half_m * (even[l] * c - odd[l] * s);
      im[l] += 2.0 * edge->half_m * (even[l] * s + odd[l] * c);
    }
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    size[l] = axis->parity == CAVUM_PARITY_EVEN
                  ? 2.0 * fabs(re[l])
                  : (axis->parity == CAVUM_PARITY_ODD ? 2.0 * fabs(im[l]) : hypot(re[l], im[l]));
  }
}

// The best of evenly spread speeds.
static double scan_betas(const cavum_axis_field *axis, double k_per_m, double from) {
  double beta[SCAN_STEPS], size[SCAN_STEPS];
  double largest_x = k_per_m / from * largest_half(axis);
  int best = 0;
  for (int i = 0; i < SCAN_STEPS; i++) {
    beta[i] = i == SCAN_STEPS - 1 ? 1.0 : from + i * (1.0 - from) / (SCAN_STEPS - 1);
  }
  for (int i = 0; i < SCAN_STEPS; i += CAVUM_LANES) {
    if (1.2 * largest_x + BESSEL_MARGIN < BESSEL_LANES_MOST) {
      voltage_of_lanes(size + i, axis, k_per_m, beta + i);
    } else {  // edges that are very long against the wavelength at the lowest speed
      for (int l = 0; l < CAVUM_LANES; l++) size[i + l] = voltage_size(axis, k_per_m, beta[i + l]);
    }
  }
  for (int i = 1; i < SCAN_STEPS; i++) best = size[i] > size[best] ? i : best;
  return beta[best];
}

double cavum_axis_best_beta(const cavum_axis_field *axis, double k_per_m, double from,
                            double hint) {
  double step = (1.0 - from) / (SCAN_STEPS - 1), best = hint;
  if (hint > 0.0) {
    double low = cavum_max(from, hint - HINT_STEP), high = cavum_min(1.0, hint + HINT_STEP);
    double here = voltage_size(axis, k_per_m, hint);
    bool falls = voltage_size(axis, k_per_m, low) < here &&
                 (high == hint || voltage_size(axis, k_per_m, high) < here);
    if (falls && high > hint) return search_beta(axis, k_per_m, low, hint, high);
    if (!falls) best = 0.0;
  }
  if (best == 0.0) best = scan_betas(axis, k_per_m, from);
  double inside = 1.0 - 1e-4;  // a maximum at the end of the range needs no search
  if (best == 1.0 && voltage_size(axis, k_per_m, inside) < voltage_size(axis, k_per_m, 1.0)) {
    return 1.0;
  }
  return search_beta(axis, k_per_m, cavum_max(from, best - step), best,
                     cavum_min(1.0, best + step));
}

int cavum_axis_count_sign_changes(double *z_largest_m, const cavum_axis_field *axis) {
  double largest = 0.0;
  int changes = 0, sign = 0;
  *z_largest_m = 0.0;
  for (int pass = 0; pass < 2; pass++) {  // the largest value first, then the changes
    for (cavum_index e = 0; e < axis->num_edges; e++) {
      for (int i = 0; i <= LOOKS; i++) {
        double s = -1.0 + 2.0 * i / LOOKS, value = cavum_axis_value(axis, e, s);
        if (pass == 0 && fabs(value) > largest) {
          largest = fabs(value);
          *z_largest_m = axis->edges[e].middle_m + axis->edges[e].half_m * s;
        }
        if (pass == 0 || fabs(value) < LOBE_LEAST * largest) continue;
        int now = value > 0.0 ? 1 : -1;
        changes += sign != 0 && now != sign;
        sign = now;
      }
    }
  }
  // Mirrored: changes on each side, and one at the plane itself when E_z is odd.
  if (axis->parity == CAVUM_PARITY_EVEN) return 2 * changes;
  if (axis->parity == CAVUM_PARITY_ODD) return 2 * changes + 1;
  return changes;
}
