// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file random_paths.h
 * Families of outlines drawn at random that nobody tuned to, the same ones every time.
 */
#ifndef CAVUM_TEST_RANDOM_PATHS_H
#define CAVUM_TEST_RANDOM_PATHS_H

#include "base/base.h"
#include "random_cells.h"

// A number between, evenly in its logarithm.
static inline double random_log_between(random_state *state, double low, double high) {
  return low * pow(high / low, random_between(state, 0.0, 1.0));
}

static inline const char *random_lossless(random_state *state) {
  return random_happens(state, 0.5) ? "electric" : "magnetic";
}

// A straight line to a point.
static inline void random_line_to(char *text, size_t size, double z, double r,
                                  const char *boundary) {
  RANDOM_TO("{line_to: {z_mm: %.9f, r_mm: %.9f}, boundary: %s}\n", z, r, boundary);
}

// A post on the axis that nearly touches the lid; its edge is rounded, down to 0.2 mm.
static inline void random_reentrant_gap(char *text, size_t size, random_state *state) {
  double radius = random_between(state, 40, 120), length = random_between(state, 30, 100);
  double post = radius * random_between(state, 0.1, 0.6), gap = random_between(state, 1, 20);
  double fillet = fmin(random_log_between(state, 0.2, 8.0), 0.8 * post), top = length - gap;
  random_line(text, size, "  start: {z_mm: %.9f, r_mm: 0}\n  path:\n", top);
  random_line_to(text, size, length, 0, "axis");
  random_line_to(text, size, length, radius, "metal");
  random_line_to(text, size, 0, radius, "metal");
  random_line_to(text, size, 0, post, "metal");
  random_line_to(text, size, top - fillet, post, "metal");
  RANDOM_TO(
      "{arc_to: {z_mm: %.9f, r_mm: %.9f}, centre: {z_mm: %.9f, r_mm: %.9f}, turn: right, boundary: "
      "metal}\n",
      top, post - fillet, top - fillet, post - fillet);
  random_line_to(text, size, top, 0, "metal");
}

// A line between two tubes, one inside the other: out along the inner one, back along the outer.
// The end of the tube between is a half circle.
static inline void random_folded_coax(char *text, size_t size, random_state *state) {
  double inner = random_between(state, 5, 15), wall = random_log_between(state, 0.4, 4.0);
  double first = inner + random_between(state, 5, 20), second = first + wall;
  double outer = second + random_between(state, 5, 25), length = random_between(state, 60, 200);
  double fold = random_between(state, 5, 20), gap = random_between(state, 5, 20);
  random_line(text, size, "  start: {z_mm: %.9f, r_mm: 0}\n  path:\n", gap);
  random_line_to(text, size, length, 0, "axis");
  random_line_to(text, size, length, outer, "metal");
  random_line_to(text, size, -gap, outer, "metal");
  random_line_to(text, size, -gap, second, "metal");
  random_line_to(text, size, length - fold, second, "metal");
  RANDOM_TO(
      "{arc_to: {z_mm: %.9f, r_mm: %.9f}, centre: {z_mm: %.9f, r_mm: %.9f}, turn: right, boundary: "
      "metal}\n",
      length - fold, first, length - fold, first + 0.5 * wall);
  random_line_to(text, size, -gap, first, "metal");
  random_line_to(text, size, -gap, inner, "metal");
  random_line_to(text, size, gap, inner, "metal");
  random_line_to(text, size, gap, 0, "metal");
}

// Up to five cells of a cylinder between irises with rounded edges, electric planes at both ends.
static inline void random_chain(char *text, size_t size, random_state *state) {
  int cells = 2 + (int)random_between(state, 0, 4);
  double radius = random_between(state, 70, 120), iris = radius * random_between(state, 0.15, 0.45);
  double pitch = radius * random_between(state, 0.4, 1.1);
  double half = pitch * random_between(state, 0.02, 0.12);  // of the thickness of an iris
  random_line(text, size, "  start: {z_mm: 0, r_mm: 0}\n  path:\n");
  random_line_to(text, size, cells * pitch, 0, "axis");
  random_line_to(text, size, cells * pitch, radius,
                 random_happens(state, 0.5) ? "metal" : "electric");
  for (int i = cells - 1; i >= 0; i--) {
    if (i == 0) break;
    double z = i * pitch;
    random_line_to(text, size, z + half, radius, "metal");
    random_line_to(text, size, z + half, iris + half, "metal");
    RANDOM_TO(
        "{arc_to: {z_mm: %.9f, r_mm: %.9f}, centre: {z_mm: %.9f, r_mm: %.9f}, turn: right, "
        "boundary: metal}\n",
        z - half, iris + half, z, iris + half);
    random_line_to(text, size, z - half, radius, "metal");
  }
  random_line_to(text, size, 0, radius, "metal");
  random_line_to(text, size, 0, 0, random_happens(state, 0.5) ? "metal" : "electric");
}

