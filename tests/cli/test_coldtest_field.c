// SPDX-License-Identifier: GPL-3.0-or-later
// cavum coldtest on the demonstration against field: what it prints, exports and stores.
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "cli/coldtest_table_field.h"
#include "hdf5/hdf5_file.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }
static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)
#define read_text(name) program_read_text(folder, name)

// The demonstration beside a result file of its cell.
static void prepare(void) {
  ck_assert_int_eq(run("cp $CELLS/coldtest/field-* . && "
                       "$CAVUM solve -q -o injector-cell.hdf $CELLS/injector-cell.yaml"),
                   0);
}

static json_t *load(const char *name) {
  char path[256];
  json_error_t error;
  snprintf(path, sizeof path, "%s/%s", folder, name);
  json_t *root = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  return root;
}

static double part(const json_t *pair, const char *name) {
  const json_t *value = json_object_get(pair, name);
  ck_assert_msg(json_is_number(value), "no number %s", name);
  return json_number_value(value);
}

START_TEST(the_table_has_the_fits) {
  prepare();
  ck_assert_int_eq(run("$CAVUM coldtest field-test.yaml; cat err"), 0);
  const char *text = read_text("out");
  const char *parts[] = {"Surface resistance against field, BCS part at 2 K",
                         "res. at B_pk",
                         "at a place of the wall",
                         "Lorentz force",
                         "Hz/mbar",
                         "a bed of springs",
                         "(B / 100 mT)^2",
                         "the mean over the wall"};
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    ck_assert_msg(strstr(text, parts[i]) != NULL, "no '%s' in the table", parts[i]);
  }
  ck_assert_ptr_null(strstr(text, "nan"));
}
END_TEST

// The readings were made from a local R_s of 11 - 4 b + 9 b^2 nohm (BCS at 2 K) and
// 4 + 1.5 b + 5 b^2 nohm (residual), b = B / 0.1 T, integrated over the wall of the demo cell.
START_TEST(the_demonstration_holds_its_truth) {
  static const double truth[2][3] = {{11e-9, -4e-9, 9e-9}, {4e-9, 1.5e-9, 5e-9}};
  static const char *const keys[] = {"bcs_ohm_local", "residual_ohm_local"};
  prepare();
  ck_assert_int_eq(run("$CAVUM coldtest field-test.yaml --json r.json -q; cat err"), 0);
  json_t *root = load("r.json");
  const json_t *field = json_object_get(root, "surface_resistance_against_field");
  for (int k = 0; k < 2; k++) {
    const json_t *array = json_object_get(field, keys[k]);
    ck_assert_uint_eq(json_array_size(array), 3);
    for (int n = 0; n < 3; n++) {
      const json_t *pair = json_array_get(array, (size_t)n);
      CAVUM_CHECK_NEAR(part(pair, "value"), truth[k][n], 3.0 * part(pair, "uncertainty"));
    }
  }
  const json_t *points = json_object_get(field, "points");
  ck_assert_uint_eq(json_array_size(points), 4);
  const json_t *last = json_array_get(points, 3);
  double b = part(json_object_get(last, "peak_magnetic_field_T"), "value") / 0.1;
  const json_t *local = json_object_get(last, "local_residual_ohm");
  CAVUM_CHECK_NEAR(part(local, "value"), 4e-9 + 1.5e-9 * b + 5e-9 * b * b,
                   3.0 * part(local, "uncertainty"));
  ck_assert(part(json_object_get(last, "residual_ohm"), "value") < part(local, "value"));
  ck_assert(part(json_object_get(last, "bcs_ohm"), "uncertainty") > 0.0);
  json_decref(root);
}
END_TEST

