// SPDX-License-Identifier: GPL-3.0-or-later
// cavum steps: table, JSON, exit statuses.
#include <jansson.h>

#include "step_chain.h"
#include "store/chain_file.h"

#define run(...) program_run(step_chain_folder, __VA_ARGS__)

static const char *read_text(const char *name) {
  const char *text = program_read_text(step_chain_folder, name);
  fputs(text, stdout);
  return text;
}

static void write_chain(const char *name, const char *steps) {
  char text[1024];
  snprintf(text, sizeof text,
           "title: Series\ncell: pillbox.yaml\n"
           "target: {frequency_MHz: 1301.8, tolerance_kHz: 50}\nsteps:\n%s",
           steps);
  program_write_text(step_chain_folder, name, text);
}

START_TEST(the_table_has_aims_and_measurements) {
  write_chain("chain.yaml",
              "  - {name: bench, air: {temperature_C: 20}, measured_MHz: 1299.7}\n"
              "  - {name: cold, cool: {contraction: 1.43e-3}}\n");
  ck_assert_int_eq(run("$CAVUM steps chain.yaml --json chain.json"), 0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "Series"));
  ck_assert_ptr_nonnull(strstr(table, "aim / MHz"));
  ck_assert_ptr_nonnull(strstr(table, "N = 268.218"));
  json_error_t error;
  json_t *root = json_loads(read_text("chain.json"), 0, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  double aim = 0.0, deviation = 0.0;
  ck_assert_int_eq(json_unpack(json_array_get(json_object_get(root, "behind_each_step"), 1),
                               "{s:F, s:F}", "aim_Hz", &aim, "deviation_Hz", &deviation),
                   0);
  // f in air over f in vacuum, cold over warm.
  CAVUM_CHECK_NEAR(aim, 1301.8e6 * (1 - 1.43e-3) / (1 + 268.218e-6) / 1.0, 1e6);
  CAVUM_CHECK_NEAR(deviation, 1299.7e6 - aim, 1e-6);
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM steps chain.yaml -q --json chain.json"), 0);  // its own file
  ck_assert_int_eq(run("$CAVUM steps chain.yaml --json pillbox.yaml --overwrite"), 2);
}
END_TEST

// What is not stated counts as 0, which is said: in the table, the report and as JSON. A measured
// wall has an uncertainty that the drawing of the chain has to state.
START_TEST(uncertainties_that_are_not_stated_are_told) {
  static const char sentence[] = "Uncertainty not stated, taken as 0: drawing, bench, baked";
  write_chain("silent.yaml",
              "  - {name: bench, air: {temperature_C: 20}}\n"
              "  - {name: baked, anneal: {change_kHz: -3}}\n"
              "  - {name: etched, change: {change_kHz: 5, uncertainty_kHz: 0}}\n"
              "  - {name: pumped, air: {gas: vacuum}}\n"
              "  - {name: cold, cool: {material: niobium, from_K: 293, to_K: 2}}\n");
  ck_assert_int_eq(run("$CAVUM steps silent.yaml -o silent.hdf --json silent.json"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), sentence));
  json_t *root = json_loads(read_text("silent.json"), 0, NULL);
  ck_assert_str_eq(json_string_value(json_object_get(root, "uncertainty_not_stated")), sentence);
  const json_t *list = json_object_get(root, "behind_each_step");
  static const bool stated[] = {false, false, false, true, true, true};
  for (int i = 0; i < 6; i++) {
    const json_t *step = json_array_get(list, (size_t)i);
    ck_assert(json_is_boolean(json_object_get(step, "uncertainty_not_stated")));
    ck_assert(json_is_false(json_object_get(step, "uncertainty_not_stated")) == stated[i]);
  }
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM report silent.hdf -o silent.html"), 0);
  ck_assert_ptr_nonnull(strstr(program_read_text(step_chain_folder, "silent.html"), sentence));
  write_chain("told.yaml",
              "  - {name: baked, anneal: {change_kHz: -3, uncertainty_kHz: 1}}\n"
              "drawing: {uncertainty_kHz: 100}\n");
  ck_assert_int_eq(run("$CAVUM steps told.yaml --json told.json"), 0);
  ck_assert_ptr_null(strstr(read_text("out"), "not stated"));
  ck_assert_ptr_nonnull(strstr(read_text("told.json"), "\"uncertainty_not_stated\": null"));
}
END_TEST

