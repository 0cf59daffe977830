// SPDX-License-Identifier: GPL-3.0-or-later
// Integrals of E_z along the axis from Legendre expansions on every axis edge.
#include "figures/axis.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"
#include "figures/sharp_corner.h"

// Lobes of E_z weaker than this part of the largest do not count in a mode label.
static const double LOBE_LEAST = 0.1;
// Samples of the polynomial of one edge for its sign changes, evenly spread from end to end; degree
// 16 has at most 16.
enum { SAMPLES = 3 * CAVUM_LANES, BESSEL_MARGIN = 20, BESSEL_MOST = 512 };
// Of a sign change on an edge from -1 to 1: integrals up to it are flat there.
static const double ROOT_TOLERANCE = 1e-9;

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

static bool ends_at_tip(const cavum_view *view, double z_m) {
  for (cavum_index i = 0; i < view->boundary->num_corners; i++) {
    const cavum_boundary_corner *corner = &view->boundary->corners[i];
    if (corner->at.z_m == z_m && cavum_sharp_corner_is_tip(corner, view)) return true;
  }
  return false;
}

static void expand_edge(cavum_axis_edge *edge, const cavum_view *view, cavum_boundary_edge at,
                        double origin_m) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_element *element = &mesh->elements[at.element];
  cavum_trace trace = cavum_trace_create(&view->field, at.element, at.local_edge);
  double from = mesh->vertices[element->vertex[at.local_edge]].z_m;
  double to = mesh->vertices[element->vertex[(at.local_edge + 1) % element->num_corners]].z_m;
  double factor =
      2.0 / (view->field.angular_frequency * CAVUM_EPS0 * mesh->regions[element->region].eps_r);
  int degree = view->field.discretisation->reference->degree;
  to_legendre(edge->coeff, trace.coeff, degree);
  edge->middle_m = 0.5 * (from + to) - origin_m;
  edge->half_m = 0.5 * fabs(to - from);
  edge->at_tip = ends_at_tip(view, from) || ends_at_tip(view, to);
  for (int n = 0; n <= degree; n++) {
    edge->coeff[n] *= to < from && n % 2 ? -factor : factor;
  }
}

