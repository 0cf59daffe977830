// SPDX-License-Identifier: GPL-3.0-or-later
// cavum coldtest as a program, on the invented demonstration test and on bad input.
#include <jansson.h>
#include <stdbool.h>
#include <string.h>
#include <sys/resource.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }
static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)
#define read_text(name) program_read_text(folder, name)
#define write_text(name, text) program_write_text(folder, name, text)

// What decides about a test comes first and fits on two screens of 50 lines; the rest on request.
START_TEST(screen_is_short) {
  ck_assert_int_eq(run("$CAVUM coldtest --linear $CELLS/coldtest/injector-test.yaml"), 0);
  const char *text = read_text("out");
  ck_assert_int_le(program_count_lines(text), 100);
  const char *order[] = {"Q_t of the pickup", "none of them is a pass mark", "Remarks",
                         "E_acc  ",           "Surface resistance against",  "On request: --show ",
                         "Cautions"};
  const char *at = text;
  for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
    at = strstr(at, order[i]);
    ck_assert_msg(at != NULL, "no '%s', or out of order", order[i]);
  }
  ck_assert_ptr_null(strstr(text, "Uncertainty budgets"));
  ck_assert_int_eq(run("$CAVUM coldtest --linear --show notes,readings,budgets "
                       "$CELLS/coldtest/injector-test.yaml"),
                   0);
  text = read_text("out");
  ck_assert_ptr_nonnull(strstr(text, "Uncertainty budgets"));
  ck_assert_ptr_nonnull(strstr(text, "    1  calibration\n"));
  const char *factor = strstr(text, "coverage factor k of 95 %");
  ck_assert_ptr_nonnull(factor);
  // Between a cosine alone, 1.41, and normal parts alone: the leak is the larger part of Q0.
  double k_q0 = strtod(factor + strlen("coverage factor k of 95 %"), NULL);
  ck_assert_double_gt(k_q0, 1.5);
  ck_assert_double_lt(k_q0, 1.9);
}
END_TEST

// Help names the words as "word (what it is), ..., or all"; each of them must be taken.
START_TEST(every_word_that_help_names_is_a_part) {
  ck_assert_int_eq(run("ARGP_HELP_FMT=rmargin=2000 $CAVUM coldtest --help"), 0);
  char help[2048];
  const char *begin = strstr(read_text("out"), "Print also: ");
  ck_assert_ptr_nonnull(begin);
  snprintf(help, sizeof help, "%.*s", (int)strcspn(begin, "\n"), begin);
  int num_words = 0;
  for (char *at = help + strlen("Print also: "); strncmp(at, "or all", 6) != 0; num_words++) {
    char *end = strstr(at, " ("), *next = strstr(at, "), ");
    ck_assert_msg(end && next, "help names no more words, and not 'or all': '%s'", at);
    *end = '\0';
    int status = run("$CAVUM coldtest --linear --show %s $CELLS/coldtest/injector-test.yaml", at);
    ck_assert_msg(status == 0, "--show %s: exit status %d", at, status);
    at = next + strlen("), ");
  }
  ck_assert_int_eq(num_words, 8);
  ck_assert_int_eq(run("$CAVUM coldtest --linear --show all $CELLS/coldtest/injector-test.yaml"),
                   0);
}
END_TEST

START_TEST(demonstration_prints_its_table) {
  ck_assert_int_eq(run("$CAVUM coldtest --show all $CELLS/coldtest/injector-test.yaml"), 0);
  const char *text = read_text("out");
  const char *parts[] = {"R/Q, linac",  "Q_t of the pickup",  "Uncertainty budgets",
                         "Monte Carlo", "NOT EXPONENTIAL",    "residual",
                         "Predicted",   "Trapped flux",       "none of them is a pass mark",
                         "Remarks",     "no safety function", "consistent"};
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    ck_assert_msg(strstr(text, parts[i]) != NULL, "no '%s' in the table", parts[i]);
  }
  ck_assert_ptr_null(strstr(text, "nan"));
  ck_assert_ptr_null(strstr(text, "inf "));
  ck_assert_str_eq(read_text("err"), "");
}
END_TEST

static double number(const json_t *object, const char *key, const char *part) {
  const json_t *value = json_object_get(json_object_get(object, key), part);
  ck_assert_msg(json_is_number(value), "no number %s.%s", key, part);
  return json_number_value(value);
}

