// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape of a cell. Volume and area are integrals along the contour. The others are
// the smallest of a few values, each of which belongs to the numbers of one curve.
#include "cell/geometry.h"

#include <string.h>

#include "base/base.h"
#include "cell/cell.h"
#include "cell/dimension.h"
#include "contour/curve_rate.h"
#include "contour/gauss.h"
#include "contour/parallel.h"
#include "contour/two_ellipse.h"

// Rounding of sums of some hundred terms, and of a common tangent.
static const double ROUNDING = 1e-12;
// Halves that agree with the whole to this part are far better than that: the rule gains 2^32.
static const double SAME = 1e-13;
// Pieces are halved at most so often: a cusp of a cubic.
enum { DEPTH = 40 };
// Values closer than this part are at two places; rates that differ by more are not the same.
static const double TIE = 1e-9;

// ---- descriptions

cavum_geometry_info cavum_geometry_describe(cavum_geometry_id id) {
#define GEOMETRY_ROW(name, key, unit, long_name, definition) \
  [CAVUM_GEOMETRY_##name] = {key, unit, NULL, 1.0, long_name, definition},
  static const cavum_geometry_info table[CAVUM_NUM_GEOMETRY_FIGURES] = {
      CAVUM_GEOMETRY_TABLE(GEOMETRY_ROW)};
#undef GEOMETRY_ROW
  static const cavum_geometry_info unknown = {"unknown", "1", "1", 1.0, "unknown", ""};
  if ((int)id < 0 || id >= CAVUM_NUM_GEOMETRY_FIGURES) return unknown;
  cavum_geometry_info info = table[id];
  cavum_unit unit = cavum_geometry_file_unit(id);
  info.file_unit = unit == CAVUM_UNIT_SI ? info.unit : cavum_unit_symbol(unit);
  info.unit_si = cavum_from_unit(1.0, unit);
  return info;
}

cavum_unit cavum_geometry_file_unit(cavum_geometry_id id) {
  switch (id) {
    case CAVUM_GEOMETRY_WALL_ANGLE:
      return CAVUM_UNIT_DEGREE;
    case CAVUM_GEOMETRY_IRIS_CURVATURE:
    case CAVUM_GEOMETRY_STRAIGHT_LENGTH:
    case CAVUM_GEOMETRY_APERTURE_RADIUS:
    case CAVUM_GEOMETRY_TOTAL_LENGTH:
      return CAVUM_UNIT_MM;
    case CAVUM_GEOMETRY_VOLUME:
    case CAVUM_GEOMETRY_WALL_AREA:
    case CAVUM_NUM_GEOMETRY_FIGURES:
      break;
  }
  return CAVUM_UNIT_SI;
}

cavum_geometry_id cavum_geometry_of_key(const char *key) {
  int id = 0;
  while (id < CAVUM_NUM_GEOMETRY_FIGURES &&
         strcmp(cavum_geometry_describe((cavum_geometry_id)id).key, key) != 0) {
    id++;
  }
  return (cavum_geometry_id)id;
}

void cavum_geometry_destroy(cavum_geometry **geometry) {
  if (!geometry || !*geometry) return;
  free((*geometry)->dimensions);
  free((*geometry)->slope);
  free((*geometry)->slope_uncertainty);
  free(*geometry);
  *geometry = NULL;
}

// ---- halves

static cavum_status measure_half(double *value, const cavum_half_cell *half, const char *side,
                                 cavum_error *error) {
  cavum_common_tangent tangent;
  cavum_status status = cavum_two_ellipse_tangent(&tangent, half, side, error);
  if (status != CAVUM_OK) return status;
  const double of_half[] = {
      [CAVUM_GEOMETRY_WALL_ANGLE] = tangent.lean_rad,
      [CAVUM_GEOMETRY_IRIS_CURVATURE] = cavum_two_ellipse_iris_curvature_m(half, &tangent),
      [CAVUM_GEOMETRY_STRAIGHT_LENGTH] = tangent.straight_m,
      [CAVUM_GEOMETRY_APERTURE_RADIUS] = half->iris_radius_m};
  for (int id = 0; id < (int)(sizeof of_half / sizeof *of_half); id++) {
    value[id] = isnan(value[id]) ? of_half[id] : cavum_min(value[id], of_half[id]);
  }
  return CAVUM_OK;
}

cavum_status cavum_geometry_measure_halves(double *value, const cavum_cell *cell,
                                           cavum_error *error) {
  for (int id = 0; id < CAVUM_GEOMETRY_ROOM; id++) value[id] = NAN;
  if (cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE) return CAVUM_OK;
  cavum_status status = measure_half(value, &cell->left, "left", error);
  if (status == CAVUM_OK) status = measure_half(value, &cell->right, "right", error);
  for (int id = 0; id < CAVUM_GEOMETRY_ROOM && status != CAVUM_OK; id++) value[id] = NAN;
  return status;
}

// ---- integrals

// Integrals along a contour and their derivatives by the numbers of each curve.
typedef struct integrals {
  const cavum_contour *contour;
  double volume, area;
  cavum_curve_rate *by_volume, *by_area;  // shape [num_curves], or NULL
} integrals;

// pi r^2 dz and 2 pi r ds over a piece.
typedef struct piece {
  double volume, area;
} piece;

static piece integrate(const cavum_curve *curve, double from, double to) {
  double middle = 0.5 * (from + to), half = 0.5 * (to - from);
  piece sum = {0.0, 0.0};
  for (int i = 0; i < 2 * CAVUM_HALF_RULE; i++) {
    int k = i / 2;
    cavum_point at, slope;
    cavum_curve_at(&at, &slope, curve, middle + (i % 2 ? half : -half) * cavum_gauss_abscissa[k]);
    double weight = half * CAVUM_PI * cavum_gauss_weight[k] * at.r_m;
    sum.volume += weight * at.r_m * slope.z_m;
    sum.area += 2.0 * weight * hypot(slope.z_m, slope.r_m);
  }
  return sum;
}

// Under the integral: pi r^2 z' and 2 pi r |p'|, by the point and by its slope.
static void add_gradients(integrals *in, cavum_index index, double from, double to) {
  const cavum_curve *curve = &in->contour->curves[index];
  double middle = 0.5 * (from + to), half = 0.5 * (to - from);
  for (int i = 0; i < 2 * CAVUM_HALF_RULE && in->by_volume; i++) {
    int k = i / 2;
    double t = middle + (i % 2 ? half : -half) * cavum_gauss_abscissa[k];
    double weight = half * CAVUM_PI * cavum_gauss_weight[k];
    cavum_point at, slope;
    cavum_curve_at(&at, &slope, curve, t);
    cavum_curve_place place = cavum_curve_place_at(curve, t);
    double r = at.r_m, speed = hypot(slope.z_m, slope.r_m);
    cavum_curve_rate_add(&in->by_volume[index], curve, &place,
                         (cavum_point){0.0, -2.0 * weight * r * slope.z_m},
                         (cavum_point){-weight * r * r, 0.0});
    if (curve->boundary != CAVUM_BOUNDARY_METAL || !(speed > 0.0)) continue;
    double part = 2.0 * weight * r / speed;
    cavum_curve_rate_add(&in->by_area[index], curve, &place,
                         (cavum_point){0.0, 2.0 * weight * speed},
                         (cavum_point){part * slope.z_m, part * slope.r_m});
  }
}

static void add_piece(integrals *in, cavum_index index, double from, double to, const piece *whole,
                      int depth) {
  const cavum_curve *curve = &in->contour->curves[index];
  double middle = 0.5 * (from + to);
  piece one = integrate(curve, from, middle), other = integrate(curve, middle, to);
  double area = one.area + other.area;
  // Written so that a NaN ends the halving.
  if (depth > 0 && fabs(area - whole->area) > SAME * area) {
    add_piece(in, index, from, middle, &one, depth - 1);
    add_piece(in, index, middle, to, &other, depth - 1);
    return;
  }
  in->volume -= one.volume + other.volume;
  if (curve->boundary == CAVUM_BOUNDARY_METAL) in->area += area;
  add_gradients(in, index, from, middle);
  add_gradients(in, index, middle, to);
}

// Runs along the contour, counterclockwise: what is above the axis is run through leftward.
static void integrate_contour(integrals *in) {
  for (cavum_index i = 0; i < in->contour->num_curves; i++) {
    const cavum_curve *curve = &in->contour->curves[i];
    if (curve->boundary == CAVUM_BOUNDARY_AXIS) continue;
    piece whole = integrate(curve, 0.0, 1.0);
    // Polynomials, but for the length of a cubic.
    bool straight = curve->kind == CAVUM_CURVE_LINE;
    add_piece(in, i, 0.0, 1.0, &whole, straight ? 0 : DEPTH);
  }
}

// ---- the smallest of several values

// A value that may be the smallest, and its derivatives by the numbers of its curve.
typedef struct candidate {
  double value;
  cavum_index curve;
  cavum_curve_rate gradient;
} candidate;

// Values whose smallest counts. The extent is that of z and that of -z.
enum { OF_LEFT_END = CAVUM_GEOMETRY_APERTURE_RADIUS + 1, OF_RIGHT_END, NUM_LEASTS };

typedef struct leasts {
  candidate *list[NUM_LEASTS];  // owned
  int count[NUM_LEASTS];
} leasts;

static void clear_leasts(leasts *l) {
  for (int i = 0; i < NUM_LEASTS; i++) free(l->list[i]);
}

static void add_candidate(leasts *l, int of, double value, cavum_index curve,
                          const cavum_curve_rate *gradient) {
  l->list[of][l->count[of]++] = (candidate){value, curve, *gradient};
}

enum { MOST_EXTREMES = 8 };

// Where a curve may be farthest along the axis: its ends, and where it turns back; a parallel does
// where its base does.
static int find_extremes(double t[MOST_EXTREMES], const cavum_curve *c) {
  int count = 0;
  t[count++] = 0.0;
  t[count++] = 1.0;
  if (cavum_curve_is_of_ellipse(c)) {
    double from = c->angle_start_rad / CAVUM_PI, to = c->angle_end_rad / CAVUM_PI;
    double last = cavum_max(from, to);
    for (double k = ceil(cavum_min(from, to)); k <= last && count < MOST_EXTREMES; k += 1.0) {
      t[count++] = (k - from) / (to - from);
    }
  } else if (cavum_curve_is_of_cubic(c)) {
    // Roots of 3 c3 t^2 + 2 c2 t + c1 without cancellation; NaN and infinity are none.
    double a = 3.0 * c->cubic[3].z_m, b = c->cubic[2].z_m, d = c->cubic[1].z_m;
    double q = -(b + copysign(sqrt(b * b - a * d), b));
    const double turns[2] = {q / a, d / q};
    for (int i = 0; i < 2; i++) {
      if (turns[i] > 0.0 && turns[i] < 1.0) t[count++] = turns[i];
    }
  }
  return count;
}

static void add_extremes(leasts *l, const cavum_contour *contour, cavum_index index) {
  const cavum_curve *curve = &contour->curves[index];
  const cavum_point none = {0.0, 0.0}, outward = {1.0, 0.0}, inward = {-1.0, 0.0};
  double t[MOST_EXTREMES];
  int count = find_extremes(t, curve);
  for (int i = 0; i < count; i++) {
    cavum_curve_place place = cavum_curve_place_at(curve, t[i]);
    cavum_curve_rate of_left = {0}, of_right = {0};
    double z = cavum_curve_point(curve, t[i]).z_m;
    cavum_curve_rate_add(&of_left, curve, &place, outward, none);
    cavum_curve_rate_add(&of_right, curve, &place, inward, none);
    add_candidate(l, OF_LEFT_END, z, index, &of_left);
    add_candidate(l, OF_RIGHT_END, -z, index, &of_right);
  }
}

// Straight wall between the iris arc and the equator arc. The lean is that of the way from the iris
// to the equator: outward along the axis over upward.
static void add_straight(leasts *l, const cavum_contour *contour, cavum_index line, bool right) {
  const cavum_curve *c = &contour->curves[line];
  double side = right ? 1.0 : -1.0;  // the right half is run through from its iris
  double dz = c->end.z_m - c->start.z_m, dr = c->end.r_m - c->start.r_m, length = hypot(dz, dr);
  double square = length * length;
  const cavum_curve_rate by_angle = {.start = {side * dr / square, -side * dz / square},
                                     .end = {-side * dr / square, side * dz / square}};
  const cavum_curve_rate by_length = {.start = {-dz / length, -dr / length},
                                      .end = {dz / length, dr / length}};
  add_candidate(l, CAVUM_GEOMETRY_WALL_ANGLE, atan2(-dz, side * dr), line, &by_angle);
  add_candidate(l, CAVUM_GEOMETRY_STRAIGHT_LENGTH, length, line, &by_length);
}

// At an angle that is fixed, or one of the ends of the arc.
static void add_curvature(leasts *l, const cavum_curve *arc, cavum_index index, double angle,
                          bool by_start, bool by_end) {
  double a = arc->axial_m, b = arc->radial_m, s = sin(angle), c = cos(angle);
  double radius = cavum_ellipse_curvature_radius_m(a, b, angle);
  double by_q = 1.5 * radius / (a * a * s * s + b * b * c * c);  // of radius^(2/3), but for a b
  double by_angle = by_q * 2.0 * s * c * (a * a - b * b);
  const cavum_curve_rate gradient = {.axial_m = 2.0 * by_q * a * s * s - radius / a,
                                     .radial_m = 2.0 * by_q * b * c * c - radius / b,
                                     .angle_start_rad = by_start ? by_angle : 0.0,
                                     .angle_end_rad = by_end ? by_angle : 0.0};
  add_candidate(l, CAVUM_GEOMETRY_IRIS_CURVATURE, radius, index, &gradient);
}

// The curvature is extreme at the ends of the arc and, of a wall past the vertical, at the
// outermost point.
static void add_iris(leasts *l, const cavum_contour *contour, cavum_index index, bool right) {
  const cavum_curve *arc = &contour->curves[index];
  double sweep = arc->angle_end_rad - arc->angle_start_rad;
  const cavum_curve_rate by_radius = {.centre = {0.0, 1.0}, .radial_m = -1.0};
  add_curvature(l, arc, index, arc->angle_start_rad, !right, false);
  add_curvature(l, arc, index, arc->angle_end_rad, false, right);
  if (fabs(sweep) > 0.5 * CAVUM_PI) add_curvature(l, arc, index, CAVUM_PI, false, false);
  add_candidate(l, CAVUM_GEOMETRY_APERTURE_RADIUS, arc->centre.r_m - arc->radial_m, index,
                &by_radius);
}

static bool is_metal_arc(const cavum_contour *contour, cavum_index index) {
  return contour->curves[index].kind == CAVUM_CURVE_ELLIPSE &&
         contour->curves[index].boundary == CAVUM_BOUNDARY_METAL;
}

// Counterclockwise from the axis: iris, straight wall and equator of the right half, then equator,
// straight wall and iris of the left one. Ellipses that touch have no straight wall, and then
// nothing here changes smoothly.
static void add_halves(leasts *l, const cavum_contour *contour) {
  bool right = true;
  for (cavum_index i = 1; i + 1 < contour->num_curves; i++) {
    if (contour->curves[i].kind != CAVUM_CURVE_LINE) continue;
    if (!is_metal_arc(contour, i - 1) || !is_metal_arc(contour, i + 1)) continue;
    add_straight(l, contour, i, right);
    add_iris(l, contour, right ? i - 1 : i + 1, right);
    if (!right) return;
    right = false;
  }
}

static bool make_leasts(leasts *l, const cavum_contour *contour, bool halves) {
  for (int i = 0; i < NUM_LEASTS; i++) {
    l->list[i] = cavum_alloc((int64_t)contour->num_curves * MOST_EXTREMES, sizeof *l->list[i]);
    if (!l->list[i]) return false;
  }
  for (cavum_index i = 0; i < contour->num_curves; i++) add_extremes(l, contour, i);
  if (halves) add_halves(l, contour);
  return true;
}

static double least_of(const leasts *l, int of) {
  double least = NAN;
  for (int i = 0; i < l->count[of]; i++) {
    double value = l->list[of][i].value;
    least = i == 0 ? value : cavum_min(least, value);
  }
  return least;
}

// A derivative, and the sum of the sizes of its terms.
typedef struct sized {
  double value, size;
} sized;

// Rate of the smallest value; NAN where those that are tied change differently.
static sized rate_of_least(const leasts *l, int of, const cavum_curve_rate *rates) {
  const sized none = {NAN, NAN};
  double least = least_of(l, of);
  sized rate = none;
  for (int i = 0; i < l->count[of]; i++) {
    const candidate *c = &l->list[of][i];
    double size = 0.0, own = cavum_curve_rates_dot(&size, &c->gradient, &rates[c->curve], 1);
    if (c->value > least + TIE * fabs(least)) continue;
    if (isnan(rate.value)) rate = (sized){own, size};
    if (fabs(own - rate.value) > TIE * (1.0 + size)) return none;
  }
  return rate;
}

// ---- together

static double total_length(const cavum_contour *contour) {
  double left = HUGE_VAL, right = -HUGE_VAL, t[MOST_EXTREMES];
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    int count = find_extremes(t, &contour->curves[i]);
    for (int k = 0; k < count; k++) {
      double z = cavum_curve_point(&contour->curves[i], t[k]).z_m;
      left = cavum_min(left, z);
      right = cavum_max(right, z);
    }
  }
  return right - left;
}

