// SPDX-License-Identifier: GPL-3.0-or-later
// Mesh files of every order, few and many sides a turn, triangles and quadrilaterals, against the
// curves that their nodes lie on: walls and interfaces between materials. Closed forms of Maxwell's
// equations, and meshes of order 10 where there are none.
#include "closed_cavities.h"
#include "curved_mesh.h"
#include "solving.h"
#include "temporary_folder.h"

enum { ORDERS = 6 };
static const int SIDES_A_TURN[] = {8, 16, 28};

// The finest meshes take most of the time, and come with the long tests. Without these each density
// has one kind of elements, in turns, so that each order has both.
static bool is_long(void) { return getenv("CAVUM_LONG_TESTS") != NULL; }
static int num_densities(void) { return is_long() ? 3 : 2; }

static const double EPS_R = 9.8;
// At least this share of the figures of each order must be inside.
static const double SHARE_LEAST = 0.98;

static char folder[128];

static cavum_result *solve_modes(int count, const cavum_mesh *mesh, double frequency, double others,
                                 const cavum_solve_options *options) {
  char path[192], text[1024];
  cavum_result *result = NULL;
  cavum_error error = {0};
  snprintf(path, sizeof path, "%s/curves.msh", folder);
  cavum_status status = cavum_mesh_write_msh(mesh, path, 0, 1e-3, true, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  snprintf(text, sizeof text,
           "accelerating_length_mm: 200\ncontour: {kind: mesh, file: %s, unit: mm, axis: x%s}\n"
           "modes: {count: %d}\nwall: {kind: resistance, surface_resistance_nohm: 15}\n",
           path, mesh->num_regions > 1 ? ", regions: {inner: {eps_r: 9.8}, outer: {eps_r: 1}}" : "",
           count);
  cavum_cell cell = solving_read(text);
  cell.accuracy_frequency = frequency;
  cell.accuracy_other_figures = others;
  status = cavum_solve(&result, &cell, options, &error);
  ck_assert_msg(result != NULL, "%s", error.message);  // what misses the accuracy is wanted too
  cavum_cell_clear(&cell);
  return result;
}

static cavum_result *solve_mesh(const cavum_mesh *mesh, double frequency, double others,
                                const cavum_solve_options *options) {
  return solve_modes(2, mesh, frequency, others, options);
}

static cavum_result *solve_rings(const curved_rings *rings, double accuracy) {
  cavum_mesh mesh = curved_rings_mesh(rings);
  cavum_result *result = solve_mesh(&mesh, accuracy, 100.0 * accuracy, NULL);
  cavum_mesh_clear(&mesh);
  return result;
}

static curved_rings with_sides(const curved_rings *shape, int order, int sides, bool triangles) {
  curved_rings rings = *shape;
  rings.order = order;
  rings.edges_half_turn = sides / 2;
  rings.triangles = triangles;
  return rings;
}

static tally by_order[ORDERS + 1];

typedef void comparison(tally *all, const char *where, const cavum_result *result,
                        const void *truth);

// Compares all figures at every order, density and kind of element.
static void compare_shape(const char *name, const curved_rings *shape, comparison *compare,
                          const void *truth) {
  char where[128];
  for (int order = 1; order <= ORDERS; order++) {
    for (int i = 0; i < 2 * num_densities(); i++) {
      bool triangles = i % 2 == 1;
      if (!is_long() && triangles != ((order + i / 2) % 2 == 1)) continue;
      curved_rings rings = with_sides(shape, order, SIDES_A_TURN[i / 2], triangles);
      cavum_result *result = solve_rings(&rings, 1e-7);
      snprintf(where, sizeof where, "%s order %d, %d sides, %s", name, order, SIDES_A_TURN[i / 2],
               triangles ? "triangles" : "quadrilaterals");
      compare(&by_order[order], where, result, truth);
      cavum_result_destroy(&result);
    }
  }
}

// ---- Figures against those of a far better mesh.

static void compare_fine(tally *all, const char *where, const cavum_result *result,
                         const void *truth) {
  const cavum_result *exact = truth;
  for (int m = 0; m < exact->num_modes && m < result->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      if (is_tube_cut((cavum_figure_id)id)) continue;
      const cavum_figure *a = &result->modes[m].figures[id], *b = &exact->modes[m].figures[id];
      // Peaks at the corners of a polygon are infinite, and said to be.
      if (a->state != CAVUM_FIGURE_PRESENT || b->state != CAVUM_FIGURE_PRESENT) continue;
      tally_add(all, where, (cavum_figure_id)id, a, b->value, b->uncertainty);
    }
  }
}

