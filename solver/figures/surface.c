// SPDX-License-Identifier: GPL-3.0-or-later
// Loss integral and peaks on the metal wall.
#include "figures/surface.h"

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"
#include "base/maximum.h"
#include "fem/quadrature.h"

enum { OUTERMOST = 3 };
enum { SAMPLE_VECTORS = CAVUM_WALL_SAMPLES / CAVUM_LANES };
_Static_assert(CAVUM_WALL_SAMPLES % CAVUM_LANES == 0, "samples come in whole vectors");
// Of the place of a peak on an edge from -1 to 1.
static const double PLACE_TOLERANCE = 1e-7;
// Samples with a field above this part of the largest are close to the peak.
static const double NEAR_PEAK = 0.995;
// On another edge than that of the peak a difference counts where so many times its size would lift
// the field to the peak: what the remaining degrees add up to is rarely more.
static const double REACH = 3.0;
// A top of the samples whose parabola stays below this part of the highest is not the peak: the
// parabolas of samples of a field that is resolved at all are good to a few thousandths.
static const double TOP_LEAST = 0.98;
// Maxima as large as the largest among which another place is looked for.
enum { MAXIMA_MOST = 256 };
// A maximum of another degree is the same one where it is larger than this part of it.
static const double FOLLOW_LEAST = 0.9;
// A peak is at the end of an edge, from -1 to 1, from here on.
static const double AT_END = 1.0 - 1e-5;

// Segment functions at the samples, for all metal edges of one degree.
typedef struct sample_table {
  cavum_lanes value[CAVUM_DEGREE_MOST + 1][SAMPLE_VECTORS];
  cavum_lanes derivative[CAVUM_DEGREE_MOST + 1][SAMPLE_VECTORS];
} sample_table;

static void fill_table(sample_table *table, const cavum_view *view) {
  int degree = view->field.discretisation->reference->degree;
  double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1];
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    cavum_shape_segment(value, derivative, degree, view->boundary->sample[k]);
    for (int i = 0; i <= degree; i++) {
      table->value[i][k / CAVUM_LANES][k % CAVUM_LANES] = value[i];
      table->derivative[i][k / CAVUM_LANES][k % CAVUM_LANES] = derivative[i];
    }
  }
}

// The function and its derivative along the edge at the samples.
CAVUM_FAST static void sum_functions(cavum_lanes *restrict x, cavum_lanes *restrict x_s,
                                     const sample_table *table, const double *coeff, int degree) {
  for (int v = 0; v < SAMPLE_VECTORS; v++) {
    cavum_sum sum = {0}, sum_s = {0};
    for (int i = 0; i <= degree; i++) {
      cavum_sum_add(&sum, coeff[i], &table->value[i][v]);
      cavum_sum_add(&sum_s, coeff[i], &table->derivative[i][v]);
    }
    cavum_sum_store(&x[v], &sum);
    cavum_sum_store(&x_s[v], &sum_s);
  }
}

// The same formulas as cavum_trace_at(), with the shape of the edge at hand.
static void sample_edge(cavum_wall_samples *out, const cavum_view *view, const sample_table *table,
                        const cavum_trace *trace, const cavum_wall_shape *shape, double eps_r) {
  bool is_w = view->field.discretisation->unknown == CAVUM_UNKNOWN_H_OVER_R;
  double admittance = 1.0 / (view->field.angular_frequency * CAVUM_EPS0 * eps_r);
  cavum_lanes x_lanes[SAMPLE_VECTORS], x_s_lanes[SAMPLE_VECTORS];
  const double *x = (const double *)x_lanes, *x_s = (const double *)x_s_lanes;
  sum_functions(x_lanes, x_s_lanes, table, trace->coeff,
                view->field.discretisation->reference->degree);
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    double r = shape->r_m[k];
    double flux_s = is_w ? 2.0 * shape->r_s[k] * x[k] + r * x_s[k] : x_s[k] / r;
    out->e[k] = -admittance * flux_s / shape->length_s[k];
    out->h[k] = is_w ? r * x[k] : x[k] / r;
  }
}

