// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives of figures by dimensions: another discretisation, the sum rule of scale invariance.
#include "derivative_tally.h"
#include "solving.h"

#define CUP(ends)                                                                  \
  "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"  \
  "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n" \
  "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n" ends
#define BOTH(end) CUP("ends: {left: " end ", right: " end "}\n")

// Figures of the reference tables.
enum { COLUMNS = 5 };
static const cavum_figure_id columns[COLUMNS] = {
    CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_FIGURE_GEOMETRY_FACTOR,
    CAVUM_FIGURE_EPK_OVER_EACC, CAVUM_FIGURE_BPK_OVER_EACC};
// The last in mT/(MV/m).
static const double column_units[COLUMNS] = {1.0, 1.0, 1.0, 1.0, 1e-9};

// A derivative per mm and the error of the reference; {0, 0}: none.
typedef struct reference_value {
  double value, error;
} reference_value;

typedef struct reference_row {
  const char *key;
  reference_value of[COLUMNS];
} reference_row;

// Both halves changed alike, tubes keep their length, L_acc = 2 half_length. The first is periodic
// with magnetic planes, the second has tubes of 150 mm with electric ends. Spectral elements
// (tests/verification/spectral_elements.py --derivatives) come to the first table: per mm, f to
// 1e-8 of itself, R/Q and G to 4e-7 ohm, B_pk to 2e-6; E_pk only to 8e-4, whose place they resolve
// less well. The errors are those that extrapolated differences leave.
static const reference_row periodic[] = {
    {"half_length_mm",
     {{3891131.104662021, 13},
      {1.2376486223421423, 6.1e-07},
      {2.991553833270283, 5.8e-06},
      {-0.021099060153716615, 1.5e-08},
      {0.03640360347323476, 9.9e-08}}},
    {"equator_radius_mm",
     {{-14260413.364813128, 2.1},
      {-0.04927603709311038, 3.5e-07},
      {-2.277283187665423, 2.4e-07},
      {5.634121648797249e-05, 7.7e-09},
      {-0.0201845489462175, 5.6e-08}}},
    {"iris_radius_mm",
     {{4283330.054532091, 0.39},
      {-2.788556451598746, 1.1e-06},
      {1.5105862374944934, 7.7e-07},
      {0.036478148077932294, 1.2e-06},
      {0.050768356947221704, 1.2e-08}}},
    {"equator_ellipse.axial_mm",
     {{-6339125.2161375685, 9.7},
      {0.7493420408572504, 4.9e-07},
      {0.7209716691890833, 9.4e-06},
      {0.0154763356006458, 6.7e-08},
      {-0.0567790997175314, 4.5e-08}}},
    {"equator_ellipse.radial_mm",
     {{2323880.333660245, 0.072},
      {-0.16493109053614083, 1.2e-07},
      {0.038655922660097985, 4.5e-07},
      {-0.0028658074570686587, 1.8e-09},
      {0.014777500451669626, 2.7e-08}}},
    {"iris_ellipse.axial_mm",
     {{-4256231.234505574, 7.9},
      {1.0002705807374568, 1.4e-06},
      {-2.6584046668037806, 3.7e-07},
      {0.0, 0.0},
      {-0.007707249926184693, 7.4e-08}}},
    {"iris_ellipse.radial_mm",
     {{916999.6032545964, 0.53},
      {-0.27742849118554364, 5.6e-07},
      {0.5135092477711112, 1.4e-07},
      {0.0028331895712217317, 6e-06},
      {0.0033809295396306873, 1.1e-08}}},
};
static const reference_row with_tubes[] = {
    {"half_length_mm",
     {{4272794.386746287, 12},
      {-1.8253174651963633, 1.5e-06},
      {3.004148120217612, 5.8e-06},
      {-0.006886484622104505, 4e-08},
      {0.08748573822154289, 8.2e-08}}},
    {"equator_radius_mm",
     {{-13886362.068187198, 2},
      {1.5784337241774555, 3.8e-08},
      {-2.2277243906911792, 2e-07},
      {-0.005874222006452638, 2e-09},
      {-0.04592113831770828, 7.7e-08}}},
    {"iris_radius_mm",
     {{2788075.320753455, 1.6},
      {-3.159849655771024, 9.3e-07},
      {1.381251249378579, 8.1e-07},
      {0.009500607950021315, 8.4e-10},
      {0.05111923893526512, 3.8e-08}}},
    {"equator_ellipse.axial_mm",
     {{-6386311.659315427, 8.9},
      {1.5120643317412312, 5.7e-07},
      {0.6550268623825654, 9.2e-06},
      {0.018676938010089666, 9.6e-08},
      {-0.06752848306060599, 4.8e-08}}},
    {"equator_ellipse.radial_mm",
     {{2305980.9158211946, 0.089},
      {-0.43728388940318536, 1.3e-07},
      {0.04908265660015824, 4.3e-07},
      {-0.0029033674803261946, 1.7e-09},
      {0.01803859960879099, 5.3e-08}}},
    {"iris_ellipse.axial_mm",
     {{-3310958.6375709376, 8.9},
      {1.0908447465333164, 1.5e-06},
      {-2.532129165478475, 4.3e-07},
      {0.028676450378047336, 5.7e-07},
      {-0.005283051455723016, 8.2e-08}}},
    {"iris_ellipse.radial_mm",
     {{700949.8872206608, 0.48},
      {-0.284237701519731, 5.3e-07},
      {0.4870388801450076, 1.3e-07},
      {-0.01761705294505737, 1.2e-07},
      {0.0025839955607276366, 1e-08}}},
};
enum { ROWS = sizeof periodic / sizeof *periodic };

static cavum_result *differentiate(const char *text, double accuracy_frequency,
                                   double accuracy_other_figures) {
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  cell.accuracy_frequency = accuracy_frequency;
  cell.accuracy_other_figures = accuracy_other_figures;
  cavum_result *result = solving_solve(&cell, &options);
  cavum_cell_clear(&cell);
  return result;
}

static int find(const cavum_result *result, const char *key) {
  for (int i = 0; i < result->num_dimensions; i++) {
    if (strcmp(result->dimensions[i].key, key) == 0) return i;
  }
  ck_abort_msg("no dimension %s", key);
  return -1;
}

static cavum_derivative derivative(const cavum_result *result, int mode, const char *key,
                                   cavum_figure_id id) {
  cavum_derivative d = cavum_result_derivative(result, mode, find(result, key), id);
  ck_assert_msg(d.state == CAVUM_FIGURE_PRESENT, "%s by %s: %s", cavum_figure_describe(id).key, key,
                d.reason ? d.reason : "absent");
  ck_assert(d.uncertainty >= 0.0 && isfinite(d.uncertainty));
  return d;
}

// Per relative change of a dimension to `part` of the figure, or three errors of the reference.
static void check_reference(const char *text, const reference_row *rows, int column, double part) {
  cavum_result *result = differentiate(text, 1e-9, 1e-7);
  cavum_figure_id id = columns[column];
  double figure = solving_value(&result->modes[0], id) / column_units[column];
  for (int i = 0; i < ROWS; i++) {
    const reference_value *expected = &rows[i].of[column];
    const cavum_dimension *dimension = &result->dimensions[find(result, rows[i].key)];
    if (expected->error == 0.0) continue;
    cavum_derivative d = derivative(result, 0, rows[i].key, id);
    double per_mm = d.value * dimension->unit_si / column_units[column];
    double tolerance = part * figure / (dimension->value_si / dimension->unit_si);
    printf("%s by %s, uncertain by %.1e\n", cavum_figure_describe(id).key, rows[i].key,
           d.uncertainty * dimension->unit_si / column_units[column]);
    CAVUM_CHECK_NEAR(per_mm, expected->value, fmax(tolerance, 3.0 * expected->error));
    // Inside the stated uncertainty, and that is of use.
    CAVUM_CHECK_NEAR(
        per_mm, expected->value,
        d.uncertainty * dimension->unit_si / column_units[column] + 3.0 * expected->error);
  }
  cavum_result_destroy(&result);
}