static void compare_with_fine(const char *name, const curved_rings *shape) {
  curved_rings fine = with_sides(shape, 10, 40, false);
  cavum_result *exact = solve_rings(&fine, 1e-9);
  compare_shape(name, shape, compare_fine, exact);
  cavum_result_destroy(&exact);
}

// ---- A sphere: all figures in closed form.

static void compare_sphere(tally *all, const char *where, const cavum_result *result,
                           const void *truth) {
  (void)truth;
  for (int l = 1; l <= 2; l++) {
    closed_form mode = closed_sphere(0.1, l, 1);
    closed_form_figures figures = closed_form_compute(&mode, 1.0, 0.2, 15e-9);
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      if (is_tube_cut((cavum_figure_id)id)) continue;
      const cavum_figure *figure = &result->modes[l - 1].figures[id];
      if (figure->state != CAVUM_FIGURE_PRESENT || isnan(figures.value[id])) continue;
      double own = id == CAVUM_FIGURE_BETA_OPTIMUM ? 3e-8 : 1e-12;
      tally_add(all, where, (cavum_figure_id)id, figure, figures.value[id],
                own * fabs(figures.value[id]));
    }
  }
}

static void compare_with_sphere(void) {
  const curved_rings shape = {
      .num_layers = 1, .num_regions = 1, .layer = {{CURVED_ELLIPSE, 0.1, 0.1, 0.0}}};
  compare_shape("sphere", &shape, compare_sphere, NULL);
}

// R/Q of a sphere at every speed of the curve over beta, in closed form, which the integration of
// its voltage gives to 1e-12.
static void add_beta_curve(tally *all, const curved_rings *rings) {
  char where[64];
  cavum_mesh mesh = curved_rings_mesh(rings);
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  cavum_result *result = solve_mesh(&mesh, 1e-7, 1e-5, &options);
  const cavum_beta_curve *curve = &result->modes[0].beta_curve;
  closed_form mode = closed_sphere(0.1, 1, 1);
  ck_assert_int_gt(curve->num_points, 50);
  for (int i = 0; i < curve->num_points; i++) {
    closed_form_figures truth = closed_form_compute(&mode, curve->beta[i], 0.2, 15e-9);
    double r_over_q = truth.value[CAVUM_FIGURE_R_OVER_Q_LINAC];
    const cavum_figure point = {.state = CAVUM_FIGURE_PRESENT,
                                .value = curve->r_over_q_linac_ohm[i],
                                .uncertainty = curve->uncertainty_ohm[i]};
    snprintf(where, sizeof where, "order %d, beta %.2f", rings->order, curve->beta[i]);
    tally_add(all, where, CAVUM_FIGURE_R_OVER_Q_LINAC, &point, r_over_q, 1e-12 * r_over_q);
  }
  cavum_result_destroy(&result);
  cavum_mesh_clear(&mesh);
}

START_TEST(curve_over_beta_of_a_sphere) {
  static tally all;
  const curved_rings shape = {
      .num_layers = 1, .num_regions = 1, .layer = {{CURVED_ELLIPSE, 0.1, 0.1, 0.0}}};
  for (int order = 1; order <= 3; order++) {
    curved_rings rings = with_sides(&shape, order, 16, false);
    add_beta_curve(&all, &rings);
  }
  tally_check(&all, "curve over beta of mesh files", SHARE_LEAST, TALLY_MEDIAN_MOST);
}
END_TEST

// Half axes 130 and 85 mm, and a curve that is blunt at one end, with sides of unequal length.
static void compare_spheroid_and_egg(void) {
  const curved_rings spheroid = {.num_layers = 1,
                                 .num_regions = 1,
                                 .uneven = 0.25,
                                 .layer = {{CURVED_ELLIPSE, 0.13, 0.085, 0.0}}};
  const curved_rings egg = {
      .num_layers = 1, .num_regions = 1, .uneven = 0.1, .layer = {{CURVED_EGG, 0.1, 0.09, 0.0}}};
  compare_with_fine("spheroid", &spheroid);
  compare_with_fine("egg", &egg);
}

// ---- A dielectric ball in a spherical cavity: the frequency in closed form. With S(x) = x j_l(x)
// and W the combination of x j_l and x y_l whose slope vanishes at the wall, r H_phi is S(n k r)
// inside and W(k r) outside; it and (1 / eps) d(r H_phi)/dr go on at the ball:
// S'(n k a) W(k a) / n = S(n k a) W'(k a), n = sqrt(eps).

typedef struct ball_context {
  int l;
  double ball, wall;
} ball_context;

