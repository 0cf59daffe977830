// SPDX-License-Identifier: GPL-3.0-or-later
// Search for crossings: a sweep along z over the boxes of all subcurves, then the halving of pairs
// that crossing.h describes.
#include "contour/crossing.h"

#include <string.h>

#include "base/base.h"
#include "contour/check.h"
#include "contour/subcurve.h"

// Comparisons of chords before the search is ended. An ordinary contour needs some hundred, a
// spline of a thousand points some ten thousand.
enum { LARGEST_EFFORT = 2000000 };
// Part of the angle between neighbours that they may use up by turning: leaves room for rounding.
static const double USABLE_ANGLE = 0.9;

typedef struct search {
  double tolerance_m;
  int64_t effort;
  cavum_crossing found;
} search;

/** Box of a subcurve and its place in the order of travel. */
typedef struct box {
  double low_z, high_z, low_r, high_r;
  cavum_index subcurve;
} box;

static cavum_point difference(cavum_point a, cavum_point b) {
  cavum_point result = {a.z_m - b.z_m, a.r_m - b.r_m};
  return result;
}

static double cross_product(cavum_point a, cavum_point b) { return a.z_m * b.r_m - a.r_m * b.z_m; }

static double point_to_segment(cavum_point point, cavum_point a, cavum_point b) {
  cavum_point along = difference(b, a), offset = difference(point, a);
  double square = along.z_m * along.z_m + along.r_m * along.r_m;
  double t = square > 0.0 ? (offset.z_m * along.z_m + offset.r_m * along.r_m) / square : 0.0;
  t = cavum_min(1.0, cavum_max(0.0, t));
  return hypot(offset.z_m - t * along.z_m, offset.r_m - t * along.r_m);
}

static bool chords_cross(const cavum_subcurve *a, const cavum_subcurve *b) {
  cavum_point u = difference(a->last, a->first), v = difference(b->last, b->first);
  double b_first = cross_product(u, difference(b->first, a->first));
  double b_last = cross_product(u, difference(b->last, a->first));
  double a_first = cross_product(v, difference(a->first, b->first));
  double a_last = cross_product(v, difference(a->last, b->first));
  return ((b_first > 0.0) != (b_last > 0.0)) && ((a_first > 0.0) != (a_last > 0.0));
}

static double chord_distance(const cavum_subcurve *a, const cavum_subcurve *b) {
  if (chords_cross(a, b)) return 0.0;
  double distance = point_to_segment(a->first, b->first, b->last);
  distance = cavum_min(distance, point_to_segment(a->last, b->first, b->last));
  distance = cavum_min(distance, point_to_segment(b->first, a->first, a->last));
  return cavum_min(distance, point_to_segment(b->last, a->first, a->last));
}

static void halve(cavum_subcurve out[2], const cavum_subcurve *subcurve) {
  double middle = 0.5 * (subcurve->t0 + subcurve->t1);
  out[0] = cavum_subcurve_make(subcurve->curve, subcurve->curve_index, subcurve->t0, middle);
  out[1] = cavum_subcurve_make(subcurve->curve, subcurve->curve_index, middle, subcurve->t1);
}

/** Notes what was found; always false. */
static bool note(search *state, cavum_crossing_kind kind, const cavum_subcurve *a,
                 const cavum_subcurve *b) {
  state->found.kind = kind;
  state->found.first = a->curve_index;
  state->found.second = b->curve_index;
  state->found.place.z_m = 0.5 * (a->first.z_m + a->last.z_m);
  state->found.place.r_m = 0.5 * (a->first.r_m + a->last.r_m);
  if (a->sag_m == 0.0) {  // a line is not halved: the other one knows better where
    state->found.place.z_m = 0.5 * (b->first.z_m + b->last.z_m);
    state->found.place.r_m = 0.5 * (b->first.r_m + b->last.r_m);
  }
  return false;
}

