// SPDX-License-Identifier: GPL-3.0-or-later
// What metal removed from the wall does, as a band behind the wall. Each sign has an ink, and both
// have one scale: equal depths of colour are equal sizes. The depth goes as the square root: where
// a nose is at full electric field, the rest of the wall still shows what it does.
#include "picture/wall_band.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/ticks.h"
#include "picture/wall_values.h"

// The band keeps this share of the metal behind the wall, and is at least so wide, in points.
static const double SHARE_OF_METAL = 0.45, LEAST_WIDTH = 3.0;
// Steps of the colour of a sign, from the least tint that is told from paper beside the wall.
enum { STEPS = 24 };
static const double LEAST_TINT = 0.3;
// Less than a hundredth of the scale, a tenth of its depth, has no colour: it may be noise.
static const double LEAST_DEPTH = 0.1;
// Strokes of the hatch where nothing is known, from one to the next, in points.
static const double HATCH_STEP = 3.5, HATCH_WIDTH = 0.6;
// Neighbouring points of one wall are about as far apart as their arc lengths.
static const double GAP_RATIO = 1.5;
// Squares of walls that take part in the search for thin metal, in points.
static const double LEAST_STEP = 1.5;

// A point of the wall on the page, with the way into the metal.
typedef struct band_point {
  double x, y, nx, ny, value;  // value: depth of colour, with the sign
  bool goes_on, known;         // to the next point
} band_point;

typedef struct band {
  int count;
  band_point *points;  // owned
  double width;
} band;

cavum_status cavum_wall_band_check(const cavum_scene *scene, cavum_picture_along_wall what,
                                   cavum_error *error) {
  const cavum_wall_density *d = &scene->mode->wall_density;
  if (what == CAVUM_ALONG_WALL_NOTHING || cavum_wall_values_of(scene->mode, what)) return CAVUM_OK;
  if (d->num_points == 0) {
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "the result has no densities along the wall to draw: it has no metal wall, or "
        "was solved by an earlier version");
  }
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "the result has no density of %s along the wall: solve with --derivatives",
                    what == CAVUM_ALONG_WALL_R_OVER_Q ? "R/Q" : "G");
}

// The width at which the band stays clear of the wall behind the metal and of the axis.
static double fit_width(const band *b, double axis_y) {
  double width = CAVUM_WALL_BAND_WIDTH;
  for (int i = 0; i < b->count; i++) {
    const band_point *p = &b->points[i];
    for (int k = 0; k < b->count; k++) {
      const band_point *q = &b->points[k];
      // What is nearly straight behind, and faces the other way.
      double dx = q->x - p->x, dy = q->y - p->y, behind = dx * p->nx + dy * p->ny;
      double aside = fabs(dx * p->ny - dy * p->nx);
      if (behind < LEAST_STEP || aside > behind || p->nx * q->nx + p->ny * q->ny > 0.0) continue;
      width = cavum_min(width, SHARE_OF_METAL * behind);
    }
    double to_axis = p->ny != 0.0 ? (axis_y - p->y) / p->ny : -1.0;
    if (to_axis > LEAST_STEP) width = cavum_min(width, SHARE_OF_METAL * to_axis);
  }
  return cavum_max(width, LEAST_WIDTH);
}

static double depth_of(double value, double most) {
  return most > 0.0 ? copysign(sqrt(fabs(value) / most), value) : 0.0;
}

static cavum_status fill_band(band *b, const cavum_scene *scene, const cavum_field_frame *frame,
                              const cavum_wall_values *v, cavum_error *error) {
  const cavum_wall_density *d = &scene->mode->wall_density;
  double down = frame->flipped ? 1.0 : -1.0;
  b->points = cavum_alloc(d->num_points, sizeof *b->points);
  if (!b->points) return cavum_fail_memory(error);
  b->count = d->num_points;
  for (int i = 0; i < b->count; i++) {
    // Where the scales of z and r differ the page has its own normal.
    double nx = d->normal_z[i] / frame->scale_z, ny = down * d->normal_r[i] / frame->scale_r;
    double length = hypot(nx, ny);
    b->points[i] = (band_point){.x = frame->x0 + d->z_m[i] * frame->scale_z,
                                .y = frame->y0 + down * d->r_m[i] * frame->scale_r,
                                .nx = nx / length,
                                .ny = ny / length,
                                .value = depth_of(v->values[i], v->scale),
                                .known = v->known[i]};
    if (i == 0) continue;
    double apart = hypot(d->z_m[i] - d->z_m[i - 1], d->r_m[i] - d->r_m[i - 1]);
    b->points[i - 1].goes_on =
        apart <= GAP_RATIO * (d->arc_length_m[i] - d->arc_length_m[i - 1]) + 1e-9;
  }
  b->width = fit_width(b, frame->y0);
  return CAVUM_OK;
}