// Three to five corners of any angle above the axis, every side of a boundary of its own. The sides
// turn about the middle of the axis, so that they do not cross.
static inline void random_corners(char *text, size_t size, random_state *state) {
  double length = random_between(state, 60, 150);
  int corners = 3 + (int)random_between(state, 0, 3);
  const char *boundary[8];
  bool metal = false;
  for (int i = 0; i <= corners; i++) {
    boundary[i] = random_happens(state, 0.6) ? "metal" : random_lossless(state);
    metal = metal || strcmp(boundary[i], "metal") == 0;
  }
  if (!metal) boundary[corners / 2] = "metal";
  random_line(text, size, "  start: {z_mm: %.9f, r_mm: 0}\n  path:\n", -0.5 * length);
  random_line_to(text, size, 0.5 * length, 0, "axis");
  for (int i = 0; i < corners; i++) {
    double angle = CAVUM_PI * (i + random_between(state, 0.2, 0.8)) / corners;
    double distance = length * random_between(state, 0.35, 1.0);
    random_line_to(text, size, distance * cos(angle), distance * sin(angle), boundary[i]);
  }
  random_line_to(text, size, -0.5 * length, 0, boundary[corners]);
}

// A cylinder whose mantle is bent by 0.01 to 5 degrees at two to four joints.
static inline void random_joints(char *text, size_t size, random_state *state) {
  double length = random_between(state, 60, 150), radius = random_between(state, 60, 120);
  int joints = 2 + (int)random_between(state, 0, 3);
  double angle = 0.0, r = radius, z = length;
  random_line(text, size, "  start: {z_mm: 0, r_mm: 0}\n  path:\n");
  random_line_to(text, size, length, 0, "axis");
  random_line_to(text, size, length, radius, "metal");
  for (int i = 0; i < joints; i++) {
    double step = length / (joints + 1) * random_between(state, 0.6, 1.0);
    z -= step;
    r += step * tan(angle);
    random_line_to(text, size, z, r, "metal");
    double bend = random_log_between(state, 0.01, 5.0) * CAVUM_PI / 180.0;
    angle += random_happens(state, 0.5) ? bend : -bend;
  }
  random_line_to(text, size, 0, r + z * tan(angle), "metal");
  random_line_to(text, size, 0, 0, "metal");
}

// A dome whose half axes are up to 20:1, either way, on a cylinder.
static inline void random_flat_ellipse(char *text, size_t size, random_state *state) {
  double ratio = random_log_between(state, 3, 20), radius = random_between(state, 60, 120);
  double axial = random_happens(state, 0.7) ? radius / ratio : radius * fmin(ratio, 5.0);
  double length = random_between(state, 0.3, 1.2) * radius;
  random_line(text, size, "  start: {z_mm: 0, r_mm: 0}\n  path:\n");
  random_line_to(text, size, length + axial, 0, "axis");
  RANDOM_TO(
      "{ellipse_to: {z_mm: %.9f, r_mm: %.9f}, centre: {z_mm: %.9f, r_mm: 0}, axial_mm: %.9f, "
      "radial_mm: %.9f, turn: left, boundary: metal}\n",
      length, radius, length, axial, radius);
  random_line_to(text, size, 0, radius, "metal");
  random_line_to(text, size, 0, 0, random_lossless(state));
}

// A wall that is a spline through three to six points between a lid and a plane.
static inline void random_spline(char *text, size_t size, random_state *state) {
  int points = 3 + (int)random_between(state, 0, 4);
  double length = random_between(state, 80, 200), middle = random_between(state, 60, 110);
  double right = middle * random_between(state, 0.3, 1.0);
  random_line(text, size, "  start: {z_mm: 0, r_mm: 0}\n  path:\n");
  random_line_to(text, size, length, 0, "axis");
  random_line_to(text, size, length, right, random_lossless(state));
  RANDOM_TO("{spline_through: [");
  for (int i = 1; i <= points; i++) {
    double z = length * (1.0 - (i + random_between(state, -0.2, 0.2) * (i < points)) / points);
    double r = middle * random_between(state, i < points ? 0.6 : 0.3, 1.1);
    random_line(text, size, "%s{z_mm: %.9f, r_mm: %.9f}", i > 1 ? ", " : "", z, r);
  }
  random_line(text, size, "], boundary: metal}\n");
  random_line_to(text, size, 0, 0, random_lossless(state));
}

/** A family of outlines. */
typedef struct random_family {
  const char *name;
  void (*draw)(char *text, size_t size, random_state *state);
  bool strong; /**< It may have strong corners. */
} random_family;

static const random_family RANDOM_FAMILIES[] = {
    {"nose cones", random_nose_cone, false},
    {"re-entrant gaps, fillets", random_reentrant_gap, false},
    {"folded coaxial lines", random_folded_coax, false},
    {"chains of cells", random_chain, false},
    {"ellipses up to 20:1", random_flat_ellipse, false},
    {"splines", random_spline, false},
    {"bent joints", random_joints, false},
    {"steps", random_step, true},
    {"corners of every angle", random_corners, true},
};
enum { RANDOM_NUM_FAMILIES = sizeof RANDOM_FAMILIES / sizeof *RANDOM_FAMILIES };

/** A cell of a family; clear with cavum_cell_clear(). */
static inline cavum_cell random_family_cell(random_state *state, const random_family *family) {
  for (;;) {
    char text[8192] = "accelerating_length_mm: 100\ncontour:\n  kind: path\n";
    cavum_cell cell;
    family->draw(text, sizeof text, state);
    random_line(text, sizeof text, "modes: {count: 1}\n");
    // A path that crosses itself is refused: draw again.
    if (cavum_cell_read_text(&cell, text, strlen(text), "random.yaml", NULL) != CAVUM_OK) continue;
    cell.beta = random_happens(state, 0.7) ? 1.0 : random_between(state, 0.2, 1.0);
    cell.wall = (cavum_wall){.kind = CAVUM_WALL_RESISTANCE, .surface_resistance_ohm = 15e-9};
    return cell;
  }
}

#endif