START_TEST(frequencies_agree_with_spectral_elements) {
  check_reference(BOTH("{kind: magnetic}"), periodic, 0, 1e-6);
  check_reference(BOTH("{kind: tube, length_mm: 150, close: electric}"), with_tubes, 0, 1e-6);
}
END_TEST

// Derivatives of f need no adjoint solves, whose accuracy of 1e-6 was in their uncertainty: at the
// usual accuracy the vector leaves a tenth of that.
START_TEST(frequencies_are_as_certain_as_the_vector) {
  cavum_result *result = differentiate(BOTH("{kind: magnetic}"), 1e-6, 1e-4);
  double figure = solving_value(&result->modes[0], CAVUM_FIGURE_FREQUENCY);
  for (int i = 0; i < ROWS; i++) {
    cavum_derivative d = derivative(result, 0, periodic[i].key, CAVUM_FIGURE_FREQUENCY);
    double unit = result->dimensions[find(result, periodic[i].key)].unit_si;
    double at = result->dimensions[find(result, periodic[i].key)].value_si;
    CAVUM_CHECK_NEAR(d.value * unit, periodic[i].of[0].value,
                     d.uncertainty * unit + 3.0 * periodic[i].of[0].error);
    ck_assert(d.uncertainty * at <= 2e-7 * figure);
  }
  cavum_result_destroy(&result);
}
END_TEST

START_TEST(others_agree_with_spectral_elements) {
  static const double parts[COLUMNS] = {1e-6, 1e-6, 1e-5, 1e-4, 1e-5};
  for (int column = 1; column < COLUMNS; column++) {
    check_reference(BOTH("{kind: magnetic}"), periodic, column, parts[column]);
    check_reference(BOTH("{kind: tube, length_mm: 150, close: electric}"), with_tubes, column,
                    parts[column]);
  }
}
END_TEST

// Power of the size, and how well the sum rule holds: peaks are at places that are found to half
// the digits, and voltages on the axis cancel.
typedef struct scaling {
  cavum_figure_id id;
  double power, tolerance;
} scaling;

static const scaling scalings[] = {
    {CAVUM_FIGURE_FREQUENCY, -1.0, 1e-9},
    {CAVUM_FIGURE_R_OVER_Q_LINAC, 0.0, 1e-9},
    {CAVUM_FIGURE_R_OVER_Q_CIRCUIT, 0.0, 1e-9},
    {CAVUM_FIGURE_GEOMETRY_FACTOR, 0.0, 1e-9},
    {CAVUM_FIGURE_G_TIMES_R_OVER_Q, 0.0, 1e-9},
    {CAVUM_FIGURE_EPK_OVER_EACC, 0.0, 1e-7},
    {CAVUM_FIGURE_BPK_OVER_EACC, 0.0, 1e-7},
    {CAVUM_FIGURE_TRANSIT_TIME_FACTOR, 0.0, 1e-9},
    {CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, 0.0, 1e-9},
    {CAVUM_FIGURE_LOSS_FACTOR, -1.0, 1e-9},
    {CAVUM_FIGURE_VOLTAGE_AT_1_J, -0.5, 1e-9},
    {CAVUM_FIGURE_EACC_AT_1_J, -1.5, 1e-9},
};

// A cell scaled as a whole: the sum of dimensions times derivatives is a power times the figure.
static void check_scaling(const char *text, bool use_symmetry) {
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  options.use_symmetry = use_symmetry;
  // The rule holds as well as the vectors of the modes do, which are better than this.
  cell.accuracy_frequency = 1e-9;
  cell.accuracy_other_figures = 1e-7;
  cavum_result *result = solving_solve(&cell, &options);
  for (int m = 0; m < result->num_modes; m++) {
    for (size_t f = 0; f < sizeof scalings / sizeof *scalings; f++) {
      const cavum_figure *figure = &result->modes[m].figures[scalings[f].id];
      double sum = 0.0, uncertainty = 0.0;
      bool whole = true;  // no peak at two places
      if (figure->state != CAVUM_FIGURE_PRESENT) continue;
      for (int i = 0; i < result->num_dimensions; i++) {
        const cavum_dimension *dimension = &result->dimensions[i];
        cavum_derivative d = cavum_result_derivative(result, m, i, scalings[f].id);
        if (strcmp(dimension->key, "beta") == 0) continue;
        whole = whole && d.state == CAVUM_FIGURE_PRESENT;
        sum += dimension->value_si * d.value;
        uncertainty += fabs(dimension->value_si) * d.uncertainty;
      }
      bool peak = scalings[f].tolerance > 1e-8;
      ck_assert_msg(whole || peak, "%s", cavum_figure_describe(scalings[f].id).key);
      if (!whole) continue;
      printf("mode %d %s ", m + 1, cavum_figure_describe(scalings[f].id).key);
      // A voltage is as much less accurate as it cancels.
      double left = result->modes[m].figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS].state ==
                            CAVUM_FIGURE_PRESENT
                        ? result->modes[m].figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS].value
                        : 1.0;
      CAVUM_CHECK_NEAR(sum / figure->value, scalings[f].power, scalings[f].tolerance / left);
      CAVUM_CHECK_NEAR(sum / figure->value, scalings[f].power, uncertainty / fabs(figure->value));
    }
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}

#define TUBES(left, right)                     \
  "ends: {left: {kind: tube, length_mm: " left \
  ", close: electric}, right: {kind: tube, "   \
  "length_mm: " right ", close: magnetic}}\n"
#define UNEQUAL                                                \
  "accelerating_length_mm: 110\n" CUP(                         \
      "  left: {iris_radius_mm: 30, iris_ellipse: {axial_mm: " \
      "10}}\n" TUBES("100", "80, radius_mm: 41")) "modes: {count: 2}\n"

// A formed cup as points on its wall: smooth to the second derivative inside.
#define POINT(z, r) "        - {z_mm: " z ", r_mm: " r "}\n"
#define TOUCHED \
  "accelerating_length_mm: 116\ncontour:\n  kind: path\n  start: {z_mm: -58, r_mm: 0}\n"       \
  "  path:\n    - {line_to: {z_mm: 58, r_mm: 0}, boundary: axis}\n"                            \
  "    - {line_to: {z_mm: 58, r_mm: 36}, boundary: magnetic}\n    - spline_through:\n" POINT(  \
      "50", "41") POINT("44", "59") POINT("35", "84") POINT("16", "101") POINT("-16", "100.5") \
      POINT("-36", "83") POINT("-44.3", "59") POINT("-50.4", "41.2") POINT(                    \
          "-58",                                                                               \
          "36") "      boundary: metal\n    - {line_to: {z_mm: -58, r_mm: 0}, boundary: "      \
                "magnetic}\n"

START_TEST(figures_scale) {
  check_scaling(TOUCHED, true);
  check_scaling(BOTH("{kind: magnetic}") "modes: {count: 3}\n", true);
  check_scaling(BOTH("{kind: electric}") "modes: {count: 2}\nbeta: 0.6\n", true);
  check_scaling(BOTH("{kind: tube, length_mm: 150, close: electric}") "beta: 0.8\n", true);
  check_scaling(BOTH("{kind: tube, length_mm: 150, close: electric}"), false);
  check_scaling(UNEQUAL, true);
}
END_TEST

