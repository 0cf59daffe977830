// SPDX-License-Identifier: GPL-3.0-or-later
// Mirror images and other starting points of the same outline are brought to one canonical form, so
// that choices between equals fall the same way for all of them.
#include "mesher/canonical.h"

#include "base/base.h"
#include "contour/parallel.h"

// Lean of an outline, and differences of coordinates over its extent, that count as none.
static const double NO_LEAN = 1e-7, NO_DIFFERENCE = 1e-9;
enum { SAMPLES = 8 };

// Third moment of z along the outline over its length and width: its sign tells left from right.
static double lean_of(double *extent, const cavum_contour *contour) {
  double length = 0.0, moment = 0.0, low = INFINITY, high = -INFINITY, top = 0.0;
  for (int pass = 0; pass < 2; pass++) {
    double centre = pass == 0 ? 0.0 : moment / length, sum = 0.0;
    length = 0.0;
    for (cavum_index c = 0; c < contour->num_curves; c++) {
      cavum_point a = contour->curves[c].start;
      for (int i = 1; i <= SAMPLES; i++) {
        cavum_point b = cavum_curve_point(&contour->curves[c], (double)i / SAMPLES);
        double step = hypot(b.z_m - a.z_m, b.r_m - a.r_m);
        double z = 0.5 * (a.z_m + b.z_m) - centre;
        sum += step * (pass == 0 ? z : z * z * z);
        length += step;
        low = cavum_min(low, b.z_m), high = cavum_max(high, b.z_m);
        top = cavum_max(top, b.r_m);
        a = b;
      }
    }
    moment = sum;
  }
  *extent = cavum_max(high - low, top);
  return moment / (length * *extent * *extent * *extent);
}

// p(1 - t) with p = c0 + c1 t + c2 t^2 + c3 t^3, expanded in t.
static void mirror_cubic(cavum_point out[4], const cavum_point c[4]) {
  out[0] = (cavum_point){-(c[0].z_m + c[1].z_m + c[2].z_m + c[3].z_m),
                         c[0].r_m + c[1].r_m + c[2].r_m + c[3].r_m};
  out[1] = (cavum_point){c[1].z_m + 2.0 * c[2].z_m + 3.0 * c[3].z_m,
                         -(c[1].r_m + 2.0 * c[2].r_m + 3.0 * c[3].r_m)};
  out[2] = (cavum_point){-(c[2].z_m + 3.0 * c[3].z_m), c[2].r_m + 3.0 * c[3].r_m};
  out[3] = (cavum_point){c[3].z_m, -c[3].r_m};
}

// Run backwards, a mirror image has the domain on its left again: the layers of a parallel, which
// stand in members that its base does not use, stay what they are.
static cavum_curve mirror_curve(const cavum_curve *in) {
  cavum_curve out = *in;
  out.start = (cavum_point){-in->end.z_m, in->end.r_m};
  out.end = (cavum_point){-in->start.z_m, in->start.r_m};
  if (cavum_curve_is_of_ellipse(in)) {
    out.centre.z_m = -in->centre.z_m;
    out.angle_start_rad = CAVUM_PI - in->angle_end_rad;
    out.angle_end_rad = CAVUM_PI - in->angle_start_rad;
  }
  if (cavum_curve_is_of_cubic(in)) mirror_cubic(out.cubic, in->cubic);
  return out;
}

static cavum_index lowest_junction(const cavum_curve *curves, cavum_index count, double extent) {
  cavum_index best = 0;
  double small = NO_DIFFERENCE * extent;
  for (cavum_index c = 1; c < count; c++) {
    cavum_point here = curves[c].start, there = curves[best].start;
    bool lower = here.r_m < there.r_m - small;
    bool same_radius = fabs(here.r_m - there.r_m) <= small;
    if (lower || (same_radius && here.z_m < there.z_m - small)) best = c;
  }
  return best;
}

cavum_status cavum_canonical_choose(cavum_canonical *canonical, cavum_contour *inside,
                                    const cavum_contour *contour, cavum_error *error) {
  cavum_index n = contour->num_curves;
  double extent;
  cavum_curve *turned = cavum_alloc(n, sizeof *turned);
  cavum_curve *curves = cavum_alloc(n, sizeof *curves);
  if (!turned || !curves) {
    free(turned);
    free(curves);
    return cavum_fail_memory(error);
  }
  *canonical = (cavum_canonical){.mirrored = lean_of(&extent, contour) < -NO_LEAN, .num_curves = n};
  for (cavum_index c = 0; c < n; c++) {
    turned[c] =
        canonical->mirrored ? mirror_curve(&contour->curves[n - 1 - c]) : contour->curves[c];
  }
  canonical->first = lowest_junction(turned, n, extent);
  for (cavum_index c = 0; c < n; c++) curves[c] = turned[(c + canonical->first) % n];
  free(turned);
  *inside = (cavum_contour){n, curves};
  return CAVUM_OK;
}

static cavum_index given_curve(const cavum_canonical *canonical, cavum_index curve) {
  if (curve < 0) return -1;
  cavum_index turned = (curve + canonical->first) % canonical->num_curves;
  return canonical->mirrored ? canonical->num_curves - 1 - turned : turned;
}

static void turn_quad(cavum_quad *quad) {
  cavum_quad old = *quad;
  for (int k = 0; k < 4; k++) {
    quad->vertex[k] = old.vertex[(4 - k) % 4];
    quad->curve[k] = old.curve[3 - k];
    quad->t[k][0] = 1.0 - old.t[3 - k][1];
    quad->t[k][1] = 1.0 - old.t[3 - k][0];
  }
}

void cavum_canonical_restore(cavum_quads *quads, const cavum_canonical *canonical,
                             const cavum_contour *contour) {
  quads->contour = contour;
  for (cavum_index v = 0; canonical->mirrored && v < quads->num_vertices; v++) {
    quads->vertices[v].z_m = -quads->vertices[v].z_m;
  }
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    cavum_quad *quad = &quads->quads[q];
    for (int k = 0; k < 4; k++) quad->curve[k] = given_curve(canonical, quad->curve[k]);
    if (canonical->mirrored) turn_quad(quad);
    for (int k = 0; k < 4; k++) {
      if (quad->curve[k] < 0) continue;
      const cavum_curve *curve = &contour->curves[quad->curve[k]];
      quads->vertices[quad->vertex[k]] = cavum_curve_point(curve, quad->t[k][0]);
      quads->vertices[quad->vertex[(k + 1) % 4]] = cavum_curve_point(curve, quad->t[k][1]);
    }
  }
}
