// SPDX-License-Identifier: GPL-3.0-or-later
// Densities along the wall: closed forms, a published cell, exact derivatives by dimensions, and
// scale invariance.
#include <complex.h>

#include "cell/dimension.h"
#include "solving.h"
#include "test_cell.h"

#define CUP(ends)                                                                  \
  "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"  \
  "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n" \
  "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n" ends
#define BOTH(end) CUP("ends: {left: " end ", right: " end "}\n")
#define PERIODIC BOTH("{kind: magnetic}")
#define WITH_TUBES BOTH("{kind: tube, length_mm: 300, close: electric}")

static const char CAPSULE[] =
    "accelerating_length_mm: 180.0\ncontour:\n  kind: path\n  start: {z_mm: -90.0, r_mm: 0.0}\n"
    "  path:\n    - {line_to: {z_mm: 90.0, r_mm: 0.0}, boundary: axis}\n"
    "    - {arc_to: {z_mm: 30.0, r_mm: 60.0}, centre: {z_mm: 30.0, r_mm: 0.0}, turn: left, "
    "boundary: metal}\n"
    "    - {line_to: {z_mm: -30.0, r_mm: 60.0}, boundary: metal}\n"
    "    - {arc_to: {z_mm: -90.0, r_mm: 0.0}, centre: {z_mm: -30.0, r_mm: 0.0}, turn: left, "
    "boundary: metal}\n";

// R = x01 c / (2 pi 1300 MHz) in mm, 60 mm long.
static const char PILLBOX[] =
    "accelerating_length_mm: 60\ncontour:\n  kind: path\n  start: {z_mm: -30, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 30, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 30, r_mm: 88.26348295}, boundary: metal}\n"
    "    - {line_to: {z_mm: -30, r_mm: 88.26348295}, boundary: metal}\n"
    "    - {line_to: {z_mm: -30, r_mm: 0}, boundary: metal}\n";

static cavum_result *solve_tight(const char *text, bool use_symmetry) {
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = options.derivatives = true;
  options.use_symmetry = use_symmetry;
  cell.accuracy_frequency = 1e-13;
  cell.accuracy_other_figures = 1e-9;
  cavum_result *result = NULL;
  cavum_error error = {0};
  // Peaks need not come as near as that.
  cavum_status status = cavum_solve(&result, &cell, &options, &error);
  ck_assert_msg(status == CAVUM_OK || status == CAVUM_ERR_NOT_CONVERGED, "%s", error.message);
  cavum_cell_clear(&cell);
  return result;
}

// Sum of a density over the wall, times how far each point is taken back.
static double sum_of(const cavum_wall_density *d, const double *values, const double *moved) {
  double sum = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    sum += values[i] * d->area_m2[i] * (moved ? moved[i] : 1.0);
  }
  return sum;
}

static void check(const char *what, double observed, double expected, double tolerance) {
  printf("%s: %.12g, expected %.12g, tolerance %.2g\n", what, observed, expected, tolerance);
  ck_assert_msg(fabs(observed - expected) <= tolerance, "%s", what);
}

// f is proportional to 1 / R and does not know the length.
START_TEST(pillbox_agrees_with_its_formula) {
  cavum_result *result = solve_tight(PILLBOX, true);
  const cavum_mode_result *mode = &result->modes[0];
  const cavum_wall_density *d = &mode->wall_density;
  double f = solving_value(mode, CAVUM_FIGURE_FREQUENCY), side = 0.0, plate = 0.0, area = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    bool on_side = d->normal_r[i] > 0.5;
    *(on_side ? &side : &plate) += d->frequency_hz_per_m3[i] * d->area_m2[i];
    area += d->area_m2[i];
    check("normal", hypot(d->normal_z[i], d->normal_r[i]), 1.0, 1e-14);
    ck_assert(d->arc_length_m[i] > (i > 0 ? d->arc_length_m[i - 1] : 0.0));
    if (on_side) check("length", d->arc_length_m[i], 0.08826348295 + 0.03 - d->z_m[i], 1e-12);
  }
  // -14.7286 kHz/um, from f / R.
  check("side wall in kHz/um", side * 1e-9, -14.7286, 1e-4);
  check("side wall", side, -f / 0.08826348295, 1e-8 * f / 0.08826348295);
  check("end plates", plate, 0.0, 1e-8 * f / 0.03);
  const double pi = 3.14159265358979323846, r = 0.08826348295;
  check("area", area, 2.0 * pi * r * (r + 0.06), 1e-12);
  // J1(x01)^2 / 4 of mu0 H^2 at one joule: eps0 E0^2 J1^2 / 4 with eps0 E0^2 J1^2 V / 2 = 1 J.
  for (cavum_index i = 0; i < d->num_points; i++) {
    if (d->normal_r[i] > 0.5) {
      check("pressure", d->pressure_pa[i] * pi * r * r * 0.06, 0.5, 1e-8);
    }
  }
  cavum_result_destroy(&result);
}
END_TEST