// A list is indexed by them in languages where 1e+01 is no index.
START_TEST(numbers_of_readings_are_integers) {
  prepare();
  ck_assert_int_eq(run("$CAVUM coldtest field-test.yaml --json r.json -q; cat err"), 0);
  json_t *root = load("r.json");
  const json_t *emission = json_object_get(root, "field_emission"), *point;
  size_t index = 0, many = 0;
  json_array_foreach(json_object_get(emission, "points"), index, point) {
    ck_assert(json_is_integer(json_object_get(point, "point")));
    many += json_integer_value(json_object_get(point, "point")) % 10 == 0;
  }
  ck_assert_uint_ge(many, 4);
  ck_assert(json_is_integer(json_object_get(emission, "strongest_point")));
  const char *groups[][2] = {{"field_emission", "by_radiation"}, {"field_emission", "q0_curve"}};
  for (size_t i = 0; i < sizeof groups / sizeof *groups; i++) {
    const json_t *group = json_object_get(json_object_get(root, groups[i][0]), groups[i][1]);
    ck_assert_msg(json_is_integer(json_object_get(group, "readings")), "%s", groups[i][1]);
  }
  ck_assert(json_is_integer(json_object_get(json_object_get(root, "frequency"), "readings")));
  json_array_foreach(
      json_object_get(json_object_get(root, "surface_resistance_against_field"), "points"), index,
      point) {
    ck_assert(json_is_integer(json_object_get(point, "readings")));
  }
  json_decref(root);
}
END_TEST

