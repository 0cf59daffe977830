// SPDX-License-Identifier: GPL-3.0-or-later
// What must not change: scaling, mirror image, unit, numbering of a mesh, half against full model,
// redrawing the same wall. And identities that need no literature: energies, products, factors.
#include "closed_cavities.h"
#include "grid_msh.h"

// Two solves of one cell differ by what both leave open.
static void check_same(const char *what, const cavum_mode_result *a, const cavum_mode_result *b,
                       const double *power_of_scale, double scale) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure *x = &a->figures[id], *y = &b->figures[id];
    const char *key = cavum_figure_describe((cavum_figure_id)id).key;
    ck_assert_msg(x->state == y->state, "%s %s: states %d and %d", what, key, x->state, y->state);
    if (x->state != CAVUM_FIGURE_PRESENT) continue;
    double factor = power_of_scale ? pow(scale, power_of_scale[id]) : 1.0;
    double tolerance = factor * x->uncertainty + y->uncertainty;
    printf("%s %s: observed %.13g expected %.13g difference %.1e tolerance %.1e\n", what, key,
           y->value, factor * x->value, y->value - factor * x->value, tolerance);
    ck_assert_msg(fabs(y->value - factor * x->value) <= tolerance,
                  "%s %s: observed %.13g expected %.13g +- %.1e", what, key, y->value,
                  factor * x->value, tolerance);
  }
}

static void check_modes(const char *what, const cavum_result *a, const cavum_result *b,
                        const double *power_of_scale, double scale) {
  ck_assert_int_eq(a->num_modes, b->num_modes);
  for (int m = 0; m < a->num_modes; m++) {
    char place[96];
    snprintf(place, sizeof place, "%s, mode %d", what, m + 1);
    ck_assert_str_eq(a->modes[m].label, b->modes[m].label);
    check_same(place, &a->modes[m], &b->modes[m], power_of_scale, scale);
  }
}

static const char *const CUP =
    "beta: 0.9\ncontour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
    "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
    "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
    "ends:\n  left: {kind: tube, length_mm: 120, close: electric}\n"
    "  right: {kind: tube, length_mm: 120, close: electric}\nmodes: {count: 3}\n"
    "wall: {kind: resistance, surface_resistance_nohm: 15}\n";

static void scale_half(cavum_half_cell *half, double s) {
  *half = (cavum_half_cell){s * half->half_length_m,    s * half->iris_radius_m,
                            s * half->equator_radius_m, s * half->equator_axial_m,
                            s * half->equator_radial_m, s * half->iris_axial_m,
                            s * half->iris_radial_m};
}

// f goes as 1 / s; R/Q, G and the ratios stay. At one joule V goes as s^(-1/2), since U ~ V^2 / (w
// R/Q). Wall power at a given gradient goes as s^2 for a given surface resistance over R/Q.
START_TEST(scaling_the_shape) {
  double power[CAVUM_NUM_FIGURES] = {0.0};
  power[CAVUM_FIGURE_FREQUENCY] = -1.0;
  power[CAVUM_FIGURE_LOSS_FACTOR] = -1.0;
  power[CAVUM_FIGURE_VOLTAGE_AT_1_J] = -0.5;
  power[CAVUM_FIGURE_EACC_AT_1_J] = -1.5;
  power[CAVUM_FIGURE_WALL_POWER] = 2.0;
  power[CAVUM_FIGURE_TUBE_CUT_FREQUENCY] = -1.0;
  const double scales[] = {0.037, 0.5, 11.0};
  cavum_cell cell = solving_read(CUP);
  cavum_result *plain = solving_solve(&cell, NULL);
  for (int i = 0; i < 3; i++) {
    cavum_cell scaled = cell;
    scale_half(&scaled.left, scales[i]);
    scale_half(&scaled.right, scales[i]);
    scaled.left_end.tube_length_m *= scales[i];
    scaled.left_end.tube_radius_m *= scales[i];
    scaled.right_end = scaled.left_end;
    cavum_result *result = solving_solve(&scaled, NULL);
    check_modes("scaled", plain, result, power, scales[i]);
    cavum_result_destroy(&result);
  }
  cavum_result_destroy(&plain);
  cavum_cell_clear(&cell);
}
END_TEST