static double size_of_e(double s, const void *trace) {
  return fabs(cavum_trace_at(trace, s).e_normal_v_per_m);
}

static double size_of_h(double s, const void *trace) {
  return fabs(cavum_trace_at(trace, s).h_phi_a_per_m);
}

static const double *field_of(const cavum_wall_samples *samples, bool electric) {
  return electric ? samples->e : samples->h;
}

// Whether sample k is not below its neighbours on the edge.
static bool is_top(const double *at, int k) {
  double here = fabs(at[k]);
  return here > 0.0 && (k == 0 || here >= fabs(at[k - 1])) &&
         (k + 1 == CAVUM_WALL_SAMPLES || here >= fabs(at[k + 1]));
}

// Top of the parabola through a sample that is a top and its neighbours; at an end the sample
// itself.
static double top_value(const double *sample, const double *at, int k) {
  if (k == 0 || k + 1 == CAVUM_WALL_SAMPLES) return fabs(at[k]);
  double a = sample[k - 1] - sample[k], b = sample[k + 1] - sample[k];
  double left = (fabs(at[k - 1]) - fabs(at[k])) / a, right = (fabs(at[k + 1]) - fabs(at[k])) / b;
  double curvature = (right - left) / (b - a), slope = left - curvature * a;
  return curvature < 0.0 ? fabs(at[k]) - 0.25 * slope * slope / curvature : fabs(at[k]);
}

static double largest_top(const cavum_wall_samples *samples, const cavum_view *view,
                          bool electric) {
  double largest = 0.0;
  for (cavum_index i = 0; i < view->boundary->num_metal; i++) {
    const double *at = field_of(&samples[i], electric);
    for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
      if (!is_top(at, k)) continue;
      largest = cavum_max(largest, top_value(view->boundary->sample, at, k));
    }
  }
  return largest;
}

// The maximum of a trace about a sample that is a top.
static cavum_peak_place find_top(const cavum_view *view, const double *at, cavum_index i, int k,
                                 bool electric) {
  const double *sample = view->boundary->sample;
  int low = k > 0 ? k - 1 : 0, high = k + 1 < CAVUM_WALL_SAMPLES ? k + 1 : k;
  cavum_boundary_edge edge = view->boundary->conducting[i];
  cavum_trace trace = cavum_trace_create(&view->field, edge.element, edge.local_edge);
  double place[3] = {sample[low], sample[k], sample[high]};
  double value[3] = {fabs(at[low]), fabs(at[k]), fabs(at[high])};
  cavum_maximum_find(place, value, PLACE_TOLERANCE, electric ? size_of_e : size_of_h, &trace);
  return (cavum_peak_place){i, place[1], value[1]};
}

cavum_point cavum_surface_point_of(const cavum_view *view, const cavum_peak_place *place) {
  cavum_boundary_edge edge = view->boundary->conducting[place->edge];
  cavum_trace trace = cavum_trace_create(&view->field, edge.element, edge.local_edge);
  cavum_wall_point at = cavum_trace_at(&trace, place->s);
  return (cavum_point){at.z_m, at.r_m};
}

// Whether two places are the same point, as where two edges meet.
static bool are_one(const cavum_view *view, const cavum_peak_place *a, const cavum_peak_place *b) {
  const double same = 1e-6;  // of the radius or the position
  cavum_point p = cavum_surface_point_of(view, a), q = cavum_surface_point_of(view, b);
  double size = fabs(p.z_m) + fabs(q.z_m) + p.r_m + q.r_m;
  return hypot(p.z_m - q.z_m, p.r_m - q.r_m) <= same * size;
}