static double figure_at(const char *text, const char *key, double value, cavum_figure_id id) {
  cavum_cell cell = solving_read(text);
  cavum_error error = {0};
  ck_assert_msg(cavum_cell_set(&cell, key, value, &error) == CAVUM_OK, "%s", error.message);
  cell.accuracy_frequency = 1e-9;
  cell.accuracy_other_figures = 3e-8;
  cavum_result *result = solving_solve(&cell, NULL);
  double figure = solving_value(&result->modes[0], id);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  return figure;
}

// Against differences of tight solves, Richardson-extrapolated: their steps leave 1e-7 of figures
// good to 1e-9 over steps of a hundredth.
static void check_difference(const char *text, const char *key, double step, cavum_figure_id id) {
  cavum_result *result = differentiate(text, 1e-9, 1e-7);
  const cavum_dimension *dimension = &result->dimensions[find(result, key)];
  double at = dimension->value_si / dimension->unit_si, slope[2];
  for (int i = 0; i < 2; i++) {
    double h = step * (i + 1);
    slope[i] = (figure_at(text, key, at + h, id) - figure_at(text, key, at - h, id)) / (2.0 * h);
  }
  cavum_derivative d = derivative(result, 0, key, id);
  double figure = solving_value(&result->modes[0], id);
  printf("%s by %s: ", cavum_figure_describe(id).key, key);
  CAVUM_CHECK_NEAR(d.value * dimension->unit_si, (4.0 * slope[0] - slope[1]) / 3.0,
                   1e-6 * fabs(figure / at));
  cavum_result_destroy(&result);
}

#define SLOW "beta: 0.7\n" BOTH("{kind: tube, length_mm: 120, radius_mm: 39, close: electric}")

START_TEST(points_of_splines_agree_with_differences) {
  check_difference(TOUCHED, "path[3].spline_through[2].r_mm", 0.02, CAVUM_FIGURE_FREQUENCY);
  check_difference(TOUCHED, "path[3].spline_through[4].r_mm", 0.05, CAVUM_FIGURE_R_OVER_Q_LINAC);
  check_difference(TOUCHED, "path[3].spline_through[9].z_mm", 0.05, CAVUM_FIGURE_GEOMETRY_FACTOR);
  check_difference(TOUCHED, "path[2].line_to.r_mm", 0.02, CAVUM_FIGURE_FREQUENCY);
}
END_TEST

START_TEST(speed_tubes_and_length_agree_with_differences) {
  check_difference(SLOW, "beta", 0.005, CAVUM_FIGURE_R_OVER_Q_LINAC);
  check_difference(SLOW, "beta", 0.005, CAVUM_FIGURE_TRANSIT_TIME_FACTOR);
  check_difference(SLOW, "ends.left.radius_mm", 0.1, CAVUM_FIGURE_FREQUENCY);
  check_difference(SLOW, "ends.right.radius_mm", 0.1, CAVUM_FIGURE_R_OVER_Q_LINAC);
  check_difference(SLOW, "ends.right.length_mm", 1.0, CAVUM_FIGURE_GEOMETRY_FACTOR);
  check_difference(SLOW, "half_length_mm", 0.1, CAVUM_FIGURE_EACC_AT_1_J);
  check_difference("accelerating_length_mm: 110\n" SLOW, "accelerating_length_mm", 1.0,
                   CAVUM_FIGURE_BPK_OVER_EACC);
}
END_TEST

// What does not depend on a dimension has a derivative of zero, and no uncertainty of it: the
// length that E_acc is over moves no wall. E_acc, and the peaks over it, go with it: dlog = -1 / L
// and 1 / L.
START_TEST(what_does_not_depend_is_exactly_zero) {
  static const cavum_figure_id none[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_R_OVER_Q_LINAC,
                                         CAVUM_FIGURE_GEOMETRY_FACTOR,
                                         CAVUM_FIGURE_TRANSIT_TIME_FACTOR};
  cavum_result *result = differentiate("accelerating_length_mm: 110\n" SLOW, 1e-6, 1e-4);
  for (int i = 0; i < 4; i++) {
    cavum_derivative d = derivative(result, 0, "accelerating_length_mm", none[i]);
    CAVUM_CHECK_NEAR(d.value, 0.0, 0.0);
    CAVUM_CHECK_NEAR(d.uncertainty, 0.0, 0.0);
  }
  cavum_derivative d = derivative(result, 0, "accelerating_length_mm", CAVUM_FIGURE_EACC_AT_1_J);
  double eacc = solving_value(&result->modes[0], CAVUM_FIGURE_EACC_AT_1_J);
  CAVUM_CHECK_RELATIVE(d.value, -eacc / 0.11, 1e-12);
  ck_assert(d.uncertainty > 0.0);
  cavum_result_destroy(&result);
}
END_TEST

// ---- closed forms, by the dimensions of paths that move together

#define TO(z, r, kind) "    - {line_to: {z_mm: " z ", r_mm: " r "}, boundary: " kind "}\n"
#define PATH(z, r) "contour:\n  kind: path\n  start: {z_mm: " z ", r_mm: " r "}\n  path:\n"
#define PILLBOX                                                                                  \
  "accelerating_length_mm: 100\n" PATH("0", "0") TO("100", "0", "axis") TO("100", "90", "metal") \
      TO("0", "90", "metal") TO("0", "0", "metal")
#define COAX      \
  PATH("0", "20") \
  TO("200", "20", "metal") TO("200", "60", "metal") TO("0", "60", "metal") TO("0", "20", "metal")
#define SPHERE \
  "accelerating_length_mm: 200\n" PATH("-100", "0") TO("100", "0", "axis")                   \
      "    - {arc_to: {z_mm: -100, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: left, boundary: " \
      "metal}\n"

// Relative change of a figure per relative change of a length: the dimensions that are listed with
// the parts of that length that they are.
typedef struct part_of_length {
  const char *key;
  double part;
} part_of_length;

static void check_power(const char *text, const part_of_length *parts, double length_mm,
                        cavum_figure_id id, double power) {
  cavum_result *result = differentiate(text, 1e-10, 1e-8);
  double sum = 0.0;
  for (int i = 0; parts[i].key; i++) {
    sum += parts[i].part * derivative(result, 0, parts[i].key, id).value;
  }
  printf("%s: ", cavum_figure_describe(id).key);
  double figure = solving_value(&result->modes[0], id);
  CAVUM_CHECK_NEAR(sum * 1e-3 * length_mm / figure, power, 1e-8);
  cavum_result_destroy(&result);
}

