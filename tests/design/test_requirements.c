// SPDX-License-Identifier: GPL-3.0-or-later
// Requirements: read, judged at both ends of the uncertainty, and what mends them.
#include <string.h>

#include "cavum/requirement.h"
#include "solving.h"
#include "test_cell.h"

static cavum_requirements *read_list(const char *text) {
  cavum_requirements *list = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_requirements_read_text(&list, text, strlen(text), "r.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return list;
}

// A made result: epk_over_eacc 2.0 +- 0.01, f 1300 MHz exactly.
static cavum_verdict judge_made(const char *section) {
  static cavum_mode_result mode;
  cavum_result result = {.num_modes = 1, .modes = &mode};
  memset(&mode, 0, sizeof mode);
  mode.figures[CAVUM_FIGURE_EPK_OVER_EACC] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 2.0, .uncertainty = 0.01};
  mode.figures[CAVUM_FIGURE_FREQUENCY] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 1.3e9};
  // Of a fit that is known to 10 %, and made with it.
  mode.figures[CAVUM_FIGURE_SURFACE_RESISTANCE] = (cavum_figure){
      .state = CAVUM_FIGURE_PRESENT, .value = 2e-8, .uncertainty = 2e-9, .basis = CAVUM_BASIS_FIT};
  mode.figures[CAVUM_FIGURE_Q0] = (cavum_figure){.state = CAVUM_FIGURE_PRESENT,
                                                 .value = 2e10,
                                                 .uncertainty = 1e5,
                                                 .basis = CAVUM_BASIS_WITH_FIT};
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_requirements *list = read_list(section);
  ck_assert_int_eq(list->count, 1);
  cavum_verdict v = cavum_requirement_judge(&list->list[0], &cell, &result, 0);
  cavum_requirements_destroy(&list);
  cavum_cell_clear(&cell);
  return v;
}

// The volume is that of tests/cell/test_geometry.c, which has it from polygons as well.
static const struct {
  const char *section;
  cavum_verdict_kind kind;
  double margin;
} verdicts[] = {
    {"requirements: {epk_over_eacc: {most: 2.4}}", CAVUM_VERDICT_MET, 0.4},
    {"requirements: {epk_over_eacc: {most: 1.9}}", CAVUM_VERDICT_MISSED, -0.1},
    {"requirements: {epk_over_eacc: {most: 2.005}}", CAVUM_VERDICT_UNDECIDED, 0.005},
    {"requirements: {epk_over_eacc: {most: 1.995}}", CAVUM_VERDICT_UNDECIDED, -0.005},
    {"requirements: {epk_over_eacc: {least: 1.5, most: 2.4}}", CAVUM_VERDICT_MET, 0.4},
    {"requirements: {epk_over_eacc: {least: 2.5}}", CAVUM_VERDICT_MISSED, -0.5},
    {"requirements: {frequency_MHz: {is: 1300.005, within: 0.01}}", CAVUM_VERDICT_MET, 0.005},
    {"requirements: {frequency_GHz: {is: 1.4, within: 0.01}}", CAVUM_VERDICT_MISSED, -0.09},
    {"requirements: {iris_curvature_mm: {least: 8.0}}", CAVUM_VERDICT_MISSED,
     12.0 * 12.0 / 19.0 - 8.0},
    {"requirements: {aperture_radius_mm: {least: 35.0}}", CAVUM_VERDICT_MET, 0.0},
    {"requirements: {total_length_mm: {most: 120.0}}", CAVUM_VERDICT_MET, 4.6},
    {"requirements: {volume_m3: {most: 1e-3}}", CAVUM_VERDICT_MISSED, 1e-3 - 0.002565888726},
    {"requirements: {q0: {least: 1.7e10}}", CAVUM_VERDICT_MET, 0.3e10},
    {"requirements: {q0: {least: 1.9e10}}", CAVUM_VERDICT_UNDECIDED, 0.1e10},
    {"requirements: {q0: {least: 2.1e10}}", CAVUM_VERDICT_UNDECIDED, -0.1e10},
    {"requirements: {q0: {least: 2.3e10}}", CAVUM_VERDICT_MISSED, -0.3e10},
    {"requirements: {surface_resistance_ohm: {most: 2.1e-8}}", CAVUM_VERDICT_UNDECIDED, 0.1e-8},
    {"requirements: {wall_power_at_1_MV_per_m_W: {most: 1.0}}", CAVUM_VERDICT_ABSENT, NAN},
    {"requirements: {k_cc: {least: 0.016}}", CAVUM_VERDICT_ABSENT, NAN},
};