// One number of a column of the stored file.
static double stored(const char *name, int row) {
  char path[256];
  cavum_hdf5_file *file = NULL;
  cavum_error error = {0};
  double *values = NULL;
  int64_t count = 0;
  snprintf(path, sizeof path, "%s/r.hdf", folder);
  ck_assert_msg(cavum_hdf5_open(&file, path, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_msg(cavum_hdf5_read_doubles(&values, &count, file, name, &error) == CAVUM_OK, "%s",
                error.message);
  ck_assert_int_lt(row, (int)count);
  double value = values[row];
  free(values);
  cavum_hdf5_destroy(&file);
  return value;
}

// Chi-squared of n degrees of freedom has the mean n and the variance 2 n: the line stands from
// four standard deviations on, here at 50 + 4 * 10, and only where readings have uncertainties.
START_TEST(readings_that_scatter_too_much_are_told) {
  static const double chi_squared[] = {89.9, 90.1, NAN};
  static cavum_coldtest_report report;
  report.has_frequency = true;
  report.frequency.num_readings = 53;
  report.frequency.degrees_of_freedom = 50;
  report.frequency.expected_lorentz_hz_m2_per_v2 = NAN;
  for (int i = 0; i < 3; i++) {
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    report.frequency.chi_squared = chi_squared[i];
    cavum_coldtest_table_print_field(out, &report);
    fclose(out);
    printf("%s", text);
    bool told = strstr(text,
                       "\n  the scatter is larger than the readings' uncertainties allow: "
                       "those above lack it\n") != NULL;
    ck_assert_int_eq(told, i == 1);
    bool counted = strstr(text, ", chi2 90.1 with 50 degrees of freedom\n") != NULL;
    ck_assert_int_eq(counted, i == 1);
    free(text);
  }
}
END_TEST

// -1.12 Hz/(MV/m)^2 and -18 Hz/mbar; a gauge of 0.5 % was not off.
START_TEST(the_frequency_holds_its_truth_and_is_stored) {
  prepare();
  ck_assert_int_eq(run("$CAVUM coldtest field-test.yaml --json r.json -o r.hdf -q; cat err"), 0);
  json_t *root = load("r.json");
  const json_t *object = json_object_get(root, "frequency");
  const json_t *lorentz = json_object_get(object, "lorentz_Hz_m2_per_V2");
  const json_t *pressure = json_object_get(object, "pressure_Hz_per_Pa");
  CAVUM_CHECK_NEAR(part(lorentz, "value"), -1.12e-12, 3.0 * part(lorentz, "uncertainty"));
  CAVUM_CHECK_NEAR(part(pressure, "value"), -0.18, 3.0 * part(pressure, "uncertainty"));
  ck_assert(part(object, "expected_lorentz_Hz_m2_per_V2") < 0.0);
  ck_assert(part(object, "scatter_Hz") > 0.1 && part(object, "scatter_Hz") < 5.0);
  const json_t *point = json_array_get(json_object_get(root, "points"), 0);
  ck_assert(part(point, "bath_pressure_Pa") > 3000.0 && part(point, "frequency_Hz") > 1e9);
  static const char *const names[] = {"lorentz_Hz_m2_per_V2", "pressure_Hz_per_Pa", "frequency_Hz"};
  static const char *const plain[] = {"mean_pressure_Pa",  "expected_lorentz_Hz_m2_per_V2",
                                      "readings",          "expected_pressure_Hz_per_Pa",
                                      "scatter_Hz",        "chi_squared",
                                      "degrees_of_freedom"};
  char path[128];
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
    snprintf(path, sizeof path, "/frequency/%s", names[i]);
    CAVUM_CHECK_NEAR(stored(path, 0), part(json_object_get(object, names[i]), "value"), 0.0);
  }
  for (size_t i = 0; i < sizeof plain / sizeof *plain; i++) {
    snprintf(path, sizeof path, "/frequency/%s", plain[i]);
    CAVUM_CHECK_NEAR(stored(path, 0), part(object, plain[i]), 0.0);
  }
  CAVUM_CHECK_NEAR(stored("/points/bath_pressure_Pa", 0), part(point, "bath_pressure_Pa"), 0.0);
  CAVUM_CHECK_NEAR(stored("/points/frequency_Hz", 0), part(point, "frequency_Hz"), 0.0);
  json_decref(root);
}
END_TEST

START_TEST(the_file_has_what_json_has) {
  prepare();
  ck_assert_int_eq(run("$CAVUM coldtest field-test.yaml --json r.json -o r.hdf -q; cat err"), 0);
  json_t *root = load("r.json");
  const json_t *field = json_object_get(root, "surface_resistance_against_field");
  const json_t *last = json_array_get(json_object_get(field, "points"), 3);
  static const char *const names[] = {
      "gradient_V_per_m", "peak_magnetic_field_T", "bcs_ohm", "residual_ohm",
      "local_bcs_ohm",    "local_residual_ohm",    "gap_K"};
  static const char group[] = "/surface_resistance_against_field";
  char path[128];
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
    const json_t *pair = json_object_get(last, names[i]);
    snprintf(path, sizeof path, "%s/points/%s", group, names[i]);
    CAVUM_CHECK_NEAR(stored(path, 3), part(pair, "value"), 0.0);
    snprintf(path, sizeof path, "%s/points/%s_uncertainty", group, names[i]);
    CAVUM_CHECK_NEAR(stored(path, 3), part(pair, "uncertainty"), 0.0);
  }
  const json_t *second = json_array_get(json_object_get(field, "bcs_ohm_local"), 2);
  snprintf(path, sizeof path, "%s/bcs_ohm_local", group);
  CAVUM_CHECK_NEAR(stored(path, 2), part(second, "value"), 0.0);
  snprintf(path, sizeof path, "%s/wall_means_of_powers_of_field", group);
  ck_assert(stored(path, 1) < 1.0);
  json_decref(root);
}
END_TEST