static void take_integrals(double *value, const integrals *in) {
  value[CAVUM_GEOMETRY_TOTAL_LENGTH] = total_length(in->contour);
  value[CAVUM_GEOMETRY_VOLUME] = in->volume;
  value[CAVUM_GEOMETRY_WALL_AREA] = in->area;
}

void cavum_geometry_measure_contour(double *value, const cavum_contour *contour) {
  integrals in = {.contour = contour};
  integrate_contour(&in);
  take_integrals(value, &in);
}

// Everything that derivatives are made of.
typedef struct gradients {
  const cavum_contour *contour;
  integrals in;             // its gradients are owned
  leasts least;             // owned
  cavum_curve_rate *rates;  // owned, shape [num_curves]
} gradients;

static void clear_gradients(gradients *g) {
  free(g->in.by_volume);
  free(g->in.by_area);
  free(g->rates);
  clear_leasts(&g->least);
}

static bool make_gradients(gradients *g, const cavum_contour *contour, bool halves) {
  g->contour = g->in.contour = contour;
  g->in.by_volume = cavum_alloc(contour->num_curves, sizeof *g->in.by_volume);
  g->in.by_area = cavum_alloc(contour->num_curves, sizeof *g->in.by_area);
  g->rates = cavum_alloc(contour->num_curves, sizeof *g->rates);
  if (!g->in.by_volume || !g->in.by_area || !g->rates) return false;
  integrate_contour(&g->in);
  return make_leasts(&g->least, contour, halves);
}

