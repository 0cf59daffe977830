// SPDX-License-Identifier: GPL-3.0-or-later
// Cavities with material: a pillbox in two layers along the axis and one with a dielectric rod on
// the axis, both against their transcendental equations; a pillbox filled with one material; a
// window in a sharp iris.
#include "closed_cavities.h"
#include "curved_mesh.h"
#include "grid_msh.h"

static tally all;
static const double WALL_OHM = 20e-9, RADIUS = 0.1, LENGTH = 0.12;

// ---- Two layers along z: H_phi = A cos(q1 z) J1(x r / R) below, B cos(q2 (d - z)) J1 above, with
// q_i^2 = eps_i k^2 - (x / R)^2; H_phi and E_r ~ (1 / eps) dH_phi/dz go on at the interface:
// (q1 / eps1) tan(q1 d1) + (q2 / eps2) tan(q2 d2) = 0.

typedef struct layers {
  double eps[2], thickness[2], x;
} layers;

// q tan(q d) through q^2, real on both sides of zero.
static double q_tan(double q2, double d) {
  double q = sqrt(fabs(q2));
  return q2 >= 0.0 ? q * tan(q * d) : -q * tanh(q * d);
}

static double cos_of(double q2, double x) {
  return q2 >= 0.0 ? cos(sqrt(q2) * x) : cosh(sqrt(-q2) * x);
}

static double slope_of(double q2, double x) {  // -d cos_of/dx
  double q = sqrt(fabs(q2));
  return q2 >= 0.0 ? q * sin(q * x) : -q * sinh(q * x);
}

static double q_squared(const layers *c, int i, double k) {
  return c->eps[i] * k * k - (c->x / RADIUS) * (c->x / RADIUS);
}

static double layer_condition(double k, void *context) {
  const layers *c = context;
  return RADIUS * (q_tan(q_squared(c, 0, k), c->thickness[0]) / c->eps[0] +
                   q_tan(q_squared(c, 1, k), c->thickness[1]) / c->eps[1]);
}

// Parameters: q1^2, q2^2, d1, eps1, eps2, B / A, amplitude of E_z, LENGTH, then k and J1(x).
static double layer_h(double z, const double *p) {
  return z < p[2] ? cos_of(p[0], z) : p[5] * cos_of(p[1], p[7] - z);
}
static double layer_e_axis(double z, const double *p) {
  return p[6] * layer_h(z, p) / (z < p[2] ? p[3] : p[4]);
}
static double layer_h_square(double z, void *p) {
  double h = layer_h(z, p);
  return h * h;
}
static double layer_h_size(double z, void *p) { return fabs(layer_h(z, p)); }
static double layer_e_side(double z, void *context) {
  const double *p = context;
  double slope = z < p[2] ? slope_of(p[0], z) / p[3] : p[5] * slope_of(p[1], p[7] - z) / p[4];
  return CLOSED_FORM_ETA0 / p[8] * fabs(slope * p[9]);
}