// As many as there is room for.
START_TEST(many_uncertainties_that_are_not_stated_are_counted) {
  char steps[8192] = "cell: pillbox.yaml\nsteps:\n";
  for (int i = 0; i < 63; i++) {
    snprintf(steps + strlen(steps), sizeof steps - strlen(steps),
             "  - {name: 'a step with a name of many letters %d', change: {change_kHz: 1}}\n", i);
  }
  program_write_text(step_chain_folder, "many.yaml", steps);
  ck_assert_int_eq(run("$CAVUM steps many.yaml --json many.json -q"), 0);
  json_t *root = json_loads(read_text("many.json"), 0, NULL);
  const char *text = json_string_value(json_object_get(root, "uncertainty_not_stated"));
  ck_assert_ptr_nonnull(strstr(text, "many letters 0, "));
  int named = 0, more = 0;
  for (const char *at = strstr(text, "letters"); at; at = strstr(at + 1, "letters")) named++;
  const char *end = strstr(text, ", and ");
  ck_assert_ptr_nonnull(end);
  ck_assert_int_eq(sscanf(end, ", and %d more", &more), 1);
  ck_assert_str_eq(end + strlen(end) - 5, " more");
  ck_assert_int_eq(named + more, 63);
  json_decref(root);
}
END_TEST

// Names that do not fit into their column end with dots: the rest of the row keeps its place.
START_TEST(names_that_are_cut_end_with_dots) {
  program_write_text(step_chain_folder, "names.yaml",
                     "cell: pillbox.yaml\nsteps:\n"
                     "  - {name: 'forty letters is what there is room for.', air: {gas: vacuum}}\n"
                     "  - {name: '\xc3\xa4 forty letters is what there is room for', air: {gas: "
                     "vacuum}}\n");
  ck_assert_int_eq(run("$CAVUM steps names.yaml"), 0);
  const char *text = read_text("out");
  ck_assert_ptr_nonnull(strstr(text, "\nforty letters is what there is room for. "));
  ck_assert_ptr_nonnull(strstr(text, "\n\xc3\xa4 forty letters is what there is room... "));
}
END_TEST

// Numbers of the file of a shape are those of its steps: 150 um of 100 um are 1.5 times as much,
// and not 1.4999999999999998 times.
START_TEST(depths_of_a_shape_are_those_of_the_steps) {
  static const struct {
    const char *depth, *moved;
  } cases[] = {{"equator_um: 100, iris_um: 150", "{offset_mm: 0.1, iris_share: 1.5}"},
               {"equator_um: 130, iris_um: 104", "{offset_mm: 0.13, iris_share: 0.8}"},
               {"equator_um: 70, iris_um: 161", "{offset_mm: 0.07, iris_share: 2.3}"}};
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml ."), 0);
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    char steps[256];
    snprintf(steps, sizeof steps, "cell: mid-cell.yaml\nsteps:\n  - {name: etch, remove: {%s}}\n",
             cases[i].depth);
    program_write_text(step_chain_folder, "etch.yaml", steps);
    ck_assert_int_eq(run("$CAVUM steps etch.yaml --cell etched.yaml --behind etch --overwrite -q"),
                     0);
    ck_assert_msg(strstr(read_text("etched.yaml"), cases[i].moved) != NULL, "no '%s' in: %s",
                  cases[i].moved, read_text("etched.yaml"));
  }
}
END_TEST

