// SPDX-License-Identifier: GPL-3.0-or-later
// A free wall is a goal like any other: a path cell and the text of a goal file, both written here.
// Points of a half are equally spaced in the mean of two measures, the length of the wall and the
// angle that it turns by, so that the tightly bent iris has enough of them.
#include "optimum/free_wall.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/cell_text.h"
#include "cell/cell.h"
#include "yaml/writer.h"

enum { PIECES = 400 /**< Of a curve, for its measures. */ };

/** A point of the wall with its outward normal, in mm. */
typedef struct wall_point {
  double z, r, normal_z, normal_r;
} wall_point;

/** The wall of the best shape. */
typedef struct base_wall {
  cavum_cell cell;                              // owned
  cavum_contour contour;                        // owned, whole
  cavum_index first, last;                      // curves of the wall from iris to iris
  cavum_index equator;                          // the curve that begins at the equator
  bool mirrored;                                // halves agree
  int num_points;                               // of each half
  wall_point right[CAVUM_GOAL_MOST_VARIABLES];  // from the iris to the equator
  wall_point left[CAVUM_GOAL_MOST_VARIABLES];   // from the equator to the iris
  double radius_m[2];                           // smallest of curvature: iris side, equator side
} base_wall;

static cavum_status take_contour(base_wall *w, cavum_error *error) {
  cavum_status status = cavum_cell_make_contour(&w->contour, &w->cell, CAVUM_PART_WHOLE, error);
  if (status != CAVUM_OK) return status;
  double most = 0.0;
  w->first = w->last = -1;
  for (cavum_index i = 0; i < w->contour.num_curves; i++) {
    const cavum_curve *c = &w->contour.curves[i];
    if (c->kind == CAVUM_CURVE_ELLIPSE) w->last = i;
    if (c->kind == CAVUM_CURVE_ELLIPSE && w->first < 0) w->first = i;
    if (w->first >= 0 && c->start.r_m > most) {
      most = c->start.r_m;
      w->equator = i;
    }
  }
  if (CAVUM_HOLDS(w->first >= 0 && w->equator > w->first && w->equator <= w->last)) return CAVUM_OK;
  return cavum_fail_internal(error, "a cell of two ellipses without an equator");
}

/** Sums along a half. */
typedef struct measures {
  double length_m, turn_rad;
} measures;

// Adds a piece of a curve, and the radii of curvature there.
static measures measure_piece(base_wall *w, const cavum_curve *c, int piece) {
  double t = (piece + 0.5) / PIECES;
  cavum_point a = cavum_curve_derivative(c, t), b = cavum_curve_second_derivative(c, t);
  double speed = hypot(a.z_m, a.r_m);
  double turn = (a.z_m * b.r_m - a.r_m * b.z_m) / (speed * speed * speed);
  double *least = &w->radius_m[turn > 0.0];
  if (turn != 0.0) *least = cavum_min(*least, 1.0 / fabs(turn));
  return (measures){speed / PIECES, fabs(turn) * speed / PIECES};
}

static wall_point point_at(const cavum_curve *c, double t) {
  cavum_point at = cavum_curve_point(c, t), along = cavum_curve_derivative(c, t);
  double speed = hypot(along.z_m, along.r_m);
  return (wall_point){cavum_in_mm(at.z_m), cavum_in_mm(at.r_m), along.r_m / speed,
                      -along.z_m / speed};
}

// Points of a half, in the order of the contour.
static void place_points(wall_point *points, base_wall *w, cavum_index from, cavum_index to) {
  measures all = {0.0, 0.0}, sum = {0.0, 0.0};
  int count = 0;
  for (cavum_index i = from; i < to; i++) {
    for (int k = 0; k < PIECES; k++) {
      measures m = measure_piece(w, &w->contour.curves[i], k);
      all.length_m += m.length_m;
      all.turn_rad += m.turn_rad;
    }
  }
  for (cavum_index i = from; i < to; i++) {
    for (int k = 0; k < PIECES && count < w->num_points; k++) {
      measures m = measure_piece(w, &w->contour.curves[i], k);
      double before = 0.5 * (sum.length_m / all.length_m + sum.turn_rad / all.turn_rad);
      double part = 0.5 * (m.length_m / all.length_m + m.turn_rad / all.turn_rad);
      double wanted = (count + 1.0) / (w->num_points + 1.0);
      if (before + part >= wanted) {
        double t = (k + cavum_min((wanted - before) / part, 1.0)) / PIECES;
        points[count++] = point_at(&w->contour.curves[i], t);
      }
      sum.length_m += m.length_m;
      sum.turn_rad += m.turn_rad;
    }
  }
}