// Of the published mid cell in the pi mode, by spectral elements: -10.537348 kHz/um
// (tests/verification/spectral_elements.py).
START_TEST(uniform_removal_of_a_published_cell) {
  cavum_result *result = solve_tight(PERIODIC, true);
  const cavum_wall_density *d = &result->modes[0].wall_density;
  double removal = sum_of(d, d->frequency_hz_per_m3, NULL);
  check("uniform removal in kHz/um", removal * 1e-9, -10.537348, 1e-6);
  cavum_result_destroy(&result);
}
END_TEST

// Where on its curve a point is.
static double parameter(const cavum_curve *c, double z_m, double r_m) {
  if (c->kind == CAVUM_CURVE_LINE) {
    double dz = c->end.z_m - c->start.z_m, dr = c->end.r_m - c->start.r_m;
    return ((z_m - c->start.z_m) * dz + (r_m - c->start.r_m) * dr) / (dz * dz + dr * dr);
  }
  double angle = atan2((r_m - c->centre.r_m) / c->radial_m, (z_m - c->centre.z_m) / c->axial_m);
  double middle = 0.5 * (c->angle_start_rad + c->angle_end_rad);
  while (angle - middle > CAVUM_PI) angle -= 2.0 * CAVUM_PI;
  while (angle - middle < -CAVUM_PI) angle += 2.0 * CAVUM_PI;
  return (angle - c->angle_start_rad) / (c->angle_end_rad - c->angle_start_rad);
}

// How far the wall is taken back at each point, per metre of a dimension.
static void move_by(double *moved, const cavum_result *result, const cavum_curve_rate *rates) {
  const cavum_wall_density *d = &result->modes[0].wall_density;
  for (cavum_index i = 0; i < d->num_points; i++) {
    const cavum_curve *curve = &result->mesh.curves[d->curve[i]];
    cavum_point point, slope;
    cavum_curve_rate_at(&point, &slope, curve, &rates[d->curve[i]],
                        parameter(curve, d->z_m[i], d->r_m[i]));
    moved[i] = point.z_m * d->normal_z[i] + point.r_m * d->normal_r[i];
  }
}

// The sum of the sizes of what is added: what 1e-8 is of.
static double size_of(const cavum_wall_density *d, const double *values, const double *moved) {
  double sum = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    sum += fabs(values[i] * d->area_m2[i] * moved[i]);
  }
  return sum;
}

static void check_dimensions(const char *text) {
  cavum_cell cell = solving_read(text);
  cavum_cell_dimensions dimensions = {0};
  cavum_error error = {0};
  cavum_result *result = solve_tight(text, false);
  const cavum_wall_density *d = &result->modes[0].wall_density;
  const cavum_contour contour = {result->mesh.num_curves, result->mesh.curves};
  double *moved = calloc((size_t)d->num_points, sizeof *moved);
  cavum_curve_rate *rates = calloc((size_t)contour.num_curves, sizeof *rates);
  ck_assert_ptr_nonnull(moved);
  ck_assert_ptr_nonnull(rates);
  ck_assert_int_eq(cavum_cell_dimensions_list(&dimensions, &cell, &error), CAVUM_OK);
  int count = 0;
  for (int i = 0; i < dimensions.count; i++) {
    const struct {
      cavum_figure_id id;
      const double *values;
    } of[] = {{CAVUM_FIGURE_FREQUENCY, d->frequency_hz_per_m3},
              {CAVUM_FIGURE_GEOMETRY_FACTOR, d->geometry_factor_ohm_per_m3},
              {CAVUM_FIGURE_R_OVER_Q_LINAC, d->r_over_q_linac_ohm_per_m3}};
    cavum_cell_rate other = {0};
    memset(rates, 0, (size_t)contour.num_curves * sizeof *rates);
    bool smooth = false;
    ck_assert_int_eq(cavum_cell_dimension_rate(rates, &other, &smooth, &contour, &cell,
                                               CAVUM_PART_WHOLE, &dimensions.list[i], &error),
                     CAVUM_OK);
    bool whole_wall = strstr(dimensions.list[i].key, "length") == NULL;
    if (!smooth || !whole_wall || strcmp(dimensions.list[i].key, "beta") == 0) continue;
    move_by(moved, result, rates);
    for (int k = 0; k < 3; k++) {
      ck_assert_ptr_nonnull(of[k].values);
      char what[160];
      cavum_derivative exact = cavum_result_derivative(result, 0, i, of[k].id);
      snprintf(what, sizeof what, "%s by %s", cavum_figure_describe(of[k].id).key,
               dimensions.list[i].key);
      ck_assert_int_eq(exact.state, CAVUM_FIGURE_PRESENT);
      check(what, sum_of(d, of[k].values, moved), exact.value,
            1e-8 * size_of(d, of[k].values, moved));
      count++;
    }
  }
  ck_assert_int_gt(count, 6);
  cavum_cell_dimensions_clear(&dimensions);
  cavum_cell_clear(&cell);
  free(moved);
  free(rates);
  cavum_result_destroy(&result);
}

