// SPDX-License-Identifier: GPL-3.0-or-later
// Paths with a mirror plane, solved as a half and as a whole: the same cell either way, wherever
// its plane is.
#include <stdarg.h>

#include "cavum/store.h"
#include "closed_cavities.h"
#include "temporary_folder.h"

typedef struct both_models {
  cavum_cell cell;
  cavum_result *half, *full;
} both_models;

static both_models solve_both(cavum_cell cell) {
  both_models both = {.cell = cell};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = 4;
  both.half = solving_solve(&cell, &options);
  options.use_symmetry = false;
  both.full = solving_solve(&cell, &options);
  ck_assert(both.half->half_model);
  ck_assert(!both.full->half_model);
  return both;
}

static void clear_both(both_models *both) {
  cavum_result_destroy(&both->half);
  cavum_result_destroy(&both->full);
  cavum_cell_clear(&both->cell);
}

static void check_figures(const char *what, const both_models *both) {
  ck_assert_int_eq(both->half->num_modes, both->full->num_modes);
  for (int m = 0; m < both->half->num_modes; m++) {
    const cavum_mode_result *a = &both->half->modes[m], *b = &both->full->modes[m];
    ck_assert_str_eq(a->label, b->label);
    ck_assert_int_ne(a->parity, CAVUM_PARITY_NONE);
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      const cavum_figure *x = &a->figures[id], *y = &b->figures[id];
      const char *key = cavum_figure_describe((cavum_figure_id)id).key;
      ck_assert_msg(x->state == y->state, "%s mode %d %s: states %d and %d", what, m + 1, key,
                    x->state, y->state);
      if (x->state != CAVUM_FIGURE_PRESENT) continue;
      // What both leave open.
      double tolerance = x->uncertainty + y->uncertainty;
      printf("%s mode %d %s: ", what, m + 1, key);
      CAVUM_CHECK_NEAR(x->value, y->value, tolerance);
    }
  }
}

// A peak is found on the right; on the whole it may be its image.
static void check_peaks(const both_models *both, double plane_m, double size_m) {
  const cavum_figure_id peaks[] = {CAVUM_FIGURE_EPK_OVER_EACC, CAVUM_FIGURE_BPK_OVER_EACC};
  for (int m = 0; m < both->half->num_modes; m++) {
    for (int i = 0; i < 2; i++) {
      const cavum_figure *x = &both->half->modes[m].figures[peaks[i]];
      const cavum_figure *y = &both->full->modes[m].figures[peaks[i]];
      if (!x->has_position) continue;
      ck_assert(x->at.z_m >= plane_m - 1e-12);
      // Flat maxima: located to the square root of the 1e-4 asked of the value.
      CAVUM_CHECK_NEAR(fabs(x->at.z_m - plane_m), fabs(y->at.z_m - plane_m), 1e-2 * size_m);
      CAVUM_CHECK_NEAR(x->at.r_m, y->at.r_m, 1e-2 * size_m);
    }
  }
}

// Linear between samples.
static double value_at(const cavum_profile *p, double z_m) {
  for (cavum_index i = 0; i + 1 < p->num_points; i++) {
    if (z_m > p->z_m[i + 1] || p->z_m[i + 1] <= p->z_m[i]) continue;
    double t = (z_m - p->z_m[i]) / (p->z_m[i + 1] - p->z_m[i]);
    return (1.0 - t) * p->e_v_per_m[i] + t * p->e_v_per_m[i + 1];
  }
  return p->e_v_per_m[p->num_points - 1];
}