static cavum_status make_wall(base_wall *w, const cavum_goal *goal, const cavum_optimum *best,
                              cavum_error *error) {
  const char *text = best->cell_text;
  w->num_points = goal->free_wall.num_points;
  w->radius_m[0] = w->radius_m[1] = HUGE_VAL;
  cavum_status status =
      cavum_cell_read_text(&w->cell, text, strlen(text), goal->study->cell_path, error);
  if (status == CAVUM_OK) status = take_contour(w, error);
  if (status != CAVUM_OK) return status;
  w->mirrored = cavum_cell_whole_is_symmetric(&w->cell);
  place_points(w->right, w, w->first, w->equator);
  if (!w->mirrored) place_points(w->left, w, w->equator, w->last + 1);
  // The equator is at z = 0.
  for (int k = 0; k < w->num_points && w->mirrored; k++) {
    wall_point image = w->right[w->num_points - 1 - k];
    w->left[k] = (wall_point){-image.z, image.r, -image.normal_z, image.normal_r};
  }
  return CAVUM_OK;
}

static void clear_wall(base_wall *w) {
  cavum_cell_clear(&w->cell);
  cavum_contour_clear(&w->contour);
}

// ---- the cell

/** A number in the fewest digits that read back the same. */
typedef struct digits {
  char text[CAVUM_WRITER_NUMBER_SIZE];
} digits;

static digits digits_of(double value) {
  digits made;
  cavum_writer_number_text(made.text, value, CAVUM_UNIT_SI);
  return made;
}

static void write_point(FILE *out, double z_mm, double r_mm) {
  fprintf(out, "{z_mm: %s, r_mm: %s}", digits_of(z_mm).text, digits_of(r_mm).text);
}

// Degrees of the direction of travel; those of an axial wall without rounding.
static double direction_deg(cavum_point along) {
  double degrees = atan2(along.r_m, along.z_m) * 180.0 / CAVUM_PI;
  return fabs(degrees - round(degrees)) < 1e-9 ? round(degrees) : degrees;
}

static void write_spline(FILE *out, const base_wall *w) {
  const cavum_curve *first = &w->contour.curves[w->first], *last = &w->contour.curves[w->last];
  cavum_point equator = w->contour.curves[w->equator].start;
  fputs("    - spline_through:\n", out);
  for (int k = 0; k < w->num_points; k++) {
    fputs("        - ", out);
    write_point(out, w->right[k].z, w->right[k].r);
    fputc('\n', out);
  }
  fputs("        - ", out);
  write_point(out, cavum_in_mm(equator.z_m), cavum_in_mm(equator.r_m));
  fputc('\n', out);
  for (int k = 0; k < w->num_points; k++) {
    fputs("        - ", out);
    write_point(out, w->left[k].z, w->left[k].r);
    fputc('\n', out);
  }
  fputs("        - ", out);
  write_point(out, cavum_in_mm(last->end.z_m), cavum_in_mm(last->end.r_m));
  fprintf(out, "\n      direction_at_start_deg: %s\n      direction_at_end_deg: %s\n",
          digits_of(direction_deg(cavum_curve_derivative(first, 0.0))).text,
          digits_of(direction_deg(cavum_curve_derivative(last, 1.0))).text);
  fprintf(out, "      boundary: %s\n", cavum_boundary_name(first->boundary));
}

static void write_contour(FILE *out, const base_wall *w) {
  const cavum_contour *c = &w->contour;
  fputs("contour:\n  kind: path\n  start: ", out);
  write_point(out, cavum_in_mm(c->curves[0].start.z_m), cavum_in_mm(c->curves[0].start.r_m));
  fputs("\n  path:\n", out);
  for (cavum_index i = 0; i < c->num_curves; i++) {
    if (i == w->first) write_spline(out, w);
    if (i >= w->first && i <= w->last) continue;
    fputs("    - {line_to: ", out);
    write_point(out, cavum_in_mm(c->curves[i].end.z_m), cavum_in_mm(c->curves[i].end.r_m));
    fprintf(out, ", boundary: %s}\n", cavum_boundary_name(c->curves[i].boundary));
  }
}

