// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file random_cells.h
 * Cells drawn at random, the same ones every time: two-ellipse cells of every kind and paths.
 */
#ifndef CAVUM_TEST_RANDOM_CELLS_H
#define CAVUM_TEST_RANDOM_CELLS_H

#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>

#include "tally.h"

/** State of the generator; any seed but 0. */
typedef struct random_state {
  uint64_t bits;
} random_state;

/** Uniform in [low, high) (xorshift64*). */
static inline double random_between(random_state *state, double low, double high) {
  state->bits ^= state->bits >> 12;
  state->bits ^= state->bits << 25;
  state->bits ^= state->bits >> 27;
  return low + (high - low) * (double)((state->bits * 2685821657736338717ULL) >> 11) * 0x1p-53;
}

/** True with a probability. */
static inline bool random_happens(random_state *state, double probability) {
  return random_between(state, 0.0, 1.0) < probability;
}

static inline cavum_half_cell random_half(random_state *state, double equator) {
  cavum_half_cell half = {.equator_radius_m = equator};
  half.half_length_m = equator * random_between(state, 0.3, 0.75);
  half.iris_radius_m = equator * random_between(state, 0.2, 0.5);
  double depth = equator - half.iris_radius_m;
  half.iris_axial_m = half.half_length_m * random_between(state, 0.05, 0.35);
  half.iris_radial_m = fmin(half.iris_axial_m * random_between(state, 0.6, 2.2), 0.6 * depth);
  // Up to a little more than what is left: such walls lean past the vertical.
  half.equator_axial_m =
      (half.half_length_m - half.iris_axial_m) * random_between(state, 0.5, 1.08);
  half.equator_radial_m = (depth - half.iris_radial_m) * random_between(state, 0.3, 0.9);
  return half;
}

static inline cavum_end random_end(random_state *state, const cavum_half_cell *half) {
  double kind = random_between(state, 0.0, 1.0);
  if (kind < 0.15) return (cavum_end){.kind = CAVUM_END_ELECTRIC};
  if (kind < 0.4) return (cavum_end){.kind = CAVUM_END_MAGNETIC};
  if (kind < 0.45) return (cavum_end){.kind = CAVUM_END_METAL};
  return (cavum_end){
      .kind = CAVUM_END_TUBE,
      .tube_length_m = half->equator_radius_m * random_between(state, 0.7, 1.6),
      .tube_radius_m = half->iris_radius_m,
      .tube_close = random_happens(state, 0.5) ? CAVUM_BOUNDARY_ELECTRIC : CAVUM_BOUNDARY_MAGNETIC};
}

static inline void random_common(cavum_cell *cell, random_state *state) {
  cell->beta = random_happens(state, 0.7) ? 1.0 : random_between(state, 0.45, 1.0);
  cell->num_modes = 1 + (int)random_between(state, 0.0, 3.0);
  cell->wall = (cavum_wall){.kind = CAVUM_WALL_RESISTANCE, .surface_resistance_ohm = 15e-9};
}

/** How two-ellipse cells are drawn. */
typedef struct random_kind {
  double equator_m[2]; /**< Least and largest radius of the equator. */
  double unequal;      /**< Probability that the halves differ. */
  cavum_half_cell (*half)(random_state *state, double equator);
  cavum_end (*end)(random_state *state, const cavum_half_cell *half);
} random_kind;

/** A cell of a kind that has a contour; clear with cavum_cell_clear(). */
static inline cavum_cell random_two_ellipse_of(random_state *state, const random_kind *kind) {
  cavum_cell cell;
  cavum_contour contour = {0};
  for (;;) {
    cavum_cell_set_defaults(&cell);
    random_common(&cell, state);
    cell.kind = CAVUM_CONTOUR_TWO_ELLIPSE;
    double equator = random_between(state, kind->equator_m[0], kind->equator_m[1]);
    cell.left = kind->half(state, equator);
    cell.left_end = kind->end(state, &cell.left);
    cell.right = cell.left;
    cell.right_end = cell.left_end;
    if (random_happens(state, kind->unequal)) {
      cell.right = kind->half(state, equator);
      cell.right_end = kind->end(state, &cell.right);
    }
    if (cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL) == CAVUM_OK) break;
    cavum_cell_clear(&cell);  // no common tangent, or it crosses itself: draw again
  }
  cavum_contour_clear(&contour);
  return cell;
}

/** A two-ellipse cell of any kind that has a contour; clear with cavum_cell_clear(). */
static inline cavum_cell random_two_ellipse(random_state *state) {
  static const random_kind any = {{0.03, 0.3}, 0.4, random_half, random_end};
  return random_two_ellipse_of(state, &any);
}