START_TEST(integrals_are_the_derivatives_by_dimensions) {
  check_dimensions(PERIODIC);
  check_dimensions(WITH_TUBES);
}
END_TEST

// A wall that grows about the origin is a cell that grows.
START_TEST(growing_walls_are_growing_cells) {
  cavum_result *result = solve_tight(CAPSULE, true);
  const cavum_mode_result *mode = &result->modes[0];
  const cavum_wall_density *d = &mode->wall_density;
  double *moved = calloc((size_t)d->num_points, sizeof *moved);
  ck_assert_ptr_nonnull(moved);
  for (cavum_index i = 0; i < d->num_points; i++) {
    moved[i] = d->z_m[i] * d->normal_z[i] + d->r_m[i] * d->normal_r[i];
  }
  double f = solving_value(mode, CAVUM_FIGURE_FREQUENCY);
  double g = solving_value(mode, CAVUM_FIGURE_GEOMETRY_FACTOR);
  check("f", sum_of(d, d->frequency_hz_per_m3, moved), -f, 1e-8 * f);
  check("G", sum_of(d, d->geometry_factor_ohm_per_m3, moved), 0.0, 1e-8 * g);
  free(moved);
  cavum_result_destroy(&result);
}
END_TEST

static cavum_result *solve_wall_rates(const char *text) {
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = options.derivatives = options.wall_derivatives = true;
  options.derivatives_of = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY;
  cell.accuracy_frequency = 1e-11;
  cell.accuracy_other_figures = 1e-7;
  cavum_result *result = solving_solve(&cell, &options);
  cavum_cell_clear(&cell);
  return result;
}

// Sum of what dimensions that begin so do to a field, times their sizes.
static double grown(const cavum_result *result, const double *rates, cavum_index point,
                    const char *const *keys) {
  double sum = 0.0;
  for (int i = 0; i < result->num_dimensions; i++) {
    const cavum_dimension *d = &result->dimensions[i];
    bool wanted = keys[0] == NULL && strcmp(d->key, "beta") != 0;
    for (int k = 0; keys[k]; k++) wanted = wanted || strcmp(d->key, keys[k]) == 0;
    if (wanted) {
      sum += rates[(int64_t)i * result->modes[0].wall.num_points + point] * d->value_si;
    }
  }
  return sum;
}

// At one joule fields are a length to the power of -3/2 where all grow; those of a pillbox 1 / R
// and the root of 1 / L at the same part of a plate and of the side. Also the image of a half.
START_TEST(fields_along_the_wall_change_as_they_do) {
  static const char *const all[] = {NULL},
                           *const radius[] = {"path[2].line_to.r_mm", "path[3].line_to.r_mm", NULL},
                           *const length[] = {"start.z_mm", "path[1].line_to.z_mm",
                                              "path[2].line_to.z_mm", "path[3].line_to.z_mm", NULL};
  static const struct {
    const char *text;
    const char *const *keys;
    double power;
  } cases[] = {{PILLBOX, radius, -1.0}, {PILLBOX, length, -0.5}, {PERIODIC, all, -1.5}};
  for (int c = 0; c < 3; c++) {
    cavum_result *result = solve_wall_rates(cases[c].text);
    const cavum_mode_result *mode = &result->modes[0];
    double e_most = 0.0, h_most = 0.0, e_off = 0.0, h_off = 0.0;
    ck_assert_ptr_nonnull(mode->wall_e_by);
    ck_assert_ptr_nonnull(mode->wall_h_by);
    for (cavum_index i = 0; i < mode->wall.num_points; i++) {
      double e = mode->wall.e_v_per_m[i], h = mode->wall.h_a_per_m[i];
      double of_e = grown(result, mode->wall_e_by, i, cases[c].keys);
      double of_h = grown(result, mode->wall_h_by, i, cases[c].keys);
      e_most = cavum_max(e_most, fabs(e));
      h_most = cavum_max(h_most, fabs(h));
      e_off = cavum_max(e_off, fabs(of_e - cases[c].power * e));
      h_off = cavum_max(h_off, fabs(of_h - cases[c].power * h));
    }
    // Relative to the largest field. What the iteration leaves of a vector, 1e-9, counts for E as
    // the derivative of a function that is known along pieces of a millimetre.
    printf("case %d: E off by %.2g, H by %.2g\n", c, e_off / e_most, h_off / h_most);
    ck_assert(mode->wall.num_points > 0 && e_off < 1e-5 * e_most && h_off < 1e-7 * h_most);
    cavum_result_destroy(&result);
  }
}
END_TEST

