// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes behind steps as cell files: the dimensions of the cell and the amounts of the steps are
// numbers of them, by which figures have derivatives.
#include "cavum/cell_key.h"
#include "cavum/cell_text.h"
#include "cell/dimension.h"
#include "step_chain.h"
#include "steps/chain.h"
#include "steps/forward.h"

static void set_up(void) {
  step_chain_set_up();
  ck_assert_int_eq(program_run(step_chain_folder,
                               "cp $CELLS/mid-cell.yaml . && "
                               "echo 'accuracy: {frequency: 1e-11}' >> mid-cell.yaml"),
                   0);
}

// The text of the mid cell with a list of moves.
static cavum_cell moved_cell(const char *list) {
  char text[2048], name[192];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(text, sizeof text,
           "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
           "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
           "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n  moved: %s\n"
           "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n"
           "accuracy: {frequency: 1e-10}\n",
           list);
  snprintf(name, sizeof name, "%s/moved.yaml", step_chain_folder);
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), name, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

static cavum_result *solve(const cavum_cell *cell, bool derivatives) {
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = derivatives;
  cavum_status status = cavum_solve(&result, cell, &options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return result;
}

static cavum_derivative by(const cavum_result *result, const char *key, cavum_figure_id id) {
  for (int i = 0; i < result->num_dimensions; i++) {
    if (strcmp(result->dimensions[i].key, key) == 0) {
      return cavum_result_derivative(result, 0, i, id);
    }
  }
  ck_abort_msg("no dimension %s", key);
  return (cavum_derivative){0};
}

// The published mid cell: by spectral elements, as in test_shape.c.
START_TEST(the_slope_of_removal_is_the_wall_integral) {
  cavum_cell cell = moved_cell("[{offset_mm: 0}]");
  cavum_result *result = solve(&cell, true);
  // Its equator is a circle, which the file may make an ellipse.
  cavum_derivative d = by(result, "equator_ellipse.axial_mm", CAVUM_FIGURE_FREQUENCY);
  ck_assert_int_eq(d.state, CAVUM_FIGURE_PRESENT);
  d = by(result, "moved[1].offset_mm", CAVUM_FIGURE_FREQUENCY);
  ck_assert_int_eq(d.state, CAVUM_FIGURE_PRESENT);
  CAVUM_CHECK_NEAR(1e-9 * d.value, -10.537348, 1e-6);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void figures_at(double values[2], const cavum_cell *cell, const char *key, double value) {
  cavum_cell other;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_cell_read_text(&other, cell->text, strlen(cell->text), NULL, &error),
                   CAVUM_OK);
  ck_assert_msg(cavum_cell_set(&other, key, value, &error) == CAVUM_OK, "%s", error.message);
  cavum_result *result = solve(&other, false);
  values[0] = cavum_mode_figure(&result->modes[0], CAVUM_FIGURE_FREQUENCY).value;
  values[1] = cavum_mode_figure(&result->modes[0], CAVUM_FIGURE_EACC_AT_1_J).value;
  cavum_result_destroy(&result);
  cavum_cell_clear(&other);
}

// Steps of 1 and 2 times h: what is left is h^4, and what a solve may be off by over h, a part of
// 1e-10 of f and 1e-4 of the other figure.
static void check_dimension(const cavum_cell *cell, const cavum_result *result,
                            const cavum_dimension *dimension) {
  static const double at[] = {-2, -1, 1, 2}, weights[] = {1, -8, 8, -1};
  static const cavum_figure_id figures[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_EACC_AT_1_J};
  bool length = strcmp(dimension->unit, "mm") == 0;
  double h_si = length ? 4e-5 : 4e-4, differences[2] = {0, 0}, values[2];
  for (int k = 0; k < 4; k++) {
    figures_at(values, cell, dimension->key,
               (dimension->value_si + at[k] * h_si) / dimension->unit_si);
    for (int f = 0; f < 2; f++) differences[f] += weights[k] * values[f] / (12 * h_si);
  }
  for (int f = 0; f < 2; f++) {
    cavum_derivative d = by(result, dimension->key, figures[f]);
    double figure = cavum_mode_figure(&result->modes[0], figures[f]).value;
    double size = figure / (length ? 0.1 : 1.0);
    printf("%s ", dimension->key);
    ck_assert_int_eq(d.state, CAVUM_FIGURE_PRESENT);
    CAVUM_CHECK_NEAR(d.value, differences[f], f == 0 ? 1e-6 * size : 1e-4 * size);
  }
}

START_TEST(derivatives_are_differences_of_solves) {
  cavum_cell cell = moved_cell(
      "[{equator_mm: 1}, {equator_mm: -0.6}, {offset_mm: 0.1}, {longer_mm: 0.3},\n"
      "    {contraction: 0.00143, axial_contraction: 0.001}, {offset_mm: 0.05, iris_share: 1.6}]");
  cavum_result *result = solve(&cell, true);
  int amounts = 0, others = 0;
  for (int i = 0; i < result->num_dimensions; i++) {
    const cavum_dimension *d = &result->dimensions[i];
    if (strcmp(d->key, "beta") == 0) continue;
    bool amount = strncmp(d->key, "moved", 5) == 0;
    amounts += amount;
    others += !amount;
    // What takes long to see: the rest where there is time.
    bool soon = strcmp(d->key, "half_length_mm") == 0 || strcmp(d->key, "moved[3].offset_mm") == 0;
    if (soon || getenv("CAVUM_LONG_TESTS")) check_dimension(&cell, result, d);
  }
  ck_assert_int_eq(amounts, 8);
  ck_assert_int_eq(others, 7);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// Shares and places of a profile; that they move the wall by cubics which are fitted within 0.1 nm
// leaves 1e-6 of a share.
START_TEST(profiles_have_derivatives_by_their_places) {
  cavum_cell cell = moved_cell(
      "[{offset_mm: 0.2, profile: [{z_mm: -50, share: 1}, {z_mm: 4, share: 0.5}, {z_mm: 50, share: "
      "0.9}]}]");
  cavum_result *result = solve(&cell, true);
  int shares = 0, places = 0;
  for (int i = 0; i < result->num_dimensions; i++) {
    const cavum_dimension *d = &result->dimensions[i];
    bool share = strstr(d->key, ".share") != NULL, place = strstr(d->key, "].z_mm") != NULL;
    shares += share;
    places += place;
    bool soon = strcmp(d->key, "moved[1].profile[2].share") == 0 ||
                strcmp(d->key, "moved[1].profile[2].z_mm") == 0;
    if (soon || ((share || place) && getenv("CAVUM_LONG_TESTS"))) {
      check_dimension(&cell, result, d);
    }
  }
  ck_assert_int_eq(shares, 3);
  ck_assert_int_eq(places, 3);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// Of 13 places none is a dimension, and who asks for one is told why.
START_TEST(long_profiles_are_no_dimensions) {
  char moves[1024] = "[{offset_mm: 0.1, profile: [";
  for (int i = 0; i < 13; i++) {
    size_t used = strlen(moves);
    snprintf(moves + used, sizeof moves - used, "%s{z_mm: %d, share: 1}", i ? ", " : "",
             9 * (i - 6));
  }
  strcat(moves, "]}]");
  cavum_cell cell = moved_cell(moves);
  cavum_cell_dimensions dimensions = {0};
  ck_assert_int_eq(cavum_cell_dimensions_list(&dimensions, &cell, NULL), CAVUM_OK);
  for (int i = 0; i < dimensions.count; i++) {
    ck_assert_ptr_null(strstr(dimensions.list[i].key, "profile"));
  }
  cavum_cell_dimensions_clear(&dimensions);
  program_write_text(step_chain_folder, "long.yaml", cell.text);
  ck_assert_int_eq(program_run(step_chain_folder,
                               "\"$CAVUM\" tune long.yaml --set frequency_MHz=1300 "
                               "--by 'moved[1].profile[2].share' -o tuned.yaml"),
                   2);
  ck_assert_str_eq(program_read_text(step_chain_folder, "err"),
                   "cavum: contour.moved[1].profile[2].share is not a dimension: figures have "
                   "derivatives by the numbers of profiles of at most 12 places\n");
  cavum_cell_clear(&cell);
}
END_TEST

// Where no straight length is yet, what it changes is what the wall says, and what two solves say,
// one with a piece more and one that is cut: f goes through without a bend, in its slope at most.
START_TEST(a_straight_length_of_nothing_has_a_derivative) {
  static const char *const keys[] = {"moved[1].equator_mm", "moved[2].iris_mm"};
  cavum_cell cell = moved_cell("[{equator_mm: 0}, {iris_mm: 0}]");
  cavum_result *result = solve(&cell, true);
  for (int k = 0; k < 2; k++) {
    double less[2], more[2];
    cavum_derivative d = by(result, keys[k], CAVUM_FIGURE_FREQUENCY);
    ck_assert_int_eq(d.state, CAVUM_FIGURE_PRESENT);
    figures_at(less, &cell, keys[k], -0.002);
    figures_at(more, &cell, keys[k], 0.002);
    CAVUM_CHECK_RELATIVE(d.value, (more[0] - less[0]) / 4e-6, 1e-4);
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static const struct {
  const char *step, *key;
  double sign, tolerance;
} written[] = {
    {"remove: {depth_um: 100}", "moved[1].offset_mm", 1, 1e-6},
    {"remove: {equator_um: 50, iris_um: 80}", "moved[1].offset_mm", 1, 1e-3},
    {"remove: {profile: [{z_mm: -57, depth_um: 30}, {z_mm: 0, depth_um: 15},\n"
     "      {z_mm: 57, depth_um: 30}]}",
     "moved[1].offset_mm", 1, 1e-3},
    {"stretch: {length_mm: 0.4, plastic_share: 0.5}", "moved[1].longer_mm", 0.5, 1e-6},
    {"trim: {at: equator, each_side_mm: 0.6}", "moved[1].equator_mm", -1, 1e-6},
    {"deposit: {depth_um: 50}", "moved[1].offset_mm", -1, 1e-6},
    {"trim: {at: left iris, each_side_mm: 0.2}", "moved[1].left_iris_mm", -1, 1e-5},
};

// The derivative by the amount is what the chain says of the step. It takes a depth that varies at
// the places of the wall behind the step, where it differs by a part of some 30 um in 57 mm.
START_TEST(written_shapes_have_the_slopes_of_their_steps) {
  enum { SOON = 5 };
  if (_i >= SOON && !getenv("CAVUM_LONG_TESTS")) return;
  char rest[256];
  cavum_steps *steps = NULL;
  cavum_cell shape, read;
  cavum_error error = {0};
  char *text = NULL;
  snprintf(rest, sizeof rest, "steps:\n  - {name: this, %s}\n", written[_i].step);
  cavum_steps_result *chain = step_chain_run("mid-cell.yaml", rest);
  ck_assert_int_eq(step_chain_open(&steps, "mid-cell.yaml", rest, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_steps_shape(&shape, steps, 1, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_to_text(&text, &shape, &error), CAVUM_OK);
  ck_assert_ptr_nonnull(strstr(text, "half_length_mm: 57.7"));
  ck_assert_ptr_nonnull(strstr(text, "# One inner cell"));  // comments stay
  ck_assert_ptr_nonnull(strstr(text, "main structure, after step this\""));
  ck_assert_int_eq(cavum_cell_read_text(&read, text, strlen(text), "c.yaml", &error), CAVUM_OK);
  cavum_result *result = solve(&read, true);
  const cavum_step *step = chain->steps[1];
  CAVUM_CHECK_RELATIVE(cavum_mode_figure(&result->modes[0], CAVUM_FIGURE_FREQUENCY).value,
                       step->frequency_hz, 1e-10);
  cavum_derivative d = by(result, written[_i].key, CAVUM_FIGURE_FREQUENCY);
  ck_assert_int_eq(d.state, CAVUM_FIGURE_PRESENT);
  CAVUM_CHECK_RELATIVE(written[_i].sign * d.value, step->slope_hz_per_m, written[_i].tolerance);
  cavum_result_destroy(&result);
  cavum_steps_result_destroy(&chain);
  cavum_free(text);
  cavum_cell_clear(&read);
  cavum_cell_clear(&shape);
  cavum_steps_close(&steps);
}
END_TEST

// A chain on a cell that was moved before: its list goes on, whatever form it has.
START_TEST(a_list_goes_on) {
  static const char *const lists[] = {"[{offset_mm: 0.1}]",
                                      "\n    - {offset_mm: 0.1}  # etched\n    - {longer_mm: 0}"};
  const char *rest =
      "steps: [{name: light, remove: {depth_um: 20}}, {stretch: {length_mm: 0.2}}]\n";
  cavum_cell base = moved_cell(lists[_i]), shape, read;
  cavum_steps *steps = NULL;
  cavum_error error = {0};
  char *text = NULL;
  program_write_text(step_chain_folder, "base.yaml", base.text);
  ck_assert_int_eq(step_chain_open(&steps, "base.yaml", rest, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_steps_shape(&shape, steps, 2, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_to_text(&text, &shape, &error), CAVUM_OK);
  printf("%s\n", text);
  double value = 0.0;
  ck_assert_int_eq(cavum_cell_read_text(&read, text, strlen(text), NULL, &error), CAVUM_OK);
  ck_assert_int_eq(
      cavum_cell_get(&value, &read, _i == 0 ? "moved[2].offset_mm" : "moved[3].offset_mm", NULL),
      CAVUM_OK);
  ck_assert_double_eq(value, 0.02);
  CAVUM_CHECK_RELATIVE(read.accelerating_length_m, 0.1154 + 0.2e-3, 1e-12);
  cavum_free(text);
  cavum_cell_clear(&read);
  cavum_cell_clear(&shape);
  cavum_cell_clear(&base);
  cavum_steps_close(&steps);
}
END_TEST

// The accelerating length that the file does not state goes along when numbers are set.
START_TEST(a_length_that_is_not_stated_goes_along) {
  cavum_cell cell = moved_cell("[{longer_mm: 1.154}]");  // a hundredth of the whole
  CAVUM_CHECK_RELATIVE(cell.accelerating_length_m, 0.1154 * 1.01, 1e-12);
  cell.accuracy_frequency = 1e-7;  // no longer the cell of its text
  ck_assert_int_eq(cavum_cell_set(&cell, "half_length_mm", 60, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(cell.accelerating_length_m, 0.12 + 1.154e-3, 1e-12);
  ck_assert_double_eq(cell.accuracy_frequency, 1e-7);
  cell.accelerating_length_m = 0.11;
  ck_assert_int_eq(cavum_cell_set(&cell, "moved[1].longer_mm", 0.5, NULL), CAVUM_OK);
  ck_assert_double_eq(cell.accelerating_length_m, 0.11);
  cavum_cell_clear(&cell);
}
END_TEST

// Twice the half length, whatever tubes there are: what is cut off a tube is no part of it.
START_TEST(the_accelerating_length_is_that_of_the_cell_and_not_of_its_tubes) {
  static const struct {
    const char *left, *right, *list;
    double length_mm;
  } rows[] = {
      {"tube, length_mm: 150, close: electric", "tube, length_mm: 150, close: electric",
       "[{equator_mm: -1}]", 113.4},
      {"tube, length_mm: 150, close: electric", "magnetic", "[{equator_mm: 0.5}]", 116.4},
      {"magnetic", "magnetic", "[{equator_mm: -1}]", 113.4},
      {"magnetic", "magnetic", "[{iris_mm: -1}]", 113.4},
      {"tube, length_mm: 150, close: electric", "tube, length_mm: 150, close: electric",
       "[{iris_mm: -5}]", 115.4},
      {"tube, length_mm: 150, close: electric", "magnetic", "[{iris_mm: -1}]", 114.4},
      {"tube, length_mm: 150, close: electric", "magnetic", "[{left_iris_mm: -5}]", 115.4},
      {"magnetic", "tube, length_mm: 150, close: electric", "[{left_iris_mm: 1}]", 116.4},
  };
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    char text[1024];
    cavum_cell cell;
    cavum_error error = {0};
    snprintf(text, sizeof text,
             "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
             "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
             "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n  moved: %s\n"
             "ends: {left: {kind: %s}, right: {kind: %s}}\n",
             rows[i].list, rows[i].left, rows[i].right);
    cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), NULL, &error);
    ck_assert_msg(status == CAVUM_OK, "%s", error.message);
    CAVUM_CHECK_RELATIVE(1e3 * cell.accelerating_length_m, rows[i].length_mm, 1e-12);
    cavum_cell_clear(&cell);
  }
}
END_TEST

// The shape that a chain kept before each step is the one that its file has behind the step before.
START_TEST(shapes_before_steps_are_kept) {
  enum { STEPS = 4 };
  cavum_cell before[STEPS];
  cavum_steps *steps = NULL;
  cavum_error error = {0};
  cavum_steps_result *result = cavum_alloc(1, sizeof *result);
  ck_assert_ptr_nonnull(result);
  ck_assert_int_eq(step_chain_open(&steps, "mid-cell.yaml",
                                   "drawing: {equator_allowance_mm: 1}\nsteps:\n"
                                   "  - trim: {at: equator, each_side_mm: 0.4}\n"
                                   "  - cool: {contraction: 0.001}\n"
                                   "  - remove: {depth_um: 100}\n"
                                   "  - stretch: {length_mm: 0.1}\n",
                                   &error),
                   CAVUM_OK);
  result->steps = cavum_alloc(STEPS + 1, sizeof *result->steps);
  for (int i = 0; i <= STEPS; i++) result->steps[i] = cavum_alloc(1, sizeof **result->steps);
  result->num_steps = STEPS + 1;
  for (int i = 0; i < STEPS; i++) cavum_cell_set_defaults(&before[i]);
  ck_assert_int_eq(cavum_steps_go_forward(before, result, steps, NULL, &error), CAVUM_OK);
  for (int i = 0; i < STEPS; i++) {
    cavum_cell shape;
    ck_assert_int_eq(before[i].path.num_curves == 0, i == 1);  // a cooling scales
    if (i == 1) continue;
    ck_assert_int_eq(cavum_steps_shape(&shape, steps, i, &error), CAVUM_OK);
    ck_assert_int_eq(before[i].path.num_curves, shape.path.num_curves);
    for (cavum_index k = 0; k < shape.path.num_curves; k++) {
      cavum_point a = before[i].path.curves[k].end, b = shape.path.curves[k].end;
      ck_assert_double_lt(hypot(a.z_m - b.z_m, a.r_m - b.r_m), 1e-15);
    }
    cavum_cell_clear(&shape);
    cavum_cell_clear(&before[i]);
  }
  cavum_steps_result_destroy(&result);
  cavum_steps_close(&steps);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, step_chain_tear_down);
  tcase_add_test(tests, the_slope_of_removal_is_the_wall_integral);
  tcase_add_test(tests, derivatives_are_differences_of_solves);
  tcase_add_test(tests, profiles_have_derivatives_by_their_places);
  tcase_add_test(tests, long_profiles_are_no_dimensions);
  tcase_add_test(tests, a_straight_length_of_nothing_has_a_derivative);
  tcase_add_loop_test(tests, written_shapes_have_the_slopes_of_their_steps, 0,
                      (int)(sizeof written / sizeof *written));
  tcase_add_loop_test(tests, a_list_goes_on, 0, 2);
  tcase_add_test(tests, shapes_before_steps_are_kept);
  tcase_add_test(tests, a_length_that_is_not_stated_goes_along);
  tcase_add_test(tests, the_accelerating_length_is_that_of_the_cell_and_not_of_its_tubes);
}

CAVUM_TEST_MAIN("moved cells", add)