// Everything but the contour, as a cell file has it.
static cavum_status write_others(FILE *out, const base_wall *w, cavum_error *error) {
  cavum_cell other = w->cell;
  char *text = NULL;
  other.kind = CAVUM_CONTOUR_PATH;
  other.path = w->contour;
  if (!(other.accelerating_length_m > 0.0)) {
    other.accelerating_length_m = other.left.half_length_m + other.right.half_length_m;
  }
  cavum_status status = cavum_cell_to_text(&text, &other, error);
  if (status != CAVUM_OK) return status;
  bool skip = false;
  for (const char *line = text, *next; *line; line = next) {
    const char *end = strchr(line, '\n');
    next = end ? end + 1 : line + strlen(line);
    bool top = *line != ' ' && *line != '-';
    if (top) skip = strncmp(line, "contour:", 8) == 0;
    if (!skip) fprintf(out, "%.*s", (int)(next - line), line);
  }
  free(text);
  return CAVUM_OK;
}

static void write_bound(FILE *out, const char *key, double least, double most) {
  fprintf(out, "  %s: {", key);
  if (isfinite(least)) fprintf(out, "least: %s", digits_of(least).text);
  if (isfinite(most)) {
    fprintf(out, "%smost: %s", isfinite(least) ? ", " : "", digits_of(most).text);
  }
  fputs("}\n", out);
}

// What the cell of two ellipses must meet, the free wall must meet as well.
static cavum_status write_requirements(FILE *out, const char *text, cavum_error *error) {
  cavum_requirements *required = NULL;
  cavum_status status =
      cavum_requirements_read_text(&required, text, strlen(text), "free wall", error);
  if (status != CAVUM_OK) return status;
  if (required->count > 0) fputs("requirements:\n", out);
  for (int i = 0; i < required->count; i++) {
    const cavum_requirement *r = &required->list[i];
    write_bound(out, r->key, r->least, r->most);
  }
  cavum_requirements_destroy(&required);
  return CAVUM_OK;
}

// ---- the goal

// A point that moves along its normal: which coordinate is the variable.
static bool moves_in_r(const wall_point *p) { return fabs(p->normal_r) > fabs(p->normal_z); }

static const char *letter(bool of_r) { return of_r ? "r" : "z"; }

// Name of a coordinate of a point of the spline, from 1.
typedef struct point_name {
  char text[64];
} point_name;

static point_name name_of(const base_wall *w, int point, bool of_r) {
  point_name name;
  snprintf(name.text, sizeof name.text, "path[%d].spline_through[%d].%s_mm", (int)w->first + 1,
           point, letter(of_r));
  return name;
}

static void write_varied(FILE *out, const base_wall *w, const wall_point *p, int point,
                         double within) {
  bool of_r = moves_in_r(p);
  double at = of_r ? p->r : p->z, reach = within * fabs(of_r ? p->normal_r : p->normal_z);
  fprintf(out, "  \"%s\": {from: %.12g, to: %.12g}\n", name_of(w, point, of_r).text, at - reach,
          at + reach);
}

// The other coordinate moves along the normal as well.
static void write_linked(FILE *out, const base_wall *w, const wall_point *p, int point) {
  bool of_r = moves_in_r(p);
  double slope = of_r ? p->normal_z / p->normal_r : p->normal_r / p->normal_z;
  fprintf(out, "  - \"%s = %s + %s * (%s - %s)\"\n", name_of(w, point, !of_r).text,
          digits_of(of_r ? p->z : p->r).text, digits_of(slope).text, name_of(w, point, of_r).text,
          digits_of(of_r ? p->r : p->z).text);
}

static void write_image(FILE *out, const base_wall *w, int point) {
  int image = 2 * (w->num_points + 1) - point;
  fprintf(out, "  - \"%s = %s\"\n", name_of(w, image, true).text, name_of(w, point, true).text);
  fprintf(out, "  - \"%s = -%s\"\n", name_of(w, image, false).text, name_of(w, point, false).text);
}

static void write_points(FILE *out, const base_wall *w, double within) {
  int n = w->num_points;
  fputs("vary:\n", out);
  for (int k = 0; k < n; k++) write_varied(out, w, &w->right[k], k + 1, within);
  for (int k = 0; k < n && !w->mirrored; k++) {
    write_varied(out, w, &w->left[k], n + 2 + k, within);
  }
  fputs("linked:\n", out);
  for (int k = 0; k < n; k++) {
    write_linked(out, w, &w->right[k], k + 1);
    if (w->mirrored) write_image(out, w, k + 1);
    if (!w->mirrored) write_linked(out, w, &w->left[k], n + 2 + k);
  }
}

static void write_terms(FILE *out, const cavum_goal *goal, double sign, const char *section) {
  bool begun = false;
  for (int i = 0; i < goal->num_terms; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (q->weight * sign <= 0.0) continue;
    fprintf(out, "%s%s: %s", begun ? ", " : section, q->what.key, digits_of(fabs(q->weight)).text);
    begun = true;
  }
  if (begun) fputs("}\n", out);
}