START_TEST(verdicts_know_the_uncertainty) {
  cavum_verdict v = judge_made(verdicts[_i].section);
  ck_assert_int_eq(v.kind, verdicts[_i].kind);
  if (isnan(verdicts[_i].margin)) return;
  CAVUM_CHECK_NEAR(v.margin, verdicts[_i].margin, 1e-9);  // rounding of 1300 MHz
}
END_TEST

// With derivatives it says which dimension mends what is missed: with it, the figure is at the
// bound.
START_TEST(what_mends_it_does) {
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  cavum_result *result = solving_solve(&cell, &options);
  cavum_requirements *list = read_list("requirements: {frequency_MHz: {is: 1302.0, within: 0.1}}");
  cavum_verdict v = cavum_requirement_judge(&list->list[0], &cell, result, 0);
  ck_assert_int_eq(v.kind, CAVUM_VERDICT_MISSED);
  ck_assert_str_eq(v.dimension, "equator_radius_mm");  // where f is the most sensitive
  cavum_result_destroy(&result);
  double radius = 0.0;
  ck_assert_int_eq(cavum_cell_get(&radius, &cell, v.dimension, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_set(&cell, v.dimension, radius + v.change, NULL), CAVUM_OK);
  result = solving_solve(&cell, NULL);
  // A step of 1e-3 of f leaves about its square.
  CAVUM_CHECK_RELATIVE(solving_value(&result->modes[0], CAVUM_FIGURE_FREQUENCY), 1301.9e6, 4e-6);
  cavum_result_destroy(&result);
  cavum_requirements_destroy(&list);
  cavum_cell_clear(&cell);
}
END_TEST

// A coupling that is missed names a dimension too, and with it k_cc is at the bound.
START_TEST(what_mends_a_coupling_does) {
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = options.coupling = true;
  options.derivatives_of = 1;
  cavum_result *result = solving_solve(&cell, &options);
  char text[96];
  double aim = result->coupling.value * (1.0 + 1e-3), radius = 0.0;
  snprintf(text, sizeof text, "requirements: {k_cc: {least: %.17g}}", aim);
  cavum_requirements *list = read_list(text);
  cavum_verdict v = cavum_requirement_judge(&list->list[0], &cell, result, 0);
  ck_assert_int_eq(v.kind, CAVUM_VERDICT_MISSED);
  printf("%s %.6g\n", v.dimension, v.change);
  ck_assert(v.dimension[0] != '\0');
  cavum_result_destroy(&result);
  ck_assert_int_eq(cavum_cell_get(&radius, &cell, v.dimension, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_set(&cell, v.dimension, radius + v.change, NULL), CAVUM_OK);
  options.derivatives = false;
  result = solving_solve(&cell, &options);
  // A step of 1e-3 of k_cc leaves about its square.
  CAVUM_CHECK_RELATIVE(result->coupling.value, aim, 4e-6);
  cavum_result_destroy(&result);
  cavum_requirements_destroy(&list);
  cavum_cell_clear(&cell);
}
END_TEST

static const struct {
  const char *section, *words;
} refused[] = {
    {"requirements: 5\n", "expected a mapping"},
    {"requirements: {frequncy_MHz: {most: 1}}\n", "did you mean 'frequency_MHz'"},
    {"requirements: {k_cc: 5}\n", "expected {least: A}"},
    {"requirements: {k_cc: {is: 5}}\n", "expected {least: A}"},
    {"requirements: {k_cc: {is: 5, most: 6}}\n", "expected {least: A}"},
    {"requirements: {k_cc: {is: 5, within: -1}}\n", "expected {least: A}"},
    {"requirements: {k_cc: {least: 5, most: 4}}\n", "expected {least: A}"},
    {"requirements: {k_cc: {below: 4}}\n", "expected {least: A}"},
    {"requirements: {k_cc: {least: 1.0}}\n", "k_cc: expected a fraction: 1 % is 0.01"},
    {"requirements: {k_cc: {is: 1.8, within: 0.1}}\n", "k_cc: expected a fraction: 1 % is 0.01"},
    {"requirements: {k_cc: {most: x}}\n", "number"},
    // No value meets both of one figure in two units, or of R/Q in both conventions, of which one
    // is half of the other.
    {"requirements:\n  frequency_MHz: {least: 1130}\n  frequency_GHz: {most: 1.1}\n",
     "r.yaml:3:18: requirements.frequency_GHz: at most 1.1, while frequency_MHz is at least 1130 "
     "in line 2: no cell meets both"},
    {"requirements:\n  frequency_GHz: {is: 1.1, within: 0.001}\n  frequency_MHz: {least: 1130}\n",
     "r.yaml:3:18: requirements.frequency_MHz: at least 1130, while frequency_GHz is "},
    {"requirements:\n  r_over_q_linac_ohm: {least: 121}\n  r_over_q_circuit_ohm: {most: 60}\n",
     "r.yaml:3:25: requirements.r_over_q_circuit_ohm: at most 60, while r_over_q_linac_ohm is at "
     "least 121 in line 2: no cell meets both"},
    // What no cell has.
    {"requirements: {frequency_MHz: {is: -1300, within: 1}}\n",
     "r.yaml:1:31: requirements.frequency_MHz: it is never below 0, where at most -1299 was given"},
    {"requirements: {volume_m3: {most: -1e-3}}\n", "it is never below 0"},
};

START_TEST(what_makes_no_sense_is_refused) {
  cavum_requirements *list = NULL;
  cavum_error error = {0};
  const char *text = refused[_i].section;
  ck_assert_int_eq(cavum_requirements_read_text(&list, text, strlen(text), "r.yaml", &error),
                   CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_null(list);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].words));
}
END_TEST