START_TEST(closed_forms_of_paths) {
  static const part_of_length radius[] = {
      {"path[2].line_to.r_mm", 1}, {"path[3].line_to.r_mm", 1}, {NULL, 0}};
  static const part_of_length length[] = {
      {"path[1].line_to.z_mm", 1}, {"path[2].line_to.z_mm", 1}, {NULL, 0}};
  static const part_of_length sphere[] = {
      {"start.z_mm", -1}, {"path[1].line_to.z_mm", 1}, {NULL, 0}};
  static const part_of_length inner[] = {{"start.r_mm", 1}, {"path[1].line_to.r_mm", 1}, {NULL, 0}};
  static const part_of_length outer[] = {
      {"path[2].line_to.r_mm", 1}, {"path[3].line_to.r_mm", 1}, {NULL, 0}};
  // Pillbox TM010, u = k L / 2: G = (eta0 x01 / 2) / (1 + R / L), T = sin(u) / u, and R/Q goes as
  // sin^2(u) R / L.
  double k = 2.404825557695773 / 0.09, u = 0.5 * k * 0.1;
  check_power(PILLBOX, radius, 90.0, CAVUM_FIGURE_FREQUENCY, -1.0);
  check_power(PILLBOX, length, 100.0, CAVUM_FIGURE_FREQUENCY, 0.0);
  check_power(PILLBOX, radius, 90.0, CAVUM_FIGURE_GEOMETRY_FACTOR, -0.9 / 1.9);
  check_power(PILLBOX, length, 100.0, CAVUM_FIGURE_GEOMETRY_FACTOR, 0.9 / 1.9);
  check_power(PILLBOX, radius, 90.0, CAVUM_FIGURE_TRANSIT_TIME_FACTOR, 1.0 - u / tan(u));
  check_power(PILLBOX, length, 100.0, CAVUM_FIGURE_TRANSIT_TIME_FACTOR, u / tan(u) - 1.0);
  check_power(PILLBOX, length, 100.0, CAVUM_FIGURE_R_OVER_Q_LINAC, 2.0 * u / tan(u) - 1.0);
  check_power(PILLBOX, radius, 90.0, CAVUM_FIGURE_R_OVER_Q_LINAC, 1.0 - 2.0 * u / tan(u));
  check_power(SPHERE, sphere, 100.0, CAVUM_FIGURE_FREQUENCY, -1.0);
  check_power(SPHERE, sphere, 100.0, CAVUM_FIGURE_GEOMETRY_FACTOR, 0.0);
  check_power(SPHERE, sphere, 100.0, CAVUM_FIGURE_R_OVER_Q_LINAC, 0.0);
  // Shorted coaxial line of half a wave, l = ln(b / a): f = c / 2 L, and H = cos(pi z / L) / r
  // gives G = pi eta0 l / (L / a + L / b + 4 l).
  double l = log(3.0), a = 200.0 / 20.0, b = 200.0 / 60.0, all = a + b + 4.0 * l;
  check_power(COAX, length, 200.0, CAVUM_FIGURE_FREQUENCY, -1.0);
  check_power(COAX, inner, 20.0, CAVUM_FIGURE_FREQUENCY, 0.0);
  check_power(COAX, length, 200.0, CAVUM_FIGURE_GEOMETRY_FACTOR, -(a + b) / all);
  check_power(COAX, inner, 20.0, CAVUM_FIGURE_GEOMETRY_FACTOR, -1.0 / l + (a + 4.0) / all);
  check_power(COAX, outer, 60.0, CAVUM_FIGURE_GEOMETRY_FACTOR, 1.0 / l + (b - 4.0) / all);
}
END_TEST

#define SMOOTH BOTH("{kind: tube, length_mm: 150, close: electric}")

// What cannot be had is absent and says why.
START_TEST(absent_derivatives_have_reasons) {
  cavum_result *result = differentiate(SMOOTH, 1e-6, 1e-4);
  int tube = find(result, "ends.left.length_mm");
  cavum_derivative d = cavum_result_derivative(result, 0, tube, CAVUM_FIGURE_BETA_OPTIMUM);
  ck_assert_int_eq(d.state, CAVUM_FIGURE_ABSENT);
  ck_assert_ptr_nonnull(d.reason);
  // None without a figure, a dimension or a mode, and none that nobody asked for.
  ck_assert_ptr_null(cavum_result_derivative(result, 0, tube, CAVUM_FIGURE_Q0).reason);
  ck_assert_int_eq(cavum_result_derivative(result, 0, 99, CAVUM_FIGURE_FREQUENCY).state,
                   CAVUM_FIGURE_ABSENT);
  ck_assert_int_eq(cavum_result_derivative(result, 9, 0, CAVUM_FIGURE_FREQUENCY).state,
                   CAVUM_FIGURE_ABSENT);
  ck_assert_int_eq(cavum_result_derivative(NULL, 0, 0, CAVUM_FIGURE_FREQUENCY).state,
                   CAVUM_FIGURE_ABSENT);
  cavum_result_destroy(&result);
  result = solving_solve_text(SMOOTH, 1e-6, 1e-4);
  ck_assert_int_eq(result->num_dimensions, 0);
  ck_assert_ptr_null(result->modes[0].derivatives);
  cavum_result_destroy(&result);
}
END_TEST

// Figures that are asked for alone are those of a solve that asks for all.
START_TEST(figures_can_be_asked_for_alone) {
  static const cavum_figure_id asked[][2] = {
      {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_FREQUENCY},
      {CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, CAVUM_FIGURE_BPK_OVER_EACC},
      {CAVUM_FIGURE_GEOMETRY_FACTOR, CAVUM_FIGURE_EPK_OVER_EACC}};
  cavum_result *all = differentiate(SMOOTH, 1e-6, 1e-4);
  cavum_cell cell;
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  ck_assert_int_eq(cavum_cell_read_text(&cell, SMOOTH, strlen(SMOOTH), "cell", NULL), CAVUM_OK);
  cell.accuracy_frequency = 1e-6;
  cell.accuracy_other_figures = 1e-4;
  for (int i = 0; i < 3; i++) {
    cavum_result *few = NULL;
    options.derivatives_of = UINT64_C(1) << asked[i][0] | UINT64_C(1) << asked[i][1];
    ck_assert_int_eq(cavum_solve(&few, &cell, &options, NULL), CAVUM_OK);
    for (int d = 0; d < all->num_dimensions; d++) {
      for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
        cavum_derivative whole = cavum_result_derivative(all, 0, d, (cavum_figure_id)id);
        cavum_derivative one = cavum_result_derivative(few, 0, d, (cavum_figure_id)id);
        bool is_asked = id == (int)asked[i][0] || id == (int)asked[i][1];
        if (!is_asked) whole = (cavum_derivative){.state = CAVUM_FIGURE_ABSENT};
        ck_assert_int_eq(one.state, whole.state);
        if (whole.state != CAVUM_FIGURE_PRESENT) continue;
        // Adjoint solves end together, so others count for when.
        CAVUM_CHECK_NEAR(one.value, whole.value, whole.uncertainty);
      }
    }
    cavum_result_destroy(&few);
  }
  cavum_cell_clear(&cell);
  cavum_result_destroy(&all);
}
END_TEST

// Of three modes the second alone: as it is where all are asked for, but for where its adjoint
// solves end.
START_TEST(modes_can_be_asked_for_alone) {
  cavum_solve_options options = cavum_solve_options_default();
  cavum_cell cell;
  cavum_result *of[2] = {NULL, NULL};
  options.derivatives = true;
  ck_assert_int_eq(cavum_cell_read_text(&cell, SMOOTH, strlen(SMOOTH), "cell", NULL), CAVUM_OK);
  cell.num_modes = 3;
  for (int i = 0; i < 2; i++) {
    options.derivatives_modes = i == 0 ? 0 : UINT64_C(1) << 1;
    ck_assert_int_eq(cavum_solve(&of[i], &cell, &options, NULL), CAVUM_OK);
  }
  for (int mode = 0; mode < 3; mode++) {
    ck_assert_ptr_nonnull(of[0]->modes[mode].derivatives);
    ck_assert_int_eq(of[1]->modes[mode].derivatives != NULL, mode == 1);
    for (int d = 0; d < of[0]->num_dimensions; d++) {
      for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
        cavum_derivative all = cavum_result_derivative(of[0], mode, d, (cavum_figure_id)id);
        cavum_derivative one = cavum_result_derivative(of[1], mode, d, (cavum_figure_id)id);
        if (mode != 1) all = (cavum_derivative){.state = CAVUM_FIGURE_ABSENT};
        ck_assert_int_eq(one.state, all.state);
        if (all.state == CAVUM_FIGURE_PRESENT)
          CAVUM_CHECK_NEAR(one.value, all.value, all.uncertainty);
      }
    }
  }
  for (int i = 0; i < 2; i++) cavum_result_destroy(&of[i]);
  cavum_cell_clear(&cell);
}
END_TEST