// A wall that was measured says so.
START_TEST(a_measured_wall_without_an_uncertainty_is_told) {
  char points[8192] = "z_mm,r_mm\n";
  for (int i = 0; i < 200; i++) {
    snprintf(points + strlen(points), sizeof points - strlen(points), "%g,88.02\n",
             0.5 * i - 49.75);
  }
  program_write_text(step_chain_folder, "points.csv", points);
  program_write_text(step_chain_folder, "side.yaml",
                     "accelerating_length_mm: 100\n"
                     "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
                     "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
                     "    - {line_to: {z_mm: 50, r_mm: 88}, boundary: electric}\n"
                     "    - {line_to: {z_mm: -50, r_mm: 88}, boundary: metal}\n"
                     "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}\n");
  program_write_text(step_chain_folder, "measured.yaml",
                     "accelerating_length_mm: 100\ncontour: {kind: measured, file: points.csv, "
                     "drawing: side.yaml, scatter_um: 2, best_fit: none}\n");
  program_write_text(step_chain_folder, "built.yaml",
                     "cell: measured.yaml\nsteps: [{name: pumped, air: {gas: vacuum}}]\n");
  ck_assert_int_eq(run("$CAVUM steps built.yaml"), 0);
  ck_assert_ptr_nonnull(
      strstr(read_text("out"), "Uncertainty not stated, taken as 0: drawing (a measured wall)"));
}
END_TEST

// What is stored is what was printed; pictures and reports are made of it.
START_TEST(results_are_stored_drawn_and_reported) {
  write_chain(
      "wall.yaml",
      "  - {name: etched, remove: {depth_um: 100, uncertainty_um: 10}, measured_MHz: 1298.4}\n"
      "  - {name: 'half & half', trim: {at: equator, each_side_mm: 0.5}}\n"
      "  - {name: cold, cool: {contraction: 1.43e-3}}\ndrawing: {uncertainty_kHz: 100}\n");
  ck_assert_int_eq(run("$CAVUM steps wall.yaml -o wall.hdf --json wall.json --cell wall_cell.yaml "
                       "--behind etched"),
                   0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "What was done, as measured"));
  ck_assert_ptr_nonnull(strstr(read_text("out"), "E_pk/E_acc   B_pk/E_acc / mT/(MV/m)\n"));
  const char *cell = read_text("wall_cell.yaml");
  ck_assert_ptr_nonnull(strstr(cell, "# The shape after the step 'etched', in vacuum"));
  // 10 um of the side wall are 150 kHz: of 50 kHz nothing is left before the etching.
  const char *drawing = strstr(read_text("out"), "\ndrawing");
  ck_assert_ptr_nonnull(drawing);
  char left[16] = "";
  ck_assert_int_eq(sscanf(drawing, " drawing %*s %15s", left), 1);
  ck_assert_str_eq(left, "none");
  // Digits by the uncertainty, and what the file has.
  ck_assert_ptr_nonnull(strstr(read_text("out"), " um; stated: 100 um off all metal"));
  char path[192];
  cavum_error error = {0};
  cavum_steps_result *stored = NULL;
  snprintf(path, sizeof path, "%s/wall.hdf", step_chain_folder);
  ck_assert_int_eq(cavum_stored_steps_read(&stored, path, &error), CAVUM_OK);
  ck_assert_int_eq(stored->num_steps, 4);
  ck_assert_str_eq(stored->steps[2]->name, "half & half");
  ck_assert_int_eq(stored->steps[2]->kind, CAVUM_STEP_TRIM);
  ck_assert_str_eq(stored->title, "Series");
  json_t *root = json_loads(read_text("wall.json"), 0, NULL);
  json_t *step = json_array_get(json_object_get(root, "behind_each_step"), 1);
  CAVUM_CHECK_NEAR(stored->steps[1]->aim_hz, json_number_value(json_object_get(step, "aim_Hz")),
                   0.0);
  CAVUM_CHECK_NEAR(stored->steps[1]->found_amount,
                   json_number_value(json_object_get(step, "found_amount_m")), 0.0);
  CAVUM_CHECK_NEAR(stored->sensitivity_hz[stored->num_sources + 1],
                   json_number_value(json_array_get(
                       json_object_get(json_object_get(json_object_get(root, "sources"), "etched"),
                                       "sensitivity_Hz"),
                       1)),
                   0.0);
  json_decref(root);
  cavum_steps_result_destroy(&stored);
  ck_assert_int_eq(run("$CAVUM draw wall.hdf -o wall.svg && $CAVUM report wall.hdf -o wall.html"),
                   0);
  ck_assert_ptr_nonnull(strstr(read_text("wall.svg"), "aim and its tolerance"));
  const char *keys[] = {"aim, no tolerance is left", "step raises f", "step lowers f",
                        "f from the drawing, with its standard uncertainty",
                        "measured, with its standard uncertainty"};
  for (int i = 0; i < 5; i++) ck_assert_ptr_nonnull(strstr(read_text("wall.svg"), keys[i]));
  const char *page = read_text("wall.html");
  ck_assert_ptr_nonnull(strstr(page, "At the bench"));
  ck_assert_ptr_nonnull(strstr(page, "half &amp; half"));
  // All that is printed: no tolerance is none, not zero.
  const char *parts[] = {">none</td>",
                         "What was done, as measured",
                         "100 \xc2\xb5m off all metal",
                         "What the measurements say",
                         "Other figures",
                         "What leads to the target",
                         "twice the uncertainty of the steps that follow"};
  for (int i = 0; i < 7; i++) {
    ck_assert_msg(strstr(page, parts[i]) != NULL, "%s", parts[i]);
  }
  ck_assert_int_eq(run("$CAVUM steps wall.hdf"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "is a result of cavum steps"));
  ck_assert_int_eq(run("$CAVUM solve wall.yaml"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "is a step file"));
  ck_assert_int_eq(run("$CAVUM solve wall_cell.yaml"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "1298.528"));  // 1300 MHz R / (R + 0.1 mm)
  ck_assert_int_eq(run("$CAVUM steps wall.yaml --cell other.yaml --behind bath"), 2);
  // The option that has no file is named.
  ck_assert_int_eq(run("$CAVUM steps wall.yaml --cell -"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "--cell: expected a file name"));
  ck_assert_int_eq(run("$CAVUM steps wall.yaml -q --cell wall_cell.yaml"), 2);  // somebody's file
}
END_TEST