cavum_status cavum_axis_expand(cavum_axis_field *axis, const cavum_view *view, cavum_error *error) {
  cavum_index count = view->boundary->num_axis;
  cavum_axis_edge *edges = cavum_alloc(count, sizeof *edges);
  if (!edges) return cavum_fail_memory(error);
  double plane = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  for (cavum_index i = 0; i < count; i++)
    expand_edge(&edges[i], view, view->boundary->axis[i], plane);
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

// [Olver2010] 10.51.1.
static void spherical_bessel_upward(double *j, int most, double x, double j0, double j1) {
  j[0] = j0;
  if (most > 0) j[1] = j1;
  for (int n = 1; n < most; n++) j[n + 1] = (2 * n + 1) / x * j[n] - j[n - 1];
}

void cavum_axis_spherical_bessel(double *j, int most, double x) {
  // Downward recurrence from an order where j is negligible (Miller), scaled to the larger of the
  // closed forms j_0 and j_1, of which at most one is close to zero. Far above the highest order
  // the upward recurrence is stable, and the other would need a table as long as x.
  double table[BESSEL_MOST + 2], j0 = sin(x) / x, j1 = (j0 - cos(x)) / x;
  if (x < 1e-8) {
    for (int n = 0; n <= most; n++) j[n] = n == 0 ? 1.0 : (n == 1 ? x / 3.0 : 0.0);
    return;
  }
  double wanted = cavum_max(most, 1.2 * x) + BESSEL_MARGIN;
  if (!(wanted < BESSEL_MOST)) {  // also for one that is no number
    spherical_bessel_upward(j, most, x, j0, j1);
    return;
  }
  int top = (int)wanted;
  table[top + 1] = 0.0;
  table[top] = 1e-280;
  for (int n = top; n > 0; n--) {
    table[n - 1] = (2 * n + 1) / x * table[n] - table[n + 1];
    if (fabs(table[n - 1]) > 1e250) {
      for (int k = n - 1; k <= top; k++) table[k] *= 1e-250;
    }
  }
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

// Legendre polynomials at the samples.
typedef struct sample_table {
  cavum_lanes p[CAVUM_DEGREE_MOST + 1][SAMPLES / CAVUM_LANES];
} sample_table;

static double sample_place(int i) { return -1.0 + 2.0 * i / (SAMPLES - 1); }

static void fill_samples(sample_table *table, int degree) {
  for (int v = 0; v < SAMPLES / CAVUM_LANES; v++) {
    cavum_lanes s;
    for (int l = 0; l < CAVUM_LANES; l++) s[l] = sample_place(v * CAVUM_LANES + l);
    table->p[0][v] = (cavum_lanes){0} + 1.0;
    table->p[1][v] = s;
    for (int n = 2; n <= degree; n++) {
      table->p[n][v] =
          ((2 * n - 1) * s * table->p[n - 1][v] - (n - 1) * table->p[n - 2][v]) * (1.0 / n);
    }
  }
}

CAVUM_FAST static void sample_along(double *restrict value, const sample_table *table,
                                    const double *c, int degree) {
  for (int v = 0; v < SAMPLES / CAVUM_LANES; v++) {
    cavum_lanes at;
    cavum_sum sum = {0};
    for (int n = 0; n <= degree; n++) cavum_sum_add(&sum, c[n], &table->p[n][v]);
    cavum_sum_store(&at, &sum);
    for (int l = 0; l < CAVUM_LANES; l++) value[v * CAVUM_LANES + l] = at[l];
  }
}

// Root of E_z between two positions where it has opposite signs, by false position; an end that
// stays counts half (the Illinois rule [Dowell1971]).
static double find_root(const cavum_axis_field *axis, cavum_index edge, double low, double at_low,
                        double high, double at_high) {
  double root = low;
  for (int step = 0; step < 60 && fabs(high - low) > ROOT_TOLERANCE; step++) {
    double before = root;
    root = (low * at_high - high * at_low) / (at_high - at_low);
    double here = cavum_axis_value(axis, edge, root);
    if (fabs(root - before) < ROOT_TOLERANCE || here == 0.0) break;
    if (here * at_high < 0.0) {
      low = high;
      at_low = at_high;
    } else {
      at_low *= 0.5;
    }
    high = root;
    at_high = here;
  }
  return root;
}

// int |E_z| ds over one edge: the primitive is taken between the sign changes. Towards a tip the
// polynomial swings about a field that has none there, on an element that is far smaller than a
// wavelength.
static double integrate_abs(const cavum_axis_field *axis, cavum_index edge,
                            const sample_table *table) {
  const double *c = axis->edges[edge].coeff;
  double value[SAMPLES], sum = 0.0, from = 0.0;
  if (axis->edges[edge].at_tip) return fabs(2.0 * c[0]);
  sample_along(value, table, c, axis->degree);
  for (int i = 1; i < SAMPLES; i++) {
    if (value[i] * value[i - 1] >= 0.0) continue;
    double root =
        find_root(axis, edge, sample_place(i - 1), value[i - 1], sample_place(i), value[i]);
    double to = primitive(axis, c, root);
    sum += fabs(to - from);
    from = to;
  }
  return sum + fabs(2.0 * c[0] - from);
}

void cavum_axis_plain_integrals(double *of_e, double *of_abs, const cavum_axis_field *axis) {
  double copies = axis->parity == CAVUM_PARITY_NONE ? 1.0 : 2.0;
  sample_table table;
  fill_samples(&table, axis->degree);
  *of_e = *of_abs = 0.0;
  for (cavum_index i = 0; i < axis->num_edges; i++) {
    *of_e += axis->edges[i].half_m * 2.0 * axis->edges[i].coeff[0];
    *of_abs += axis->edges[i].half_m * integrate_abs(axis, i, &table);
  }
  *of_e *= axis->parity == CAVUM_PARITY_ODD ? 0.0 : copies;
  *of_abs *= copies;
}

int cavum_axis_count_sign_changes(double *z_largest_m, const cavum_axis_field *axis) {
  double value[SAMPLES], largest = 0.0;
  int changes = 0, sign = 0;
  sample_table table;
  fill_samples(&table, axis->degree);
  *z_largest_m = 0.0;
  for (int pass = 0; pass < 2; pass++) {  // the largest value first, then the changes
    for (cavum_index e = 0; e < axis->num_edges; e++) {
      sample_along(value, &table, axis->edges[e].coeff, axis->degree);
      for (int i = 0; i < SAMPLES; i++) {
        if (pass == 0 && fabs(value[i]) > largest) {
          largest = fabs(value[i]);
          *z_largest_m = axis->edges[e].middle_m + axis->edges[e].half_m * sample_place(i);
        }
        if (pass == 0 || fabs(value[i]) < LOBE_LEAST * largest) continue;
        int now = value[i] > 0.0 ? 1 : -1;
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