// The radiation of the demonstration was made with beta_FN 200 for 4.3 eV and 0.2 uSv/h of
// background, a tenth of which each reading strays; nothing of it in Q0.
START_TEST(field_emission_holds_its_truth_and_is_stored) {
  prepare();
  ck_assert_int_eq(
      run("$CAVUM coldtest field-test.yaml --json r.json -o r.hdf --csv r.csv; cat err"), 0);
  const char *text = read_text("out");
  const char *parts[] = {"Field emission, 63 readings", "onset, E_acc", "beta_FN, radiation",
                         "power of electrons at", "X-rays come without"};
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    ck_assert_msg(strstr(text, parts[i]) != NULL, "no '%s' in the table", parts[i]);
  }
  json_t *root = load("r.json");
  const json_t *emission = json_object_get(root, "field_emission");
  const json_t *fit = json_object_get(emission, "by_radiation");
  const json_t *beta = json_object_get(fit, "field_enhancement");
  CAVUM_CHECK_NEAR(part(beta, "value"), 200.0, 3.0 * part(beta, "uncertainty"));
  const json_t *background = json_object_get(emission, "background_Sv_per_h");
  CAVUM_CHECK_NEAR(part(background, "value"), 2e-7, 3.0 * part(background, "uncertainty"));
  const json_t *power = json_object_get(emission, "strongest_electron_power_W");
  CAVUM_CHECK_NEAR(part(power, "value"), 0.0, 3.0 * part(power, "uncertainty"));
  const json_t *onset = json_object_get(emission, "onset_gradient_V_per_m");
  CAVUM_CHECK_NEAR(stored("/field_emission/onset_gradient_V_per_m", 0), part(onset, "value"), 0.0);
  ck_assert_ptr_nonnull(strstr(read_text("r.csv"), ",electron_power_W,electron_power_W_unc"));
  json_decref(root);
  ck_assert_int_eq(run("sed 's/field_emission: {}/field_emission: {onset_uSv_per_h: 2, "
                       "onset_over_background: 2}/' field-test.yaml >t.yaml; "
                       "$CAVUM coldtest t.yaml"),
                   2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "not both"));
  ck_assert_int_eq(
      run("$CAVUM draw r.hdf -o r.svg --view radiation && $CAVUM report r.hdf -o r.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("r.svg"), "onset of field emission"));
  ck_assert_ptr_nonnull(strstr(read_text("r.svg"), "power of electrons"));
  ck_assert_ptr_nonnull(strstr(read_text("r.html"), "Onset, enhancement and power"));
  ck_assert_ptr_nonnull(strstr(read_text("r.html"), "X-rays without source or beam"));
}
END_TEST

// Where a number of the horizontal axes stands, from left: the first and the second of the charts
// below each other.
static void find_on_axes(double at[2], const char *svg, const char *number) {
  char label[32];
  int found = 0;
  snprintf(label, sizeof label, ">%s</text>", number);
  for (const char *here = svg; (here = strstr(here, label)) != NULL && found < 2; here++) {
    const char *start = here;
    while (strncmp(start, "<text", 5) != 0) start--;
    const char *x = strstr(start, " x=\"");
    if (strstr(start, "text-anchor=\"middle\"") > here || !x || x > here) continue;
    at[found++] = strtod(x + 4, NULL);
  }
  ck_assert_msg(found == 2, "%s is on %d axes", number, found);
}

// A prediction says which fit it is from, and where a fit at another gradient is nearer.
START_TEST(predictions_say_which_fit_they_are_from) {
  prepare();
  ck_assert_int_eq(run("sed '/^surface_resistance:/a\\\n  gradient_MV_per_m: 5\\n  predict: "
                       "[{temperature_K: 1.8, gradient_MV_per_m: 15}, {temperature_K: 1.8, "
                       "gradient_MV_per_m: 5.1}]' field-test.yaml >p.yaml && "
                       "$CAVUM coldtest p.yaml --json p.json"),
                   0);
  const char *table = read_text("out");
  const char *row = strstr(table, "R_s taken as independent of the field: fit at 5");
  ck_assert_ptr_nonnull(row);
  ck_assert_ptr_nonnull(strstr(row, "; the fit at 15"));
  ck_assert_ptr_nonnull(strstr(row, " is nearer\n"));
  ck_assert_ptr_null(strstr(strchr(row, '\n'), "independent of the field"));
  ck_assert_ptr_nonnull(strstr(read_text("p.json"), "is nearer"));
}
END_TEST

// A test of another cell, told in every output: figures of the second are other ones.
START_TEST(tests_of_different_cells_are_told) {
  prepare();
  ck_assert_int_eq(run("cat field-test.yaml >a.yaml; sed 's/^geometry:.*/geometry: {figures: "
                       "{r_over_q_ohm: 109.6, "
                       "r_over_q_convention: linac, accelerating_length_mm: 115.4, "
                       "geometry_factor_ohm: 261.8}}/' "
                       "field-test.yaml >b.yaml; "
                       "$CAVUM compare a.yaml b.yaml --json c.json -o c.hdf; cat err"),
                   0);
  const char *told = "the tests are of different cells or modes (R/Q 117.6 ohm and 109.6 ohm)";
  ck_assert_ptr_nonnull(strstr(read_text("out"), told));
  ck_assert_ptr_nonnull(strstr(read_text("c.json"), told));
  char path[256], caution[256] = "";
  snprintf(path, sizeof path, "%s/c.hdf", folder);
  cavum_hdf5_file *file = NULL;
  ck_assert_int_eq(cavum_hdf5_open(&file, path, NULL), CAVUM_OK);
  ck_assert_int_eq(
      cavum_hdf5_read_text(caution, sizeof caution, file, "/against_first/2/caution", NULL, NULL),
      CAVUM_OK);
  cavum_hdf5_destroy(&file);
  ck_assert_ptr_nonnull(strstr(caution, told));
  ck_assert_int_eq(run("$CAVUM compare -q a.yaml b.yaml -o quiet.html"), 0);
  ck_assert_str_eq(program_read_text(folder, "out"), "");
  ck_assert_int_eq(run("$CAVUM compare a.yaml b.yaml -o c.html"), 0);
  // R/Q is a formula there.
  ck_assert_ptr_nonnull(strstr(read_text("c.html"), "the tests are of different cells or modes ("));
}
END_TEST

// One name and two numbers cannot both be meant: errors that are not the same ones would cancel, in
// any number that REFERENCE.md names, not in chains and R/Q alone.
START_TEST(one_name_has_one_set_of_numbers) {
  static const struct {
    const char *script, *message;
  } others[] = {
      {"s/^decay: {uncertainty_percent: 0.5/decay: {uncertainty_percent: 3/",
       "shared.calibration 'rack': the tests state different numbers, decay.uncertainty_percent: "
       "0.5 % and 3 %"},
      {"s/calibration_uncertainty_mK: 3/calibration_uncertainty_mK: 5/",
       "temperature.calibration_uncertainty_mK: 3 mK and 5 mK"},
      {"$afrequency_uncertainty_ppm: 2", "frequency_uncertainty_ppm: 0 ppm and 2 ppm"},
      {"s/^  reflected:/&\\n    zero_uncertainty_mW: 0.001/",
       "channels.reflected.zero_uncertainty_mW: 0 mW and 0.001 mW"},
      {"s/meter_uncertainty_percent: 0.6/meter_uncertainty_percent: 0.7/",
       "channels.forward.meter_uncertainty_percent: 0.6 % and 0.7 %"},
      {"s/^  emitted: {/&meter: own, /", "channels.emitted.meter: own in one of them"},
      {"s/epk_over_eacc: 1.74/epk_over_eacc: 1.75/",
       "shared.shape 'cell': the tests state different figures of the cell, E_pk / E_acc: 1.74 and "
       "1.75"},
      {"s/, epk_over_eacc: 1.74//", "E_pk / E_acc in one of them"},
      {"s/per_MV_per_m: 4.13/per_MV_per_m: 4.13, bpk_over_eacc_uncertainty_percent: 1/",
       "B_pk / E_acc, uncertainty: 0 mT/(MV/m) and 0.0413 mT/(MV/m)"},
      {"s/length_mm: 126/length_mm: 127/", "L_acc: 126 mm and 127 mm"}};
  prepare();
  ck_assert_int_eq(
      run("(sed 's/^geometry:.*/geometry: {figures: {r_over_q_ohm: 109.6, r_over_q_convention: "
          "linac, accelerating_length_mm: 126, geometry_factor_ohm: 261.8, epk_over_eacc: 1.74, "
          "bpk_over_eacc_mT_per_MV_per_m: 4.13}}/;/wall_stiffness/d' field-test.yaml; "
          "echo 'shared: {calibration: rack, shape: cell}') >a.yaml; true"),
      0);
  for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
    ck_assert_int_eq(
        run("sed '%s' a.yaml >b.yaml; $CAVUM compare a.yaml b.yaml -q -o c.html", others[i].script),
        2);
    const char *err = read_text("err");
    printf("%s", err);
    ck_assert_msg(strstr(err, others[i].message) != NULL, "no '%s' in: %s", others[i].message, err);
  }
  // Directivity and match of the circulator have a phase of their own in each test.
  ck_assert_int_eq(run("sed '$acirculator: {return_loss_dB: 32}' a.yaml >b.yaml; "
                       "$CAVUM compare a.yaml b.yaml -q -o c.html; cat err"),
                   0);
}
END_TEST