// E_z on the axis over the whole length of the cell; the sign of a mode is free.
static void check_axis(const both_models *both) {
  for (int m = 0; m < both->half->num_modes; m++) {
    const cavum_profile *a = &both->half->modes[m].axis, *b = &both->full->modes[m].axis;
    ck_assert_int_eq(a->num_points > 0, b->num_points > 0);
    if (a->num_points == 0) continue;
    double size_m = b->z_m[b->num_points - 1] - b->z_m[0], largest = 0.0, product = 0.0;
    CAVUM_CHECK_NEAR(a->z_m[0], b->z_m[0], 1e-12 * size_m);
    CAVUM_CHECK_NEAR(a->z_m[a->num_points - 1], b->z_m[b->num_points - 1], 1e-12 * size_m);
    CAVUM_CHECK_NEAR(a->arc_length_m[a->num_points - 1], size_m, 1e-12 * size_m);
    for (cavum_index i = 0; i < b->num_points; i++) {
      largest = fmax(largest, fabs(b->e_v_per_m[i]));
      product += value_at(a, b->z_m[i]) * b->e_v_per_m[i];
      if (i > 0) ck_assert(b->z_m[i] >= b->z_m[i - 1]);
    }
    double sign = product < 0.0 ? -1.0 : 1.0, worst = 0.0;
    for (cavum_index i = 0; i < b->num_points; i++) {
      worst = fmax(worst, fabs(sign * value_at(a, b->z_m[i]) - b->e_v_per_m[i]));
    }
    printf("axis of mode %d: ", m + 1);
    // Linear interpolation over 1/23 of an element of up to a half wave of E_z: (pi / 46)^2 / 8 of
    // the curvature at most.
    CAVUM_CHECK_NEAR(worst / largest, 0.0, 1e-3);
  }
}

// Along the wall: its length, int |H|^2 r ds, int |E|^2 r ds.
typedef struct wall_sums {
  double length_m, h2, e2;
} wall_sums;

static wall_sums sum_wall(const cavum_profile *wall) {
  wall_sums sums = {.length_m = wall->arc_length_m[wall->num_points - 1]};
  for (cavum_index i = 1; i < wall->num_points; i++) {
    double step = wall->arc_length_m[i] - wall->arc_length_m[i - 1];
    for (cavum_index k = i - 1; k <= i; k++) {
      sums.h2 += 0.5 * step * wall->h_a_per_m[k] * wall->h_a_per_m[k] * wall->r_m[k];
      sums.e2 += 0.5 * step * wall->e_v_per_m[k] * wall->e_v_per_m[k] * wall->r_m[k];
    }
  }
  return sums;
}

// Where on the other wall a point is nearest.
static cavum_index nearest(const cavum_profile *wall, double z_m, double r_m) {
  cavum_index best = 0;
  for (cavum_index i = 1; i < wall->num_points; i++) {
    if (hypot(wall->z_m[i] - z_m, wall->r_m[i] - r_m) <
        hypot(wall->z_m[best] - z_m, wall->r_m[best] - r_m)) {
      best = i;
    }
  }
  return best;
}

// Signs too: E and H of both walls have the same one relation all along.
static void check_wall(const both_models *both, double size_m) {
  for (int m = 0; m < both->half->num_modes; m++) {
    const cavum_profile *a = &both->half->modes[m].wall, *b = &both->full->modes[m].wall;
    wall_sums half = sum_wall(a), full = sum_wall(b);
    // The trapezoidal rule over 24 points an element: (1/23)^2 / 12 of its second derivative.
    CAVUM_CHECK_RELATIVE(half.length_m, full.length_m, 1e-3);
    CAVUM_CHECK_RELATIVE(half.h2, full.h2, 3e-3);
    CAVUM_CHECK_RELATIVE(half.e2, full.e2, 3e-3);
    double with = 0.0, against = 0.0, e_with = 0.0, e_against = 0.0;
    for (cavum_index i = 0; i < a->num_points; i++) {
      cavum_index k = nearest(b, a->z_m[i], a->r_m[i]);
      ck_assert_double_lt(hypot(b->z_m[k] - a->z_m[i], b->r_m[k] - a->r_m[i]), 0.02 * size_m);
      double h = a->h_a_per_m[i] * b->h_a_per_m[k], e = a->e_v_per_m[i] * b->e_v_per_m[k];
      *(h > 0.0 ? &with : &against) += fabs(h);
      *(e > 0.0 ? &e_with : &e_against) += fabs(e);
    }
    printf("wall of mode %d: H %.2e with, %.2e against; E %.2e with, %.2e against\n", m + 1, with,
           against, e_with, e_against);
    // Near zeros, and at corners where E of two walls meets, the nearest point may be across.
    bool same = with > against;
    ck_assert_double_lt(same ? against : with, 0.01 * (with + against));
    ck_assert_double_lt(same ? e_against : e_with, 0.01 * (e_with + e_against));
  }
}

