// SPDX-License-Identifier: GPL-3.0-or-later
// The walls of paths as limits see them. With the derivatives p' and p'' of a point along a span,
// the curvature is (z' r'' - r' z'') / |p'|^3, above 0 where the wall turns left as it is run
// through counterclockwise: where it bulges out of the cell. The lean of a wall from the vertical
// is atan2(-z', |r'|), as that of the straight wall of two ellipses. The aperture is the radius of
// the wall.
#include "optimum/wall_bends.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "cell/dimension.h"
#include "contour/mirror.h"
#include "optimum/rates.h"

// Places of a span; the last is its end.
enum { PLACES = 8 };
// Golden sections between two places: to a millionth of their distance.
enum { SECTIONS = 30 };
static const double GOLDEN = 0.6180339887498949;

/** The wall of a cell and how it moves. */
typedef struct wall {
  const cavum_contour *path;
  int num_variables;
  cavum_index *spans;  // owned, shape [num_spans]: curves of the path
  cavum_index num_spans;
  cavum_curve_rate *rates;  // owned, shape [num_variables, num_curves]: over the range of each
} wall;

static void clear_wall(wall *w) {
  free(w->spans);
  free(w->rates);
}

// Whether a limit keeps a value high, which is that of the figure itself: lean and aperture.
static bool is_kept_high(cavum_requirement_kind kind) {
  return kind == CAVUM_REQUIRE_WALL_ANGLE || kind == CAVUM_REQUIRE_APERTURE_RADIUS;
}

// A value along a span that a limit keeps low: curvature to one side, or the lean with its sign
// changed.
static double value_of(cavum_requirement_kind kind, cavum_point first, cavum_point second) {
  if (kind == CAVUM_REQUIRE_WALL_ANGLE) return -atan2(-first.z_m, fabs(first.r_m));
  double speed = hypot(first.z_m, first.r_m);
  double turn = first.z_m * second.r_m - first.r_m * second.z_m;
  return (kind == CAVUM_REQUIRE_IRIS_SIDE_RADIUS ? -turn : turn) / (speed * speed * speed);
}

static double value_at(cavum_requirement_kind kind, const cavum_curve *span, double t) {
  if (kind == CAVUM_REQUIRE_APERTURE_RADIUS) return -cavum_curve_point(span, t).r_m;
  return value_of(kind, cavum_curve_derivative(span, t), cavum_curve_second_derivative(span, t));
}

// How that changes with the coefficients of the span.
static double rate_at(cavum_requirement_kind kind, const cavum_curve *span,
                      const cavum_curve_rate *rate, double t) {
  cavum_point a = cavum_curve_derivative(span, t), b = cavum_curve_second_derivative(span, t);
  const cavum_point *c = rate->cubic;
  if (kind == CAVUM_REQUIRE_APERTURE_RADIUS) {
    return -(c[0].r_m + t * (c[1].r_m + t * (c[2].r_m + t * c[3].r_m)));
  }
  cavum_point da = {c[1].z_m + t * (2.0 * c[2].z_m + 3.0 * t * c[3].z_m),
                    c[1].r_m + t * (2.0 * c[2].r_m + 3.0 * t * c[3].r_m)};
  cavum_point db = {2.0 * c[2].z_m + 6.0 * t * c[3].z_m, 2.0 * c[2].r_m + 6.0 * t * c[3].r_m};
  double square = a.z_m * a.z_m + a.r_m * a.r_m;
  if (kind == CAVUM_REQUIRE_WALL_ANGLE) {
    double sign = a.r_m < 0.0 ? -1.0 : 1.0;
    return sign * (da.z_m * a.r_m - a.z_m * da.r_m) / square;
  }
  double turn = a.z_m * b.r_m - a.r_m * b.z_m;
  double turn_rate = da.z_m * b.r_m + a.z_m * db.r_m - da.r_m * b.z_m - a.r_m * db.z_m;
  double along = (a.z_m * da.z_m + a.r_m * da.r_m) / square;
  double sign = kind == CAVUM_REQUIRE_IRIS_SIDE_RADIUS ? -1.0 : 1.0;
  return sign * (turn_rate - 3.0 * turn * along) / (square * sqrt(square));
}