// In table, JSON, file and report: frequencies that no drawing and no furnace of these
// uncertainties give, and an amount that the wall does not have.
START_TEST(contradictions_and_obstacles_are_said) {
  write_chain(
      "odd.yaml",
      "  - {name: bench, air: {gas: vacuum}, measured_MHz: 1300, measured_uncertainty_kHz: 2}\n"
      "  - {name: oven, anneal: {change_kHz: -30, uncertainty_kHz: 5}, measured_MHz: 1300.2,\n"
      "     measured_uncertainty_kHz: 2}\n"
      "  - {name: etched, remove: {depth_um: 20, uncertainty_um: 2}}\n");
  ck_assert_int_eq(run("$CAVUM steps odd.yaml -o odd.hdf --json odd.json && "
                       "$CAVUM report odd.hdf -o odd.html"),
                   0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "\nThe measured frequencies contradict each other"));
  ck_assert_ptr_nonnull(strstr(table, "um, which is the wrong way"));
  json_t *root = json_loads(read_text("odd.json"), 0, NULL);
  ck_assert_ptr_nonnull(root);
  double probability = 1.0;
  int contradictory = 0;
  const char *sentence = NULL, *obstacle = NULL;
  ck_assert_int_eq(
      json_unpack(json_object_get(root, "agreement"), "{s:F, s:b, s:s}", "probability",
                  &probability, "contradictory", &contradictory, "contradiction", &sentence),
      0);
  ck_assert_int_eq(json_unpack(json_array_get(json_object_get(root, "behind_each_step"), 3),
                               "{s:s}", "next_amount_obstacle", &obstacle),
                   0);
  ck_assert_int_eq(contradictory, 1);
  ck_assert(probability < 1e-6);
  ck_assert_str_eq(obstacle, "the wrong way");
  char path[192];
  cavum_steps_result *stored = NULL;
  snprintf(path, sizeof path, "%s/odd.hdf", step_chain_folder);
  ck_assert_int_eq(cavum_stored_steps_read(&stored, path, NULL), CAVUM_OK);
  ck_assert_str_eq(stored->contradiction, sentence);
  ck_assert_str_eq(stored->steps[3]->next_obstacle, obstacle);
  ck_assert_int_eq(stored->odd_step, 1);
  // Of two measurements, each is as far from the other: both have a cross in the picture.
  for (int i = 0; i < 4; i++) {
    ck_assert_int_eq(stored->steps[i]->contradicts, i == 1 || i == 2);
    ck_assert(!stored->steps[i]->zero_contradicts && !stored->steps[i]->pi_contradicts);
  }
  ck_assert_int_eq(run("$CAVUM draw odd.hdf -o odd.svg && "
                       "test $(grep -o 'does not fit<' odd.svg | wc -l) = 2"),
                   0);
  ck_assert_int_eq(stored->chi_square_freedom, 1);
  cavum_steps_result_destroy(&stored);
  json_decref(root);
  ck_assert_ptr_nonnull(strstr(program_read_text(step_chain_folder, "odd.html"),
                               "The measured frequencies contradict each other"));
}
END_TEST