// The demonstration was made from a cavity with Q_e 1.55e10, Q_t 4.1e12, residual 4.6 nohm, gap
// 17.67 K, R_s(2 K, low field) 15.36 nohm; every result must hold its truth within three
// uncertainties (the invented errors of meters and cables are within two).
START_TEST(demonstration_holds_its_truth) {
  ck_assert_int_eq(run("$CAVUM coldtest $CELLS/coldtest/injector-test.yaml --json r.json -q"), 0);
  char path[256];
  snprintf(path, sizeof path, "%s/r.json", folder);
  json_error_t error;
  json_t *root = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  const struct {
    const char *group, *key;
    double truth;
  } rows[] = {{NULL, "pickup_calibration", 4.1e12},
              {NULL, "external_calibration", 1.55e10},
              {"surface_resistance", "residual_ohm", 4.6e-9},
              {"surface_resistance", "gap_K", 17.67}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    const json_t *object = rows[i].group ? json_object_get(root, rows[i].group) : root;
    double u = number(object, rows[i].key, "uncertainty");
    CAVUM_CHECK_NEAR(number(object, rows[i].key, "value"), rows[i].truth, 3.0 * u);
  }
  const json_t *points = json_object_get(root, "points");
  ck_assert_uint_eq(json_array_size(points), 32);
  const json_t *first = json_array_get(points, 4);  // 4 MV/m at 2 K by the pickup.
  CAVUM_CHECK_NEAR(number(first, "q0", "value"), 1.7486e10,
                   3.0 * number(first, "q0", "uncertainty"));
  CAVUM_CHECK_NEAR(number(first, "gradient_V_per_m", "value"), 4e6,
                   3.0 * number(first, "gradient_V_per_m", "uncertainty"));
  ck_assert_uint_eq(json_array_size(json_object_get(root, "traces")), 1);
  json_decref(root);
}
END_TEST

// JSON and CSV have the same digits, all that the number has: a counter reads tenths of a hertz at
// 1.3 GHz.
START_TEST(csv_has_the_digits_of_the_json) {
  write_text("t.yaml",
             "geometry: {figures: {r_over_q_ohm: 105, r_over_q_convention: linac, "
             "accelerating_length_mm: 115.3}}\nreadings: {file: r.csv}\npickup: {q: 2.0e12}\n");
  write_text("r.csv",
             "forward_W,reflected_W,transmitted_W,frequency_MHz\n4,0.6,0.02,1299.9999595\n");
  ck_assert_int_eq(run("$CAVUM coldtest -q t.yaml --linear --json t.json --csv t.csv; cat err"), 0);
  const char *text = read_text("t.csv");
  ck_assert_ptr_nonnull(strstr(text, "\n1,2,1299999959.5,"));
  ck_assert_int_eq(run("grep -A4 '\"q0\": {' t.json | grep -o 'value\": [0-9.e+]*' | head -1 | "
                       "cut -d' ' -f2 | tr -d '\\n' > digits && test -s digits && "
                       "grep -qF \",$(cat digits),\" t.csv"),
                   0);
}
END_TEST

// Readings are an evening's work, a fit of them that lacks readings is not: all outputs have what
// there is and say what is missing, and the exit status is that of a computation that failed.
START_TEST(a_fit_that_cannot_be_made_leaves_the_readings) {
  write_text("t.yaml",
             "geometry: {figures: {r_over_q_ohm: 105, r_over_q_convention: linac, "
             "geometry_factor_ohm: 270, accelerating_length_mm: 115.3}}\nfrequency_MHz: 1300\n"
             "readings: {file: r.csv}\npickup: {q: 2.0e12}\nfrequency: {}\nfield_emission: {}\n"
             "surface_resistance: {gradients_MV_per_m: [5, 10]}\n");
  write_text(
      "r.csv",
      "forward_W,reflected_W,transmitted_W,bath_temperature_K\n4,0.6,0.02,2\n3,0.5,0.01,2\n");
  ck_assert_int_eq(run("$CAVUM coldtest t.yaml --linear -o t.hdf --json t.json --csv t.csv"), 1);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "\n      2 "));
  ck_assert_int_eq(program_count_lines(read_text("err")), 1);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "not evaluated: frequency "));
  ck_assert_int_eq(program_count_lines(read_text("t.csv")), 3);
  ck_assert_int_eq(run("$CAVUM report t.hdf -o t.html"), 0);
  static const char *const files[] = {"t.json", "t.html"};
  static const char *const parts[] = {
      "not evaluated: frequency ",
      "not evaluated: surface resistance: ", "not evaluated: field emission"};
  for (int i = 0; i < 6; i++) {
    ck_assert_msg(strstr(read_text(files[i % 2]), parts[i / 2]) != NULL, "%s has no '%s'",
                  files[i % 2], parts[i / 2]);
  }
  ck_assert_int_eq(run("$CAVUM coldtest t.yaml --linear -q"), 1);
  ck_assert_str_eq(read_text("out"), "");
}
END_TEST

