// SPDX-License-Identifier: GPL-3.0-or-later
// Lengths, turns and nearest places of a wall from panels of its curves.
#include "survey/wall.h"

#include <math.h>

#include "base/base.h"

// A corner turns by more than this; less is the rounding of a drawing.
static const double CORNER_RAD = 1e-3;
// Feet this far beyond an end are still at it.
static const double END_M = 1e-9;
enum { NEWTON_STEPS = 8 };

// Gauss rule of four points on [0, 1].
static const double rule_at[4] = {0.069431844202973712, 0.33000947820757187, 0.66999052179242813,
                                  0.93056815579702629};
static const double rule_weight[4] = {0.17392742256872693, 0.32607257743127307, 0.32607257743127307,
                                      0.17392742256872693};

void cavum_survey_wall_clear(cavum_survey_wall *wall) {
  free(wall->curves);
  free(wall->run_length_m);
  free(wall->run_start_m);
  free(wall->ends);
  *wall = (cavum_survey_wall){0};
}

static double length_between(const cavum_curve *curve, double from, double to) {
  double sum = 0.0;
  for (int i = 0; i < 4; i++) {
    cavum_point d = cavum_curve_derivative(curve, from + rule_at[i] * (to - from));
    sum += rule_weight[i] * hypot(d.z_m, d.r_m);
  }
  return sum * (to - from);
}

static double turn_between(cavum_point a, cavum_point b) {
  return fabs(atan2(a.z_m * b.r_m - a.r_m * b.z_m, a.z_m * b.z_m + a.r_m * b.r_m));
}

static void measure(cavum_wall_curve *w, const cavum_curve *curve, double turned) {
  cavum_point was = cavum_curve_derivative(curve, 0.0);
  w->length_m[0] = 0.0;
  w->turned[0] = turned;
  w->sample[0] = curve->start;
  for (int i = 1; i <= CAVUM_WALL_PANELS; i++) {
    double from = (i - 1.0) / CAVUM_WALL_PANELS, to = (double)i / CAVUM_WALL_PANELS;
    cavum_point along = cavum_curve_derivative(curve, to);
    w->length_m[i] = w->length_m[i - 1] + length_between(curve, from, to);
    w->turned[i] = w->turned[i - 1] + turn_between(was, along);
    w->sample[i] = cavum_curve_point(curve, to);
    was = along;
  }
}

// The curve behind another one, in the order of travel.
static bool goes_on_smoothly(const cavum_contour *c, cavum_index before, cavum_index behind) {
  return turn_between(cavum_curve_derivative(&c->curves[before], 1.0),
                      cavum_curve_derivative(&c->curves[behind], 0.0)) <= CORNER_RAD;
}

// Curves are taken from behind one that is not of metal, so that no run is cut by the list's end.
static cavum_index first_behind_other(const cavum_contour *c) {
  for (cavum_index i = 0; i < c->num_curves; i++) {
    if (c->curves[i].boundary != CAVUM_BOUNDARY_METAL) return i;
  }
  return 0;
}

// A corner with something else than metal that is a right angle.
static bool is_level(const cavum_contour *c, cavum_index before, cavum_index behind) {
  static const double RIGHT_RAD = 0.5 * CAVUM_PI;
  if (c->curves[before].boundary == c->curves[behind].boundary) return false;
  double turn = turn_between(cavum_curve_derivative(&c->curves[before], 1.0),
                             cavum_curve_derivative(&c->curves[behind], 0.0));
  return fabs(turn - RIGHT_RAD) <= CORNER_RAD;
}

static void set_ends(cavum_survey_wall *wall) {
  const cavum_contour *c = &wall->drawing;
  cavum_index n = c->num_curves;
  for (int k = 0; k < wall->num_curves; k++) {
    const cavum_wall_curve *w = &wall->curves[k];
    cavum_wall_ends *ends = &wall->ends[w->run];
    if (w->start_m <= 0.0) ends->level_start = is_level(c, (w->curve + n - 1) % n, w->curve);
    ends->level_end = is_level(c, w->curve, (w->curve + 1) % n);
  }
}

static void take_curves(cavum_survey_wall *wall) {
  const cavum_contour *c = &wall->drawing;
  cavum_index first = first_behind_other(c), last = -1;
  for (cavum_index k = 0; k < c->num_curves; k++) {
    cavum_index i = (first + k) % c->num_curves;
    if (c->curves[i].boundary != CAVUM_BOUNDARY_METAL) continue;
    bool on = last >= 0 && (last + 1) % c->num_curves == i && goes_on_smoothly(c, last, i);
    cavum_wall_curve *w = &wall->curves[wall->num_curves++];
    const cavum_wall_curve *before = w - 1;
    if (!on) wall->num_runs++;
    w->curve = i;
    w->run = wall->num_runs - 1;
    w->start_m = on ? before->start_m + before->length_m[CAVUM_WALL_PANELS] : 0.0;
    measure(w, &c->curves[i], on ? before->turned[CAVUM_WALL_PANELS] : 0.0);
    wall->run_length_m[w->run] = w->start_m + w->length_m[CAVUM_WALL_PANELS];
    last = i;
  }
  for (int i = 1; i < wall->num_runs; i++) {
    wall->run_start_m[i] = wall->run_start_m[i - 1] + wall->run_length_m[i - 1];
  }
}