static closed_form closed_layers(const layers *c, int n) {
  double k = closed_form_nth_root(layer_condition, (void *)c, 2.0, 0.05, n);
  double d1 = c->thickness[0], q1 = q_squared(c, 0, k), q2 = q_squared(c, 1, k);
  double ratio = cos_of(q1, d1) / cos_of(q2, c->thickness[1]), j1 = gsl_sf_bessel_J1(c->x);
  closed_form mode = {.k_per_m = k,
                      .parameter = {q1, q2, d1, c->eps[0], c->eps[1], ratio,
                                    CLOSED_FORM_ETA0 * c->x / (RADIUS * k), LENGTH, k, j1},
                      .e_axis = layer_e_axis,
                      .num_parts = 2,
                      .part = {{0.0, d1 * (1.0 - 1e-15)}, {d1, LENGTH}}};
  double *p = mode.parameter, along = closed_form_integral(layer_h_square, p, 0.0, d1) +
                                      closed_form_integral(layer_h_square, p, d1, LENGTH);
  double ends = 1.0 + ratio * ratio, most = 0.0, e_most = 0.0;
  const double part[2][2] = {{0.0, d1 * (1.0 - 1e-15)}, {d1, LENGTH}};
  for (int i = 0; i < 2; i++) {
    double z = closed_form_arg_max(layer_h_size, p, part[i][0], part[i][1]);
    most = fmax(most, layer_h_size(z, p));
    z = closed_form_arg_max(layer_e_side, p, part[i][0], part[i][1]);
    e_most = fmax(e_most, layer_e_side(z, p));
  }
  mode.energy_integral = PI * RADIUS * RADIUS * j1 * j1 * along;
  mode.wall_integral = 2 * PI * RADIUS * j1 * j1 * along + PI * RADIUS * RADIUS * j1 * j1 * ends;
  mode.e_wall = fmax(e_most, fmax(fabs(layer_e_axis(0.0, p)), fabs(layer_e_axis(LENGTH, p))));
  mode.h_wall =
      fmax(most * fabs(j1), gsl_sf_bessel_J1(1.8411837813406593) * fmax(1.0, fabs(ratio)));
  return mode;
}

// The two lowest of the first modes of each radial order.
static void lowest_layer_modes(closed_form modes[2], double eps1, double eps2, double d1) {
  modes[0].k_per_m = modes[1].k_per_m = INFINITY;
  for (int radial = 1; radial <= 3; radial++) {
    layers c = {{eps1, eps2}, {d1, LENGTH - d1}, gsl_sf_bessel_zero_J0((unsigned)radial)};
    for (int n = 1; n <= 2; n++) {
      closed_form mode = closed_layers(&c, n);
      if (mode.k_per_m < modes[0].k_per_m) {
        modes[1] = modes[0];
        modes[0] = mode;
      } else if (mode.k_per_m < modes[1].k_per_m) {
        modes[1] = mode;
      }
    }
  }
}

static int layer_region(int i, int j, const void *context) {
  (void)j;
  return i >= *(const int *)context ? 1 : 0;
}