// One frequency has no other one to contradict.
START_TEST(one_measured_frequency_contradicts_the_drawing) {
  write_chain(
      "alone.yaml",
      "  - {name: bench, air: {gas: vacuum}, measured_MHz: 1310, measured_uncertainty_kHz: 2}\n"
      "drawing: {uncertainty_kHz: 100}\n");
  ck_assert_int_eq(run("$CAVUM steps alone.yaml"), 0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "\nThe measured frequency contradicts the drawing and"));
  ck_assert_ptr_null(strstr(table, "the others say"));
}
END_TEST

START_TEST(bad_input_is_one_line) {
  write_chain("bad.yaml", "  - {cool: {material: niobium, from_K: 293, to_K: 500}}\n");
  ck_assert_int_eq(run("$CAVUM steps bad.yaml"), 2);
  const char *text = read_text("err");
  ck_assert_ptr_nonnull(strstr(text, "bad.yaml:5:12: "));
  ck_assert_ptr_eq(strchr(text, '\n'), text + strlen(text) - 1);
  ck_assert_int_eq(run("$CAVUM steps"), 2);
  ck_assert_int_eq(run("$CAVUM steps bad.yaml -q"), 2);
  write_chain("twice.yaml",
              "  - {name: bench, cool: {contraction: 1.43e-3}}\n"
              "  - {name: bench, anneal: {change_kHz: -30, uncertainty_kHz: 10}}\n");
  ck_assert_int_eq(run("$CAVUM steps twice.yaml"), 2);
  ck_assert_ptr_nonnull(
      strstr(read_text("err"), "steps[2]: steps[1] has the name 'bench' already"));
}
END_TEST

// A chain whose file and cell have no title begins with its mode.
START_TEST(no_title_is_no_line) {
  program_write_text(step_chain_folder, "untitled.yaml",
                     "cell: pillbox.yaml\nsteps: [{name: cold, cool: {contraction: 0.001}}]\n");
  ck_assert_int_eq(run("$CAVUM steps untitled.yaml"), 0);
  const char *table = read_text("out");
  ck_assert_int_eq(strncmp(table, "mode 1, TM010: frequency through the steps\n", 43), 0);
  ck_assert_ptr_null(strstr(table, "no title"));
}
END_TEST