/** Where two crossing lines meet. */
static void place_on_lines(search *state, const cavum_subcurve *a, const cavum_subcurve *b) {
  cavum_point u = difference(a->last, a->first), v = difference(b->last, b->first);
  double determinant = cross_product(u, v);
  if (a->sag_m > 0.0 || b->sag_m > 0.0) return;
  if (fabs(determinant) > 1e-9 * hypot(u.z_m, u.r_m) * hypot(v.z_m, v.r_m)) {
    double t = cross_product(difference(b->first, a->first), v) / determinant;
    t = cavum_min(1.0, cavum_max(0.0, t));
    state->found.place.z_m = a->first.z_m + t * u.z_m;
    state->found.place.r_m = a->first.r_m + t * u.r_m;
  }
}

/** True when two subcurves without a common end are apart; else what was found is in state. */
static bool are_apart(search *state, const cavum_subcurve *a, const cavum_subcurve *b) {
  if (++state->effort > LARGEST_EFFORT) return note(state, CAVUM_CROSSING_UNDECIDED, a, b);
  double distance = chord_distance(a, b), sag = a->sag_m + b->sag_m;
  if (distance - sag > state->tolerance_m) return true;
  if (sag <= 0.5 * state->tolerance_m) {
    note(state, CAVUM_CROSSING_MEET, a, b);
    place_on_lines(state, a, b);
    return false;
  }
  cavum_subcurve parts[2];
  bool halve_a = a->sag_m >= b->sag_m;
  halve(parts, halve_a ? a : b);
  for (int i = 0; i < 2; i++) {
    bool apart = halve_a ? are_apart(state, &parts[i], b) : are_apart(state, a, &parts[i]);
    if (!apart) return false;
  }
  return true;
}

/** The same for a subcurve and the one that starts at its end, which enclose an angle. */
static bool are_apart_beyond_joint(search *state, const cavum_subcurve *a, const cavum_subcurve *b,
                                   double angle) {
  if (++state->effort > LARGEST_EFFORT) return note(state, CAVUM_CROSSING_UNDECIDED, a, b);
  if (cavum_subcurve_turn_rad(a) + cavum_subcurve_turn_rad(b) < USABLE_ANGLE * angle) return true;
  cavum_subcurve before[2], after[2];
  halve(before, a);
  halve(after, b);
  return are_apart(state, &before[0], &after[0]) && are_apart(state, &before[0], &after[1]) &&
         are_apart(state, &before[1], &after[1]) &&
         are_apart_beyond_joint(state, &before[1], &after[0], angle);
}

static bool check_joint(search *state, const cavum_subcurve *a, const cavum_subcurve *b) {
  cavum_point back = cavum_curve_derivative(a->curve, a->t1);
  cavum_point forth = cavum_curve_derivative(b->curve, b->t0);
  back.z_m = -back.z_m;
  back.r_m = -back.r_m;
  double angle = cavum_subcurve_angle_rad(back, forth);
  if (angle >= CAVUM_CONTOUR_SMALLEST_ANGLE_RAD) {
    return are_apart_beyond_joint(state, a, b, angle);
  }
  bool inside = a->curve_index == b->curve_index;
  note(state, inside ? CAVUM_CROSSING_CUSP : CAVUM_CROSSING_FOLD, a, b);
  state->found.place = a->last;
  return false;
}

static box box_of(const cavum_subcurve *subcurve, cavum_index index, double margin_m) {
  double grow_m = subcurve->sag_m + margin_m;
  box result = {.low_z = cavum_min(subcurve->first.z_m, subcurve->last.z_m) - grow_m,
                .high_z = cavum_max(subcurve->first.z_m, subcurve->last.z_m) + grow_m,
                .low_r = cavum_min(subcurve->first.r_m, subcurve->last.r_m) - grow_m,
                .high_r = cavum_max(subcurve->first.r_m, subcurve->last.r_m) + grow_m,
                .subcurve = index};
  return result;
}

static int compare_boxes(const void *left, const void *right) {
  const box *a = left, *b = right;
  if (a->low_z != b->low_z) return a->low_z < b->low_z ? -1 : 1;
  return a->subcurve < b->subcurve ? -1 : a->subcurve > b->subcurve;
}

/**
 * Absolute turn along the contour up to the start of each subcurve, corners included; shape [n +
 * 1].
 */
