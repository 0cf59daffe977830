// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives of a two-ellipse contour. The pieces are walked through in the order in which
// two_ellipse.c appends them.
#include "contour/two_ellipse_rate.h"

#include <math.h>

// A common tangent whose condition is this flat at its root, relative, is that of touching
// ellipses.
static const double FLAT = 1e-7;

// The contour as far as it was walked.
typedef struct walk {
  const cavum_contour *contour;
  cavum_curve_rate *rates;
  cavum_index at;
  bool fits;  // the pieces so far were those that were expected
} walk;

// Velocities of the points of a half, in its own frame, and what its arcs are.
typedef struct half_rates {
  double sign;
  const cavum_half_cell *rate;
  cavum_point iris, iris_joint, equator_joint, equator;
  cavum_point near, far, axis;  // of the tube, or of the iris plane
} half_rates;

// The slope m of a half, from the eccentric angle atan2(B m, A) at which its equator arc ends on
// the tangent; arcs come as iris, equator, equator, iris.
static bool find_slope(double *m, const cavum_contour *contour, const cavum_half_cell *h,
                       double sign) {
  int arcs = 0;
  for (cavum_index k = 0; k < contour->num_curves; k++) {
    const cavum_curve *curve = &contour->curves[k];
    if (curve->kind != CAVUM_CURVE_ELLIPSE || ++arcs != (sign > 0.0 ? 2 : 3)) continue;
    double angle = sign > 0.0 ? curve->angle_start_rad : curve->angle_end_rad;
    *m = sign * tan(angle) * h->equator_axial_m / h->equator_radial_m;
    return true;
  }
  return false;
}

static bool find_tangent_points(half_rates *out, const cavum_contour *contour,
                                const cavum_half_cell *h, const cavum_half_cell *d) {
  double m, A = h->equator_axial_m, B = h->equator_radial_m;
  if (!find_slope(&m, contour, h, out->sign)) return false;
  double a = h->iris_axial_m, b = h->iris_radial_m, E = sqrt(A * A + B * B * m * m);
  double I = sqrt(a * a + b * b * m * m);
  double rise = h->iris_radius_m + b - h->equator_radius_m + B;
  double slope = rise - B * B * m / E - b * b * m / I;
  double change =
      d->half_length_m +
      m * (d->iris_radius_m + d->iris_radial_m - d->equator_radius_m + d->equator_radial_m) -
      (A * d->equator_axial_m + B * m * m * d->equator_radial_m) / E -
      (a * d->iris_axial_m + b * m * m * d->iris_radial_m) / I;
  if (!(slope < -FLAT * h->equator_radius_m)) return false;
  double m_rate = -change / slope;
  double E_rate = (A * d->equator_axial_m + B * m * (d->equator_radial_m * m + B * m_rate)) / E;
  double I_rate = (a * d->iris_axial_m + b * m * (d->iris_radial_m * m + b * m_rate)) / I;
  out->equator_joint = (cavum_point){
      (2.0 * A * d->equator_axial_m - A * A * E_rate / E) / E,
      d->equator_radius_m - d->equator_radial_m +
          (2.0 * B * d->equator_radial_m * m + B * B * m_rate - B * B * m * E_rate / E) / E};
  out->iris_joint = (cavum_point){
      d->half_length_m - (2.0 * a * d->iris_axial_m - a * a * I_rate / I) / I,
      d->iris_radius_m + d->iris_radial_m -
          (2.0 * b * d->iris_radial_m * m + b * b * m_rate - b * b * m * I_rate / I) / I};
  return true;
}

static half_rates make_half(bool *fits, const cavum_contour *contour, const cavum_half_cell *half,
                            const cavum_end *end, const cavum_half_cell *rate,
                            const cavum_end *end_rate, double sign) {
  half_rates out = {.sign = sign,
                    .rate = rate,
                    .iris = {rate->half_length_m, rate->iris_radius_m},
                    .equator = {0.0, rate->equator_radius_m}};
  *fits = find_tangent_points(&out, contour, half, rate) && *fits;
  double far = rate->half_length_m;
  if (end->kind == CAVUM_END_TUBE) {
    far += end_rate->tube_length_m;
    out.near = (cavum_point){rate->half_length_m, end_rate->tube_radius_m};
    out.far = (cavum_point){far, end_rate->tube_radius_m};
  }
  out.axis = (cavum_point){far, 0.0};
  return out;
}

static cavum_point place(const half_rates *half, cavum_point velocity) {
  return (cavum_point){half->sign * velocity.z_m, velocity.r_m};
}