// Test B has 7.15 % less forward and reflected power (0.3 dB) at all readings behind the
// calibration: that much less is lost, so Q0 is 1.0715 times as high wherever it is compared.
START_TEST(two_tests_are_compared) {
  prepare();
  ck_assert_int_eq(
      run("(cat field-test.yaml; echo 'shared: {calibration: rack, shape: cell}') >a.yaml; "
          "sed 's/^title: .*/title: after/; s/field-readings/b-readings/' a.yaml >b.yaml; "
          "awk -F, '{OFS=\",\"; if (NR > 1 && $5 == \"\") {$2 -= 0.3; $3 -= 0.3} print}' "
          "field-readings.csv >b-readings.csv; "
          "$CAVUM compare a.yaml b.yaml --json c.json --csv c.csv -o c.hdf; cat err"),
      0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "shared: calibration, shape"));
  json_t *root = load("c.json");
  const json_t *pair = json_array_get(json_object_get(root, "against_first"), 0);
  const json_t *ratios = json_object_get(pair, "ratios");
  ck_assert(json_array_size(ratios) > 20);
  for (size_t i = 0; i < json_array_size(ratios); i++) {
    const json_t *row = json_array_get(ratios, i), *ratio = json_object_get(row, "q0_ratio");
    // Near 4 MV/m are the readings of the calibration, which are the same. Readings at one gradient
    // scatter by 0.5 % and more.
    if (part(json_object_get(row, "gradient_V_per_m"), "value") < 6e6) continue;
    CAVUM_CHECK_NEAR(part(ratio, "value"), pow(10.0, 0.03), 0.02);
  }
  const json_t *changes = json_object_get(pair, "changes");
  const json_t *residual = json_object_get(changes, "residual_ohm");
  const json_t *highest = json_object_get(changes, "highest_gradient_V_per_m");
  ck_assert(json_is_true(json_object_get(residual, "significant")));
  ck_assert(json_is_false(json_object_get(highest, "significant")));
  const json_t *change = json_object_get(residual, "change");
  CAVUM_CHECK_NEAR(part(change, "value"),
                   part(json_object_get(residual, "later"), "value") -
                       part(json_object_get(residual, "first"), "value"),
                   1e-20);
  char path[256];
  double first = 0.0;
  snprintf(path, sizeof path, "%s/c.hdf", folder);
  cavum_hdf5_file *file = NULL;
  ck_assert_int_eq(cavum_hdf5_open(&file, path, NULL), CAVUM_OK);
  ck_assert_int_eq(
      cavum_hdf5_read_number(&first, file, "/against_first/2/changes/residual_ohm/change", NULL),
      CAVUM_OK);
  cavum_hdf5_destroy(&file);
  CAVUM_CHECK_NEAR(first, part(change, "value"), 0.0);
  json_decref(root);
  ck_assert_ptr_nonnull(strstr(read_text("c.csv"), "\n2,"));
  ck_assert_int_eq(run("$CAVUM compare a.yaml b.yaml -o c.svg && "
                       "$CAVUM compare a.yaml b.yaml -o c.html"),
                   0);
  ck_assert_ptr_nonnull(strstr(read_text("c.svg"), "2: after"));
  double at[2];
  find_on_axes(at, read_text("c.svg"), "10");
  ck_assert_double_eq(at[0], at[1]);
  // A title without room has an ellipsis, and no half of a letter before it.
  ck_assert_int_eq(run("sed 's/^title: .*/title: after a treatment that takes long to tell, "
                       "\xc3\xa4\xc3\xb6\xc3\xbc/' b.yaml >l.yaml; "
                       "$CAVUM compare a.yaml l.yaml -o l.svg"),
                   0);
  ck_assert_ptr_nonnull(
      strstr(read_text("l.svg"),
             "2: after a treatment that takes long to tell, \xc3\xa4\xc3\xb6\xe2\x80\xa6"));
  ck_assert_ptr_nonnull(strstr(read_text("c.html"), "What changed"));
  ck_assert_ptr_nonnull(strstr(read_text("c.html"), "Q0 over that of the first test"));
  ck_assert_int_eq(run("sed 's/dB: 40.20/dB: 40.30/' b.yaml >d.yaml; $CAVUM compare a.yaml d.yaml"),
                   2);
  ck_assert_ptr_nonnull(strstr(read_text("err"),
                               "shared.calibration 'rack': the tests state different numbers, "
                               "channels.forward.chain, dB: 40.2 and 40.3\n"));
  ck_assert_int_eq(run("$CAVUM compare a.yaml"), 2);
  // Its own outputs are replaced; measured data never, other results not without being told.
  ck_assert_int_eq(run("$CAVUM compare a.yaml b.yaml --json c.json --csv c.csv -o c.hdf; cat err"),
                   0);
  ck_assert_int_eq(run("cp b-readings.csv kept.csv; "
                       "$CAVUM compare a.yaml b.yaml --csv b-readings.csv --overwrite"),
                   2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "which this command reads"));
  ck_assert_int_eq(run("cmp b-readings.csv kept.csv"), 0);
  ck_assert_int_eq(run("$CAVUM coldtest a.yaml -q -o t.hdf && cp t.hdf kept.hdf; "
                       "$CAVUM compare a.yaml b.yaml -o t.hdf"),
                   2);
  ck_assert_int_eq(run("cmp t.hdf kept.hdf"), 0);
}
END_TEST

