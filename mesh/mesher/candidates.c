// SPDX-License-Identifier: GPL-3.0-or-later
// Candidates for corners on the contour. Curved pieces come first; straight ones then take the feet
// of perpendiculars from what is there already, so that the two sides of a channel match.
#include "mesher/candidates.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"

// Candidates for each segment that the density wants.
static const double CANDIDATES_PER_SEGMENT = 3.0;
// Feet of perpendiculars keep this distance from each other, in segments.
static const double FOOT_DISTANCE = 0.2;
// A foot is taken from points that are at most this many sizes away.
static const double FOOT_REACH = 1.5;
// Most coarse elements that a chord may stand for, by the size field along it.
static const double CHORD_REACH = 1.8;
// Sine of the least angle between a chord and the contour at its ends.
static const double LEAST_SINE = 0.25;
enum { MOST_BREAKS = 64 };

void cavum_candidates_clear(cavum_candidates *candidates) {
  if (!candidates) return;
  free(candidates->candidates);
  free(candidates->kind);
  free(candidates->direction);
  free(candidates->length_m);
  free(candidates->wanted);
  memset(candidates, 0, sizeof *candidates);
}

// Sums at which a curve is broken, in rising order, ends included.
typedef struct breaks {
  int count;
  double sum[MOST_BREAKS];
} breaks;

// Adds a break unless one is near.
static void add_break(breaks *list, double sum) {
  int at = 0;
  while (at < list->count && list->sum[at] < sum) at++;
  if (list->count == MOST_BREAKS || at == 0 || at == list->count) return;
  if (sum - list->sum[at - 1] < FOOT_DISTANCE || list->sum[at] - sum < FOOT_DISTANCE) return;
  memmove(&list->sum[at + 1], &list->sum[at], (size_t)(list->count - at) * sizeof list->sum[0]);
  list->sum[at] = sum;
  list->count++;
}

static void add_foot(breaks *list, const cavum_curve *line, cavum_index c,
                     const cavum_size_field *field, const cavum_density *density,
                     cavum_point from) {
  double dz = line->end.z_m - line->start.z_m, dr = line->end.r_m - line->start.r_m;
  double pz = from.z_m - line->start.z_m, pr = from.r_m - line->start.r_m;
  double square = dz * dz + dr * dr, t = (pz * dz + pr * dr) / square;
  double height = (dz * pr - dr * pz) / sqrt(square);  // positive on the side of the domain
  if (t <= 0.0 || t >= 1.0 || height <= 0.0) return;
  cavum_point foot = cavum_curve_point(line, t);
  if (height > FOOT_REACH * cavum_size_field_at(field, foot)) return;
  add_break(list, cavum_density_sum(density, c, t));
}

// Where each curve is broken, found in an order that lets straight pieces look at the others.
typedef struct curve_breaks {
  const cavum_contour *contour;
  const cavum_size_field *field;
  const cavum_density *density;
  breaks *of;  // shape [num_curves]
} curve_breaks;

static cavum_point point_at(const curve_breaks *made, cavum_index c, double sum) {
  return cavum_curve_point(&made->contour->curves[c],
                           cavum_density_parameter(made->density, c, sum));
}

static void fill_breaks(breaks *list) {
  breaks full = {1, {list->sum[0]}};
  for (int i = 0; i + 1 < list->count; i++) {
    double width = list->sum[i + 1] - list->sum[i];
    int parts = (int)cavum_min(MOST_BREAKS, ceil(CANDIDATES_PER_SEGMENT * width - 0.3));
    if (parts < 1) parts = 1;
    for (int k = 1; k <= parts && full.count < MOST_BREAKS; k++) {
      full.sum[full.count++] = k == parts ? list->sum[i + 1] : list->sum[i] + width * k / parts;
    }
  }
  *list = full;
}

static void break_curve(curve_breaks *made, cavum_index c, const bool *done) {
  breaks *list = &made->of[c];
  *list = (breaks){2, {0.0, cavum_density_total(made->density, c)}};
  const cavum_curve *curve = &made->contour->curves[c];
  if (curve->kind == CAVUM_CURVE_LINE) {
    for (cavum_index o = 0; o < made->contour->num_curves; o++) {
      add_foot(list, curve, c, made->field, made->density, made->contour->curves[o].start);
    }
    for (cavum_index o = 0; o < made->contour->num_curves; o++) {
      for (int i = 1; done[o] && i + 1 < made->of[o].count; i++) {
        add_foot(list, curve, c, made->field, made->density, point_at(made, o, made->of[o].sum[i]));
      }
    }
  }
  fill_breaks(list);
}

static int rank_of(const cavum_curve *curve) {
  if (curve->kind != CAVUM_CURVE_LINE) return 0;
  return curve->boundary == CAVUM_BOUNDARY_AXIS ? 2 : 1;
}

static cavum_point unit(cavum_point v) {
  double length = hypot(v.z_m, v.r_m);
  return length > 0.0 ? (cavum_point){v.z_m / length, v.r_m / length} : v;
}