typedef struct corner {
  double x, y;
} corner;

static double area_of(const corner c[4]) {
  double sum = 0.0;
  for (int i = 0; i < 4; i++) {
    const corner *a = &c[i], *z = &c[(i + 1) % 4];
    sum += a->x * z->y - z->x * a->y;
  }
  return sum;
}

// A piece between two points; all turn the same way round, so that pieces that overlap add up.
static void add_piece(cavum_canvas *canvas, const band *b, int i) {
  const band_point *p = &b->points[i], *q = &b->points[i + 1];
  const corner c[4] = {{p->x, p->y},
                       {q->x, q->y},
                       {q->x + b->width * q->nx, q->y + b->width * q->ny},
                       {p->x + b->width * p->nx, p->y + b->width * p->ny}};
  bool turned = area_of(c) < 0.0;
  for (int k = 0; k < 4; k++) {
    const corner *at = &c[turned ? 3 - k : k];
    if (k == 0) cavum_canvas_move(canvas, at->x, at->y);
    if (k > 0) cavum_canvas_line(canvas, at->x, at->y);
  }
  cavum_canvas_close(canvas);
}

static cavum_ink ink_of(double sign) { return sign > 0.0 ? CAVUM_INK_FIRST : CAVUM_INK_SECOND; }

// Step of a depth of colour: 1 to STEPS, negative where the depth is.
static int step_of_depth(double depth) {
  int step = 1 + (int)cavum_min(fabs(depth) * STEPS, STEPS - 1.0);
  return depth < 0.0 ? -step : step;
}

// Of the piece behind a point; 0: none.
static int step_of(const band *b, int i) {
  const band_point *p = &b->points[i], *q = &b->points[i + 1];
  double depth = 0.5 * (p->value + q->value);
  return p->known && q->known && fabs(depth) >= LEAST_DEPTH ? step_of_depth(depth) : 0;
}

// Of an ink on paper.
static uint32_t tint(cavum_ink ink, double share) {
  uint32_t full = cavum_ink_colour(ink, false), paper = cavum_ink_colour(CAVUM_INK_PAPER, false);
  uint32_t mixed = 0;
  for (unsigned shift = 0; shift < 24; shift += 8) {
    double of_ink = (double)((full >> shift) & 0xffu),
           of_paper = (double)((paper >> shift) & 0xffu);
    mixed |= (uint32_t)lround(of_paper + share * (of_ink - of_paper)) << shift;
  }
  return mixed;
}

static uint32_t colour_of_step(int step) {
  double share = LEAST_TINT + (1.0 - LEAST_TINT) * (abs(step) - 1.0) / (STEPS - 1.0);
  return tint(ink_of(step), share);
}

// Strokes through the band where nothing is known.
static void draw_hatch(cavum_canvas *canvas, const band *b) {
  double since = HATCH_STEP;
  bool any = false;
  for (int i = 0; i + 1 < b->count; i++) {
    const band_point *p = &b->points[i], *q = &b->points[i + 1];
    if (!p->goes_on || (p->known && q->known)) continue;
    double length = hypot(q->x - p->x, q->y - p->y), at = HATCH_STEP - since;
    for (; at < length; at += HATCH_STEP) {
      double x = p->x + (q->x - p->x) * at / length, y = p->y + (q->y - p->y) * at / length;
      // Aslant: as far along the wall as into the metal.
      cavum_canvas_move(canvas, x, y);
      cavum_canvas_line(canvas, x + b->width * (p->nx + 0.5 * p->ny),
                        y + b->width * (p->ny - 0.5 * p->nx));
      any = true;
    }
    since = length - (at - HATCH_STEP);
  }
  if (any) cavum_canvas_stroke(canvas, CAVUM_INK_FRAME, HATCH_WIDTH, CAVUM_DASH_NONE);
}

cavum_status cavum_wall_band_draw(cavum_canvas *canvas, const cavum_scene *scene,
                                  const cavum_field_frame *frame, cavum_picture_along_wall what,
                                  cavum_error *error) {
  cavum_wall_values values;
  band b = {0};
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_wall_values_take(&values, scene, what, error));
  if (!values.values) goto done;
  CAVUM_TRY(fill_band(&b, scene, frame, &values, error));
  for (int step = -STEPS; step <= STEPS; step++) {
    bool any = false;
    for (int i = 0; step != 0 && i + 1 < b.count; i++) {
      if (!b.points[i].goes_on || step_of(&b, i) != step) continue;
      add_piece(canvas, &b, i);
      any = true;
    }
    if (any) cavum_canvas_fill_colour(canvas, colour_of_step(step));
  }
  if (values.has_gaps) draw_hatch(canvas, &b);