// The two energies of each mode come along with derivatives, where the vector is the one of the
// solution, and are the same to the bit as without.
START_TEST(energies_are_the_same_with_derivatives) {
  static const double accuracies[] = {1e-4, 1e-7};
  for (int i = 0; i < 2; i++) {
    cavum_result *with = differentiate(SMOOTH, 1e-3 * accuracies[i], accuracies[i]);
    cavum_result *without = solving_solve_text(SMOOTH, 1e-3 * accuracies[i], accuracies[i]);
    ck_assert_int_eq(with->num_modes, without->num_modes);
    for (int m = 0; m < with->num_modes; m++) {
      CAVUM_CHECK_NEAR(with->modes[m].energy_mismatch, without->modes[m].energy_mismatch, 0.0);
      ck_assert(without->modes[m].energy_mismatch >= 0.0);
    }
    cavum_result_destroy(&with);
    cavum_result_destroy(&without);
  }
}
END_TEST

#define INJECTOR                                                                    \
  "contour:\n  kind: two-ellipse\n  half_length_mm: 63\n  iris_radius_mm: 44\n"     \
  "  equator_radius_mm: 120.31\n  equator_ellipse: {axial_mm: 46, radial_mm: 52}\n" \
  "  iris_ellipse: {axial_mm: 14, radial_mm: 24}\nends:\n"                          \
  "  left: {kind: tube, length_mm: 170, close: electric}\n"                         \
  "  right: {kind: tube, length_mm: %g, close: electric}\nmodes: {count: 1}\n"

#define TURN(z, r, boundary) "    - {line_to: {z_mm: " z ", r_mm: " r "}, boundary: " boundary "}\n"
#define CORNERED "accelerating_length_mm: 100\ncontour:\n  kind: path\n"

// Corners of any angle above the axis, one of them of metal and a magnetic plane in the second.
static const char THREE_MODES[] =
    CORNERED "  start: {z_mm: -72.3986417, r_mm: 0}\n  path:\n" TURN("72.3986417", "0", "axis")
        TURN("67.1159929", "34.2631348", "electric") TURN("24.7119547", "69.3416936", "metal")
            TURN("-35.9074387", "95.4887343", "metal") TURN("-110.769343", "69.0901772", "metal")
                TURN("-72.3986417", "0", "metal") "modes: {count: 3}\n";
static const char ONE_MODE[] =
    CORNERED "  start: {z_mm: -65.3793676, r_mm: 0}\n  path:\n" TURN("65.3793676", "0", "axis")
        TURN("88.3938523", "19.2215193", "magnetic") TURN("22.0028949", "110.279328", "metal")
            TURN("-92.6092659", "66.3103577", "metal")
                TURN("-65.3793676", "0", "magnetic") "modes: {count: 1}\n";

// The end of a tube in which the field has died away hardly changes the frequency, and that is
// known: it was 39 +- 403 Hz/m, of the largest derivative what the vector left. Differences of
// tight solves over 4 mm have the errors of two frequencies, 1e-11 of each.
START_TEST(ends_of_tubes_are_as_uncertain_as_their_own_terms) {
  static const double lengths_mm[] = {168.0, 172.0};
  double frequency_hz[2];
  for (int i = 0; i < 2; i++) {
    char text[1024];
    snprintf(text, sizeof text, INJECTOR, lengths_mm[i]);
    cavum_result *result = solving_solve_text(text, 1e-11, 1e-6);
    frequency_hz[i] = solving_value(&result->modes[0], CAVUM_FIGURE_FREQUENCY);
    cavum_result_destroy(&result);
  }
  char text[1024];
  snprintf(text, sizeof text, INJECTOR, 170.0);
  cavum_result *usual = differentiate(text, 1e-6, 1e-4), *tight = differentiate(text, 1e-9, 1e-6);
  const char *key = "ends.right.length_mm";
  cavum_derivative a = derivative(usual, 0, key, CAVUM_FIGURE_FREQUENCY);
  cavum_derivative b = derivative(tight, 0, key, CAVUM_FIGURE_FREQUENCY);
  double difference = (frequency_hz[1] - frequency_hz[0]) / 4e-3;
  CAVUM_CHECK_NEAR(b.value, difference, 0.2 * fabs(difference) + 5.0);
  CAVUM_CHECK_NEAR(a.value, b.value, a.uncertainty + b.uncertainty);
  printf("%g +- %g, tight %g +- %g Hz/m\n", a.value, a.uncertainty, b.value, b.uncertainty);
  ck_assert(a.uncertainty < a.value);
  ck_assert(b.uncertainty < 0.1 * b.value);
  cavum_result_destroy(&usual);
  cavum_result_destroy(&tight);
}
END_TEST

// From outlines of tests/bench/bench_derivative_coverage.c. Derivatives of G were off by 3.4 of
// their uncertainty in the first, those by one coordinate of a corner by 1.2 in the second.
START_TEST(derivatives_at_strong_corners_are_inside) {
  static const char *const texts[] = {THREE_MODES, ONE_MODE};
  static tally all;
  for (int i = 0; i < 2; i++) {
    cavum_cell cell = solving_read(texts[i]);
    cell.wall = (cavum_wall){.kind = CAVUM_WALL_RESISTANCE, .surface_resistance_ohm = 15e-9};
    derivative_tally_cell(&all, &cell, i == 0 ? "three modes" : "one mode",
                          (derivative_tally_way){0});
    cavum_cell_clear(&cell);
  }
  // 30 at most in the median, as of the figures of cells.
  tally_check(&all, "derivatives", 1.0, 30.0);
  ck_assert_int_gt(all.count, 400);
}
END_TEST

// A tube with a magnetic end, where voltages are taken along the axis. What moves the rim of the
// tube, or the end of the axis, turns the plane, and its derivatives fall as p^-4; at two degrees
// they were the same by chance, and R/Q was off by 2.1 of its uncertainty.
static const char TUBE_WITH_MAGNETIC_END[] =
    "beta: 0.5\n"
    "accelerating_length_mm: 100\n"
    "contour:\n"
    "  kind: path\n"
    "  start: {z_mm: 0, r_mm: 0}\n"
    "  path:\n"
    "  - {line_to: {z_mm: 101.533651, r_mm: 0}, boundary: axis}\n"
    "  - {line_to: {z_mm: 101.533651, r_mm: 42.549014}, boundary: magnetic}\n"
    "  - {line_to: {z_mm: 39.369635, r_mm: 42.549014}, boundary: metal}\n"
    "  - {ellipse_to: {z_mm: 32.135375, r_mm: 50.096756}, centre: {z_mm: 39.369635, r_mm: "
    "50.096756}, axial_mm: 7.234259, radial_mm: 7.547742, turn: right, boundary: metal}\n"
    "  - {line_to: {z_mm: 32.135375, r_mm: 69.186024}, boundary: metal}\n"
    "  - {ellipse_to: {z_mm: 5.210123, r_mm: 86.188606}, centre: {z_mm: 5.210123, r_mm: "
    "69.186024}, axial_mm: 26.925252, radial_mm: 17.002583, turn: left, boundary: metal}\n"
    "  - {line_to: {z_mm: 0, r_mm: 86.188606}, boundary: metal}\n"
    "  - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"
    "modes: {count: 2}\n"
    "wall: {kind: resistance, surface_resistance_ohm: 1.5e-08}\n";

START_TEST(derivatives_by_the_rim_of_a_tube_are_inside) {
  static tally all;
  all = (tally){0};
  cavum_cell cell = solving_read(TUBE_WITH_MAGNETIC_END);
  derivative_tally_cell(&all, &cell, "tube", (derivative_tally_way){0});
  cavum_cell_clear(&cell);
  // The median is that of 30 modes of such cells; half of the numbers are far better than said.
  tally_check(&all, "derivatives", 1.0, 300.0);
  ck_assert_int_gt(all.count, 400);
}
END_TEST