/** Adds a line to a path. */
static inline void random_line(char *text, size_t size, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
static inline void random_line(char *text, size_t size, const char *format, ...) {
  size_t length = strlen(text);
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text + length, size - length, format, arguments);
  va_end(arguments);
}

#define RANDOM_TO(...) random_line(text, size, "    - " __VA_ARGS__)

// Rounded noses on both sides of a gap.
static inline void random_nose_cone(char *text, size_t size, random_state *state) {
  double hole = random_between(state, 8, 14), tip = random_between(state, 2, 5);
  double gap = random_between(state, 12, 30), half = gap + random_between(state, 15, 35);
  double radius = random_between(state, 80, 130), corner = random_between(state, 8, 20);
  double foot = hole + 2 * tip + random_between(state, 5, 20), tube = half + 30;
  random_line(text, size, "  start: {z_mm: %.6f, r_mm: 0}\n  path:\n", -tube);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: 0}, boundary: axis}\n", tube);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: electric}\n", tube, hole);
  for (int side = 1; side >= -1; side -= 2) {
    double near = side * gap, far = side * half;
    if (side < 0) {  // outer wall first
      RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", -half, foot);
      RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", near, hole + 2 * tip);
    } else {
      RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", near, hole);
    }
    double first = side > 0 ? hole + 2 * tip : hole;
    RANDOM_TO(
        "{arc_to: {z_mm: %.6f, r_mm: %.6f}, centre: {z_mm: %.6f, r_mm: %.6f}, turn: right, "
        "boundary: metal}\n",
        near, first, near, hole + tip);
    if (side < 0) continue;
    RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", far, foot);
    RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", far, radius - corner);
    RANDOM_TO(
        "{arc_to: {z_mm: %.6f, r_mm: %.6f}, centre: {z_mm: %.6f, r_mm: %.6f}, turn: left, "
        "boundary: metal}\n",
        far - corner, radius, far - corner, radius - corner);
    RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", -far + corner, radius);
    RANDOM_TO(
        "{arc_to: {z_mm: %.6f, r_mm: %.6f}, centre: {z_mm: %.6f, r_mm: %.6f}, turn: left, "
        "boundary: metal}\n",
        -far, radius - corner, -far + corner, radius - corner);
  }
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", -tube, hole);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: 0}, boundary: electric}\n", -tube);
}

// A closed spheroid.
static inline void random_spheroid(char *text, size_t size, random_state *state) {
  double axial = random_between(state, 40, 140), radial = random_between(state, 60, 120);
  random_line(text, size, "  start: {z_mm: %.6f, r_mm: 0}\n  path:\n", -axial);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: 0}, boundary: axis}\n", axial);
  RANDOM_TO(
      "{ellipse_to: {z_mm: %.6f, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, axial_mm: %.6f, "
      "radial_mm: %.6f, turn: left, boundary: metal}\n",
      -axial, axial, radial);
}

// A cylinder with a sharp step: a re-entrant corner.
static inline void random_step(char *text, size_t size, random_state *state) {
  double length = random_between(state, 80, 160), at = length * random_between(state, 0.3, 0.7);
  double radius = random_between(state, 80, 120), small = radius * random_between(state, 0.3, 0.8);
  random_line(text, size, "  start: {z_mm: 0, r_mm: 0}\n  path:\n");
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: 0}, boundary: axis}\n", length);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", length, small);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", at, small);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", at, radius);
  RANDOM_TO("{line_to: {z_mm: 0, r_mm: %.6f}, boundary: metal}\n", radius);
  RANDOM_TO("{line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n");
}

// An inner conductor that stops short of the end plate.
static inline void random_gap_coax(char *text, size_t size, random_state *state) {
  double inner = random_between(state, 6, 18), outer = inner * random_between(state, 2.0, 5.0);
  double length = random_between(state, 80, 250), gap = random_between(state, 5, 20);
  double edge = inner * random_between(state, 0.2, 0.6);
  random_line(text, size, "  start: {z_mm: %.6f, r_mm: 0}\n  path:\n", length);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: 0}, boundary: axis}\n", length + gap);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", length + gap, outer);
  RANDOM_TO("{line_to: {z_mm: 0, r_mm: %.6f}, boundary: metal}\n", outer);
  RANDOM_TO("{line_to: {z_mm: 0, r_mm: %.6f}, boundary: metal}\n", inner);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", length - edge, inner);
  RANDOM_TO(
      "{arc_to: {z_mm: %.6f, r_mm: %.6f}, centre: {z_mm: %.6f, r_mm: %.6f}, turn: right, "
      "boundary: metal}\n",
      length, inner - edge, length - edge, inner - edge);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: 0}, boundary: metal}\n", length);
}