// Metal splines; of a mirrored cell the right half.
static cavum_status list_spans(wall *w, cavum_error *error) {
  cavum_contour_mirror mirror;
  bool mirrored = cavum_contour_find_mirror(&mirror, w->path);
  w->spans = cavum_alloc(w->path->num_curves, sizeof *w->spans);
  if (!w->spans) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < w->path->num_curves; i++) {
    const cavum_curve *curve = &w->path->curves[i];
    if (curve->kind != CAVUM_CURVE_CUBIC || curve->boundary != CAVUM_BOUNDARY_METAL) continue;
    if (mirrored && curve->start.z_m + curve->end.z_m < 2.0 * mirror.plane_m) continue;
    w->spans[w->num_spans++] = i;
  }
  if (w->num_spans > 0) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "the wall has no splines, and the limits are on splines");
}

// Rates of all curves by each variable.
static cavum_status make_rates(wall *w, const cavum_optimum_rates *rates, const cavum_cell *cell,
                               const cavum_cell_dimensions *dimensions, cavum_error *error) {
  int64_t n = w->path->num_curves;
  cavum_status status = CAVUM_OK;
  cavum_curve_rate *of_one = cavum_alloc(n, sizeof *of_one);
  w->rates = cavum_alloc(n * w->num_variables, sizeof *w->rates);
  if (!of_one || !w->rates) CAVUM_TRY(cavum_fail_memory(error));
  for (int k = 0; k < dimensions->count; k++) {
    cavum_cell_rate other;
    bool smooth;
    if (!rates->moves[k]) continue;
    CAVUM_TRY(cavum_cell_dimension_rate(of_one, &other, &smooth, w->path, cell, CAVUM_PART_WHOLE,
                                        &dimensions->list[k], error));
    for (int j = 0; j < w->num_variables; j++) {
      for (cavum_index s = 0; s < w->num_spans && rates->by[k][j] != 0.0; s++) {
        const cavum_curve_rate *from = &of_one[w->spans[s]];
        cavum_curve_rate *to = &w->rates[j * n + w->spans[s]];
        for (int p = 0; p < 4; p++) {
          to->cubic[p].z_m += rates->by[k][j] * from->cubic[p].z_m;
          to->cubic[p].r_m += rates->by[k][j] * from->cubic[p].r_m;
        }
      }
    }
  }
done:
  free(of_one);
  return status;
}

static cavum_status make_wall(wall *w, const cavum_optimum_point *point, const cavum_goal *goal,
                              int c, const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_cell_dimensions dimensions = {0};
  cavum_optimum_rates rates = {0};
  cavum_dimension *described = NULL;
  w->path = &cell->path;
  w->num_variables = goal->num_variables;
  CAVUM_TRY(list_spans(w, error));
  CAVUM_TRY(cavum_cell_dimensions_list(&dimensions, cell, error));
  described = cavum_alloc(dimensions.count, sizeof *described);
  if (!described) CAVUM_TRY(cavum_fail_memory(error));
  for (int k = 0; k < dimensions.count; k++) {
    described[k] = cavum_cell_dimension_describe(&dimensions.list[k]);
  }
  CAVUM_TRY(
      cavum_optimum_rates_make(&rates, goal, c, point->place, described, dimensions.count, error));
  CAVUM_TRY(make_rates(w, &rates, cell, &dimensions, error));
done:
  free(described);
  cavum_optimum_rates_clear(&rates);
  cavum_cell_dimensions_clear(&dimensions);
  return status;
}