// What cannot be cut says what can be done.
START_TEST(irises_with_tubes_say_what_to_do) {
  static const struct {
    const char *rest, *message;
  } cases[] = {
      {"steps: [{name: cut, trim: {at: left iris, each_side_mm: 1}}]\n",
       "trim or weld at the equator or the right iris, and state a shorter tube"},
      {"steps: [{name: cut, weld: {at: iris, each_side_mm: 1}}]\n", "or the right iris"},
      {"drawing: {iris_allowance_mm: 1}\nsteps: [{air: {gas: vacuum}}]\n",
       "leave the allowance out"},
      {"dumb_bell: {half: left}\nsteps: [{air: {gas: vacuum}}]\n", "the other one is half: right"}};
  program_write_text(
      step_chain_folder, "ends.yaml",
      "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
      "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\nends: {left: {kind: tube, "
      "length_mm: 90, close: electric}, right: {kind: magnetic}}\n");
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    char text[256];
    snprintf(text, sizeof text, "cell: ends.yaml\n%s", cases[i].rest);
    program_write_text(step_chain_folder, "cut.yaml", text);
    ck_assert_int_eq(run("$CAVUM steps cut.yaml"), 2);
    const char *said = read_text("err");
    ck_assert_msg(strstr(said, cases[i].message) != NULL, "%s", cases[i].message);
    ck_assert_ptr_eq(strchr(said, '\n'), said + strlen(said) - 1);
  }
  // Where there is none, it can be.
  program_write_text(
      step_chain_folder, "cut.yaml",
      "cell: ends.yaml\nsteps: [{name: cut, trim: {at: right iris, each_side_mm: 0.1}}]\n");
  ck_assert_int_eq(run("$CAVUM steps cut.yaml"), 0);
}
END_TEST

// Behind a bore of 100 mm and 8 mm radius fields have fallen by exp(-2.405 * 100 / 8): what two
// solves leave of k_cc is no number to print.
START_TEST(halves_behind_a_long_bore_do_not_couple) {
  program_write_text(step_chain_folder, "bore.yaml",
                     "accelerating_length_mm: 40\n"
                     "contour:\n  kind: path\n  start: {z_mm: -120, r_mm: 0}\n  path:\n"
                     "    - {line_to: {z_mm: 120, r_mm: 0}, boundary: axis}\n"
                     "    - {line_to: {z_mm: 120, r_mm: 8}, boundary: magnetic}\n"
                     "    - {line_to: {z_mm: 20, r_mm: 8}, boundary: metal}\n"
                     "    - {line_to: {z_mm: 20, r_mm: 88}, boundary: metal}\n"
                     "    - {line_to: {z_mm: -20, r_mm: 88}, boundary: metal}\n"
                     "    - {line_to: {z_mm: -20, r_mm: 8}, boundary: metal}\n"
                     "    - {line_to: {z_mm: -120, r_mm: 8}, boundary: metal}\n"
                     "    - {line_to: {z_mm: -120, r_mm: 0}, boundary: magnetic}\n");
  program_write_text(step_chain_folder, "bores.yaml",
                     "cell: bore.yaml\ndumb_bell: {half: right}\n"
                     "steps: [{name: cold, cool: {contraction: 0.001}}]\n");
  ck_assert_int_eq(run("$CAVUM steps bores.yaml"), 0);
  const char *table = strstr(read_text("out"), "Halves between plates");
  ck_assert_ptr_nonnull(table);
  const char *drawn = strstr(table, "< 0.0001\n");
  ck_assert_ptr_nonnull(drawn);
  ck_assert_ptr_nonnull(strstr(drawn + 1, "< 0.0001\n"));
}
END_TEST