START_TEST(all_outputs_are_written) {
  ck_assert_int_eq(
      run("$CAVUM coldtest $CELLS/coldtest/injector-test.yaml --linear -o r.hdf --csv r.csv -q"),
      0);
  ck_assert_str_eq(read_text("out"), "");
  const char *text = read_text("r.csv");
  ck_assert_int_eq(program_count_lines(text), 33);
  ck_assert_ptr_null(strstr(text, "nan"));
  // Folder: out, err, r.hdf, r.csv and no temporary file.
  ck_assert_int_eq(temporary_folder_count(folder), 4);
  ck_assert_int_eq(run("$CAVUM coldtest $CELLS/coldtest/injector-test.yaml --linear --csv -"), 0);
  ck_assert_int_eq(strncmp(read_text("out"), "point,line,", 11), 0);
}
END_TEST

START_TEST(plan_needs_no_readings) {
  ck_assert_int_eq(run("$CAVUM coldtest --plan $CELLS/coldtest/injector-test.yaml"), 0);
  const char *text = read_text("out");
  ck_assert_ptr_nonnull(strstr(text, "Plan for E_acc 16 MV/m"));
  ck_assert_ptr_nonnull(strstr(text, "bandwidth f/Q_L"));
  ck_assert_ptr_nonnull(strstr(text, "Cautions"));
}
END_TEST

// A table of gradients and Q0, in dBm, with what is above a limit; a coupler that matches is
// neither over- nor undercoupled.
START_TEST(plan_is_a_table_in_meter_units) {
  write_text("t.yaml",
             "geometry: {figures: {r_over_q_ohm: 105, r_over_q_convention: linac, "
             "accelerating_length_mm: 115.3}}\nfrequency_MHz: 1300\n"
             "channels: {forward: {chain: [{part: a, dB: 40}], meter_uncertainty_percent: 1}}\n"
             "limits: [{name: amplifier, source: its plate, forward_power_W: 2}]\n"
             "plan: [{gradients_MV_per_m: [5, 10, 20], q0_values: [1.0e10, 2.0e10], "
             "q_external: 1.0e10}]\n");
  ck_assert_int_eq(run("$CAVUM coldtest --plan t.yaml --json t.json -o t.hdf >/dev/null; "
                       "$CAVUM coldtest --plan t.yaml; cat err"),
                   0);
  const char *text = read_text("out");
  ck_assert_ptr_nonnull(strstr(text, "(critically coupled)"));
  ck_assert_ptr_nonnull(strstr(text, "(overcoupled)"));
  ck_assert_ptr_nonnull(strstr(text, "above 1 limit"));
  ck_assert_ptr_nonnull(strstr(text, "amplifier (its plate): ABOVE IT"));
  ck_assert_ptr_null(strstr(text, "nan"));
  char path[256];
  snprintf(path, sizeof path, "%s/t.json", folder);
  json_t *root = json_load_file(path, 0, NULL);
  const json_t *plans = json_object_get(root, "plans");
  ck_assert_uint_eq(json_array_size(plans), 6);
  const json_t *last = json_array_get(plans, 5);
  CAVUM_CHECK_NEAR(json_number_value(json_object_get(last, "gradient_V_per_m")), 20e6, 1e-3);
  CAVUM_CHECK_NEAR(json_number_value(json_object_get(last, "forward_meter_W")),
                   1e-4 * json_number_value(json_object_get(last, "forward_power_W")), 1e-12);
  ck_assert_ptr_null(json_object_get(last, "transmitted_power_W"));
  ck_assert_uint_eq(json_array_size(json_object_get(last, "limit_shares")), 1);
  ck_assert_str_eq(
      json_string_value(json_object_get(json_object_get(last, "by_decay"), "q0_largest_input")),
      "gain_forward");
  json_decref(root);
}
END_TEST