static cavum_curve_rate *next(walk *w, const cavum_curve **curve, cavum_curve_kind kind) {
  if (w->at >= w->contour->num_curves || w->contour->curves[w->at].kind != kind) {
    w->fits = false;
    return NULL;
  }
  *curve = &w->contour->curves[w->at];
  return &w->rates[w->at++];
}

// From one point of a half to another, outer first at the right and last at the left.
static void walk_line(walk *w, const half_rates *half, cavum_point outer, cavum_point inner) {
  const cavum_curve *curve;
  cavum_curve_rate *rate = next(w, &curve, CAVUM_CURVE_LINE);
  bool right = half->sign > 0.0;
  if (!rate) return;
  *rate = (cavum_curve_rate){.start = place(half, right ? outer : inner),
                             .end = place(half, right ? inner : outer)};
}

static void walk_arc(walk *w, const half_rates *half, cavum_point outer, cavum_point inner,
                     cavum_point centre, double axial, double radial) {
  const cavum_curve *curve;
  cavum_curve_rate *rate = next(w, &curve, CAVUM_CURVE_ELLIPSE);
  bool right = half->sign > 0.0;
  if (!rate) return;
  *rate = (cavum_curve_rate){.start = place(half, right ? outer : inner),
                             .end = place(half, right ? inner : outer),
                             .centre = place(half, centre),
                             .axial_m = axial,
                             .radial_m = radial};
  cavum_curve_rate_set_angles(rate, curve);
}

static void walk_iris(walk *w, const half_rates *half) {
  const cavum_half_cell *d = half->rate;
  cavum_point centre = {d->half_length_m, d->iris_radius_m + d->iris_radial_m};
  walk_arc(w, half, half->iris, half->iris_joint, centre, d->iris_axial_m, d->iris_radial_m);
}

static void walk_equator(walk *w, const half_rates *half) {
  const cavum_half_cell *d = half->rate;
  cavum_point centre = {0.0, d->equator_radius_m - d->equator_radial_m};
  walk_arc(w, half, half->equator_joint, half->equator, centre, d->equator_axial_m,
           d->equator_radial_m);
}

static void walk_wall(walk *w, const half_rates *half) {
  bool right = half->sign > 0.0;
  if (right) walk_iris(w, half);
  if (!right) walk_equator(w, half);
  walk_line(w, half, half->iris_joint, half->equator_joint);
  if (right) walk_equator(w, half);
  if (!right) walk_iris(w, half);
}

// The end at the right; whether the tube has a step shows in what follows it.
static void walk_right_end(walk *w, const half_rates *half, bool tube) {
  if (!tube) {
    walk_line(w, half, half->axis, half->iris);
    return;
  }
  walk_line(w, half, half->axis, half->far);
  walk_line(w, half, half->far, half->near);
  if (w->at >= w->contour->num_curves) return;
  if (w->contour->curves[w->at].kind == CAVUM_CURVE_LINE)
    walk_line(w, half, half->near, half->iris);
}

static void walk_left_end(walk *w, const half_rates *half, bool tube) {
  if (!tube) {
    walk_line(w, half, half->axis, half->iris);
    return;
  }
  if (w->contour->num_curves - w->at == 3) walk_line(w, half, half->near, half->iris);
  walk_line(w, half, half->far, half->near);
  walk_line(w, half, half->axis, half->far);
}

bool cavum_two_ellipse_rate(cavum_curve_rate *rates, const cavum_contour *contour,
                            const cavum_cell *cell, cavum_cell_part part,
                            const cavum_two_ellipse_way *way) {
  walk w = {.contour = contour, .rates = rates, .fits = true};
  bool whole = part == CAVUM_PART_WHOLE;
  half_rates left = {.sign = -1.0};
  half_rates right = make_half(&w.fits, contour, &cell->right, &cell->right_end, &way->right,
                               &way->right_end, 1.0);
  if (whole) {
    left =
        make_half(&w.fits, contour, &cell->left, &cell->left_end, &way->left, &way->left_end, -1.0);
  }
  if (!w.fits || contour->num_curves < 1) return false;
  rates[w.at++] = (cavum_curve_rate){.start = whole ? place(&left, left.axis) : (cavum_point){0},
                                     .end = right.axis};
  walk_right_end(&w, &right, cell->right_end.kind == CAVUM_END_TUBE);
  walk_wall(&w, &right);
  if (whole) {
    walk_wall(&w, &left);
    walk_left_end(&w, &left, cell->left_end.kind == CAVUM_END_TUBE);
  } else if (w.at < contour->num_curves) {  // the equator plane
    rates[w.at++] = (cavum_curve_rate){.start = right.equator};
  }
  return w.fits && w.at == contour->num_curves;
}