static cavum_result *solve_wall_rates_at(const char *text, int degree) {
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = options.profiles = options.wall_derivatives = true;
  options.derivatives_of = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY;
  options.degree = degree;
  cavum_result *result = solving_solve(&cell, &options);
  cavum_cell_clear(&cell);
  return result;
}

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

// The same mesh at degree 6 and, for the truth, at degree 11.
START_TEST(rates_along_the_wall_are_inside_their_uncertainty) {
  cavum_result *low = solve_wall_rates_at(PERIODIC, 6), *high = solve_wall_rates_at(PERIODIC, 11);
  cavum_index points = low->modes[0].wall.num_points;
  int64_t all = (int64_t)low->num_dimensions * points;
  ck_assert_int_eq(points, high->modes[0].wall.num_points);
  ck_assert_int_eq(low->mesh.num_elements, high->mesh.num_elements);
  double *factor = malloc((size_t)all * sizeof *factor);
  for (int electric = 0; electric < 2; electric++) {
    const double *value = electric ? low->modes[0].wall_e_by : low->modes[0].wall_h_by;
    const double *truth = electric ? high->modes[0].wall_e_by : high->modes[0].wall_h_by;
    int64_t count = 0, inside = 0;
    for (int64_t i = 0; i < all; i++) {
      if (low->dimensions[i / points].unit_si == 1.0) continue;  // beta
      double error = fabs(value[i] - truth[i]);
      ck_assert(value[all + i] > 0.0);
      inside += error <= value[all + i] + truth[all + i];
      factor[count++] = value[all + i] / fmax(error, 1e-300);
    }
    qsort(factor, (size_t)count, sizeof *factor, by_size);
    printf("%s: %lld of %lld inside, median uncertainty over error %.1f\n", electric ? "E" : "H",
           (long long)inside, (long long)count, factor[count / 2]);
    // As of figures in random cells; and no more than a hundred times the error in the median.
    ck_assert_int_gt(count, 500);
    ck_assert(inside >= count - count / 200);
    ck_assert(factor[count / 2] < TALLY_MEDIAN_MOST);
  }
  free(factor);
  cavum_result_destroy(&low);
  cavum_result_destroy(&high);
}
END_TEST

// A tube of one side of a mirror-symmetric cell has its derivatives along the wall, which half a
// cell could not tell; those by the tube of the other side are their mirror image.
START_TEST(dimensions_of_one_half_have_rates_along_the_wall) {
  static const char text[] = TEST_CELL_CONTOUR
      "ends:\n  left: {kind: tube, length_mm: 30, close: magnetic}\n"
      "  right: {kind: tube, length_mm: 30, close: magnetic}\n";
  cavum_result *result = solve_wall_rates_at(text, 4);
  const cavum_mode_result *mode = &result->modes[0];
  cavum_index n = mode->wall.num_points;
  int sides[2] = {-1, -1}, outside = 0, count = 0;
  for (int i = 0; i < result->num_dimensions; i++) {
    if (strcmp(result->dimensions[i].key, "ends.left.length_mm") == 0) sides[0] = i;
    if (strcmp(result->dimensions[i].key, "ends.right.length_mm") == 0) sides[1] = i;
  }
  ck_assert(sides[0] >= 0 && sides[1] >= 0);
  for (int electric = 0; electric < 2; electric++) {
    const double *rates = electric ? mode->wall_e_by : mode->wall_h_by;
    const double *left = rates + sides[0] * (int64_t)n, *right = rates + sides[1] * (int64_t)n;
    const double *behind = rates + result->num_dimensions * (int64_t)n;
    double most = 0.0;
    for (cavum_index k = 0; k < n; k++) {
      double image = electric ? -right[n - 1 - k] : right[n - 1 - k];
      double sum = behind[sides[0] * (int64_t)n + k] + behind[sides[1] * (int64_t)n + n - 1 - k];
      // The mesh of the whole is not its own image: points that are.
      if (fabs(mode->wall.z_m[k] + mode->wall.z_m[n - 1 - k]) > 1e-7) continue;
      outside += !(fabs(left[k] - image) <= sum);
      count++;
      most = fmax(most, fabs(left[k]));
    }
    printf("%s: at most %.4g per m, %d of %d outside\n", electric ? "E" : "H", most, outside,
           count);
    ck_assert_int_gt(count, 50);
    ck_assert(most > 0.0);
  }
  ck_assert_int_eq(outside, 0);
  cavum_result_destroy(&result);
}
END_TEST