static both_models check_all(const char *what, cavum_cell cell, double plane_m, double size_m) {
  both_models both = solve_both(cell);
  CAVUM_CHECK_NEAR(cavum_mesh_mirror_plane_m(&both.half->mesh), plane_m, 1e-15);
  check_figures(what, &both);
  check_peaks(&both, plane_m, size_m);
  check_axis(&both);
  check_wall(&both, size_m);
  return both;
}

static cavum_cell read_demo(const char *name) {
  char path[512];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(path, sizeof path, "%s/%s.yaml", CAVUM_CELLS_FOLDER, name);
  ck_assert_msg(cavum_cell_read_file(&cell, path, &error) == CAVUM_OK, "%s", error.message);
  return cell;
}

START_TEST(example_cells) {
  both_models both = check_all("nose cones", read_demo("nose-cone-cell"), 0.0, 0.14);
  clear_both(&both);
  both = check_all("capsule", read_demo("capsule"), 0.0, 0.18);
  clear_both(&both);
  // A quarter-wave line has no mirror plane.
  cavum_cell line = read_demo("coaxial-resonator");
  ck_assert(!cavum_cell_is_mirror_symmetric(&line));
  cavum_cell_clear(&line);
}
END_TEST

static cavum_cell moved_pillbox(double left_mm, double right_mm, int num_modes) {
  char text[1024];
  snprintf(text, sizeof text,
           "beta: 0.7\naccelerating_length_mm: 100\ncontour:\n  kind: path\n"
           "  start: {z_mm: %g, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: %g, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: %g, r_mm: 100}, boundary: metal}\n"
           "    - {line_to: {z_mm: %g, r_mm: 100}, boundary: metal}\n"
           "    - {line_to: {z_mm: %g, r_mm: 0}, boundary: metal}\nmodes: {count: %d}\n",
           left_mm, right_mm, right_mm, left_mm, left_mm, num_modes);
  return solving_read(text);
}

// The closed form besides: f of TM01p.
START_TEST(plane_away_from_zero) {
  both_models both = check_all("moved pillbox", moved_pillbox(813.0, 933.0, 3), 0.873, 0.12);
  for (int p = 0; p < 2; p++) {
    closed_form mode = closed_pillbox(0.1, 0.12, 1, p);
    const cavum_figure *f = &both.half->modes[p].figures[CAVUM_FIGURE_FREQUENCY];
    CAVUM_CHECK_NEAR(2.0 * PI * f->value / 299792458.0, mode.k_per_m,
                     2.0 * PI * f->uncertainty / 299792458.0 + 1e-13 * mode.k_per_m);
  }
  clear_both(&both);
}
END_TEST

START_TEST(spheroid) {
  cavum_cell cell = solving_read(
      "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: -130, r_mm: 0}\n"
      "  path:\n    - {line_to: {z_mm: 30, r_mm: 0}, boundary: axis}\n"
      "    - {ellipse_to: {z_mm: -130, r_mm: 0}, centre: {z_mm: -50, r_mm: 0}, axial_mm: 80, "
      "radial_mm: 110, turn: left, boundary: metal}\nmodes: {count: 4}\n"
      "wall: {kind: resistance, surface_resistance_nohm: 15}\n");
  both_models both = check_all("spheroid", cell, -0.05, 0.16);
  clear_both(&both);
}
END_TEST