// A cell with two different halves, and the same turned round.
START_TEST(mirror_image) {
  cavum_cell cell = solving_read(CUP);
  cell.right.iris_radius_m = 0.039;
  cell.right.half_length_m = 0.056;
  cell.right.equator_axial_m = cell.right.equator_radial_m = 0.0403;
  cell.right.iris_axial_m = 0.010;
  cell.right.iris_radial_m = 0.0135;
  cell.right_end = (cavum_end){CAVUM_END_TUBE, 0.15, 0.039, CAVUM_BOUNDARY_MAGNETIC};
  cell.left_end = (cavum_end){.kind = CAVUM_END_MAGNETIC};
  cavum_cell mirrored = cell;
  mirrored.left = cell.right;
  mirrored.right = cell.left;
  mirrored.left_end = cell.right_end;
  mirrored.right_end = cell.left_end;
  cavum_result *a = solving_solve(&cell, NULL), *b = solving_solve(&mirrored, NULL);
  check_modes("mirrored", a, b, NULL, 1.0);
  for (int m = 0; m < a->num_modes; m++) {
    cavum_point p = a->modes[m].figures[CAVUM_FIGURE_EPK_OVER_EACC].at;
    cavum_point q = b->modes[m].figures[CAVUM_FIGURE_EPK_OVER_EACC].at;
    // Flat maxima: located to the square root of 1e-4.
    CAVUM_CHECK_NEAR(p.z_m + q.z_m, 0.0, 1e-2 * 0.1);
    CAVUM_CHECK_NEAR(p.r_m, q.r_m, 1e-2 * 0.1);
  }
  cavum_result_destroy(&a);
  cavum_result_destroy(&b);
  cavum_cell_clear(&cell);
}
END_TEST

// The mirror plane used or not.
START_TEST(half_model_against_full) {
  static const char *const ends[] = {"tube, length_mm: 120, close: electric",
                                     "tube, length_mm: 120, close: magnetic", "magnetic",
                                     "electric", "metal"};
  for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
    char text[1024];
    snprintf(text, sizeof text,
             "beta: 0.8\ncontour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n"
             "  iris_radius_mm: 35\n  equator_radius_mm: 103.3\n"
             "  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
             "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
             "ends: {left: {kind: %s}, right: {kind: %s}}\nmodes: {count: 4}\n"
             "wall: {kind: resistance, surface_resistance_nohm: 15}\n",
             ends[i], ends[i]);
    cavum_cell cell = solving_read(text);
    cavum_solve_options whole = cavum_solve_options_default();
    whole.use_symmetry = false;
    cavum_result *half = solving_solve(&cell, NULL), *full = solving_solve(&cell, &whole);
    ck_assert(half->half_model);
    ck_assert(!full->half_model);
    check_modes(ends[i], half, full, NULL, 1.0);
    for (int m = 0; m < half->num_modes; m++) {
      ck_assert_int_ne(half->modes[m].parity, CAVUM_PARITY_NONE);
      ck_assert_int_eq(full->modes[m].parity, CAVUM_PARITY_NONE);
    }
    cavum_result_destroy(&half);
    cavum_result_destroy(&full);
    cavum_cell_clear(&cell);
  }
}
END_TEST

// A pillbox of length 2 d as an even mode of the half of length d with a lossless plane: V doubles,
// U doubles, so R/Q doubles; the losses double with U, so G stays.
START_TEST(half_a_cavity_by_hand) {
  const char *format =
      "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: %g, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 60, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: %g, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: %g, r_mm: 0}, boundary: %s}\nmodes: {count: 1}\n";
  char text[1024];
  snprintf(text, sizeof text, format, -60.0, -60.0, -60.0, "metal");
  cavum_result *full = solving_solve_text(text, 1e-9, 1e-6);
  snprintf(text, sizeof text, format, 0.0, 0.0, 0.0, "electric");
  cavum_result *half = solving_solve_text(text, 1e-9, 1e-6);
  const cavum_figure *a = full->modes[0].figures, *b = half->modes[0].figures;
  // Both are closed-form TM010: known to 1e-10.
  CAVUM_CHECK_RELATIVE(b[CAVUM_FIGURE_FREQUENCY].value, a[CAVUM_FIGURE_FREQUENCY].value, 1e-10);
  CAVUM_CHECK_RELATIVE(b[CAVUM_FIGURE_GEOMETRY_FACTOR].value, a[CAVUM_FIGURE_GEOMETRY_FACTOR].value,
                       1e-10);
  // The half's own |V| is taken over its own axis, where sine and cosine parts both count:
  // |int_0^d exp(jkz)| = (2/k) |sin(kd/2)| against (2/k) |sin(kd)| of the whole.
  double kd = sqrt(full->modes[0].k2_per_m2) * 0.06;
  double expected = pow(sin(0.5 * kd) / sin(kd), 2) * 2.0;
  CAVUM_CHECK_RELATIVE(b[CAVUM_FIGURE_R_OVER_Q_LINAC].value / a[CAVUM_FIGURE_R_OVER_Q_LINAC].value,
                       expected, 1e-9);
  cavum_result_destroy(&full);
  cavum_result_destroy(&half);
}
END_TEST