// Closed form of the density of R/Q of TM010 on the end plate z = L of a pillbox, in ohm/m^3, for a
// particle at the speed of light. The plate is taken back about a radius r; first-order
// perturbation with all TM0np [Slater1950], in units of c = eps0 = mu0 = 1. The sum over p is
// Green's function of -g'' + q^2 g on 0..L with g' = 0 at both ends, cosh(q z) / (q sinh(q L));
// that over n falls as 1/r does, so that its terms get a factor exp(-(x_n s / R)^2), and s^2 is
// extrapolated to zero.
typedef struct plate {
  double radius_m, length_m, r_m;
} plate;

enum { NUM_ZEROS = 1500 };

static void fill_zeros(double *x) {
  for (int n = 0; n < NUM_ZEROS; n++) {
    double at = CAVUM_PI * (n + 0.75);
    at += 1.0 / (8.0 * at);
    for (int i = 0; i < 5; i++) at += j0(at) / j1(at);
    x[n] = at;
  }
}

// int_0^L f(z) exp(j k z) dz by Simpson's rule; f: z^2 / 2 L - L / 6 (Green's function at q = 0
// without its mean), or j z.
static double complex integrate(const plate *p, double k, bool of_green) {
  enum { PIECES = 2000 };
  double complex sum = 0.0;
  for (int i = 0; i <= PIECES; i++) {
    double z = p->length_m * i / PIECES, l = p->length_m;
    double weight = (i == 0 || i == PIECES ? 1.0 : i % 2 ? 4.0 : 2.0) * l / PIECES / 3.0;
    double complex f = of_green ? z * z / (2.0 * l) - l / 6.0 : I * z;
    sum += weight * f * cexp(I * k * z);
  }
  return sum;
}

static double complex green_integral(const plate *p, double k, double q) {
  double l = p->length_m;
  double complex up = (cexp(I * k * l) - exp(-q * l)) / (q + I * k);
  double complex down = (cexp((-2.0 * q + I * k) * l) - exp(-q * l)) / (-q + I * k);
  return (up + down) / (q * (1.0 - exp(-2.0 * q * l)));
}

static double relative_density(const plate *p, const double *x, double s_m) {
  double k = x[0] / p->radius_m, l = p->length_m, area = CAVUM_PI * p->radius_m * p->radius_m;
  double norm = sqrt(1.0 / (area * j1(x[0]) * j1(x[0]) * l));
  double e = norm * k * j0(k * p->r_m), h = norm * j1(k * p->r_m);
  double complex voltage = norm * k * (cexp(I * k * l) - 1.0) / (I * k);
  double by_k = (e * e - k * k * h * h) / (2.0 * k);
  double complex change = -0.5 * h * h * voltage + norm * k * integrate(p, k, false) * by_k;
  for (int n = 0; n < NUM_ZEROS; n++) {
    double a = x[n] / p->radius_m;
    double source = a * j0(a * p->r_m) * e - k * k * j1(a * p->r_m) * h;
    double complex g = n == 0 ? integrate(p, k, true) : green_integral(p, k, sqrt(a * a - k * k));
    change -= a * g * source * exp(-a * a * s_m * s_m) / (area * j1(x[n]) * j1(x[n]));
  }
  double size = cabs(voltage);
  return 2.0 * creal(conj(voltage) * change) / (size * size) - 3.0 * by_k / k;
}