static void add(cavum_optimum_value *value, const wall *w, cavum_requirement_kind kind,
                cavum_index s, double t, cavum_index at) {
  const cavum_curve *span = &w->path->curves[w->spans[s]];
  // Of what is kept high the sign is that of the figure again.
  double sign = is_kept_high(kind) ? -1.0 : 1.0;
  cavum_optimum_bend *bend = &value->bends[value->num_bends++];
  *bend = (cavum_optimum_bend){.value = sign * value_at(kind, span, t), .at = at};
  for (int j = 0; j < w->num_variables; j++) {
    const cavum_curve_rate *rate = &w->rates[(int64_t)j * w->path->num_curves + w->spans[s]];
    bend->slope[j] = sign * rate_at(kind, span, rate, t);
  }
}

// The largest value between the neighbours of a place of a span.
static double top_of(cavum_requirement_kind kind, const cavum_curve *span, double t) {
  double low = cavum_max(t - 1.0 / PLACES, 0.0), high = cavum_min(t + 1.0 / PLACES, 1.0);
  for (int k = 0; k < SECTIONS; k++) {
    double left = high - GOLDEN * (high - low), right = low + GOLDEN * (high - low);
    bool to_left = value_at(kind, span, left) > value_at(kind, span, right);
    *(to_left ? &high : &low) = to_left ? right : left;
  }
  return 0.5 * (low + high);
}

static void add_span(cavum_optimum_value *value, const wall *w, cavum_requirement_kind kind,
                     cavum_index s) {
  const cavum_curve *span = &w->path->curves[w->spans[s]];
  for (int k = 0; k <= PLACES; k++) {
    double t = (double)k / PLACES, here = value_at(kind, span, t);
    cavum_index at = s * (PLACES + 1) + k;
    add(value, w, kind, s, t, at);
    bool above_last = k == 0 || here >= value_at(kind, span, t - 1.0 / PLACES);
    bool above_next = k == PLACES || here >= value_at(kind, span, t + 1.0 / PLACES);
    double top = above_last && above_next ? top_of(kind, span, t) : t;
    if (value_at(kind, span, top) > here) add(value, w, kind, s, top, at);
  }
}

// The worst place is the figure: the least radius of curvature, lean or aperture.
static void take_worst(cavum_optimum_value *value, const cavum_goal_quantity *q,
                       int num_variables) {
  bool high = is_kept_high(q->what.kind);
  int worst = 0;
  for (int k = 1; k < value->num_bends; k++) {
    bool more = value->bends[k].value > value->bends[worst].value;
    bool less = value->bends[k].value < value->bends[worst].value;
    if (high ? less : more) worst = k;
  }
  const cavum_optimum_bend *bend = &value->bends[worst];
  // A wall that turns to the other side everywhere has no radius on this one.
  double curvature = cavum_max(bend->value, 0.0);
  value->value = high ? bend->value : curvature > 0.0 ? 1.0 / curvature : HUGE_VAL;
  value->figure = value->value;
  value->has_slope = true;
  for (int j = 0; j < num_variables; j++) {
    double radius_slope = curvature > 0.0 ? -bend->slope[j] / (curvature * curvature) : 0.0;
    value->slope[j] = high ? bend->slope[j] : radius_slope;
  }
}

cavum_status cavum_wall_bends_take(cavum_optimum_point *point, const cavum_goal *goal, int c,
                                   const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  wall w = {0};
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    cavum_optimum_value *value = &point->values[i];
    if (q->cell != c || !q->is_of_wall) continue;
    if (!w.path) CAVUM_TRY(make_wall(&w, point, goal, c, cell, error));
    // Each place, and a top beside every second one at most.
    value->bends = cavum_alloc(2 * (int64_t)w.num_spans * (PLACES + 1), sizeof *value->bends);
    if (!value->bends) CAVUM_TRY(cavum_fail_memory(error));
    for (cavum_index s = 0; s < w.num_spans; s++) add_span(value, &w, q->what.kind, s);
    take_worst(value, q, goal->num_variables);
  }
done:
  clear_wall(&w);
  return status;
}