static sized rate_of_integral(const cavum_curve_rate *gradient, const gradients *g) {
  sized sum = {0.0, 0.0};
  for (cavum_index i = 0; i < g->contour->num_curves; i++) {
    double size;
    sum.value += cavum_curve_rates_dot(&size, &gradient[i], &g->rates[i], 1);
    sum.size += size;
  }
  return sum;
}

static sized rate_of_length(const gradients *g) {
  sized left = rate_of_least(&g->least, OF_LEFT_END, g->rates);
  sized right = rate_of_least(&g->least, OF_RIGHT_END, g->rates);
  return (sized){-left.value - right.value, left.size + right.size};
}

static sized rate_of(const gradients *g, int id) {
  if (id <= CAVUM_GEOMETRY_APERTURE_RADIUS) return rate_of_least(&g->least, id, g->rates);
  if (id == CAVUM_GEOMETRY_TOTAL_LENGTH) return rate_of_length(g);
  return rate_of_integral(id == CAVUM_GEOMETRY_VOLUME ? g->in.by_volume : g->in.by_area, g);
}

static cavum_status differentiate(double *slope, double *uncertainty, gradients *g,
                                  const cavum_cell *cell, const cavum_cell_dimension *dimension,
                                  cavum_error *error) {
  cavum_cell_rate other;
  bool smooth;
  for (int id = 0; id < CAVUM_GEOMETRY_ROOM; id++) slope[id] = uncertainty[id] = NAN;
  cavum_status status = cavum_cell_dimension_rate(g->rates, &other, &smooth, g->contour, cell,
                                                  CAVUM_PART_WHOLE, dimension, error);
  if (status != CAVUM_OK || !smooth) return status;
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    const sized rate = rate_of(g, id);
    slope[id] = rate.value;
    // The aperture is a stated number or nothing.
    uncertainty[id] = id == CAVUM_GEOMETRY_APERTURE_RADIUS ? 0.0 : ROUNDING * rate.size;
  }
  return CAVUM_OK;
}