// The straight wall is of two ellipses alone, and a limit that the goal states is refused
// (free_wall_read.c); the curvature of the iris is that of the splines.
static bool is_kept(const cavum_goal *goal, int i) {
  const cavum_goal_quantity *q = &goal->quantities[i];
  bool held = goal->study->hold.input >= 0 && i + 1 == goal->num_quantities;
  return !held && q->what.kind != CAVUM_REQUIRE_IRIS_CURVATURE &&
         q->what.kind != CAVUM_REQUIRE_STRAIGHT_LENGTH;
}

// Without a word of the goal the wall is bent no more than that of the two ellipses.
static double radius_mm(const cavum_goal *goal, const base_wall *w, int side) {
  double stated = goal->free_wall.radius_mm[side];
  return isnan(stated) ? cavum_in_mm(w->radius_m[side]) : stated;
}

static void write_limits(FILE *out, const cavum_goal *goal, const base_wall *w) {
  static const char *const keys[2] = {"iris_side_radius_mm", "equator_side_radius_mm"};
  fputs("limits:\n", out);
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_requirement *what = &goal->quantities[i].what;
    if (is_kept(goal, i)) write_bound(out, what->key, what->least, what->most);
  }
  for (int side = 0; side < 2; side++) {
    double least = radius_mm(goal, w, side);
    if (least > 0.0 && isfinite(least)) write_bound(out, keys[side], least, HUGE_VAL);
  }
}

static void write_goal(FILE *out, const cavum_goal *goal, const base_wall *w) {
  const cavum_study *study = goal->study;
  double within = goal->free_wall.within_mm;
  double equator = cavum_in_mm(w->contour.curves[w->equator].start.r_m);
  write_points(out, w, within);
  if (study->hold.input >= 0) {
    fprintf(out, "hold: {frequency_MHz: %s, by: \"%s\", from: %.12g, to: %.12g}\n",
            digits_of(cavum_in_unit(study->hold.frequency_hz, CAVUM_UNIT_MHZ)).text,
            name_of(w, w->num_points + 1, true).text, equator - within, equator + within);
  }
  write_terms(out, goal, 1.0, "minimise: {");
  write_terms(out, goal, -1.0, "maximise: {");
  write_limits(out, goal, w);
  fprintf(out, "mode: %d\nstarts: 1\nsolves: %d\ntolerance: %s\n", study->mode + 1,
          goal->most_solves, digits_of(goal->tolerance).text);
}

/** A text that is written piece by piece. */
typedef struct text {
  char *made;  // owned
  size_t length;
  FILE *out;
} text;

static cavum_status open_text(text *t, cavum_error *error) {
  t->out = open_memstream(&t->made, &t->length);
  return t->out ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status close_text(text *t, cavum_error *error) {
  bool good = t->out && !ferror(t->out);
  if (t->out) good = fclose(t->out) == 0 && good;
  t->out = NULL;
  return good ? CAVUM_OK : cavum_fail_memory(error);
}

cavum_status cavum_free_wall_open(cavum_goal **free_goal, const cavum_goal *goal,
                                  const cavum_optimum *best, cavum_error *error) {
  base_wall w = {.num_points = 0};
  text cell_text = {0}, goal_text = {0};
  cavum_cell cell;
  bool has_cell = false;
  cavum_status status = CAVUM_OK;
  cavum_cell_set_defaults(&w.cell);
  CAVUM_TRY(make_wall(&w, goal, best, error));
  CAVUM_TRY(open_text(&cell_text, error));
  CAVUM_TRY(open_text(&goal_text, error));
  CAVUM_TRY(write_others(cell_text.out, &w, error));
  write_contour(cell_text.out, &w);
  CAVUM_TRY(write_requirements(cell_text.out, best->cell_text, error));
  write_goal(goal_text.out, goal, &w);
  CAVUM_TRY(close_text(&cell_text, error));
  CAVUM_TRY(close_text(&goal_text, error));
  CAVUM_TRY(cavum_cell_read_text(&cell, cell_text.made, cell_text.length, "free wall", error));
  has_cell = true;
  CAVUM_TRY(
      cavum_goal_open_text(free_goal, goal_text.made, goal_text.length, "free wall", &cell, error));
done:
  if (has_cell) cavum_cell_clear(&cell);
  if (cell_text.out) fclose(cell_text.out);
  if (goal_text.out) fclose(goal_text.out);
  free(cell_text.made);
  free(goal_text.made);
  clear_wall(&w);
  return status;
}