START_TEST(geometry_comes_from_a_result_file) {
  ck_assert_int_eq(run("$CAVUM solve -q -o injector-cell.hdf $CELLS/injector-cell.yaml"), 0);
  ck_assert_int_eq(run("cp $CELLS/coldtest/*.csv . && sed '/^  figures:/,/bpk_over/d; "
                       "s/^geometry:/geometry: {result: injector-cell.hdf}/' "
                       "$CELLS/coldtest/injector-test.yaml >t.yaml"),
                   0);
  ck_assert_int_eq(run("$CAVUM coldtest --linear --json r.json -q t.yaml; cat err"), 0);
  char path[256];
  snprintf(path, sizeof path, "%s/r.json", folder);
  json_t *root = json_load_file(path, 0, NULL);
  ck_assert_ptr_nonnull(root);
  const json_t *geometry = json_object_get(root, "geometry");
  // The figures typed into the demonstration are those of this solve, to their printed digits.
  CAVUM_CHECK_NEAR(number(geometry, "r_over_q_linac_ohm", "value"), 117.570, 5e-4);
  CAVUM_CHECK_NEAR(number(geometry, "geometry_factor_ohm", "value"), 269.827, 5e-4);
  CAVUM_CHECK_NEAR(number(geometry, "bpk_over_eacc_T_per_V_per_m", "value"), 4.07495e-9, 5e-15);
  ck_assert(number(geometry, "r_over_q_linac_ohm", "uncertainty") > 0.0);
  json_decref(root);
}
END_TEST

#define HEAD                                                             \
  "geometry: {figures: {r_over_q_ohm: 105, r_over_q_convention: linac, " \
  "accelerating_length_mm: 115.3}}\nfrequency_MHz: 1300\nreadings: {file: r.csv}\n"

static const struct {
  const char *test, *readings, *part;
} BAD[] = {
    {HEAD, "forward_W,reflected_W,transmitted_W\n-4,0.6,0.02\n", "r.csv:2: forward power of -4"},
    {HEAD "pickup: {q: 2.0e12}\n", "forward_W,reflected_W,transmitted_W\n4,5,0.02\n",
     "r.csv:2: reflected power not below"},
    {HEAD, "forward_W,reflected_W,transmitted_W,decay_energy_s\n4,1,0.02,0\n", "r.csv:2: column 4"},
    {HEAD, "forward,reflected_W\n4,1\n", "r.csv:1: column 1"},
    {HEAD, "", "r.csv:1: empty"},
    {HEAD, "note,forward_W\n\xFF,1\n", "r.csv:2: a byte"},
    {HEAD "method: {branch: sideways}\n", "forward_W\n1\n", "t.yaml:4:"},
    {HEAD "plans: []\n", "forward_W\n1\n", "plan"},
    {HEAD "plan: [{q0: 1.0e10, q_external: 1.0e10}]\n", "forward_W\n1\n", "gradient_MV_per_m"},
    {HEAD "plan: [{gradient_MV_per_m: 5, q0: 1.0e10, q0_values: [1.0e10], q_external: 1.0e10}]\n",
     "forward_W\n1\n", "q0 or a list"},
    {HEAD "plan: [{gradients_MV_per_m: [5, -1], q0: 1.0e10, q_external: 1.0e10}]\n",
     "forward_W\n1\n", "above 0"},
};