cavum_status cavum_survey_wall_make(cavum_survey_wall *wall, const cavum_contour *drawing,
                                    cavum_error *error) {
  cavum_survey_wall made = {.drawing = *drawing};
  cavum_index n = drawing->num_curves;
  made.curves = cavum_alloc(n, sizeof *made.curves);
  made.run_length_m = cavum_alloc(n, sizeof *made.run_length_m);
  made.run_start_m = cavum_alloc(n, sizeof *made.run_start_m);
  made.ends = cavum_alloc(n, sizeof *made.ends);
  if (!made.curves || !made.run_length_m || !made.run_start_m || !made.ends) {
    cavum_survey_wall_clear(&made);
    return cavum_fail_memory(error);
  }
  take_curves(&made);
  set_ends(&made);
  if (made.num_curves == 0) {
    cavum_survey_wall_clear(&made);
    return cavum_fail(error, CAVUM_ERR_GEOMETRY, "the drawing has no metal that could be measured");
  }
  *wall = made;
  return CAVUM_OK;
}

double cavum_survey_wall_along(const cavum_survey_wall *wall, int curve, double t) {
  const cavum_wall_curve *w = &wall->curves[curve];
  int panel = (int)(t * CAVUM_WALL_PANELS);
  panel = panel < 0 ? 0 : panel >= CAVUM_WALL_PANELS ? CAVUM_WALL_PANELS - 1 : panel;
  double from = (double)panel / CAVUM_WALL_PANELS;
  const cavum_curve *c = &wall->drawing.curves[w->curve];
  return w->start_m + w->length_m[panel] + length_between(c, from, t);
}

cavum_point cavum_survey_wall_place(double *turned, const cavum_survey_wall *wall, int run,
                                    double along_m) {
  int k = -1;
  for (int i = 0; i < wall->num_curves; i++) {
    if (wall->curves[i].run == run && (k < 0 || wall->curves[i].start_m <= along_m)) k = i;
  }
  const cavum_wall_curve *w = &wall->curves[k];
  double rest = along_m - w->start_m;
  int panel = 0;
  while (panel < CAVUM_WALL_PANELS - 1 && w->length_m[panel + 1] < rest) panel++;
  double part = (rest - w->length_m[panel]) / (w->length_m[panel + 1] - w->length_m[panel]);
  part = cavum_max(0.0, cavum_min(1.0, part));
  if (turned) *turned = w->turned[panel] + part * (w->turned[panel + 1] - w->turned[panel]);
  return cavum_curve_point(&wall->drawing.curves[w->curve], (panel + part) / CAVUM_WALL_PANELS);
}

static void find_nearest_sample(int *curve, int *sample, const cavum_survey_wall *wall, double z,
                                double r) {
  double nearest = INFINITY;
  for (int i = 0; i < wall->num_curves; i++) {
    for (int k = 0; k <= CAVUM_WALL_PANELS; k++) {
      double dz = wall->curves[i].sample[k].z_m - z, dr = wall->curves[i].sample[k].r_m - r;
      if (dz * dz + dr * dr >= nearest) continue;
      nearest = dz * dz + dr * dr;
      *curve = i;
      *sample = k;
    }
  }
}

// The parameter where the line to the point is normal to the curve, which may be beyond its ends.
static double solve_normal(const cavum_curve *c, double t, double z, double r) {
  for (int i = 0; i < NEWTON_STEPS; i++) {
    cavum_point p, d, dd = cavum_curve_second_derivative(c, t);
    cavum_curve_at(&p, &d, c, t);
    double f = (p.z_m - z) * d.z_m + (p.r_m - r) * d.r_m;
    double square = d.z_m * d.z_m + d.r_m * d.r_m;
    double slope = square + (p.z_m - z) * dd.z_m + (p.r_m - r) * dd.r_m;
    if (!(slope > 0.1 * square)) slope = square;
    double next = cavum_max(0.0, cavum_min(1.0, t - f / slope));
    if (fabs(next - t) < 1e-15) break;
    t = next;
  }
  return t;
}

static cavum_foot foot_on(const cavum_survey_wall *wall, int curve, double t, double z, double r) {
  const cavum_curve *c = &wall->drawing.curves[wall->curves[curve].curve];
  cavum_foot foot = {.curve = curve, .run = wall->curves[curve].run};
  cavum_point p, d;
  foot.t = solve_normal(c, t, z, r);
  cavum_curve_at(&p, &d, c, foot.t);
  double speed = hypot(d.z_m, d.r_m);
  foot.normal_z = d.r_m / speed;
  foot.normal_r = -d.z_m / speed;
  foot.distance_m = (z - p.z_m) * foot.normal_z + (r - p.r_m) * foot.normal_r;
  foot.along_m = cavum_survey_wall_along(wall, curve, foot.t);
  double aside = ((z - p.z_m) * d.z_m + (r - p.r_m) * d.r_m) / speed;
  foot.beyond = fabs(aside) > END_M;
  return foot;
}

cavum_foot cavum_survey_wall_foot(const cavum_survey_wall *wall, double z_m, double r_m) {
  int curve = 0, sample = 0;
  find_nearest_sample(&curve, &sample, wall, z_m, r_m);
  double t = (double)sample / CAVUM_WALL_PANELS;
  cavum_foot foot = foot_on(wall, curve, t, z_m, r_m);
  if (!foot.beyond) return foot;
  // The neighbour in the same run, or of a corner, may have it.
  for (int side = -1; side <= 1; side += 2) {
    int next = curve + side;
    if (next < 0 || next >= wall->num_curves) continue;
    cavum_foot other = foot_on(wall, next, side < 0 ? 1.0 : 0.0, z_m, r_m);
    if (!other.beyond) return other;
  }
  return foot;
}