static cavum_status fill_slopes(cavum_geometry *made, const cavum_contour *contour,
                                const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_cell_dimensions dimensions = {0};
  gradients g = {0};
  CAVUM_TRY(cavum_cell_dimensions_list(&dimensions, cell, error));
  int count = dimensions.count;
  made->dimensions = cavum_alloc(count, sizeof *made->dimensions);
  made->slope = cavum_alloc((int64_t)count * CAVUM_GEOMETRY_ROOM, sizeof *made->slope);
  made->slope_uncertainty =
      cavum_alloc((int64_t)count * CAVUM_GEOMETRY_ROOM, sizeof *made->slope_uncertainty);
  if (!made->dimensions || !made->slope || !made->slope_uncertainty ||
      !make_gradients(&g, contour, cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE)) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  made->num_dimensions = count;
  for (int i = 0; i < count; i++) {
    made->dimensions[i] = cavum_cell_dimension_describe(&dimensions.list[i]);
    int64_t at = (int64_t)i * CAVUM_GEOMETRY_ROOM;
    CAVUM_TRY(differentiate(made->slope + at, made->slope_uncertainty + at, &g, cell,
                            &dimensions.list[i], error));
  }
done:
  clear_gradients(&g);
  cavum_cell_dimensions_clear(&dimensions);
  return status;
}