// Notes and the end of the test are in the JSON, the CSV, the HDF5 file and the report; the
// readings are in the file and the report as they were read, with the digest that sha256sum gives.
START_TEST(log_reaches_every_output) {
  write_text("t.yaml", HEAD "pickup: {q: 2.0e12}\nended: quench at full power\n");
  write_text("r.csv",
             "note,use,forward_W,reflected_W,transmitted_W\n"
             "\"door \"\"A\"\", open\",,4,0.6,0.02\n,,4,0.5,0.02\nwarm,no,4,0.5,0.02\n");
  ck_assert_int_eq(run("$CAVUM coldtest -q t.yaml -o t.hdf --json t.json --csv t.csv; cat err"), 0);
  ck_assert_int_eq(run("$CAVUM report t.hdf -o t.html && sha256sum r.csv | cut -c1-64 "
                       "| tr -d '\\n' >digest"),
                   0);
  char digest[80];
  snprintf(digest, sizeof digest, "%.70s", read_text("digest"));
  ck_assert_uint_eq(strlen(digest), 64);
  const struct {
    const char *file, *part;
  } rows[] = {{"t.json", "door \\\"A\\\", open"},      {"t.json", "quench at full power"},
              {"t.json", "use: no; note: warm"},       {"t.json", digest},
              {"t.csv", "\"door \"\"A\"\", open\"\n"}, {"t.html", "quench at full power"},
              {"t.html", "warm,no,4,0.5,0.02"},        {"t.html", digest},
              {"t.html", "Notes taken with"}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    ck_assert_msg(strstr(read_text(rows[i].file), rows[i].part) != NULL, "%s has no %s",
                  rows[i].file, rows[i].part);
  }
}
END_TEST

// Exit status 2, one line, nothing written.
START_TEST(bad_input_gives_one_line_and_no_file) {
  for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++) {
    write_text("t.yaml", BAD[i].test);
    write_text("r.csv", BAD[i].readings);
    ck_assert_int_eq(run("$CAVUM coldtest t.yaml -o o.hdf --json o.json --csv o.csv"), 2);
    ck_assert_str_eq(read_text("out"), "");
    const char *text = read_text("err");
    printf("%s", text);
    ck_assert_msg(strstr(text, BAD[i].part) != NULL, "%s has no %s", text, BAD[i].part);
    ck_assert_ptr_eq(strchr(text, '\n'), text + strlen(text) - 1);
    ck_assert_int_eq(temporary_folder_count(folder), 4);
  }
}
END_TEST

// A file of a comparison holds what changed, not the points: who draws or reports it is told which
// command does.
START_TEST(comparison_files_name_their_command) {
  ck_assert_int_eq(run("$CAVUM compare $CELLS/coldtest/injector-test.yaml "
                       "$CELLS/coldtest/injector-test.yaml -o c.hdf"),
                   0);
  static const char *const commands[] = {"draw c.hdf -o c.svg", "report c.hdf -o c.html"};
  for (int i = 0; i < 2; i++) {
    ck_assert_int_eq(run("$CAVUM %s", commands[i]), 2);
    const char *text = read_text("err");
    ck_assert_ptr_nonnull(strstr(text, "'cavum compare A.yaml B.yaml -o FILE'"));
    ck_assert_int_eq(program_count_lines(text), 1);
  }
}
END_TEST

// The demonstration's readings in two runs, every other row: each has its fits on the screen when
// asked for, in the picture and in the report.
START_TEST(runs_have_fits_of_their_own) {
  ck_assert_int_eq(run("awk 'NR == 1 {print $0 \",run\"} NR > 1 {print $0 (NR %% 2 ? \",odd\" : "
                       "\",even\")}' $CELLS/coldtest/readings.csv > readings.csv"),
                   0);
  ck_assert_int_eq(run("sed '/^traces/,$d' $CELLS/coldtest/injector-test.yaml > runs.yaml && echo "
                       "'frequency: {reading_uncertainty_Hz: 3}' >> runs.yaml"),
                   0);
  ck_assert_int_eq(run("$CAVUM coldtest --linear runs.yaml"), 0);
  ck_assert_ptr_null(strstr(read_text("out"), "Fits of each run alone"));
  ck_assert_int_eq(run("$CAVUM coldtest --linear --show runs --picture r.svg --report r.html "
                       "runs.yaml"),
                   0);
  const char *text = strstr(read_text("out"), "Fits of each run alone\n  even\n    residual");
  ck_assert_ptr_nonnull(text);
  ck_assert_ptr_nonnull(strstr(text, "\n  odd\n    residual"));
  ck_assert_ptr_nonnull(strstr(text, "Lorentz force"));
  text = read_text("r.html");
  ck_assert_ptr_nonnull(strstr(text, "Fits of each run alone"));
  ck_assert_ptr_nonnull(strstr(text, "fit of odd alone"));
  text = read_text("r.svg");
  ck_assert_ptr_nonnull(strstr(text, "fit of even alone"));
  ck_assert_ptr_nonnull(strstr(text, "slope of even alone"));
}
END_TEST