static double ball_condition(double k, void *context) {
  const ball_context *c = context;
  double n = sqrt(EPS_R), inside = n * k * c->ball, x = k * c->ball, at_wall = k * c->wall;
  double j = spherical_riccati_j(c->l, at_wall), y = spherical_riccati_y(c->l, at_wall);
  double w = x * (gsl_sf_bessel_jl(c->l, x) * y - gsl_sf_bessel_yl(c->l, x) * j);
  double w_slope = spherical_riccati_j(c->l, x) * y - spherical_riccati_y(c->l, x) * j;
  return spherical_riccati_j(c->l, inside) / n * w -
         inside * gsl_sf_bessel_jl(c->l, inside) * w_slope;
}

/** The frequencies in closed form, the other figures from a far better mesh. */
typedef struct ball_truth {
  double k[2];
  cavum_result *fine;
} ball_truth;

static void compare_ball(tally *all, const char *where, const cavum_result *result,
                         const void *truth) {
  const double *k = ((const ball_truth *)truth)->k;
  compare_fine(all, where, result, ((const ball_truth *)truth)->fine);
  for (int m = 0; m < 2; m++) {
    double f = 299792458.0 * k[m] / (2.0 * PI);
    const cavum_figure *figure = &result->modes[m].figures[CAVUM_FIGURE_FREQUENCY];
    printf("%s mode %d: observed %.12g +- %.1e, closed form %.12g, difference %.1e\n", where, m + 1,
           figure->value, figure->uncertainty, f, figure->value - f);
    tally_add(all, where, CAVUM_FIGURE_FREQUENCY, figure, f, 1e-12 * f);
  }
}

static void compare_ball_in_sphere(void) {
  const curved_rings shape = {
      .num_layers = 2,
      .num_regions = 2,
      .region = {0, 1},
      .layer = {{CURVED_ELLIPSE, 0.04, 0.04, 0.0}, {CURVED_ELLIPSE, 0.1, 0.1, 0.0}}};
  ball_truth truth = {.k = {INFINITY, INFINITY}};
  double *k = truth.k;
  for (int i = 0; i < 6; i++) {  // the two lowest among two of each order
    ball_context context = {1 + i / 2, 0.04, 0.1};
    double root = closed_form_nth_root(ball_condition, &context, 5.0, 0.1, 1 + i % 2);
    if (root < k[1]) k[1] = root;
    if (k[1] < k[0]) {
      k[1] = k[0];
      k[0] = root;
    }
  }
  curved_rings fine = with_sides(&shape, 10, 40, false);
  truth.fine = solve_rings(&fine, 1e-9);
  compare_shape("ball in sphere", &shape, compare_ball, &truth);
  cavum_result_destroy(&truth.fine);
}

// ---- A bead of radius 15 mm in a pillbox: straight walls, and an interface alone that is curved.

static void compare_bead_in_pillbox(void) {
  const curved_rings shape = {
      .num_layers = 2,
      .num_regions = 2,
      .region = {0, 1},
      .layer = {{CURVED_ELLIPSE, 0.015, 0.015, 0.0}, {CURVED_RECTANGLE, 0.06, 0.1, 0.0}}};
  compare_with_fine("bead in pillbox", &shape);
}

static void check_orders(const char *what) {
  for (int order = 1; order <= ORDERS; order++) {
    char name[96];
    snprintf(name, sizeof name, "%s of mesh files of order %d", what, order);
    tally_check(&by_order[order], name, SHARE_LEAST, TALLY_MEDIAN_MOST);
  }
}

START_TEST(curved_walls) {
  memset(by_order, 0, sizeof by_order);
  compare_with_sphere();
  compare_spheroid_and_egg();
  check_orders("walls");
}
END_TEST

START_TEST(curved_interfaces) {
  memset(by_order, 0, sizeof by_order);
  compare_ball_in_sphere();
  compare_bead_in_pillbox();
  check_orders("interfaces");
}
END_TEST

// ---- Elements that cannot be bent: a foil between the ball and the rest that is thinner by far
// than what the polygon lies off the circle. There is no number, and that is said.