// Bounds that touch, and those that may be below 0, are taken.
START_TEST(what_can_be_met_is_taken) {
  static const char *const taken[] = {
      "requirements:\n  frequency_MHz: {least: 1130}\n  frequency_GHz: {most: 1.13}\n",
      "requirements:\n  r_over_q_linac_ohm: {least: 120}\n  r_over_q_circuit_ohm: {most: 60}\n",
      "requirements: {k_cc: {most: -0.01}, wall_angle_deg: {least: -20, most: -2}}",
      "requirements: {straight_length_mm: {most: -1}, tube_cut_frequency_change_Hz: {most: -1}}"};
  for (int i = 0; i < 4; i++) {
    cavum_requirements *list = read_list(taken[i]);
    ck_assert_int_eq(list->count, 2);
    cavum_requirements_destroy(&list);
  }
}
END_TEST

// A made result: E_pk / E_acc 2 and B_pk / E_acc 4 mT/(MV/m); the equator moves E_pk by -10 and
// B_pk by +20 of these per metre, the iris only E_pk, and less.
static cavum_result make_traded(cavum_mode_result *mode, cavum_derivative *derivatives) {
  static cavum_dimension dimensions[2];
  memset(mode, 0, sizeof *mode);
  for (int i = 0; i < 2; i++) {
    dimensions[i] = (cavum_dimension){.unit = "mm", .unit_si = 1e-3, .value_si = 0.1};
    snprintf(dimensions[i].key, sizeof dimensions[i].key, "%s",
             i == 0 ? "equator_radius_mm" : "iris_radius_mm");
  }
  mode->figures[CAVUM_FIGURE_EPK_OVER_EACC] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 2.0};
  mode->figures[CAVUM_FIGURE_BPK_OVER_EACC] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 4e-9};
  const cavum_derivative of[] = {{.state = CAVUM_FIGURE_PRESENT, .value = -10.0},
                                 {.state = CAVUM_FIGURE_PRESENT, .value = 20e-9},
                                 {.state = CAVUM_FIGURE_PRESENT, .value = 1.0}};
  derivatives[CAVUM_FIGURE_EPK_OVER_EACC] = of[0];
  derivatives[CAVUM_FIGURE_BPK_OVER_EACC] = of[1];
  derivatives[CAVUM_FIGURES_ROOM + CAVUM_FIGURE_EPK_OVER_EACC] = of[2];
  mode->derivatives = derivatives;
  return (cavum_result){
      .num_modes = 1, .modes = mode, .num_dimensions = 2, .dimensions = dimensions};
}