// Halves stand in the table, in JSON and in the file.
START_TEST(halves_between_plates_are_printed_and_stored) {
  program_write_text(step_chain_folder, "halves.yaml",
                     "cell: mid-cell.yaml\ndumb_bell: {half: left}\nsteps:\n"
                     "  - {name: etched, remove: {depth_um: 100}, measured_zero_MHz: 1277}\n");
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml ."), 0);
  ck_assert_int_eq(run("$CAVUM steps halves.yaml -o halves.hdf --json halves.json"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "Halves between plates"));
  ck_assert_ptr_nonnull(strstr(program_read_text(step_chain_folder, "out"), "k_cc / %"));
  char path[192];
  cavum_error error = {0};
  cavum_steps_result *stored = NULL;
  snprintf(path, sizeof path, "%s/halves.hdf", step_chain_folder);
  ck_assert_int_eq(cavum_stored_steps_read(&stored, path, &error), CAVUM_OK);
  json_t *root = json_loads(read_text("halves.json"), 0, NULL);
  json_t *step = json_array_get(json_object_get(root, "behind_each_step"), 1);
  json_t *halves = json_object_get(step, "halves_between_plates");
  CAVUM_CHECK_NEAR(stored->steps[1]->pi_hz,
                   json_number_value(json_object_get(halves, "pi_mode_Hz")), 0.0);
  CAVUM_CHECK_NEAR(stored->steps[1]->coupling, json_number_value(json_object_get(halves, "k_cc")),
                   0.0);
  CAVUM_CHECK_NEAR(stored->steps[1]->measured_zero_hz, 1277e6, 0.0);
  CAVUM_CHECK_NEAR(stored->steps[1]->zero_expected_hz,
                   json_number_value(json_object_get(halves, "zero_mode_expected_Hz")), 0.0);
  CAVUM_CHECK_NEAR(stored->steps[1]->pi_expected_uncertainty_hz,
                   json_number_value(json_object_get(halves, "pi_mode_expected_uncertainty_Hz")),
                   0.0);
  ck_assert(json_is_false(json_object_get(halves, "zero_mode_contradicts")));
  // The picture has both modes: where each begins, and by how much the etch changes it; so has the
  // report, whose table has them with all digits.
  ck_assert_int_eq(
      run("$CAVUM draw halves.hdf -o halves.svg && $CAVUM report halves.hdf -o halves.html"), 0);
  char zero[32], pi[32], change[32];
  const cavum_step *drawn = stored->steps[0], *etched = stored->steps[1];
  snprintf(zero, sizeof zero, "%.4f MHz", 1e-6 * drawn->zero_hz);
  snprintf(pi, sizeof pi, "%.4f MHz", 1e-6 * drawn->pi_hz);
  snprintf(change, sizeof change, "%.1f kHz", fabs(1e-3 * (etched->zero_hz - drawn->zero_hz)));
  for (int i = 0; i < 2; i++) {
    const char *text = read_text(i ? "halves.html" : "halves.svg");
    ck_assert_ptr_nonnull(strstr(text, "Halves between plates: pi mode"));
    ck_assert_ptr_nonnull(strstr(text, zero));
    ck_assert_ptr_nonnull(strstr(text, pi));
    ck_assert_ptr_nonnull(strstr(text, change));
  }
  snprintf(zero, sizeof zero, ">%.4f<", 1e-6 * etched->zero_hz);
  ck_assert_ptr_nonnull(strstr(read_text("halves.html"), zero));
  ck_assert_ptr_nonnull(strstr(read_text("halves.html"), ">1277.0000<"));
  json_decref(root);
  cavum_steps_result_destroy(&stored);
}
END_TEST

// What is wanted may have such a slip as well.
START_TEST(slips_of_targets_are_refused) {
  program_write_text(step_chain_folder, "target.yaml",
                     "cell: pillbox.yaml\ntarget: {frequency_MHz: 130}\nsteps:\n"
                     "  - {name: etched, remove: {depth_um: 20}}\n");
  ck_assert_int_eq(run("$CAVUM steps target.yaml --json target.json"), 2);
  const char *said = read_text("err");
  ck_assert_ptr_nonnull(strstr(said, "target.yaml:2:9: target: 130 MHz is 0.1 times the "));
  ck_assert_ptr_eq(strchr(said, '\n'), said + strlen(said) - 1);
  ck_assert_int_ne(run("test -e target.json"), 0);
}
END_TEST

// A frequency in another unit or with a digit too many: one line with its place, nothing written.
START_TEST(slips_of_measured_frequencies_are_refused) {
  static const char *const slips[] = {"1300000", "1.3", "130000", "13000", "1160"};
  for (size_t k = 0; k < sizeof slips / sizeof *slips; k++) {
    char text[256];
    snprintf(text, sizeof text,
             "  - {name: etched, remove: {depth_um: 20}}\n"
             "  - {name: bench, air: {gas: vacuum}, measured_MHz: %s}\n",
             slips[k]);
    write_chain("slip.yaml", text);
    ck_assert_int_eq(run("$CAVUM steps slip.yaml --json slip.json -o slip.hdf"), 2);
    const char *said = read_text("err");
    ck_assert_ptr_nonnull(strstr(said, "slip.yaml:6:5: bench: measured_MHz of "));
    ck_assert_ptr_nonnull(strstr(said, slips[k]));
    ck_assert_ptr_nonnull(strstr(said, " MHz computed after this step: a slip of units"));
    ck_assert_ptr_eq(strchr(said, '\n'), said + strlen(said) - 1);
    ck_assert_int_ne(run("test -e slip.json || test -e slip.hdf"), 0);
  }
  // As far off as no good drawing is, but no slip of units.
  write_chain("far.yaml", "  - {name: bench, air: {gas: vacuum}, measured_MHz: 1180}\n");
  ck_assert_int_eq(run("$CAVUM steps far.yaml"), 0);
}
END_TEST