static double closed_form(const plate *p, const double *x, double r_over_q_ohm) {
  double coarse = relative_density(p, x, 1.0e-3), fine = relative_density(p, x, 0.5e-3);
  return r_over_q_ohm * (4.0 * fine - coarse) / 3.0;
}

// Points with an uncertainty have their closed form within it; on the edge with an end on the axis,
// where the density has no limit and its values swing, it is infinite. Fine meshes leave less out.
START_TEST(density_of_r_over_q_is_inside_its_uncertainty) {
  static const char text[] =
      "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 80, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 80, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n";
  static const struct {
    double refine;
    int degree;
  } cases[] = {{1.0, 0}, {1.0, 6}, {1.0, 12}, {2.0, 0}, {4.0, 0}, {4.0, 7}};
  double x[NUM_ZEROS];
  fill_zeros(x);
  for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
    cavum_cell cell = solving_read(text);
    cavum_solve_options options = cavum_solve_options_default();
    options.profiles = options.derivatives = true;
    options.refinement = cases[c].refine;
    options.degree = cases[c].degree;
    cavum_result *result = solving_solve(&cell, &options);
    const cavum_mode_result *mode = &result->modes[0];
    const cavum_wall_density *d = &mode->wall_density;
    const double *u = mode->wall_r_over_q_uncertainty_ohm_per_m3;
    double r_over_q = solving_value(mode, CAVUM_FIGURE_R_OVER_Q_LINAC), inner = 1.0, worst = 0.0;
    int sharp = 0;
    ck_assert_ptr_nonnull(u);
    ck_assert_ptr_nonnull(mode->wall_geometry_factor_uncertainty_ohm_per_m3);
    for (cavum_index i = 0; i < d->num_points; i++) {
      if (d->normal_z[i] < 0.5) continue;
      if (d->r_m[i] < 0.01) ck_assert_msg(isinf(u[i]), "r = %g m", d->r_m[i]);
      if (!isfinite(u[i])) continue;
      const plate at = {0.1, 0.08, d->r_m[i]};
      double exact = closed_form(&at, x, r_over_q);
      double error = fabs(d->r_over_q_linac_ohm_per_m3[i] - exact);
      // 0.001 of the largest, 2.3e5: what the extrapolation leaves, and the accuracy of R/Q.
      double part = error / (u[i] + 230.0);
      if (part > worst) printf("r = %.4g: error %.3g, u %.3g\n", d->r_m[i], error, u[i]);
      worst = fmax(worst, part);
      sharp += u[i] < 0.1 * 2.3e5;
      if (u[i] < 0.02 * 2.3e5) inner = fmin(inner, d->r_m[i]);
    }
    printf("refine %g, degree %d: error over uncertainty %.3g, %d points, to 2 %% from r = %.4g\n",
           cases[c].refine, cases[c].degree, worst, sharp, inner);
    ck_assert(worst <= 1.0);
    ck_assert_int_gt(sharp, 20);
    ck_assert(inner < 0.09);
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
}
END_TEST

START_TEST(densities_are_there_when_asked_for) {
  cavum_cell cell = solving_read(PERIODIC);
  cavum_solve_options options = cavum_solve_options_default();
  cavum_result *result = solving_solve(&cell, &options);
  ck_assert_int_eq(result->modes[0].wall_density.num_points, 0);
  cavum_result_destroy(&result);
  options.profiles = true;
  result = solving_solve(&cell, &options);
  const cavum_wall_density *d = &result->modes[0].wall_density;
  ck_assert_int_gt(d->num_points, 0);
  ck_assert_ptr_nonnull(d->pressure_pa);
  ck_assert_ptr_null(d->geometry_factor_ohm_per_m3);
  ck_assert_ptr_null(d->r_over_q_linac_ohm_per_m3);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, pillbox_agrees_with_its_formula);
  tcase_add_test(tests, uniform_removal_of_a_published_cell);
  tcase_add_test(tests, integrals_are_the_derivatives_by_dimensions);
  tcase_add_test(tests, growing_walls_are_growing_cells);
  tcase_add_test(tests, fields_along_the_wall_change_as_they_do);
  tcase_add_test(tests, rates_along_the_wall_are_inside_their_uncertainty);
  tcase_add_test(tests, dimensions_of_one_half_have_rates_along_the_wall);
  tcase_add_test(tests, density_of_r_over_q_is_inside_its_uncertainty);
  tcase_add_test(tests, densities_are_there_when_asked_for);
}

CAVUM_TEST_MAIN("wall_density", add)