// The smallest field of the samples from a place on an edge to one of its ends.
static double lowest_to_end(const cavum_wall_samples *samples, const cavum_view *view,
                            bool electric, const cavum_peak_place *place, bool to_last) {
  const double *at = field_of(&samples[place->edge], electric);
  double lowest = place->value;
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    double beyond = view->boundary->sample[k] - place->s;
    if (to_last ? beyond >= 0.0 : beyond <= 0.0) lowest = cavum_min(lowest, fabs(at[k]));
  }
  return lowest;
}

static bool ends_meet(const cavum_wall_shape *a, bool last_of_a, const cavum_wall_shape *b,
                      bool last_of_b) {
  const double same = 1e-9;  // of the length of an edge
  int i = last_of_a ? CAVUM_WALL_SAMPLES - 1 : 0, k = last_of_b ? CAVUM_WALL_SAMPLES - 1 : 0;
  double apart = hypot(a->z_m[i] - b->z_m[k], a->r_m[i] - b->r_m[k]);
  return apart <= same * (a->length_s[i] + b->length_s[k]);
}

// What the edge that meets the end of another one has less, or more, there.
static double gap_at_end(const cavum_wall_samples *samples, const cavum_view *view,
                         cavum_index edge, bool at_last) {
  const cavum_wall_shape *shape = view->boundary->shape;
  int k = at_last ? CAVUM_WALL_SAMPLES - 1 : 0;
  for (cavum_index i = 0; i < view->boundary->num_metal; i++) {
    for (int of_last = 0; of_last < 2 && i != edge; of_last++) {
      if (!ends_meet(&shape[edge], at_last, &shape[i], of_last)) continue;
      return fabs(samples[edge].e[k] - samples[i].e[of_last ? CAVUM_WALL_SAMPLES - 1 : 0]);
    }
  }
  return 0.0;
}

// H is the same on both sides.
static cavum_peak as_peak(const cavum_wall_samples *samples, const cavum_view *view, bool electric,
                          const cavum_peak_place *best) {
  if (best->edge < 0) return (cavum_peak){.value = 0.0};
  cavum_peak peak = {.value = best->value, .at = cavum_surface_point_of(view, best)};
  if (electric && fabs(best->s) >= AT_END) {
    peak.gap = gap_at_end(samples, view, best->edge, best->s > 0.0);
  }
  return peak;
}

// Whether two places on edges that meet are one hill: the field between them does not sink below
// the lower one by more than a part. The end of an edge is a top of its samples where the hill goes
// on beyond it.
static bool are_one_hill(const cavum_wall_samples *samples, const cavum_view *view, bool electric,
                         const cavum_peak_place *a, const cavum_peak_place *b, double part) {
  const cavum_wall_shape *shape = view->boundary->shape;
  double least = (1.0 - part) * cavum_min(a->value, b->value);
  if (a->edge == b->edge) return false;
  for (int i = 0; i < 4; i++) {
    bool last_of_a = i / 2 == 1, last_of_b = i % 2 == 1;
    if (ends_meet(&shape[a->edge], last_of_a, &shape[b->edge], last_of_b) &&
        lowest_to_end(samples, view, electric, a, last_of_a) >= least &&
        lowest_to_end(samples, view, electric, b, last_of_b) >= least) {
      return true;
    }
  }
  return false;
}

// Maxima about tops that come close to the largest: the best one, and those that are as large but
// for a part, as far as there is room.
typedef struct maxima {
  cavum_peak_place best, *list;
  double part;
  int room, count;
} maxima;

static void drop_lower(maxima *found) {
  int count = 0;
  for (int m = 0; m < found->count; m++) {
    if (found->list[m].value < (1.0 - found->part) * found->best.value) continue;
    found->list[count++] = found->list[m];
  }
  found->count = count;
}