// E_pk 2 at most 1.9 is mended by the equator, 10 mm larger: B_pk grows from 4 to 4.2.
START_TEST(what_mends_one_may_break_another) {
  static const struct {
    const char *bound;
    bool breaks;
  } others[] = {{"{most: 4.19}", true},  {"{most: 4.21}", false},
                {"{least: 3.9}", false}, {"{least: 3.9, most: 4.1}", true},
                {"{most: 3.9}", false},    // missed without it
                {"{least: 4.1}", false}};  // that is mended, too
  static cavum_mode_result mode;
  static cavum_derivative derivatives[2 * CAVUM_FIGURES_ROOM];
  cavum_result result = make_traded(&mode, derivatives);
  cavum_cell cell = solving_read(TEST_CELL);
  for (int i = 0; i < 6; i++) {
    char text[160];
    snprintf(text, sizeof text,
             "requirements: {epk_over_eacc: {most: 1.9}, bpk_over_eacc_mT_per_MV_per_m: %s,\n"
             "  geometry_factor_ohm: {least: 1}}",
             others[i].bound);
    cavum_requirements *list = read_list(text);
    cavum_verdict v = cavum_requirement_judge(&list->list[0], &cell, &result, 0);
    ck_assert_str_eq(v.dimension, "equator_radius_mm");
    CAVUM_CHECK_RELATIVE(v.change, 10.0, 1e-12);
    printf("B_pk %s\n", others[i].bound);
    ck_assert(cavum_requirement_breaks(&list->list[1], &v, &cell, &result, 0) == others[i].breaks);
    // Not itself, nor what is not known; nothing without a dimension.
    ck_assert(!cavum_requirement_breaks(&list->list[0], &v, &cell, &result, 0));
    ck_assert(!cavum_requirement_breaks(&list->list[2], &v, &cell, &result, 0));
    v.dimension[0] = '\0';
    ck_assert(!cavum_requirement_breaks(&list->list[1], &v, &cell, &result, 0));
    cavum_requirements_destroy(&list);
  }
  ck_assert(!cavum_requirement_breaks(NULL, NULL, NULL, NULL, 0));
  cavum_cell_clear(&cell);
}
END_TEST

// Of the shape: a smaller iris half axis along z has a smaller radius of curvature.
START_TEST(what_mends_a_figure_may_break_a_shape) {
  static cavum_mode_result mode;
  static cavum_derivative derivatives[2 * CAVUM_FIGURES_ROOM];
  cavum_result result = make_traded(&mode, derivatives);
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_requirements *list = read_list("requirements: {iris_curvature_mm: {least: 7.5}}");
  cavum_verdict v = {.dimension = "iris_ellipse.axial_mm", .change = -0.1};
  // 144 / 19 is 7.579 mm, and 2 * 12 / 19 per mm.
  ck_assert(cavum_requirement_breaks(&list->list[0], &v, &cell, &result, 0));
  v.change = -0.05;
  ck_assert(!cavum_requirement_breaks(&list->list[0], &v, &cell, &result, 0));
  cavum_requirements_destroy(&list);
  cavum_cell_clear(&cell);
}
END_TEST