static cavum_point bulge(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.1 * s, t * (0.08 + 0.02 * sin(PI * s))};
}

// The same mesh file in millimetres, metres and inches, with shuffled numbering, as written order.
START_TEST(unit_and_numbering_of_a_mesh_file) {
  double s[5], t[4];
  grid_equal_steps(s, 4, 0.0, 1.0);
  grid_equal_steps(t, 3, 0.0, 1.0);
  static const struct {
    double unit_m;
    const char *word;
    uint64_t shuffle;
  } variants[] = {{1.0, "m", 0}, {1e-3, "mm", 0},  {0.0254, "inch", 0},
                  {1.0, "m", 7}, {1e-2, "cm", 99}, {1.0, "m", 123456789}};
  for (int triangles = 0; triangles < 2; triangles++) {
    cavum_result *first = NULL;
    for (size_t i = 0; i < sizeof variants / sizeof *variants; i++) {
      grid_msh grid = {.num_s = 4,
                       .num_t = 3,
                       .s = s,
                       .t = t,
                       .order = 3,
                       .triangles = triangles,
                       .shuffle = variants[i].shuffle,
                       .unit_m = variants[i].unit_m,
                       .map = bulge,
                       .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                                 CAVUM_BOUNDARY_METAL}};
      grid_request request = {.count = 3,
                              .unit = variants[i].word,
                              .accuracy_frequency = 1e-4,
                              .accuracy_other_figures = 1e-2,
                              .more = "accelerating_length_mm: 100\n",
                              .may_miss = true};
      cavum_solve_options options = cavum_solve_options_default();
      options.degree = 8;
      cavum_result *result = grid_solve(&grid, &request, &options);
      if (!first) {
        first = result;
        continue;
      }
      for (int m = 0; m < 3; m++) {
        for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
          const cavum_figure *x = &first->modes[m].figures[id], *y = &result->modes[m].figures[id];
          ck_assert_int_eq(x->state, y->state);
          if (x->state != CAVUM_FIGURE_PRESENT) continue;
          // The same discrete problem in another order or unit: rounding alone, which the transit
          // time of a mode with little voltage and the flat maximum over beta magnify.
          double own = id == CAVUM_FIGURE_BETA_OPTIMUM ? 1e-7 : 1e-9;
          printf("%s triangles %d variant %d mode %d: ",
                 cavum_figure_describe((cavum_figure_id)id).key, triangles, (int)i, m + 1);
          CAVUM_CHECK_RELATIVE(y->value, x->value, own);
        }
      }
      cavum_result_destroy(&result);
    }
    cavum_result_destroy(&first);
  }
}
END_TEST

// Starting a path elsewhere, or cutting a wall in two where it is smooth, draws the same cavity.
START_TEST(the_same_wall_drawn_differently) {
  static const char *const drawings[] = {
      "start: {z_mm: -90, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 90, r_mm: 0}, boundary: axis}\n"
      "    - {arc_to: {z_mm: 30, r_mm: 60}, centre: {z_mm: 30, r_mm: 0}, turn: left, boundary: "
      "metal}\n"
      "    - {line_to: {z_mm: -30, r_mm: 60}, boundary: metal}\n"
      "    - {arc_to: {z_mm: -90, r_mm: 0}, centre: {z_mm: -30, r_mm: 0}, turn: left, boundary: "
      "metal}\n",
      "start: {z_mm: 5, r_mm: 60}\n  path:\n"
      "    - {line_to: {z_mm: -30, r_mm: 60}, boundary: metal}\n"
      "    - {arc_to: {z_mm: -78, r_mm: 36}, centre: {z_mm: -30, r_mm: 0}, turn: left, boundary: "
      "metal}\n"
      "    - {arc_to: {z_mm: -90, r_mm: 0}, centre: {z_mm: -30, r_mm: 0}, turn: left, boundary: "
      "metal}\n"
      "    - {line_to: {z_mm: 90, r_mm: 0}, boundary: axis}\n"
      "    - {arc_to: {z_mm: 30, r_mm: 60}, centre: {z_mm: 30, r_mm: 0}, turn: left, boundary: "
      "metal}\n"
      "    - {line_to: {z_mm: 5, r_mm: 60}, boundary: metal}\n"};
  cavum_result *result[2];
  for (int i = 0; i < 2; i++) {
    char text[2048];
    snprintf(text, sizeof text,
             "accelerating_length_mm: 180\ncontour:\n  kind: path\n  %smodes: {count: 3}\n",
             drawings[i]);
    result[i] = solving_solve_text(text, 1e-6, 1e-4);
  }
  check_modes("redrawn capsule", result[0], result[1], NULL, 1.0);
  cavum_result_destroy(&result[0]);
  cavum_result_destroy(&result[1]);
}
END_TEST