static void find_maxima(maxima *found, const cavum_wall_samples *samples, const cavum_view *view,
                        bool electric) {
  double largest = largest_top(samples, view, electric);
  found->best = (cavum_peak_place){-1, 0.0, 0.0};
  for (cavum_index i = 0; i < view->boundary->num_metal; i++) {
    const double *at = field_of(&samples[i], electric);
    for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
      if (!is_top(at, k) || top_value(view->boundary->sample, at, k) < TOP_LEAST * largest)
        continue;
      cavum_peak_place here = find_top(view, at, i, k, electric);
      if (here.value > found->best.value) found->best = here;
      if (found->count > 0 && found->count == found->room) drop_lower(found);
      if (found->count < found->room) found->list[found->count++] = here;
    }
  }
  drop_lower(found);
}

// The best on another hill than that of the first.
static cavum_peak_place find_other(const maxima *found, const cavum_wall_samples *samples,
                                   const cavum_view *view, bool electric) {
  cavum_peak_place best = {-1, 0.0, 0.0};
  for (int m = 0; m < found->count; m++) {
    const cavum_peak_place *here = &found->list[m];
    if (here->value > best.value && !are_one(view, here, &found->best) &&
        !are_one_hill(samples, view, electric, here, &found->best, found->part)) {
      best = *here;
    }
  }
  return best;
}

cavum_peak cavum_surface_find_peak(const cavum_wall_samples *samples, const cavum_view *view,
                                   bool electric) {
  maxima found = {0};
  find_maxima(&found, samples, view, electric);
  return as_peak(samples, view, electric, &found.best);
}

int cavum_surface_place_peak(cavum_peak_place *places, const cavum_wall_samples *samples,
                             const cavum_view *view, bool electric, double part) {
  cavum_peak_place list[MAXIMA_MOST];
  maxima found = {.list = list, .part = part, .room = MAXIMA_MOST};
  find_maxima(&found, samples, view, electric);
  places[0] = found.best;
  if (places[0].edge < 0) return 0;
  places[1] = find_other(&found, samples, view, electric);
  return places[1].edge >= 0 ? 2 : 1;
}

// No point between the neighbours of sample k of an edge is nearer than this: the way there along
// the wall is taken off twice, since it may be longer than between samples.
static double least_distance(const cavum_wall_shape *shape, int k, cavum_point from) {
  int low = k > 0 ? k - 1 : 0, high = k + 1 < CAVUM_WALL_SAMPLES ? k + 1 : k;
  double z_m = shape->z_m[k], r_m = shape->r_m[k];
  double below = hypot(shape->z_m[low] - z_m, shape->r_m[low] - r_m);
  double above = hypot(shape->z_m[high] - z_m, shape->r_m[high] - r_m);
  return hypot(z_m - from.z_m, r_m - from.r_m) - 2.0 * cavum_max(below, above);
}

cavum_peak_place cavum_surface_follow_peak(const cavum_peak_place *place,
                                           const cavum_wall_samples *samples,
                                           const cavum_view *view, bool electric) {
  cavum_point from = cavum_surface_point_of(view, place);
  cavum_peak_place best = *place;
  double nearest = HUGE_VAL;
  cavum_index count = view->boundary->num_metal;
  // From its own edge on: most others are too far away then.
  for (cavum_index n = 0; n < count; n++) {
    cavum_index i = (place->edge + n) % count;
    const double *at = field_of(&samples[i], electric);
    for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
      if (!is_top(at, k) || fabs(at[k]) < FOLLOW_LEAST * place->value) continue;
      if (least_distance(&view->boundary->shape[i], k, from) > nearest) continue;
      cavum_peak_place here = find_top(view, at, i, k, electric);
      cavum_point p = cavum_surface_point_of(view, &here);
      double away = hypot(p.z_m - from.z_m, p.r_m - from.r_m);
      if (away < nearest) nearest = away, best = here;
    }
  }
  return best;
}

// The outermost samples see the ends of the polynomial, which lag behind.
static bool is_inner(int k) { return k >= OUTERMOST && k < CAVUM_WALL_SAMPLES - OUTERMOST; }