// A shorted coaxial line: its lowest mode, the half wave, is odd about the middle, and the static
// mode is even. Closed form k = pi / length.
START_TEST(ring_domain) {
  for (int count = 1; count <= 3; count += 2) {
    char text[1024];
    snprintf(text, sizeof text,
             "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: 10, r_mm: 15}\n"
             "  path:\n    - {line_to: {z_mm: 260, r_mm: 15}, boundary: metal}\n"
             "    - {line_to: {z_mm: 260, r_mm: 45}, boundary: metal}\n"
             "    - {line_to: {z_mm: 10, r_mm: 45}, boundary: metal}\n"
             "    - {line_to: {z_mm: 10, r_mm: 15}, boundary: metal}\nmodes: {count: %d}\n",
             count);
    both_models both = check_all("coaxial line", solving_read(text), 0.135, 0.25);
    ck_assert_int_eq(both.half->modes[0].parity, CAVUM_PARITY_ODD);
    double k = PI / 0.25;
    const cavum_figure *f = &both.half->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
    CAVUM_CHECK_NEAR(2.0 * PI * f->value / 299792458.0, k,
                     2.0 * PI * f->uncertainty / 299792458.0 + 1e-13 * k);
    clear_both(&both);
  }
}
END_TEST

// An inner conductor between two gaps: the axis is in two pieces, the plane cuts the conductor.
START_TEST(two_gaps) {
  cavum_cell cell = solving_read(
      "beta: 0.1\naccelerating_length_mm: 100\ncontour:\n  kind: path\n"
      "  start: {z_mm: -100, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: -80, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: -80, r_mm: 15}, boundary: electric}\n"
      "    - {line_to: {z_mm: 80, r_mm: 15}, boundary: electric}\n"
      "    - {line_to: {z_mm: 80, r_mm: 0}, boundary: electric}\n"
      "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 100, r_mm: 50}, boundary: metal}\n"
      "    - {line_to: {z_mm: -100, r_mm: 50}, boundary: metal}\n"
      "    - {line_to: {z_mm: -100, r_mm: 0}, boundary: metal}\nmodes: {count: 2}\n");
  both_models both = check_all("two gaps", cell, 0.0, 0.2);
  clear_both(&both);
}
END_TEST

// 1e-6 of one dimension is a real difference.
START_TEST(nearly_symmetric) {
  cavum_cell cell = solving_read(
      "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: -60, r_mm: 0}\n"
      "  path:\n    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 60.00006, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -60, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -60, r_mm: 0}, boundary: metal}\nmodes: {count: 1}\n");
  cavum_result *result = solving_solve(&cell, NULL);
  ck_assert(!result->half_model);
  ck_assert_int_eq(result->modes[0].parity, CAVUM_PARITY_NONE);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// The file of a half model reads back with its plane, and its grid for ParaView covers the cell.
START_TEST(result_file) {
  char folder[128], path[192];
  both_models both = solve_both(moved_pillbox(813.0, 933.0, 2));
  cavum_result *read = NULL;
  cavum_error error = {0};
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/half.hdf", folder);
  ck_assert_int_eq(cavum_store_write_result(path, both.half, &both.cell, NULL, &error), CAVUM_OK);
  cavum_status status = cavum_store_read_result(&read, NULL, path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert(read->half_model);
  CAVUM_CHECK_NEAR(cavum_mesh_mirror_plane_m(&read->mesh), 0.873, 1e-15);
  cavum_result_destroy(&read);
  temporary_folder_delete(folder);
  clear_both(&both);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, example_cells);
  tcase_add_test(tests, plane_away_from_zero);
  tcase_add_test(tests, spheroid);
  tcase_add_test(tests, ring_domain);
  tcase_add_test(tests, two_gaps);
  tcase_add_test(tests, nearly_symmetric);
  tcase_add_test(tests, result_file);
}

CAVUM_TEST_MAIN("half models of paths", add_tests)