START_TEST(bad_gradients_are_named_by_place) {
  prepare();
  ck_assert_int_eq(run("sed 's/\\[5, 10, 15, 20\\]/[5]/' field-test.yaml >t.yaml; "
                       "$CAVUM coldtest t.yaml"),
                   2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "t.yaml:33:23: surface_resistance.gradients_MV"));
  ck_assert_int_eq(run("sed 's/\\[5, 10, 15, 20\\]/[5, -1]/' field-test.yaml >t.yaml; "
                       "$CAVUM coldtest t.yaml"),
                   2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "above 0 was expected"));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, the_table_has_the_fits);
  tcase_add_test(tests, the_demonstration_holds_its_truth);
  tcase_add_test(tests, numbers_of_readings_are_integers);
  tcase_add_test(tests, the_file_has_what_json_has);
  tcase_add_test(tests, readings_that_scatter_too_much_are_told);
  tcase_add_test(tests, the_frequency_holds_its_truth_and_is_stored);
  tcase_add_test(tests, field_emission_holds_its_truth_and_is_stored);
  tcase_add_test(tests, predictions_say_which_fit_they_are_from);
  tcase_add_test(tests, tests_of_different_cells_are_told);
  tcase_add_test(tests, two_tests_are_compared);
  tcase_add_test(tests, one_name_has_one_set_of_numbers);
  tcase_add_test(tests, bad_gradients_are_named_by_place);
}

CAVUM_TEST_MAIN("cold test against field", add_tests)