#ifndef CAVUM_SANITIZED
// As many readings as are asked for, three of them with a decay time.
static void write_many(int count) {
  char path[256];
  snprintf(path, sizeof path, "%s/many.csv", folder);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs("forward_W,reflected_W,transmitted_mW,decay_energy_s,bath_temperature_K\n", file);
  for (int i = 0; i < count; i++) {
    double level = 1.0 + 1e-5 * i;  // No row is there twice.
    fprintf(file, "%.6f,%.6f,%.6f,%s,2.0\n", 10.0 * level, level, 50.0 * level, i < 3 ? "0.8" : "");
  }
  ck_assert_int_eq(fclose(file), 0);
}

// Bytes of the largest process so far that evaluated so many.
static long evaluate_many(int count) {
  struct rusage used;
  write_many(count);
  ck_assert_int_eq(run("$CAVUM coldtest -q --linear many.yaml"), 0);
  ck_assert_int_eq(getrusage(RUSAGE_CHILDREN, &used), 0);
  return 1024 * used.ru_maxrss;
}

// A million rows are to fit into 500 MB: readings are held once.
START_TEST(a_row_takes_less_than_500_bytes) {
  enum { FEW = 1000, MANY = 60000 };
  write_text("many.yaml",
             "geometry: {figures: {r_over_q_ohm: 105, r_over_q_convention: linac,\n"
             "  accelerating_length_mm: 115.3, geometry_factor_ohm: 270}}\n"
             "frequency_MHz: 1300\nreadings: {file: many.csv}\nmethod: {branch: over}\n"
             "decay: {reading_uncertainty_percent: 1}\n");
  long base = evaluate_many(FEW), more = evaluate_many(MANY);
  ck_assert_int_lt((more - base) / (MANY - FEW), 500);
}
END_TEST
#endif

static const char *const BAD_USAGES[] = {
    "$CAVUM coldtest",
    "$CAVUM coldtest --nonsense t.yaml",
    "$CAVUM coldtest a.yaml b.yaml",
    "$CAVUM coldtest --rows x a.yaml",
    "$CAVUM coldtest --follow --plan $CELLS/coldtest/injector-test.yaml",
    "$CAVUM coldtest --follow --csv - $CELLS/coldtest/injector-test.yaml",
    "$CAVUM coldtest --follow no.yaml",
    "$CAVUM coldtest --show budgets,nothing $CELLS/coldtest/injector-test.yaml",
    "$CAVUM coldtest --show '' $CELLS/coldtest/injector-test.yaml",
    "$CAVUM coldtest -o - a.yaml",
    "$CAVUM coldtest no.yaml",
    "$CAVUM coldtest $CELLS/coldtest/injector-test.yaml -o no/such/folder.hdf"};

START_TEST(bad_usage_gives_two) {
  for (size_t i = 0; i < sizeof BAD_USAGES / sizeof *BAD_USAGES; i++) {
    ck_assert_int_eq(run("%s", BAD_USAGES[i]), 2);
    ck_assert_str_eq(read_text("out"), "");
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, screen_is_short);
  tcase_add_test(tests, every_word_that_help_names_is_a_part);
  tcase_add_test(tests, demonstration_prints_its_table);
  tcase_add_test(tests, log_reaches_every_output);
  tcase_add_test(tests, demonstration_holds_its_truth);
  tcase_add_test(tests, csv_has_the_digits_of_the_json);
  tcase_add_test(tests, a_fit_that_cannot_be_made_leaves_the_readings);
  tcase_add_test(tests, all_outputs_are_written);
  tcase_add_test(tests, plan_needs_no_readings);
  tcase_add_test(tests, plan_is_a_table_in_meter_units);
  tcase_add_test(tests, geometry_comes_from_a_result_file);
  tcase_add_test(tests, bad_input_gives_one_line_and_no_file);
  tcase_add_test(tests, bad_usage_gives_two);
  tcase_add_test(tests, runs_have_fits_of_their_own);
  tcase_add_test(tests, comparison_files_name_their_command);
#ifndef CAVUM_SANITIZED
  tcase_add_test(tests, a_row_takes_less_than_500_bytes);
#endif
}

CAVUM_TEST_MAIN("cavum coldtest", add_tests)