// For every mode: both energies agree, products and conventions close, the voltage curve goes
// through the reported R/Q, the vector solves its problem.
START_TEST(identities_within_one_result) {
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  cavum_cell cell = solving_read(CUP);
  cavum_result *result = NULL;
  ck_assert_int_eq(cavum_solve(&result, &cell, &options, NULL), CAVUM_OK);
  cavum_cell_clear(&cell);
  for (int m = 0; m < result->num_modes; m++) {
    const cavum_mode_result *mode = &result->modes[m];
    const cavum_figure *f = mode->figures;
    double r_over_q = f[CAVUM_FIGURE_R_OVER_Q_LINAC].value, w = 2 * PI * f[0].value;
    double voltage = f[CAVUM_FIGURE_VOLTAGE_AT_1_J].value,
           g = f[CAVUM_FIGURE_GEOMETRY_FACTOR].value;
    // Energies from fields at quadrature points: E is a derivative, so the square of its error,
    // well below the 1e-4 asked of fields.
    CAVUM_CHECK_NEAR(mode->energy_mismatch, 0.0, 1e-6);
    // Arithmetic of printed figures: rounding.
    CAVUM_CHECK_RELATIVE(f[CAVUM_FIGURE_R_OVER_Q_CIRCUIT].value, 0.5 * r_over_q, 1e-14);
    CAVUM_CHECK_RELATIVE(voltage * voltage / w, r_over_q, 1e-14);
    CAVUM_CHECK_RELATIVE(f[CAVUM_FIGURE_LOSS_FACTOR].value, 0.25 * w * r_over_q, 1e-14);
    CAVUM_CHECK_RELATIVE(f[CAVUM_FIGURE_G_TIMES_R_OVER_Q].value, g * r_over_q, 1e-14);
    CAVUM_CHECK_RELATIVE(f[CAVUM_FIGURE_Q0].value * 15e-9, g, 1e-14);
    CAVUM_CHECK_RELATIVE(f[CAVUM_FIGURE_SHUNT_IMPEDANCE].value, r_over_q * f[CAVUM_FIGURE_Q0].value,
                         1e-14);
    double power =
        pow(1e6 * result->accelerating_length.value_m, 2) / f[CAVUM_FIGURE_SHUNT_IMPEDANCE].value;
    CAVUM_CHECK_RELATIVE(f[CAVUM_FIGURE_WALL_POWER].value, power, 1e-13);
    // beta 0.9 is the 86th point of the curve 0.05, 0.06, ...
    CAVUM_CHECK_NEAR(mode->beta_curve.beta[85], 0.9, 1e-14);
    CAVUM_CHECK_RELATIVE(mode->beta_curve.r_over_q_linac_ohm[85], r_over_q, 1e-11);
    // Like the figure, the curve is no better than mu0, known to 7e-10.
    ck_assert_double_ge(mode->beta_curve.uncertainty_ohm[85], 7e-10 * r_over_q);
    ck_assert_double_ge(f[CAVUM_FIGURE_R_OVER_Q_LINAC].uncertainty, 7e-10 * r_over_q);
    CAVUM_CHECK_NEAR(mode->residual, 0.0, 1e-6);
  }
  CAVUM_CHECK_RELATIVE(result->accelerating_length.value_m, 0.1154, 1e-14);
  ck_assert_str_eq(result->accelerating_length.from, "2 x half_length");
  cavum_result_destroy(&result);
}
END_TEST

// The same input gives the same bits.
START_TEST(solving_twice_gives_the_same_bits) {
  cavum_result *a = solving_solve_text(CUP, 1e-6, 1e-4), *b = solving_solve_text(CUP, 1e-6, 1e-4);
  for (int m = 0; m < a->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      const cavum_figure *x = &a->modes[m].figures[id], *y = &b->modes[m].figures[id];
      ck_assert_msg(memcmp(&x->value, &y->value, sizeof(double)) == 0 &&
                        memcmp(&x->uncertainty, &y->uncertainty, sizeof(double)) == 0,
                    "%s: %.17g and %.17g", cavum_figure_describe((cavum_figure_id)id).key, x->value,
                    y->value);
    }
  }
  cavum_result_destroy(&a);
  cavum_result_destroy(&b);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, scaling_the_shape);
  tcase_add_test(tests, mirror_image);
  tcase_add_test(tests, half_model_against_full);
  tcase_add_test(tests, half_a_cavity_by_hand);
  tcase_add_test(tests, unit_and_numbering_of_a_mesh_file);
  tcase_add_test(tests, the_same_wall_drawn_differently);
  tcase_add_test(tests, identities_within_one_result);
  tcase_add_test(tests, solving_twice_gives_the_same_bits);
}

CAVUM_TEST_MAIN("invariances", add_tests)