// Draws of the generators of tests/bench/bench_derivative_coverage.c.
static cavum_cell drawn(uint64_t seed, int family, int number) {
  random_state state = {seed * 7919 + (uint64_t)family};
  for (int i = 0;; i++) {
    cavum_cell cell = family == 0 ? random_two_ellipse(&state)
                                  : random_family_cell(&state, &RANDOM_FAMILIES[family - 1]);
    cell.num_modes = i % 2 == 0 ? 1 : 3;
    if (i == number) return cell;
    cavum_cell_clear(&cell);
  }
}

// The place of a peak is as uncertain as the field, and the derivative of the field there changes
// along the wall: with the place of the highest degree for all, derivatives of E_pk / E_acc of the
// first cell were off by up to 22 uncertainties. What was left of the adjoint solutions
// put those of R/Q of the second mode of the second cell off by 3, where the voltage is 0.012 of
// what it is the sum of, those of the middle one of three modes of the third by 2.7, whose solves
// contract slowly, and those of G of the last by 4.4, beside a corner of exponent 0.661. Those of f
// by points of a spline of the fourth, at a corner with a magnetic plane, by 4.2: two degrees were
// the same by luck. Two cells are solved after a neighbour: the derivatives of E_pk / E_acc were
// those of the whole mesh, where a region about the peak had found another value, and off by up
// to 2.8. Of two more degrees changed the peak by the half axes of an iris by a sixth of what was
// left: up to 1.9. Voltages by a wall that turns at the axis of the last but five were off by 1.5.
// Of the next two a third degree said too little of the peak of E of the first, by 1.2, and two
// degrees of the second, by 1.4, as long as they were taken once. On a spline four degrees held the
// peak where two edges of the mesh meet: up to 24. In the last, layers of a corner
// of exponent 0.453 did not move as the corner did, and f by its place was off by 2.3.
START_TEST(derivatives_of_drawn_cells_are_inside) {
  static const struct {
    uint64_t seed;
    int family, number;
    bool warm, without_peaks;
  } draws[] = {{5, 0, 1, false, false},   {1, 0, 143, false, false},  {1, 7, 1, false, false},
               {1, 6, 0, false, false},   {1, 0, 2, true, false},     {1, 0, 3, true, false},
               {101, 0, 8, false, false}, {101, 0, 17, false, false}, {101, 7, 14, true, true},
               {31, 0, 490, true, false}, {31, 0, 285, false, false}, {12, 6, 56, false, false},
               {2, 9, 3, false, false},   {101, 9, 11, false, false}};
  static tally all;
  all = (tally){0};
  cavum_cell cell = drawn(draws[_i].seed, draws[_i].family, draws[_i].number);
  derivative_tally_cell(&all, &cell, "drawn",
                        (derivative_tally_way){draws[_i].warm, draws[_i].without_peaks});
  cavum_cell_clear(&cell);
  tally_check(&all, "derivatives", 1.0, _i >= 5 ? 100.0 : 30.0);
  ck_assert_int_gt(all.count, 150);
}
END_TEST

// A capsule whose peak of E is where a hemisphere meets the axis. Dimensions that turn the wall
// there make a tip, beside which derivatives of E converge slowly; those of others are not less
// certain for that. E_pk / E_acc goes with the accelerating length, which moves nothing (0.5 +- 1.9
// % was said of 1/210).
START_TEST(dimensions_that_make_a_tip_are_no_uncertainty_of_others) {
  static const char capsule[] =
      "accelerating_length_mm: 210\ncontour:\n  kind: path\n  start: {z_mm: -105, r_mm: 0}\n  "
      "path:\n"
      "    - {line_to: {z_mm: 105, r_mm: 0}, boundary: axis}\n"
      "    - {arc_to: {z_mm: 25, r_mm: 80}, centre: {z_mm: 25, r_mm: 0}, turn: left, boundary: "
      "metal}\n"
      "    - {line_to: {z_mm: -25, r_mm: 80}, boundary: metal}\n"
      "    - {arc_to: {z_mm: -105, r_mm: 0}, centre: {z_mm: -25, r_mm: 0}, turn: left, boundary: "
      "metal}\n"
      "modes: {count: 1}\n";
  cavum_result *result = differentiate(capsule, 1e-6, 1e-4);
  double epk = solving_value(&result->modes[0], CAVUM_FIGURE_EPK_OVER_EACC);
  cavum_derivative of = derivative(result, 0, "accelerating_length_mm", CAVUM_FIGURE_EPK_OVER_EACC);
  printf("by the length %.9g +- %.2g, exactly %.9g\n", of.value, of.uncertainty, epk / 0.21);
  CAVUM_CHECK_NEAR(of.value, epk / 0.21, of.uncertainty);
  ck_assert(of.uncertainty < 3e-4 * of.value);
  // The arc of the hemisphere may end farther along the straight wall: by tangents, nothing
  // changes.
  of = derivative(result, 0, "path[2].arc_to.z_mm", CAVUM_FIGURE_EPK_OVER_EACC);
  printf("by where the straight wall begins %.2g +- %.2g per metre\n", of.value, of.uncertainty);
  CAVUM_CHECK_NEAR(of.value, 0.0, of.uncertainty);
  ck_assert(of.uncertainty < 3e-4 * epk / 0.21);
  of = derivative(result, 0, "path[2].arc_to.r_mm", CAVUM_FIGURE_EPK_OVER_EACC);
  ck_assert(of.uncertainty > fabs(of.value));
  cavum_result_destroy(&result);
}
END_TEST

// int E_z dz of an odd mode of a whole cell is rounding, of which the axis and the outline may have
// different signs: derivatives of int |E_z| dz took one with each, and those of the transit-time
// factor were -522 per metre in place of -0.24. Both solves are good to some 1e-4.
START_TEST(sizes_of_odd_modes_agree) {
  const cavum_figure_id id = CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS;
  double largest = 0.0, apart = 0.0;
  cavum_cell cell = drawn(1, 4, 9);
  cavum_result *usual = derivative_tally_solve(&cell, 1e-6, 1e-4, (derivative_tally_way){0});
  cavum_result *tight = derivative_tally_solve(&cell, 1e-9, 1e-6, (derivative_tally_way){0});
  ck_assert(usual && tight && usual->num_modes > 1 && tight->num_modes > 1);
  for (int i = 0; i < usual->num_dimensions; i++) {
    cavum_derivative a = cavum_result_derivative(usual, 1, i, id);
    cavum_derivative b = cavum_result_derivative(tight, 1, i, id);
    if (a.state != CAVUM_FIGURE_PRESENT || b.state != CAVUM_FIGURE_PRESENT) continue;
    largest = cavum_max(largest, fabs(a.value));
    apart = cavum_max(apart, fabs(a.value - b.value));
  }
  ck_assert_double_gt(largest, 1.0);
  CAVUM_CHECK_NEAR(apart / largest, 0.0, 1e-3);
  cavum_result_destroy(&usual);
  cavum_result_destroy(&tight);
  cavum_cell_clear(&cell);
}
END_TEST

// Two noses that are alike but for which is moved: the larger of their peaks is the peak.
#define NOSE(z, sign)                                                                           \
  TO(sign "20", "12", "metal")                                                                  \
  "    - {arc_to: {z_mm: " sign "20, r_mm: 20}, centre: {z_mm: " sign "20, r_mm: 16}, turn: " z \
  ", boundary: metal}\n"
static const char NOSES[] =
    "accelerating_length_mm: 60\n" PATH("-70", "0") TO("70", "0", "axis") TO("70", "12", "electric")
        NOSE("right", "") TO("45", "32", "metal") TO("45", "120", "metal") TO("-45", "120", "metal")
            TO("-45", "32", "metal") TO("-20", "20", "metal")
    "    - {arc_to: {z_mm: -20, r_mm: 12}, centre: {z_mm: -20, r_mm: 16}, turn: right, boundary: "
    "metal}\n" TO("-70", "12", "electric") TO("-70", "0", "electric");