static void sum_turns(double *turns, const cavum_subcurve_list *list) {
  cavum_index n = list->num_subcurves;
  for (cavum_index i = 0; i < n; i++) {
    const cavum_subcurve *subcurve = &list->subcurves[i], *next = &list->subcurves[(i + 1) % n];
    double corner = cavum_subcurve_angle_rad(cavum_curve_derivative(subcurve->curve, subcurve->t1),
                                             cavum_curve_derivative(next->curve, next->t0));
    turns[i + 1] = turns[i] + cavum_subcurve_turn_rad(subcurve) + corner;
  }
}

/**
 * True when the way from one subcurve to the other, both included, turns too little to come back:
 * an arc that turns by less than pi in all does not meet itself. That also settles subcurves with a
 * piece shorter than the tolerance between them.
 */
static bool are_linked(const double *turns, const cavum_subcurve_list *list, cavum_index first,
                       cavum_index second) {
  cavum_index low = first < second ? first : second, high = first < second ? second : first;
  double inner = turns[high] - turns[low] + cavum_subcurve_turn_rad(&list->subcurves[high]);
  double outer = turns[list->num_subcurves] - turns[high] + turns[low] +
                 cavum_subcurve_turn_rad(&list->subcurves[low]);
  return cavum_min(inner, outer) < USABLE_ANGLE * CAVUM_PI;
}

/** Sweeps along z over all pairs whose boxes overlap and that are no neighbours. */
static void sweep(search *state, const box *boxes, const cavum_subcurve_list *list,
                  const double *turns) {
  cavum_index n = list->num_subcurves;
  for (cavum_index i = 0; i < n; i++) {
    for (cavum_index j = i + 1; j < n && boxes[j].low_z <= boxes[i].high_z; j++) {
      if (boxes[j].low_r > boxes[i].high_r || boxes[j].high_r < boxes[i].low_r) continue;
      cavum_index apart = abs(boxes[i].subcurve - boxes[j].subcurve);
      if (apart == 1 || apart == n - 1) continue;
      if (are_linked(turns, list, boxes[i].subcurve, boxes[j].subcurve)) continue;
      const cavum_subcurve *a = &list->subcurves[boxes[i].subcurve],
                           *b = &list->subcurves[boxes[j].subcurve];
      if (!are_apart(state, a, b)) return;
    }
  }
}

cavum_status cavum_crossing_find(cavum_crossing *crossing, const cavum_contour *contour,
                                 double size_m) {
  search state = {.tolerance_m = CAVUM_CONTOUR_TOUCHING * size_m,
                  .found = {.first = -1, .second = -1}};
  cavum_subcurve_list list = {0};
  box *boxes = NULL;
  double *turns = NULL;
  cavum_index culprit = -1;
  cavum_status status = cavum_subcurve_cut_contour(&list, contour, &culprit);
  if (status == CAVUM_ERR_GEOMETRY) {
    state.found.kind = CAVUM_CROSSING_CUSP;
    state.found.first = state.found.second = culprit;
    status = CAVUM_OK;
    goto report;
  }
  if (status != CAVUM_OK) goto done;
  boxes = cavum_alloc(list.num_subcurves, sizeof *boxes);
  turns = cavum_alloc((int64_t)list.num_subcurves + 1, sizeof *turns);
  if (!boxes || !turns) {
    status = CAVUM_ERR_MEMORY;
    goto done;
  }
  for (cavum_index i = 0; i < list.num_subcurves; i++) {
    boxes[i] = box_of(&list.subcurves[i], i, state.tolerance_m);
    const cavum_subcurve *next = &list.subcurves[(i + 1) % list.num_subcurves];
    if (!check_joint(&state, &list.subcurves[i], next)) goto report;
  }
  qsort(boxes, (size_t)list.num_subcurves, sizeof *boxes, compare_boxes);
  sum_turns(turns, &list);
  sweep(&state, boxes, &list, turns);
report:
  *crossing = state.found;
done:
  free(list.subcurves);
  free(boxes);
  free(turns);
  return status;
}