// The edge with the largest of two fields at the inner samples.
static cavum_index edge_of_largest(double *largest, const cavum_wall_samples *a, double eacc_a,
                                   const cavum_wall_samples *b, double eacc_b, cavum_index count,
                                   bool electric) {
  cavum_index edge = -1;
  *largest = 0.0;
  for (cavum_index i = 0; i < count; i++) {
    const double *x = field_of(&a[i], electric), *y = field_of(&b[i], electric);
    for (int k = OUTERMOST; k < CAVUM_WALL_SAMPLES - OUTERMOST; k++) {
      double most = cavum_max(fabs(x[k]) / eacc_a, fabs(y[k]) / eacc_b);
      if (most > *largest) *largest = most, edge = i;
    }
  }
  return edge;
}

// Whether a difference from p to q counts at an inner sample.
static bool counts(double p, double q, double largest, bool is_on_edge_of_peak) {
  double most = cavum_max(p, q);
  if (most <= NEAR_PEAK * largest) return false;
  return is_on_edge_of_peak || most + REACH * fabs(p - q) >= largest;
}

// Whether an edge of the wall ends where no other one goes on, as at an iris plane.
static bool is_free_end(const cavum_mesh_boundary *boundary, cavum_index edge, bool at_last) {
  const cavum_wall_shape *shape = boundary->shape;
  for (cavum_index i = 0; i < boundary->num_metal; i++) {
    if (i == edge) continue;
    if (ends_meet(&shape[edge], at_last, &shape[i], false) ||
        ends_meet(&shape[edge], at_last, &shape[i], true)) {
      return false;
    }
  }
  return true;
}

// Whether a difference counts at one of the outermost samples: where the wall ends, and what it
// rose by once more makes it the peak. Where edges meet, the one that goes on and the gap between
// them tell.
static bool counts_at_end(double p, double q, double largest) {
  return q > p && q + (q - p) >= largest;
}

double cavum_surface_spread(const cavum_wall_samples *a, double eacc_a, const cavum_wall_samples *b,
                            double eacc_b, const cavum_mesh_boundary *boundary, bool electric) {
  cavum_index count = boundary->num_metal;
  double largest, spread = 0.0;
  cavum_index edge = edge_of_largest(&largest, a, eacc_a, b, eacc_b, count, electric);
  for (cavum_index i = 0; i < count; i++) {
    const double *x = field_of(&a[i], electric), *y = field_of(&b[i], electric);
    for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
      double p = fabs(x[k]) / eacc_a, q = fabs(y[k]) / eacc_b;
      bool counted = is_inner(k) ? counts(p, q, largest, i == edge)
                                 : i != edge && counts_at_end(p, q, largest) &&
                                       is_free_end(boundary, i, k > OUTERMOST);
      if (counted) spread = cavum_max(spread, fabs(p - q));
    }
  }
  return spread;
}

void cavum_surface_sample(cavum_wall_samples *samples, const cavum_view *view) {
  const cavum_mesh_boundary *boundary = view->boundary;
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  sample_table table;
  fill_table(&table, view);
  for (cavum_index i = 0; i < boundary->num_conducting; i++) {
    cavum_index e = boundary->conducting[i].element;
    cavum_trace trace = cavum_trace_create(&view->field, e, boundary->conducting[i].local_edge);
    sample_edge(&samples[i], view, &table, &trace, &boundary->shape[i],
                mesh->regions[mesh->elements[e].region].eps_r);
  }
}

cavum_surface cavum_surface_measure(const cavum_wall_samples *samples, const cavum_view *view) {
  const cavum_mesh_boundary *boundary = view->boundary;
  double sum = 0.0;
  for (cavum_index i = 0; i < boundary->num_metal; i++) {
    const cavum_wall_shape *shape = &boundary->shape[i];
    for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
      double h = samples[i].h[k];
      sum += boundary->weight[k] * h * h * shape->r_m[k] * shape->length_s[k];
    }
  }
  return (cavum_surface){2.0 * CAVUM_PI * view->copies * sum,
                         cavum_surface_find_peak(samples, view, true),
                         cavum_surface_find_peak(samples, view, false)};
}