START_TEST(peaks_at_two_places_have_two_derivatives) {
  cavum_result *result = differentiate(NOSES, 1e-9, 1e-5);
  const char *key = "path[4].centre.z_mm";
  int at = find(result, key);
  double unit = result->dimensions[at].unit_si;
  cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  ck_assert_int_eq(cavum_result_derivative(result, 0, at, id).state, CAVUM_FIGURE_ABSENT);
  cavum_derivative grows = cavum_result_one_sided_derivative(result, 0, at, id, CAVUM_CHANGE_GROWS);
  cavum_derivative shrinks =
      cavum_result_one_sided_derivative(result, 0, at, id, CAVUM_CHANGE_SHRINKS);
  ck_assert_int_eq(grows.state, CAVUM_FIGURE_PRESENT);
  ck_assert_int_eq(shrinks.state, CAVUM_FIGURE_PRESENT);
  ck_assert(grows.value > shrinks.value);
  // Differences to one side, extrapolated: what is left is h^2 of a length of millimetres, and
  // twice the 1e-5 of a peak over a step.
  double figure = solving_value(&result->modes[0], id), h = 0.02, slope[2][2];
  const double z_mm = result->dimensions[at].value_si / unit;
  for (int side = 0; side < 2; side++) {
    for (int k = 0; k < 2; k++) {
      double step = (k + 1) * (side == 0 ? h : -h);
      cavum_cell cell = solving_read(NOSES);
      cavum_error error = {0};
      ck_assert_int_eq(cavum_cell_set(&cell, key, z_mm + step, &error), CAVUM_OK);
      cell.accuracy_frequency = 1e-9;
      cell.accuracy_other_figures = 1e-5;
      cavum_result *moved = solving_solve(&cell, NULL);
      slope[side][k] = (solving_value(&moved->modes[0], id) - figure) / step;
      cavum_result_destroy(&moved);
      cavum_cell_clear(&cell);
    }
  }
  for (int side = 0; side < 2; side++) {
    const cavum_derivative *d = side == 0 ? &grows : &shrinks;
    CAVUM_CHECK_NEAR(d->value * unit, 2.0 * slope[side][0] - slope[side][1],
                     4e-5 * figure / h + d->uncertainty * unit);
    ck_assert(d->uncertainty < 1e-2 * (grows.value - shrinks.value));
  }
  // One of both noses has one derivative to both sides, and other figures have.
  for (int i = 0; i < result->num_dimensions; i++) {
    for (int k = 0; k < CAVUM_NUM_FIGURES; k++) {
      cavum_derivative d = cavum_result_derivative(result, 0, i, (cavum_figure_id)k);
      cavum_derivative one =
          cavum_result_one_sided_derivative(result, 0, i, (cavum_figure_id)k, CAVUM_CHANGE_GROWS);
      if (d.state == CAVUM_FIGURE_PRESENT) ck_assert(one.value == d.value);
      // No sequence is too short for an uncertainty.
      if (one.state == CAVUM_FIGURE_PRESENT) ck_assert(isfinite(one.uncertainty));
    }
  }
  cavum_result_destroy(&result);
}
END_TEST

// Two noses that are each other's image, on a mesh that is not: a region about the peak had found
// E_pk to 1.5e-5 where the mesh has the two to 3.5e-5, and one of them alone was moved, by
// dimensions of its own, up or down.
static const char BUNCHER[] =
    "beta: 0.06\naccelerating_length_mm: 110\n" PATH("-190", "0") TO("190", "0", "axis")
        TO("190", "18", "metal") TO("30", "18", "metal")
    "    - {arc_to: {z_mm: 30, r_mm: 42}, centre: {z_mm: 30, r_mm: 30}, turn: right, boundary: "
    "metal}\n" TO("120", "80", "metal") TO("120", "520", "metal") TO("-120", "520", "metal")
        TO("-120", "80", "metal") TO("-30", "42", "metal")
    "    - {arc_to: {z_mm: -30, r_mm: 18}, centre: {z_mm: -30, r_mm: 30}, turn: right, boundary: "
    "metal}\n" TO("-190", "18", "metal") TO("-190", "0", "metal");

// A long tube does next to nothing to a peak, wherever that stands: one number, not two that are
// the same within their uncertainties.
START_TEST(places_that_change_alike_have_one_derivative) {
  static const char text[] =
      "beta: 0.47\ncontour:\n  kind: two-ellipse\n  half_length_mm: 50.1\n  iris_radius_mm: 41\n"
      "  equator_radius_mm: 188.6\n  equator_ellipse: {axial_mm: 28, radial_mm: 40}\n"
      "  iris_ellipse: {axial_mm: 11, radial_mm: 22}\n"
      "ends:\n  left: {kind: tube, length_mm: 140, close: electric}\n"
      "  right: {kind: tube, length_mm: 60, close: electric}\n";
  cavum_result *result = differentiate(text, 1e-6, 1e-4);
  int split = 0;
  for (int i = 0; i < result->num_dimensions; i++) {
    for (int k = 0; k < 2; k++) {
      cavum_figure_id id = k == 0 ? CAVUM_FIGURE_EPK_OVER_EACC : CAVUM_FIGURE_BPK_OVER_EACC;
      cavum_derivative d = cavum_result_derivative(result, 0, i, id);
      if (d.state == CAVUM_FIGURE_PRESENT) continue;
      cavum_derivative a = cavum_result_one_sided_derivative(result, 0, i, id, CAVUM_CHANGE_GROWS);
      cavum_derivative b =
          cavum_result_one_sided_derivative(result, 0, i, id, CAVUM_CHANGE_SHRINKS);
      split++;
      ck_assert(a.value - b.value > a.uncertainty + b.uncertainty);
    }
  }
  printf("%d split\n", split);
  int tube = find(result, "ends.left.length_mm");
  cavum_derivative d = cavum_result_derivative(result, 0, tube, CAVUM_FIGURE_BPK_OVER_EACC);
  ck_assert_int_eq(d.state, CAVUM_FIGURE_PRESENT);
  // B_pk / E_acc changes by what E_acc does: the field stays.
  cavum_derivative eacc = cavum_result_derivative(result, 0, tube, CAVUM_FIGURE_EACC_AT_1_J);
  const cavum_figure *figures = result->modes[0].figures;
  CAVUM_CHECK_NEAR(d.value,
                   -eacc.value * figures[CAVUM_FIGURE_BPK_OVER_EACC].value /
                       figures[CAVUM_FIGURE_EACC_AT_1_J].value,
                   d.uncertainty + eacc.uncertainty * figures[CAVUM_FIGURE_BPK_OVER_EACC].value /
                                       figures[CAVUM_FIGURE_EACC_AT_1_J].value);
  cavum_result_destroy(&result);
}
END_TEST

// A hill of H about the middle of the outer wall, where two edges meet: the end of the one was
// taken for a second peak beside the top on the other, and 0.5 % lay between their derivatives.
static const char CONES[] =
    "modes: {count: 2}\naccelerating_length_mm: 175\n" PATH("-175", "0") TO("175", "0", "axis")
        TO("175", "8.5", "metal") TO("86", "8.5", "metal") TO("73.5", "139.5", "metal")
            TO("15", "232.5", "metal") TO("-15", "232.5", "metal") TO("-73.5", "139.5", "metal")
                TO("-86", "8.5", "metal") TO("-175", "8.5", "metal") TO("-175", "0", "metal");

typedef struct mirrored_pair {
  const char *right, *left;
  double sign;
} mirrored_pair;