static cavum_status append_candidates(cavum_candidates *candidates, const curve_breaks *made,
                                      cavum_index c, cavum_error *error) {
  const cavum_curve *curve = &made->contour->curves[c];
  cavum_index n = made->contour->num_curves;
  const cavum_curve *before = &made->contour->curves[c > 0 ? c - 1 : n - 1];
  const breaks *list = &made->of[c];
  if (!cavum_grow((void **)&candidates->candidates, &candidates->capacity,
                  (int64_t)candidates->num_candidates + list->count,
                  sizeof *candidates->candidates)) {
    return cavum_fail_memory(error);
  }
  for (int i = 0; i + 1 < list->count; i++) {
    cavum_candidate *candidate = &candidates->candidates[candidates->num_candidates++];
    double t = i == 0 ? 0.0 : cavum_density_parameter(made->density, c, list->sum[i]);
    *candidate = (cavum_candidate){.curve = c, .t = t, .sum = list->sum[i]};
    candidate->point = cavum_curve_point(curve, t);
    candidate->leave = unit(cavum_curve_derivative(curve, t));
    candidate->arrive = i == 0 ? unit(cavum_curve_derivative(before, 1.0)) : candidate->leave;
    candidate->size_m = cavum_size_field_at(made->field, candidate->point);
  }
  return CAVUM_OK;
}

static cavum_status place_candidates(cavum_candidates *candidates, curve_breaks *made,
                                     cavum_index most, cavum_error *error) {
  cavum_index n = made->contour->num_curves;
  cavum_status status = CAVUM_OK;
  bool *done = cavum_alloc(n, sizeof *done);
  if (!done) return cavum_fail_memory(error);
  for (int rank = 0; rank < 3; rank++) {
    for (cavum_index c = 0; c < n; c++) {
      if (rank_of(&made->contour->curves[c]) != rank) continue;
      break_curve(made, c, done);
      done[c] = true;
    }
  }
  free(done);
  for (cavum_index c = 0; c < n && status == CAVUM_OK; c++) {
    if (candidates->num_candidates + made->of[c].count > most || made->of[c].count == MOST_BREAKS) {
      candidates->num_candidates = 0;
      return CAVUM_OK;
    }
    status = append_candidates(candidates, made, c, error);
  }
  return status;
}

static double cross(cavum_point a, cavum_point b) { return a.z_m * b.r_m - a.r_m * b.z_m; }

// True when a direction leaves a candidate into the domain, well off both sides.
static bool points_inside(const cavum_candidate *candidate, cavum_point direction) {
  cavum_point back = {-candidate->arrive.z_m, -candidate->arrive.r_m};
  bool left_of_leave = cross(candidate->leave, direction) > LEAST_SINE;
  bool right_of_back = cross(direction, back) > LEAST_SINE;
  double turn = cross(candidate->arrive, candidate->leave);
  double along =
      candidate->arrive.z_m * candidate->leave.z_m + candidate->arrive.r_m * candidate->leave.r_m;
  if (turn > 1e-9 || (turn > -1e-9 && along > 0.0)) return left_of_leave && right_of_back;
  if (left_of_leave || right_of_back) return true;
  // Reflex: forward of both sides, at most the least angle off their extensions.
  double forward = direction.z_m * (back.z_m + candidate->leave.z_m) +
                   direction.r_m * (back.r_m + candidate->leave.r_m);
  return forward < 0.0;
}

// True when the open chord a-b meets a sampled piece of the contour.
static bool is_crossed(const cavum_size_field *field, cavum_point a, cavum_point b) {
  double dz = b.z_m - a.z_m, dr = b.r_m - a.r_m;
  for (cavum_index c = 0; c < field->num_curves; c++) {
    const cavum_size_sample *sample = &field->samples[field->first_sample[c]];
    const cavum_size_sample *last = &field->samples[field->first_sample[c + 1] - 1];
    double before = dz * (sample->point.r_m - a.r_m) - dr * (sample->point.z_m - a.z_m);
    for (; sample < last; sample++) {
      cavum_point p = sample[0].point, q = sample[1].point;
      double after = dz * (q.r_m - a.r_m) - dr * (q.z_m - a.z_m);
      double here = before;
      before = after;
      if ((here > 0.0) == (after > 0.0) && here != 0.0 && after != 0.0) continue;
      if (here == after) continue;
      double w = here / (here - after);
      double z = p.z_m + w * (q.z_m - p.z_m) - a.z_m, r = p.r_m + w * (q.r_m - p.r_m) - a.r_m;
      double s = (z * dz + r * dr) / (dz * dz + dr * dr);
      if (s > 0.01 && s < 0.99) return true;
    }
  }
  return false;
}

// Integral of ds / h over a length on which h goes linearly from a to b.
static double elements_between(double length, double a, double b) {
  double ratio = b / a;
  return fabs(ratio - 1.0) < 1e-2 ? 2.0 * length / (a + b) : length * log(ratio) / (b - a);
}