// A closed line between two cones: a ring domain.
static inline void random_ring(char *text, size_t size, random_state *state) {
  double length = random_between(state, 60, 200), left_inner = random_between(state, 5, 20);
  double right_inner = random_between(state, 5, 20), right_outer = random_between(state, 40, 90);
  double left_outer = random_between(state, 40, 90);
  random_line(text, size, "  start: {z_mm: 0, r_mm: %.6f}\n  path:\n", left_inner);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", length, right_inner);
  RANDOM_TO("{line_to: {z_mm: %.6f, r_mm: %.6f}, boundary: metal}\n", length, right_outer);
  RANDOM_TO("{line_to: {z_mm: 0, r_mm: %.6f}, boundary: metal}\n", left_outer);
  RANDOM_TO("{line_to: {z_mm: 0, r_mm: %.6f}, boundary: metal}\n", left_inner);
}

enum { RANDOM_PATH_KINDS = 5 };

/** A path cell of one of the kinds; clear with cavum_cell_clear(). */
static inline cavum_cell random_path(random_state *state, int kind) {
  static void (*const draw[RANDOM_PATH_KINDS])(char *, size_t, random_state *) = {
      random_nose_cone, random_spheroid, random_step, random_gap_coax, random_ring};
  for (;;) {
    char text[4096] = "accelerating_length_mm: 100\ncontour:\n  kind: path\n";
    cavum_cell cell;
    draw[kind % RANDOM_PATH_KINDS](text, sizeof text, state);
    random_line(text, sizeof text, "modes: {count: 1}\n");
    // A path that crosses itself is refused: draw again.
    if (cavum_cell_read_text(&cell, text, strlen(text), "random.yaml", NULL) != CAVUM_OK) continue;
    random_common(&cell, state);
    return cell;
  }
}

/**
 * Solves a cell again at a degree four higher on a mesh finer by 1.5, and adds every figure of
 * every mode of a result to the tally. Steps of the tube cut are estimates with a model of their
 * own and are left out.
 */
static inline void random_compare_result(tally *all, const cavum_result *result,
                                         const cavum_cell *cell, const char *where) {
  cavum_error error = {0};
  cavum_result *fine = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.degree = result->degree + 4 < 16 ? result->degree + 4 : 16;
  options.refinement = 1.5;
  cavum_status status = cavum_solve(&fine, cell, &options, &error);
  if (status != CAVUM_OK || result->num_modes != fine->num_modes) {
    printf("MISS %s: no finer run: %s\n", where, error.message);
    all->count++;
    cavum_result_destroy(&fine);
    return;
  }
  for (int m = 0; m < result->num_modes; m++) {
    char place[96];
    snprintf(place, sizeof place, "%s mode %d", where, m + 1);
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      if (is_tube_cut((cavum_figure_id)id)) continue;
      const cavum_figure *a = &result->modes[m].figures[id], *b = &fine->modes[m].figures[id];
      if (a->state != CAVUM_FIGURE_PRESENT && a->state == b->state) continue;
      if (a->state != b->state) {
        printf("MISS %s %s: state %d, finer run %d\n", place,
               cavum_figure_describe((cavum_figure_id)id).key, a->state, b->state);
        all->count++;
        continue;
      }
      tally_add(all, place, (cavum_figure_id)id, a, b->value, b->uncertainty);
    }
  }
  cavum_result_destroy(&fine);
}

/** Solves a cell as asked and compares the result with a finer run; that there is one counts too.
 */
static inline void random_compare(tally *all, const cavum_cell *cell, const char *where) {
  cavum_error error = {0};
  cavum_result *result = NULL;
  cavum_status status = cavum_solve(&result, cell, NULL, &error);
  all->count++;
  if (status == CAVUM_OK) {
    all->inside++;
    random_compare_result(all, result, cell, where);
  } else {
    printf("MISS %s: no result: %s\n", where, error.message);
  }
  cavum_result_destroy(&result);
}

/** random_compare() for two-ellipse cells, one after another from a seed. */
static inline void random_compare_two_ellipse(tally *all, uint64_t seed, int shapes) {
  random_state state = {seed};
  for (int i = 0; i < shapes; i++) {
    char where[64];
    snprintf(where, sizeof where, "two-ellipse cell %d", i);
    cavum_cell cell = random_two_ellipse(&state);
    random_compare(all, &cell, where);
    cavum_cell_clear(&cell);
  }
}

#endif