START_TEST(folding_leaves_no_number) {
  const curved_rings shape = {.num_layers = 3,
                              .num_regions = 2,
                              .region = {0, 1, 1},
                              .order = 1,
                              .edges_half_turn = 4,
                              .layer = {{CURVED_ELLIPSE, 0.04, 0.04, 0.0},
                                        {CURVED_ELLIPSE, 0.040002, 0.040002, 0.0},
                                        {CURVED_ELLIPSE, 0.1, 0.1, 0.0}}};
  cavum_mesh mesh = curved_rings_mesh(&shape);
  cavum_solve_options options = cavum_solve_options_default();
  options.degree = 5;
  cavum_result *result = solve_mesh(&mesh, 1e-2, 1e-1, &options);
  const cavum_figure *f = &result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  ck_assert_double_ge(f->uncertainty, f->value);
  ck_assert(!result->accuracy_reached);
  bool said = false;
  for (int i = 0; i < result->num_warnings; i++) {
    said = said || strstr(result->warnings[i], "could not be found out");
  }
  ck_assert(said);
  cavum_result_destroy(&result);
  cavum_mesh_clear(&mesh);
}
END_TEST

// A ring that is thinner than the way to the circle, but not by far, is bent by a part of it.
START_TEST(thin_ring_is_bent_by_a_part) {
  const curved_rings ring = {.num_layers = 3,
                             .num_regions = 2,
                             .region = {0, 1, 1},
                             .order = 1,
                             .edges_half_turn = 4,
                             .layer = {{CURVED_ELLIPSE, 0.04, 0.04, 0.0},
                                       {CURVED_ELLIPSE, 0.041, 0.041, 0.0},
                                       {CURVED_ELLIPSE, 0.1, 0.1, 0.0}}};
  ball_context context = {1, 0.04, 0.1};
  double k = closed_form_nth_root(ball_condition, &context, 5.0, 0.1, 1);
  double f = 299792458.0 * k / (2.0 * PI);
  cavum_result *result = solve_rings(&ring, 1e-6);
  const cavum_figure *observed = &result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  printf("thin ring: observed %.9g +- %.1e, closed form %.9g, off by %.1e\n", observed->value,
         observed->uncertainty, f, observed->value - f);
  ck_assert_double_le(fabs(observed->value - f), observed->uncertainty);
  ck_assert_double_lt(observed->uncertainty, TALLY_MEDIAN_MOST * fabs(observed->value - f));
  bool said = false;
  for (int i = 0; i < result->num_warnings; i++) {
    said = said || strstr(result->warnings[i], "limit the accuracy");
  }
  ck_assert(said);
  cavum_result_destroy(&result);
}
END_TEST

// Five modes of a ball in a sphere whose sides of order 6 and more lie within 1e-8 m of their
// circles: what the iteration leaves of the two solutions is no change of the shape, and keeps no
// figure from the accuracy asked for.
static cavum_result *solve_ball(int order, int sides, double accuracy) {
  const curved_rings rings = {
      .num_layers = 2,
      .num_regions = 2,
      .order = order,
      .edges_half_turn = sides / 2,
      .triangles = sides % 8 == 0,
      .layer = {{CURVED_ELLIPSE, 0.05, 0.05, 0.0}, {CURVED_ELLIPSE, 0.09, 0.09, 0.0}},
      .region = {0, 1}};
  cavum_mesh mesh = curved_rings_mesh(&rings);
  cavum_result *result = solve_modes(5, &mesh, accuracy, 100.0 * accuracy, NULL);
  cavum_mesh_clear(&mesh);
  return result;
}

START_TEST(sides_on_the_curve_limit_nothing) {
  static tally all;
  cavum_result *exact = solve_ball(10, 40, 1e-9);
  for (int order = 6; order <= 8; order++) {
    for (int sides = 12; sides <= 24; sides += 4) {
      cavum_result *result = solve_ball(order, sides, 1e-6);
      printf("order %d, %d sides a turn: %d warnings\n", order, sides, result->num_warnings);
      ck_assert(result->accuracy_reached);
      ck_assert_int_eq(result->num_warnings, 0);
      compare_fine(&all, "ball in sphere", result, exact);
      cavum_result_destroy(&result);
    }
  }
  cavum_result_destroy(&exact);
  tally_check(&all, "sides that lie on their curve", SHARE_LEAST, TALLY_MEDIAN_MOST);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, sides_on_the_curve_limit_nothing);
  tcase_add_test(tests, curved_walls);
  tcase_add_test(tests, curved_interfaces);
  tcase_add_test(tests, curve_over_beta_of_a_sphere);
  tcase_add_test(tests, folding_leaves_no_number);
  tcase_add_test(tests, thin_ring_is_bent_by_a_part);
}

static void make_folder(void) { temporary_folder_make(folder); }
static void delete_folder(void) { temporary_folder_delete(folder); }

static void add_with_folder(TCase *tests) {
  tcase_add_checked_fixture(tests, make_folder, delete_folder);
  add_tests(tests);
}

CAVUM_TEST_MAIN("curves of mesh files", add_with_folder)