// Coarse elements that the size field wants along the chord from i to j, or 0 when it cannot be
// one.
static double measure_chord(const cavum_candidates *candidates, const cavum_size_field *field,
                            cavum_index i, cavum_index j, cavum_point direction, double length) {
  const cavum_candidate *a = &candidates->candidates[i], *b = &candidates->candidates[j];
  if (!points_inside(a, direction)) return 0.0;
  if (!points_inside(b, (cavum_point){-direction.z_m, -direction.r_m})) return 0.0;
  cavum_point middle = {0.5 * (a->point.z_m + b->point.z_m), 0.5 * (a->point.r_m + b->point.r_m)};
  double size = cavum_size_field_at(field, middle);
  double wanted = elements_between(0.5 * length, a->size_m, size) +
                  elements_between(0.5 * length, size, b->size_m);
  return wanted > CHORD_REACH || is_crossed(field, a->point, b->point) ? 0.0 : wanted;
}

// Running sum at candidate j seen as the end of curve c; negative when it is not on that curve.
static double end_sum(const cavum_candidates *candidates, const cavum_density *density,
                      cavum_index c, cavum_index j) {
  const cavum_candidate *candidate = &candidates->candidates[j];
  if (candidate->curve == c && candidate->t > 0.0) return candidate->sum;
  cavum_index next = c + 1 < density->num_curves ? c + 1 : 0;
  return candidate->curve == next && candidate->t == 0.0 ? cavum_density_total(density, c) : -1.0;
}

static cavum_status join_candidates(cavum_candidates *candidates, const cavum_size_field *field,
                                    const cavum_density *density, cavum_error *error) {
  cavum_index n = candidates->num_candidates;
  candidates->kind = cavum_alloc((int64_t)n * n, sizeof *candidates->kind);
  candidates->direction = cavum_alloc((int64_t)n * n, sizeof *candidates->direction);
  candidates->length_m = cavum_alloc((int64_t)n * n, sizeof *candidates->length_m);
  candidates->wanted = cavum_alloc((int64_t)n * n, sizeof *candidates->wanted);
  if (!candidates->kind || !candidates->direction || !candidates->length_m || !candidates->wanted)
    return cavum_fail_memory(error);
  for (cavum_index i = 0; i < n && !cavum_stop_asked(); i++) {
    for (cavum_index j = i + 1; j < n; j++) {
      cavum_point a = candidates->candidates[i].point, b = candidates->candidates[j].point;
      double length = hypot(b.z_m - a.z_m, b.r_m - a.r_m);
      cavum_point direction = {(b.z_m - a.z_m) / length, (b.r_m - a.r_m) / length};
      candidates->direction[i * n + j] = direction;
      candidates->length_m[i * n + j] = length;
      if (cavum_candidates_is_boundary(candidates, density, i, j)) {
        candidates->kind[i * n + j] = CAVUM_SIDE_BOUNDARY;
        candidates->wanted[i * n + j] =
            end_sum(candidates, density, candidates->candidates[i].curve, j) -
            candidates->candidates[i].sum;
        continue;
      }
      double wanted = measure_chord(candidates, field, i, j, direction, length);
      candidates->wanted[i * n + j] = wanted;
      if (wanted > 0.0) candidates->kind[i * n + j] = CAVUM_SIDE_CHORD;
    }
  }
  return CAVUM_OK;
}

bool cavum_candidates_is_boundary(const cavum_candidates *candidates, const cavum_density *density,
                                  cavum_index i, cavum_index j) {
  const cavum_candidate *a = &candidates->candidates[i];
  double end = end_sum(candidates, density, a->curve, j);
  return end > a->sum && end - a->sum <= 1.0 + 1e-6;
}

cavum_segment cavum_candidates_segment(const cavum_candidates *candidates,
                                       const cavum_density *density, cavum_index i, cavum_index j) {
  const cavum_candidate *a = &candidates->candidates[i];
  const cavum_candidate *b = &candidates->candidates[j];
  double end = end_sum(candidates, density, a->curve, j);
  double middle = cavum_density_parameter(density, a->curve, 0.5 * (a->sum + end));
  return (cavum_segment){a->curve, {a->t, middle, b->t > 0.0 ? b->t : 1.0}};
}

cavum_status cavum_candidates_build(cavum_candidates *candidates, const cavum_contour *contour,
                                    const cavum_size_field *field, const cavum_density *density,
                                    cavum_index most, cavum_error *error) {
  cavum_candidates_clear(candidates);
  if (contour->num_curves > most) return CAVUM_OK;
  curve_breaks made = {contour, field, density, cavum_alloc(contour->num_curves, sizeof *made.of)};
  if (!made.of) return cavum_fail_memory(error);
  cavum_status status = place_candidates(candidates, &made, most, error);
  free(made.of);
  if (status != CAVUM_OK || candidates->num_candidates == 0) return status;
  return join_candidates(candidates, field, density, error);
}