cavum_status cavum_geometry_measure(cavum_geometry **geometry, const cavum_cell *given,
                                    bool derivatives, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_contour contour = {0};
  cavum_geometry *made = NULL;
  cavum_cell cell;
  if (!geometry || !given) return cavum_fail_null(error, __func__);
  CAVUM_TRY(cavum_sized_take(&cell, given, &cavum_cell_sized, error));
  CAVUM_TRY(cavum_cell_check(given, error));
  CAVUM_TRY(cavum_cell_whole_contour(&contour, &cell, CAVUM_PART_WHOLE, error));
  made = cavum_alloc(1, sizeof *made);
  if (!made) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_geometry_measure_halves(made->value, &cell, error));
  cavum_geometry_measure_contour(made->value, &contour);
  // An angle, which may be 0, is good to that of a right one; an aperture is as stated.
  for (int id = 0; id < CAVUM_GEOMETRY_ROOM; id++) {
    double size = id == CAVUM_GEOMETRY_WALL_ANGLE ? 1.0 : fabs(made->value[id]);
    made->uncertainty[id] = id == CAVUM_GEOMETRY_APERTURE_RADIUS ? 0.0 : ROUNDING * size;
  }
  if (derivatives) CAVUM_TRY(fill_slopes(made, &contour, &cell, error));
  *geometry = made;
  made = NULL;
done:
  cavum_geometry_destroy(&made);
  cavum_contour_clear(&contour);
  return status;
}