static void check_mirrored(const char *text, int mode, cavum_figure_id id,
                           const mirrored_pair *pairs, int count) {
  cavum_result *result = differentiate(text, 1e-6, 1e-4);
  for (int i = 0; i < count; i++) {
    int right = find(result, pairs[i].right), left = find(result, pairs[i].left);
    for (int change = 0; change < 2; change++) {
      bool grows = (change == 0) == (pairs[i].sign > 0.0);
      cavum_derivative a = cavum_result_one_sided_derivative(
          result, mode, right, id, change == 0 ? CAVUM_CHANGE_GROWS : CAVUM_CHANGE_SHRINKS);
      cavum_derivative b = cavum_result_one_sided_derivative(
          result, mode, left, id, grows ? CAVUM_CHANGE_GROWS : CAVUM_CHANGE_SHRINKS);
      ck_assert_int_eq(a.state, CAVUM_FIGURE_PRESENT);
      ck_assert_int_eq(b.state, CAVUM_FIGURE_PRESENT);
      CAVUM_CHECK_NEAR(a.value, pairs[i].sign * b.value, a.uncertainty + b.uncertainty);
    }
  }
  cavum_result_destroy(&result);
}

START_TEST(peaks_of_mirrored_sides_have_the_same_derivatives) {
  static const mirrored_pair noses[] = {{"path[3].line_to.r_mm", "path[10].arc_to.r_mm", 1.0},
                                        {"path[4].arc_to.r_mm", "path[9].line_to.r_mm", 1.0},
                                        {"path[4].centre.z_mm", "path[10].centre.z_mm", -1.0},
                                        {"path[6].line_to.z_mm", "path[7].line_to.z_mm", -1.0}};
  static const mirrored_pair cones[] = {{"path[5].line_to.r_mm", "path[6].line_to.r_mm", 1.0},
                                        {"path[5].line_to.z_mm", "path[6].line_to.z_mm", -1.0},
                                        {"path[4].line_to.z_mm", "path[7].line_to.z_mm", -1.0}};
  // The centres of half circles move nothing along their chords but by rounding.
  static const mirrored_pair centres[] = {{"path[4].centre.r_mm", "path[10].centre.r_mm", 1.0}};
  check_mirrored(BUNCHER, 0, CAVUM_FIGURE_FREQUENCY, centres, 1);
  check_mirrored(BUNCHER, 0, CAVUM_FIGURE_EPK_OVER_EACC, noses, 4);
  check_mirrored(CONES, 1, CAVUM_FIGURE_BPK_OVER_EACC, cones, 3);
}
END_TEST

static double coupling_at(const cavum_cell *cell, const char *key, double value_mm) {
  cavum_cell changed = *cell;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = options.coupling_of_inner_cell = true;
  ck_assert_int_eq(cavum_cell_set(&changed, key, value_mm, &error), CAVUM_OK);
  cavum_result *result = solving_solve(&changed, &options);
  double coupling = result->coupling.value;
  cavum_result_destroy(&result);
  return coupling;
}

// The first and second halves of unlike cells, and tubes that are left out of the coupling.
START_TEST(coupling_agrees_with_differences) {
  static const char *const texts[] = {BOTH("{kind: magnetic}"),
                                      CUP("ends: {left: {kind: magnetic}, right: {kind: tube, "
                                          "length_mm: 90, close: electric}}\n")};
  static const char *const keys[] = {"iris_radius_mm", "equator_ellipse.axial_mm"};
  for (int t = 0; t < 2; t++) {
    cavum_cell cell = solving_read(texts[t]);
    cavum_solve_options options = cavum_solve_options_default();
    options.derivatives = options.coupling = options.coupling_of_inner_cell = true;
    cell.accuracy_frequency = 1e-11;
    cell.accuracy_other_figures = 1e-6;
    cavum_result *result = solving_solve(&cell, &options);
    double sum = 0.0, size = 0.0;
    for (int i = 0; i < result->num_dimensions; i++) {
      cavum_derivative d = cavum_result_coupling_derivative(result, i);
      ck_assert_int_eq(d.state, CAVUM_FIGURE_PRESENT);
      if (strcmp(result->dimensions[i].key, "beta") == 0) {
        ck_assert(d.value == 0.0);
        continue;
      }
      sum += d.value * result->dimensions[i].value_si;
      size += fabs(d.value * result->dimensions[i].value_si);
      if (strncmp(result->dimensions[i].key, "ends.", 5) == 0) ck_assert(d.value == 0.0);
    }
    printf("sum over dimensions %.3g of %.3g\n", sum, size);
    ck_assert(fabs(sum) <= 1e-9 * size);
    for (int k = 0; k < 2 && t == 0; k++) {
      int at = find(result, keys[k]);
      cavum_derivative d = cavum_result_coupling_derivative(result, at);
      double x = result->dimensions[at].value_si * 1e3, h = 2e-3 * x;
      double near = coupling_at(&cell, keys[k], x + h) - coupling_at(&cell, keys[k], x - h);
      double far =
          coupling_at(&cell, keys[k], x + 2.0 * h) - coupling_at(&cell, keys[k], x - 2.0 * h);
      double expected = (8.0 * near - far) / (12.0 * h * 1e-3);
      // Of frequencies to 1e-11 over a step of 2e-3, and the fourth power of the step.
      printf("k_cc by %s: %.10g, differences %.10g, uncertainty %.2g\n", keys[k], d.value, expected,
             d.uncertainty);
      ck_assert(fabs(d.value - expected) <= d.uncertainty + 2e-7 * fabs(expected));
      // What is left of a vector is about the same in all of them: a part of the largest, 2.1 / m.
      ck_assert(d.uncertainty <= 1e-6 * 2.1);
    }
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
  cavum_result *result = differentiate(BOTH("{kind: magnetic}"), 1e-6, 1e-4);
  ck_assert_ptr_null(result->coupling_derivatives);
  ck_assert_int_eq(cavum_result_coupling_derivative(result, 0).state, CAVUM_FIGURE_ABSENT);
  ck_assert_int_eq(cavum_result_coupling_derivative(NULL, 0).state, CAVUM_FIGURE_ABSENT);
  cavum_result_destroy(&result);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, peaks_at_two_places_have_two_derivatives);
  tcase_add_test(tests, peaks_of_mirrored_sides_have_the_same_derivatives);
  tcase_add_test(tests, places_that_change_alike_have_one_derivative);
  tcase_add_test(tests, coupling_agrees_with_differences);
  tcase_add_test(tests, derivatives_at_strong_corners_are_inside);
  tcase_add_test(tests, derivatives_by_the_rim_of_a_tube_are_inside);
  tcase_add_test(tests, ends_of_tubes_are_as_uncertain_as_their_own_terms);
  // The last two take some seven seconds each: with the long tests alone.
  tcase_add_loop_test(tests, derivatives_of_drawn_cells_are_inside, 0,
                      getenv("CAVUM_LONG_TESTS") ? 14 : 12);
  tcase_add_test(tests, frequencies_agree_with_spectral_elements);
  tcase_add_test(tests, frequencies_are_as_certain_as_the_vector);
  tcase_add_test(tests, figures_scale);
  tcase_add_test(tests, sizes_of_odd_modes_agree);
  tcase_add_test(tests, what_does_not_depend_is_exactly_zero);
  tcase_add_test(tests, speed_tubes_and_length_agree_with_differences);
  tcase_add_test(tests, dimensions_that_make_a_tip_are_no_uncertainty_of_others);
  tcase_add_test(tests, points_of_splines_agree_with_differences);
  tcase_add_test(tests, closed_forms_of_paths);
  tcase_add_test(tests, absent_derivatives_have_reasons);
  tcase_add_test(tests, figures_can_be_asked_for_alone);
  tcase_add_test(tests, modes_can_be_asked_for_alone);
  tcase_add_test(tests, energies_are_the_same_with_derivatives);
  tcase_add_test(tests, others_agree_with_spectral_elements);
}

CAVUM_TEST_MAIN("derivatives", add)