static void check_layers(double eps1, double eps2, double d1, int order, bool triangles) {
  double s[8], t[4];
  int inner = 3;
  char regions[128], where[64];
  grid_equal_steps(s, inner, 0.0, d1);
  grid_equal_steps(s + inner, 3, d1, LENGTH);
  grid_equal_steps(t, 3, 0.0, RADIUS);
  grid_msh grid = {.num_s = 6,
                   .num_t = 3,
                   .s = s,
                   .t = t,
                   .order = order,
                   .triangles = triangles,
                   .unit_m = 1.0,
                   .map = grid_identity,
                   .context = &inner,
                   .region = layer_region,
                   .region_names = {"lower", "upper"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  snprintf(regions, sizeof regions, "lower: {eps_r: %.17g}, upper: {eps_r: %.17g}", eps1, eps2);
  grid_request request = {.regions = regions,
                          .more =
                              "accelerating_length_mm: 120\n"
                              "wall: {kind: resistance, surface_resistance_nohm: 20}\n",
                          .count = 2,
                          .accuracy_frequency = 1e-9,
                          .accuracy_other_figures = 1e-6};
  cavum_result *result = grid_solve(&grid, &request, NULL);
  closed_form modes[2];
  lowest_layer_modes(modes, eps1, eps2, d1);
  for (int n = 0; n < 2; n++) {
    closed_form_figures truth = closed_form_compute(&modes[n], 1.0, LENGTH, WALL_OHM);
    snprintf(where, sizeof where, "layers eps %.3g and %.3g mode %d", eps1, eps2, n + 1);
    closed_form_compare(&all, where, &result->modes[n], &truth);
  }
  cavum_result_destroy(&result);
}

// ---- A rod of radius a along the whole axis, modes without variation in z: E_z = J0(k1 r) inside,
// C [J0(k r) Y0(k R) - J0(k R) Y0(k r)] outside, k1 = sqrt(eps) k; E_z and H_phi go on at r = a. R
// is RADIUS, k1 k_inside and C amplitude below.

typedef struct rod {
  double eps, radius;
} rod;

static double rod_outside(int order, double r, double k) {
  return order == 0 ? gsl_sf_bessel_J0(k * r) * gsl_sf_bessel_Y0(k * RADIUS) -
                          gsl_sf_bessel_J0(k * RADIUS) * gsl_sf_bessel_Y0(k * r)
                    : gsl_sf_bessel_J1(k * r) * gsl_sf_bessel_Y0(k * RADIUS) -
                          gsl_sf_bessel_J0(k * RADIUS) * gsl_sf_bessel_Y1(k * r);
}

static double rod_condition(double k, void *context) {
  const rod *c = context;
  double k_inside = sqrt(c->eps) * k;
  return sqrt(c->eps) * gsl_sf_bessel_J1(k_inside * c->radius) * rod_outside(0, c->radius, k) -
         gsl_sf_bessel_J0(k_inside * c->radius) * rod_outside(1, c->radius, k);
}

// Parameters: k, eps, radius, amplitude outside.
static double rod_h(double r, const double *p) {
  double inside = sqrt(p[1]) * gsl_sf_bessel_J1(sqrt(p[1]) * p[0] * r);
  return (r < p[2] ? inside : p[3] * rod_outside(1, r, p[0])) / CLOSED_FORM_ETA0;
}
static double rod_h_size(double r, void *p) { return fabs(rod_h(r, p)); }
static double rod_h_square(double r, void *p) { return rod_h(r, p) * rod_h(r, p) * r; }
static double rod_e_size(double r, void *context) {
  const double *p = context;
  return fabs(r < p[2] ? gsl_sf_bessel_J0(sqrt(p[1]) * p[0] * r) : p[3] * rod_outside(0, r, p[0]));
}
static double rod_e_axis(double z, const double *p) {
  (void)z;
  (void)p;
  return 1.0;
}

static closed_form closed_rod(const rod *c, int n) {
  double k = closed_form_nth_root(rod_condition, (void *)c, 2.0, 0.1, n), radius = c->radius;
  double amplitude = gsl_sf_bessel_J0(sqrt(c->eps) * k * radius) / rod_outside(0, radius, k);
  closed_form mode = {.k_per_m = k,
                      .parameter = {k, c->eps, radius, amplitude},
                      .e_axis = rod_e_axis,
                      .num_parts = 1,
                      .part = {{0.0, LENGTH}}};
  double *p = mode.parameter, inner = radius * (1.0 - 1e-15);
  double square = closed_form_integral(rod_h_square, p, 0.0, inner) +
                  closed_form_integral(rod_h_square, p, radius, RADIUS);
  double side = rod_h(RADIUS, p);
  mode.energy_integral = 2 * PI * LENGTH * square;
  mode.wall_integral = 4 * PI * square + 2 * PI * RADIUS * LENGTH * side * side;
  const double part[2][2] = {{0.0, inner}, {radius, RADIUS}};
  for (int i = 0; i < 2; i++) {
    double r = closed_form_arg_max(rod_h_size, p, part[i][0], part[i][1]);
    mode.h_wall = fmax(mode.h_wall, rod_h_size(r, p));
    r = closed_form_arg_max(rod_e_size, p, part[i][0], part[i][1]);
    mode.e_wall = fmax(mode.e_wall, rod_e_size(r, p));
  }
  return mode;
}

static int rod_region(int i, int j, const void *context) {
  (void)i;
  return j >= *(const int *)context ? 1 : 0;
}

static void check_rod(double eps, double radius, bool triangles) {
  double s[4], t[8];
  int inner = 2;
  char regions[128], where[64];
  grid_equal_steps(s, 3, 0.0, LENGTH);
  grid_equal_steps(t, inner, 0.0, radius);
  grid_equal_steps(t + inner, 4, radius, RADIUS);
  grid_msh grid = {.num_s = 3,
                   .num_t = 6,
                   .s = s,
                   .t = t,
                   .order = 1,
                   .triangles = triangles,
                   .unit_m = 1.0,
                   .map = grid_identity,
                   .context = &inner,
                   .region = rod_region,
                   .region_names = {"rod", "vacuum"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  snprintf(regions, sizeof regions, "rod: {eps_r: %.17g}, vacuum: {}", eps);
  grid_request request = {.regions = regions,
                          .more =
                              "accelerating_length_mm: 120\n"
                              "wall: {kind: resistance, surface_resistance_nohm: 20}\n",
                          .count = 1,
                          .accuracy_frequency = 1e-9,
                          .accuracy_other_figures = 1e-6};
  cavum_result *result = grid_solve(&grid, &request, NULL);
  rod c = {eps, radius};
  closed_form mode = closed_rod(&c, 1);
  closed_form_figures truth = closed_form_compute(&mode, 1.0, LENGTH, WALL_OHM);
  snprintf(where, sizeof where, "rod eps %.3g radius %.0f mm", eps, 1e3 * radius);
  closed_form_compare(&all, where, &result->modes[0], &truth);
  cavum_result_destroy(&result);
}

START_TEST(layered_and_rod_loaded_pillboxes) {
  check_layers(1.0, 9.8, 0.09, 1, false);  // a window at one end
  check_layers(2.1, 1.0, 0.03, 2, true);
  check_layers(1.0, 1.0, 0.05, 1, false);  // no contrast: the plain pillbox
  check_rod(9.8, 0.012, false);
  check_rod(2.1, 0.05, true);
  check_rod(1.0, 0.05, false);
  tally_check(&all, "dielectric pillboxes", 1.0, TALLY_MEDIAN_MOST_ANALYTIC);
}
END_TEST

// One material everywhere: k^2 scales as 1 / (eps mu), whatever the shape; the fields on the wall
// are those of the empty cavity, so G = w mu int H^2 dV / oint H^2 dS scales as sqrt(mu / eps).
START_TEST(uniform_filling_scales_the_frequency) {
  double s[3], t[3];
  int none = 0;
  grid_equal_steps(s, 2, 0.0, LENGTH);
  grid_equal_steps(t, 2, 0.0, RADIUS);
  grid_msh grid = {.num_s = 2,
                   .num_t = 2,
                   .s = s,
                   .t = t,
                   .order = 1,
                   .unit_m = 1.0,
                   .map = grid_identity,
                   .context = &none,
                   .region_names = {"filling"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  grid_request request = {.regions = "filling: {eps_r: 3.7, mu_r: 1.9}",
                          .count = 3,
                          .accuracy_frequency = 1e-9,
                          .accuracy_other_figures = 1e-6};
  cavum_result *filled = grid_solve(&grid, &request, NULL);
  closed_form modes[3];
  int indices[3][2];
  closed_pillbox_lowest(modes, indices, 3, RADIUS, LENGTH);
  for (int i = 0; i < 3; i++) {
    double expected = 299792458.0 * modes[i].k_per_m / (2 * PI * sqrt(3.7 * 1.9));
    // f to 1e-10 where 1e-9 is asked.
    CAVUM_CHECK_RELATIVE(filled->modes[i].figures[CAVUM_FIGURE_FREQUENCY].value, expected, 1e-10);
    double empty_ohm =
        closed_form_compute(&modes[i], 1.0, 0.2, 15e-9).value[CAVUM_FIGURE_GEOMETRY_FACTOR];
    CAVUM_CHECK_RELATIVE(filled->modes[i].figures[CAVUM_FIGURE_GEOMETRY_FACTOR].value,
                         empty_ohm * sqrt(1.9 / 3.7), 1e-6);
    // The two energies agree for a mode; E comes from derivatives, good to 1e-6 as asked.
    CAVUM_CHECK_NEAR(filled->modes[i].energy_mismatch, 0.0, 1e-6);
  }
  cavum_result_destroy(&filled);
}
END_TEST

// ---- A window that fills a sharp iris. At its edge H_phi goes as cos(q a) in the vacuum of 180
// degrees and as cos(q (270 deg - a)) in the window of 90; that and (1 / eps) dH_phi/da go on at
// the interface, tan(pi q) = -(1 / 9.8) tan(pi q / 2), of which q = 0.862 is the least root: E is
// infinite. On few elements each interface is a single straight side, of which nothing tells
// whether it stands for a curve; the edge of the iris is one all the same.

static void add_box(curved_mesh *made, double z0, double z1, double r0, double r1,
                    cavum_index region) {
  cavum_point lattice[(CURVED_LARGEST_ORDER + 1) * (CURVED_LARGEST_ORDER + 1)];
  int order = made->mesh.node_order;
  for (int k = 0; k < (order + 1) * (order + 1); k++) {
    double u = (double)(k % (order + 1)) / order, v = (double)(k / (order + 1)) / order;
    lattice[k] = (cavum_point){z0 + (z1 - z0) * u, r0 + (r1 - r0) * v};
  }
  curved_add(made, lattice, region);
}

START_TEST(window_in_a_sharp_iris_has_no_peak) {
  for (int order = 1; order <= 2; order++) {
    char folder[128], path[192], text[512];
    cavum_error error = {0};
    curved_mesh made = curved_start(order, false, 2);
    add_box(&made, 0.0, 0.03, 0.0, 0.025, 1);
    add_box(&made, 0.0, 0.03, 0.025, 0.08, 1);
    add_box(&made, 0.03, 0.034, 0.0, 0.025, 0);
    add_box(&made, 0.034, 0.1, 0.0, 0.025, 1);
    add_box(&made, 0.034, 0.1, 0.025, 0.08, 1);
    cavum_mesh mesh = curved_finish(&made);
    temporary_folder_make(folder);
    snprintf(path, sizeof path, "%s/window.msh", folder);
    ck_assert_int_eq(cavum_mesh_write_msh(&mesh, path, 0, 1e-3, true, &error), CAVUM_OK);
    snprintf(text, sizeof text,
             "contour: {kind: mesh, file: %s, unit: mm, axis: x, regions: {inner: {eps_r: 9.8}, "
             "outer: {}}}\n",
             path);
    cavum_cell cell = solving_read(text);
    cavum_result *result = NULL;
    (void)cavum_solve(&result, &cell, NULL, &error);
    ck_assert_msg(result != NULL, "%s", error.message);
    const cavum_figure *e = &result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC];
    ck_assert_int_eq(e->state, CAVUM_FIGURE_UNBOUNDED);
    CAVUM_CHECK_NEAR(e->at.r_m, 0.025, 1e-12);
    // Five elements are not enough there at any degree, and the run says where.
    ck_assert(!result->accuracy_reached);
    bool told = false;
    for (int i = 0; i < result->num_warnings; i++) {
      printf("%s\n", result->warnings[i]);
      const char *at = strstr(result->warnings[i], "not smooth at the corner at z = 3");
      told = told || (at && strstr(at, "r = 25 mm"));
    }
    ck_assert(told);
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
    cavum_mesh_clear(&mesh);
    temporary_folder_delete(folder);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, layered_and_rod_loaded_pillboxes);
  tcase_add_test(tests, uniform_filling_scales_the_frequency);
  tcase_add_test(tests, window_in_a_sharp_iris_has_no_peak);
}

CAVUM_TEST_MAIN("dielectric", add_tests)