// A shape that was made for a limit meets it to the rounding of the search that made it; ten times
// more is missed. Figures of a mode have uncertainties for that.
START_TEST(shapes_meet_to_rounding) {
  cavum_requirement r = {.unit_si = 1e-3, .least = 35.0, .most = HUGE_VAL};
  const struct {
    cavum_requirement_kind kind;
    double value;
    cavum_verdict_kind verdict;
  } cases[] = {{CAVUM_REQUIRE_APERTURE_RADIUS, 35e-3 * (1 - 5e-9), CAVUM_VERDICT_MET},
               {CAVUM_REQUIRE_APERTURE_RADIUS, 35e-3 * (1 - 5e-8), CAVUM_VERDICT_MISSED},
               {CAVUM_REQUIRE_IRIS_CURVATURE, 35e-3 * (1 - 5e-9), CAVUM_VERDICT_MET},
               {CAVUM_REQUIRE_FIGURE, 35e-3 * (1 - 5e-9), CAVUM_VERDICT_MISSED}};
  for (int i = 0; i < 4; i++) {
    cavum_figure figure = {.state = CAVUM_FIGURE_PRESENT, .value = cases[i].value};
    r.kind = cases[i].kind;
    ck_assert_int_eq(cavum_requirement_weigh(&r, &figure).kind, cases[i].verdict);
  }
  // An angle of 0.
  cavum_figure upright = {.state = CAVUM_FIGURE_PRESENT, .value = -5e-9};
  r = (cavum_requirement){
      .kind = CAVUM_REQUIRE_WALL_ANGLE, .unit_si = 1.0, .least = 0.0, .most = HUGE_VAL};
  ck_assert_int_eq(cavum_requirement_weigh(&r, &upright).kind, CAVUM_VERDICT_MET);
  upright.value = -5e-8;
  ck_assert_int_eq(cavum_requirement_weigh(&r, &upright).kind, CAVUM_VERDICT_MISSED);
}
END_TEST

START_TEST(none_are_none) {
  cavum_requirements *list = read_list(TEST_CELL);
  ck_assert_int_eq(list->count, 0);
  cavum_requirements_destroy(&list);
  ck_assert_int_eq(cavum_requirements_read_text(NULL, NULL, 0, NULL, NULL), CAVUM_ERR_USAGE);
}
END_TEST

// 144 / 19 mm, the square of one half axis over the other, is to be 8 mm: the shorter step is that
// of the axial one, to sqrt(152) mm; Newton's from there is 0.338. No solve is needed for it.
START_TEST(what_mends_a_shape_does) {
  cavum_cell cell = solving_read(TEST_CELL);
  const cavum_result none = {0};
  cavum_requirements *list = read_list("requirements: {iris_curvature_mm: {least: 8.0}}");
  cavum_verdict v = cavum_requirement_judge(&list->list[0], &cell, &none, 0);
  ck_assert_int_eq(v.kind, CAVUM_VERDICT_MISSED);
  ck_assert_str_eq(v.dimension, "iris_ellipse.axial_mm");
  CAVUM_CHECK_RELATIVE(v.change, (8.0 - 144.0 / 19.0) / (2.0 * 12.0 / 19.0), 1e-10);
  cavum_requirements_destroy(&list);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, verdicts_know_the_uncertainty, 0, sizeof verdicts / sizeof *verdicts);
  tcase_add_test(tests, what_mends_it_does);
  tcase_add_test(tests, what_mends_a_shape_does);
  tcase_add_test(tests, what_mends_a_coupling_does);
  tcase_add_loop_test(tests, what_makes_no_sense_is_refused, 0, sizeof refused / sizeof *refused);
  tcase_add_test(tests, what_can_be_met_is_taken);
  tcase_add_test(tests, what_mends_one_may_break_another);
  tcase_add_test(tests, what_mends_a_figure_may_break_a_shape);
  tcase_add_test(tests, shapes_meet_to_rounding);
  tcase_add_test(tests, none_are_none);
}

CAVUM_TEST_MAIN("requirements", add)