// Metal that was put on by an etch, as a measurement has it, is said to be impossible, wherever it
// stands.
START_TEST(what_cannot_have_been_done_is_no_fact) {
  program_write_text(step_chain_folder, "put.yaml",
                     "cell: pillbox.yaml\n"
                     "drawing: {uncertainty_kHz: 1, equator_allowance_mm: 0.6}\nsteps:\n"
                     "  - {name: etched, remove: {depth_um: 20, uncertainty_um: 10},\n"
                     "     measured_MHz: 1300.3, measured_uncertainty_kHz: 2}\n");
  ck_assert_int_eq(run("$CAVUM steps put.yaml -o put.hdf --json put.json && "
                       "$CAVUM report put.hdf -o put.html"),
                   0);
  ck_assert_ptr_nonnull(
      strstr(read_text("out"), "etched                   impossible: it would be -"));
  ck_assert_ptr_nonnull(strstr(read_text("out"), "um, which is the wrong way; stated: 20 um"));
  // Whose frequency the first row has.
  ck_assert_ptr_nonnull(
      strstr(read_text("out"),
             "drawing                  the cell as drawn with an allowance of 0.6 "
             "mm on each side at the equator, in vacuum\n"));
  ck_assert_ptr_nonnull(
      strstr(read_text("put.json"), "\"found_amount_obstacle\": \"the wrong way\""));
  ck_assert_ptr_nonnull(
      strstr(program_read_text(step_chain_folder, "put.html"), ">impossible: it would be "));
  // Below nothing within its uncertainty: it can be nothing.
  program_write_text(step_chain_folder, "put.yaml",
                     "cell: pillbox.yaml\ndrawing: {uncertainty_kHz: 100}\nsteps:\n"
                     "  - {name: etched, remove: {depth_um: 20, uncertainty_um: 10},\n"
                     "     measured_MHz: 1300.04, measured_uncertainty_kHz: 100}\n");
  ck_assert_int_eq(run("$CAVUM steps put.yaml"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "What was done, as measured\netched   "));
  ck_assert_ptr_null(strstr(read_text("out"), "impossible"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_unchecked_fixture(tests, step_chain_set_up, step_chain_tear_down);
  tcase_add_test(tests, the_table_has_aims_and_measurements);
  tcase_add_test(tests, uncertainties_that_are_not_stated_are_told);
  tcase_add_test(tests, many_uncertainties_that_are_not_stated_are_counted);
  tcase_add_test(tests, names_that_are_cut_end_with_dots);
  tcase_add_test(tests, depths_of_a_shape_are_those_of_the_steps);
  tcase_add_test(tests, a_measured_wall_without_an_uncertainty_is_told);
  tcase_add_test(tests, results_are_stored_drawn_and_reported);
  tcase_add_test(tests, contradictions_and_obstacles_are_said);
  tcase_add_test(tests, slips_of_targets_are_refused);
  tcase_add_test(tests, slips_of_measured_frequencies_are_refused);
  tcase_add_test(tests, what_cannot_have_been_done_is_no_fact);
  tcase_add_test(tests, one_measured_frequency_contradicts_the_drawing);
  tcase_add_test(tests, bad_input_is_one_line);
  tcase_add_test(tests, no_title_is_no_line);
  tcase_add_test(tests, irises_with_tubes_say_what_to_do);
  tcase_add_test(tests, halves_behind_a_long_bore_do_not_couple);
  tcase_add_test(tests, halves_between_plates_are_printed_and_stored);
}

CAVUM_TEST_MAIN("cli steps", add)