done:
  free(b.points);
  cavum_wall_values_clear(&values);
  return status;
}

// From SI at one joule to what the key shows, and its words.
typedef struct band_words {
  double factor;
  const char *more, *less, *unit;
} band_words;

static band_words words_of(const cavum_scene *scene, cavum_picture_along_wall what) {
  // Per micrometre and square centimetre.
  const double per_volume = cavum_from_unit(1.0, CAVUM_UNIT_UM) * 1e-4;
  double per_gradient = cavum_from_unit(1.0, CAVUM_UNIT_MV_PER_M) * scene->e_factor;
  switch (what) {
    case CAVUM_ALONG_WALL_FREQUENCY:
      return (band_words){per_volume, "metal removed raises f", "metal removed lowers f",
                          "Hz per \xc2\xb5m and cm\xc2\xb2"};
    case CAVUM_ALONG_WALL_GEOMETRY_FACTOR:
      return (band_words){cavum_in_unit(per_volume, CAVUM_UNIT_MICROOHM), "metal removed raises G",
                          "metal removed lowers G",
                          "\xc2\xb5\xce\xa9 per \xc2\xb5m and cm\xc2\xb2"};
    case CAVUM_ALONG_WALL_R_OVER_Q:
      return (band_words){cavum_in_unit(per_volume, CAVUM_UNIT_MICROOHM),
                          "metal removed raises R/Q", "metal removed lowers R/Q",
                          "\xc2\xb5\xce\xa9 per \xc2\xb5m and cm\xc2\xb2"};
    case CAVUM_ALONG_WALL_PRESSURE:
    case CAVUM_ALONG_WALL_NOTHING:
      break;
  }
  return (band_words){scene->per_gradient ? per_gradient * per_gradient : 1.0,
                      "radiation pressure outwards", "radiation pressure inwards",
                      scene->per_gradient ? "Pa at 1 MV/m" : "Pa at 1 J"};
}

// The key of a sign: as dark as the band is at its largest.
static void add_sign(cavum_flow *flow, const cavum_scene *scene, const cavum_wall_values *v,
                     const band_words *words, int k) {
  char value[24], text[160];
  double depth = depth_of((k == 0 ? 1.0 : -1.0) * v->largest[k], v->scale);
  bool shown = fabs(depth) >= LEAST_DEPTH;
  bool goes_on = cavum_scene_e_goes_on_at_wall(scene);
  if (!(v->largest[k] > 0.0)) return;
  cavum_ticks_format(value, words->factor * v->largest[k], 3);
  snprintf(text, sizeof text, "%s, %s%s\xc2\xa0%s%s%s", k == 0 ? words->more : words->less,
           goes_on ? "" : "up to ", value, words->unit, goes_on ? " and more" : "",
           shown ? "" : ": too little for a colour");
  if (shown) cavum_flow_add_colour(flow, text, colour_of_step(step_of_depth(depth)));
  if (!shown) cavum_flow_add_text(flow, text);
}

// Every reason that there is on this wall, and none that there is not.
static void write_gaps(char *text, size_t size, const cavum_wall_gaps *gaps) {
  bool no_limit = gaps->at_axis || gaps->at_corner;
  snprintf(text, size, "hatched: uncertain by more than a tenth; %s%s%s%s%s%s",
           no_limit ? "unbounded where metal " : "", gaps->at_axis ? "meets the axis" : "",
           gaps->at_axis && gaps->at_corner ? " or " : "", gaps->at_corner ? "is sharp" : "",
           no_limit && gaps->of_mesh ? ", and elsewhere " : "",
           gaps->of_mesh ? "the elements are too coarse" : "");
  if (gaps->one_degree) {
    snprintf(text, size, "hatched: uncertainty not known, since one degree alone was solved");
  }
}

cavum_status cavum_wall_band_add_keys(cavum_flow *flow, const cavum_scene *scene,
                                      cavum_picture_along_wall what, cavum_error *error) {
  cavum_wall_values values;
  cavum_status status = cavum_wall_values_take(&values, scene, what, error);
  band_words words = words_of(scene, what);
  if (status != CAVUM_OK || !values.values) goto done;
  for (int k = 0; k < 2; k++) add_sign(flow, scene, &values, &words, k);
  if (values.largest[0] > 0.0 && values.largest[1] > 0.0) {
    cavum_flow_add_text(flow,
                        "one scale for both, depth of colour as the square root, none below 1 %");
  } else if (values.scale > 0.0) {
    cavum_flow_add_text(flow, "depth of colour as the square root, none below 1 %");
  }
  if (values.has_gaps) {
    char text[160];
    write_gaps(text, sizeof text, &values.gaps);
    cavum_flow_add_text(flow, text);
  }
done:
  cavum_wall_values_clear(&values);
  return status;
}
