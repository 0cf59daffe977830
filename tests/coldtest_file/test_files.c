// SPDX-License-Identifier: GPL-3.0-or-later
// Test files, readings and traces: what is read, what is refused and where the message points.
#include <string.h>

#include "base/base.h"
#include "cavum/coldtest_file.h"
#include "scenario.h"
#include "temporary_folder.h"

static char folder[128], path[192];

static void set_up(void) {
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/r.csv", folder);
}

static void tear_down(void) { temporary_folder_delete(folder); }

static void write_bytes(const char *bytes, size_t length) {
  FILE *file = fopen(path, "wb");
  ck_assert_ptr_nonnull(file);
  ck_assert_uint_eq(fwrite(bytes, 1, length, file), length);
  fclose(file);
}

static bool same_number(double a, double b) { return a == b || (isnan(a) && isnan(b)); }

// What a file gives, its text in memory gives as well: readings, rows set aside, messages.
static void check_readings_text(const cavum_coldtest_readings *file, cavum_status expected,
                                const char *text, const cavum_coldtest_setup *setup,
                                const char *message) {
  cavum_coldtest_readings memory = {0};
  cavum_error error = {0};
  cavum_status status =
      cavum_coldtest_read_readings_text(&memory, text, strlen(text), path, setup, &error);
  ck_assert_int_eq(status, expected);
  if (status != CAVUM_OK) {
    ck_assert_str_eq(error.message, message);
    ck_assert_ptr_null(memory.items);
    return;
  }
  ck_assert_int_eq(memory.num_readings, file->num_readings);
  ck_assert_int_eq(memory.num_set_aside, file->num_set_aside);
  ck_assert_int_eq(memory.num_runs, file->num_runs);
  ck_assert_str_eq(memory.sha256, file->sha256);
  ck_assert_str_eq(memory.file, file->file);
  for (int64_t i = 0; i < memory.num_readings; i++) {
    const cavum_coldtest_reading *a = &memory.items[i], *b = &file->items[i];
    for (int c = 0; c < CAVUM_NUM_CHANNELS; c++) {
      ck_assert(same_number(a->power_w[c], b->power_w[c]));
    }
    ck_assert(same_number(a->decay_time_s, b->decay_time_s));
    ck_assert_int_eq(a->line, b->line);
    ck_assert_int_eq(a->note, b->note);
  }
  cavum_coldtest_readings_clear(&memory);
}

static cavum_status read_readings(cavum_coldtest_readings *readings, const char *text,
                                  cavum_error *error) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.num_extra = 1;
  strcpy(setup.channels[CAVUM_CHANNEL_EXTRA].name, "upper_port");
  write_bytes(text, strlen(text));
  cavum_status status = cavum_coldtest_read_readings(readings, path, &setup, error);
  check_readings_text(readings, status, text, &setup, error ? error->message : "");
  return status;
}

static cavum_coldtest_readings good_readings(const char *text) {
  cavum_coldtest_readings readings = {0};
  cavum_error error = {0};
  ck_assert_msg(read_readings(&readings, text, &error) == CAVUM_OK, "%s", error.message);
  return readings;
}

// Conversions are exact powers of ten but for dBm, whose power function rounds.
START_TEST(units_columns_and_empty_cells) {
  cavum_coldtest_readings readings = good_readings(
      "note,transmitted_mW,forward_dBm,reflected_uW,upper_port_W,decay_amplitude_ms,"
      "frequency_GHz,bath_temperature_mK,radiation_uSv_per_h\n"
      "\"first, with a comma\",20,33,500,0.1,1600,1.3,2000,3\n"
      ",20,40,,0,,,,\n");
  ck_assert_int_eq((int)readings.num_readings, 2);
  const cavum_coldtest_reading *r = readings.items;
  CAVUM_CHECK_RELATIVE(r[0].power_w[CAVUM_CHANNEL_FORWARD], 1.9952623149688795, 1e-15);
  CAVUM_CHECK_RELATIVE(r[0].power_w[CAVUM_CHANNEL_REFLECTED], 5e-4, 1e-15);
  CAVUM_CHECK_RELATIVE(r[0].power_w[CAVUM_CHANNEL_TRANSMITTED], 0.02, 1e-15);
  CAVUM_CHECK_RELATIVE(r[0].power_w[CAVUM_CHANNEL_EXTRA], 0.1, 1e-15);
  // An amplitude decay time is twice that of the energy.
  CAVUM_CHECK_RELATIVE(r[0].decay_time_s, 0.8, 1e-15);
  CAVUM_CHECK_RELATIVE(r[0].frequency_hz, 1.3e9, 1e-15);
  CAVUM_CHECK_RELATIVE(r[0].bath_temperature_k, 2.0, 1e-15);
  CAVUM_CHECK_RELATIVE(r[0].radiation_sv_per_h, 3e-6, 1e-15);
  ck_assert_int_eq((int)r[0].line, 2);
  ck_assert(isnan(r[1].power_w[CAVUM_CHANNEL_REFLECTED]) && isnan(r[1].decay_time_s));
  ck_assert(isnan(r[1].power_w[CAVUM_CHANNEL_EMITTED]) && isnan(r[1].frequency_hz));
  ck_assert_int_eq((int)r[1].line, 3);
  cavum_coldtest_readings_clear(&readings);
}
END_TEST

START_TEST(line_ends_marks_blank_lines_and_quotes) {
  // The last one starts with a byte-order mark and holds a letter outside ASCII.
  const char *texts[] = {"forward_W,note\r\n10,a\r\n\r\n11,b\r\n", "forward_W,note\n10,a\n\n11,b",
                         "forward_W,note\r10,a\r\r11,b\r",
                         "\357\273\277forward_W,note\n10,\303\251\n\n11,\n"};
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    cavum_coldtest_readings readings = good_readings(texts[i]);
    ck_assert_int_eq((int)readings.num_readings, 2);
    ck_assert(readings.items[1].power_w[CAVUM_CHANNEL_FORWARD] == 11.0);
    ck_assert_int_eq((int)readings.items[0].line, 2);
    ck_assert_int_eq((int)readings.items[1].line, 4);
    cavum_coldtest_readings_clear(&readings);
  }
}
END_TEST

// As spreadsheets of countries with decimal commas write tables; points are as good.
START_TEST(semicolons_go_with_decimal_commas) {
  const char *texts[] = {("\357\273\277# readings, of one day\r\nforward_W;reflected_mW;note\r\n"
                          "10,5;-1,5e-3;\"a, b; c\"\r\n11;2,25;\r\n"),
                         "\nforward_W;reflected_mW;note\n10.5;-1.5e-3;a, b\n11;2.25;x\n",
                         "forward_W,reflected_mW,note\n10.5,-1.5e-3,a; b\n11,2.25,\n",
                         "forward_W\treflected_mW\tnote\n10,5\t-1,5e-3\ta; b\n11\t2,25\t\n",
                         "sep=;\r\nforward_W;reflected_mW;note\r\n10,5;-1,5e-3;a\r\n11;2,25;\r\n",
                         "\357\273\277sep=\t\nforward_W\treflected_mW\n10.5\t-1.5e-3\n11\t2.25\n",
                         "sep=,\nforward_W,reflected_mW\n10.5,-1.5e-3\n11,2.25\n"};
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    cavum_coldtest_readings readings = good_readings(texts[i]);
    ck_assert_int_eq((int)readings.num_readings, 2);
    ck_assert_int_eq((int)readings.num_set_aside, 0);
    CAVUM_CHECK_NEAR(readings.items[0].power_w[CAVUM_CHANNEL_FORWARD], 10.5, 0.0);
    CAVUM_CHECK_RELATIVE(readings.items[0].power_w[CAVUM_CHANNEL_REFLECTED], -1.5e-6, 1e-15);
    CAVUM_CHECK_NEAR(readings.items[1].power_w[CAVUM_CHANNEL_FORWARD], 11.0, 0.0);
    CAVUM_CHECK_RELATIVE(readings.items[1].power_w[CAVUM_CHANNEL_REFLECTED], 2.25e-3, 1e-15);
    cavum_coldtest_readings_clear(&readings);
  }
}
END_TEST

// Spreadsheets write the separators of columns that are empty, in the header, below it, or both.
START_TEST(empty_columns_are_passed_over) {
  const char *texts[] = {
      "forward_W,reflected_W,,\n10,1,,\n11,2,,\n", "forward_W,reflected_W\n10,1,,\n11,2,,\n",
      "forward_W,reflected_W,,\n10,1\n11,2\n", "forward_W;;reflected_W;\n10;;1;\n11;;2;\n"};
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    cavum_coldtest_readings readings = good_readings(texts[i]);
    ck_assert_int_eq((int)readings.num_readings, 2);
    ck_assert_int_eq((int)readings.num_set_aside, 0);
    CAVUM_CHECK_NEAR(readings.items[1].power_w[CAVUM_CHANNEL_FORWARD], 11.0, 0.0);
    CAVUM_CHECK_NEAR(readings.items[1].power_w[CAVUM_CHANNEL_REFLECTED], 2.0, 0.0);
    cavum_coldtest_readings_clear(&readings);
  }
}
END_TEST

static const struct {
  const char *text, *place, *part;
} BAD_READINGS[] = {
    {"", ":1: ", "empty"},
    {"\n\n", ":1: ", "empty"},
    {"forward_W\n", ":1: ", "no rows"},
    {"forward\n10\n", ":1: column 1: ", "forward_W, forward_mW"},
    {"forward_w\n10\n", ":1: column 1: ", "unit"},
    {"note,forwards_W\n,10\n", ":1: column 2: ", "known column"},
    {"forward_W,forward_dBm\n10,3\n", ":1: column 2: ", "already"},
    {"decay_s\n10\n", ":1: column 1: ", "known column"},
    {"decay_s\n10\n", ":1: column 1: ", "decay_energy_s, decay_amplitude_s, frequency_MHz"},
    {"forward_W\treflected_W,note\n10\t1,\n", ":1: column 1: ", "or all by tabs"},
    {"sep=;\nforward_W;reflected_W\n10;x\n", ":3: column 2 (reflected_W): ", "'x'"},
    {"sep=.\nforward_W\n10\n", ":1: column 1: ", "known column"},
    {"forward_W,,reflected_W,\n10,2,1,\n", ":2: column 2 (): ", "no name, but a cell '2'"},
    {"forward_W,reflected_W,,\n10,1,,x\n", ":2: ", "more cells than the 2 columns"},
    {",,\n10,1,2\n", ":1: ", "header line was expected"},
    {"forward_W;reflected_W,note\n10;1,\n", ":1: column 1: ", "commas, or all by semicolons"},
    {"forward_W;reflected_W\n10,5;1.5\n", ":2: column 2 (reflected_W): ", "all of them alike"},
    {"forward_W;reflected_W\n10.5;1\n11;1,5\n", ":3: column 2 (reflected_W): ", "decimal comma"},
    {"forward_W;reflected_W\n1.234,5;1\n", ":2: column 1 (forward_W): ", "all of them alike"},
    {"forward_W;reflected_W\n1,2,3;1\n", ":2: column 1 (forward_W): ", "'1,2,3'"},
    {"forward_W,reflected_W\n10,x\n10,y\n", ":2: column 2 (reflected_W): ", "'x'"},
    {"forward_W,use\n10,maybe\n", ":2: column 2 (use): ", "'maybe'"},
    {"forward_W,use\n10,no\n", ":2: ", "use: no"},
    {"forward_W,reflected_W\n10,1 W\n", ":2: column 2 (reflected_W): ", "'1 W'"},
    {"forward_W,reflected_W\n10,nan\n", ":2: column 2 (reflected_W): ", "'nan'"},
    {"forward_W,reflected_W\n10,0x10\n", ":2: column 2 (reflected_W): ", "0x10"},
    {"forward_W,reflected_W\n10,1e400\n", ":2: column 2 (reflected_W): ", "1e400"},
    {"forward_dBm\n9999\n", ":2: column 1 (forward_dBm): ", "out of range"},
    {"forward_W,reflected_W\n10\n", ":2: ", "1 cells"},
    {"forward_W,reflected_W\n10,1,2\n", ":2: ", "more cells"},
    {"forward_W,reflected_W\n10,\"1\n", ":", "quote"},
    {"forward_W,decay_energy_s\n10,0\n", ":2: column 2 (decay_energy_s): ", "above 0"},
    {"forward_W,decay_amplitude_s\n10,-1\n", ":2: column 2 (decay_amplitude_s): ", "above 0"},
    {"decay_energy_s,decay_amplitude_s\n1,2\n", ":2: ", "one of them"},
    {"bath_temperature_K\n0\n", ":2: column 1 (bath_temperature_K): ", "above 0"},
    {"note,forward_W\n\xE9t\xE9,10\n", ":2: ", "UTF-8"},
    {"note,forward_W\n\xED\xA0\x80,10\n", ":2: ", "UTF-8"},
    {"note,forward_W\n\x01,10\n", ":2: ", "UTF-8"},
};

START_TEST(bad_readings_are_named_by_line_and_column) {
  for (size_t i = 0; i < sizeof BAD_READINGS / sizeof *BAD_READINGS; i++) {
    cavum_coldtest_readings readings = {.num_readings = -1};
    cavum_error error = {0};
    cavum_status status = read_readings(&readings, BAD_READINGS[i].text, &error);
    printf("%s\n", error.message);
    ck_assert_msg(status == CAVUM_ERR_INPUT, "case %zu: %d", i, status);
    ck_assert_msg(strstr(error.message, BAD_READINGS[i].place) != NULL, "%s", error.message);
    ck_assert_msg(strstr(error.message, BAD_READINGS[i].part) != NULL, "%s", error.message);
    ck_assert_ptr_null(strchr(error.message, '\n'));
    ck_assert_int_eq((int)readings.num_readings, -1);
  }
  cavum_coldtest_readings readings = {0};
  cavum_coldtest_setup setup = scenario_setup();
  ck_assert_int_eq(cavum_coldtest_read_readings(&readings, "/nowhere/at/all", &setup, NULL),
                   CAVUM_ERR_FILE);
  write_bytes("forward_W\n1\0\n", 13);
  ck_assert_int_eq(cavum_coldtest_read_readings(&readings, path, &setup, NULL), CAVUM_ERR_INPUT);
}
END_TEST

// Bad rows are set aside with their line and reason, the rest is read; comments are none of both.
START_TEST(bad_rows_leave_the_others) {
  cavum_coldtest_readings readings = good_readings(
      "# taken on a Tuesday\n"
      "forward_W,reflected_W,decay_energy_s,use,note\n"
      "10,1,0.8,,\n"
      "11,overload,0.8,,quench\n"
      "# the line was exchanged here\n"
      "12,1,0.8,no,wrong range\n"
      "13,1,0.8,yes,\"a note\n# with two lines\"\n"
      "14,1,-0.8,1,\n"
      "15,1\n"
      "16,1,0.8,,\n"
      "17,1,0.");
  ck_assert_int_eq((int)readings.num_readings, 3);
  const double forward_w[] = {10.0, 13.0, 16.0};
  const int line[] = {3, 7, 11};
  for (int i = 0; i < 3; i++) {
    ck_assert(readings.items[i].power_w[CAVUM_CHANNEL_FORWARD] == forward_w[i]);
    ck_assert_int_eq((int)readings.items[i].line, line[i]);
  }
  const struct {
    int line;
    const char *part;
  } aside[] = {{4, "'overload'"},
               {10, "2 cells"},
               {12, "still being written"},
               {6, "use: no"},
               {9, "above 0"}};
  ck_assert_int_eq((int)readings.num_set_aside, 5);
  for (int i = 0; i < 5; i++) {
    ck_assert_int_eq((int)readings.set_aside[i].line, aside[i].line);
    ck_assert_msg(strstr(readings.set_aside[i].reason, aside[i].part) != NULL, "%s has no %s",
                  readings.set_aside[i].reason, aside[i].part);
  }
  cavum_coldtest_readings_clear(&readings);
}
END_TEST

// A record that was exported twice, beside the first or in a table behind it, counts once; another
// run, branch, note or one digit makes it another reading.
START_TEST(a_record_that_is_there_twice_counts_once) {
  cavum_coldtest_readings readings = good_readings(
      "forward_W,reflected_W,decay_energy_s,run,branch,note\n"
      "10,1,0.8,a,,\n"
      "10,1,0.8,a,,\n"
      "10,1,,a,,\n"
      "10,1,0.8,b,,\n"
      "10,1,0.8,a,over,\n"
      "10,1,0.8,a,,again\n"
      "10,1.0001,0.8,a,,\n"
      "10,1,,a,,\n"
      "1e1,1.0,0.80,a,,\n");
  const int64_t line[] = {2, 4, 5, 6, 7, 8}, twice[][2] = {{3, 2}, {9, 4}, {10, 2}};
  ck_assert_int_eq(readings.num_readings, 6);
  for (int i = 0; i < 6; i++) ck_assert_int_eq(readings.items[i].line, line[i]);
  ck_assert_int_eq(readings.num_set_aside, 3);
  for (int i = 0; i < 3; i++) {
    char part[64];
    snprintf(part, sizeof part, ":%lld: the same record as line %lld", (long long)twice[i][0],
             (long long)twice[i][1]);
    ck_assert_int_eq(readings.set_aside[i].line, twice[i][0]);
    ck_assert_msg(strstr(readings.set_aside[i].reason, part) != NULL, "%s has no %s",
                  readings.set_aside[i].reason, part);
  }
  cavum_coldtest_readings_clear(&readings);
}
END_TEST

// Calibrations of a table that was put behind itself are those of the table.
START_TEST(a_table_behind_itself_gives_no_other_calibration) {
  static const char header[] = "forward_W,reflected_W,transmitted_W,decay_energy_s\n";
  static const char rows[] =
      "10,1,1e-3,0.8\n10.2,1.02,1.03e-3,0.81\n9.9,0.98,0.99e-3,0.79\n12,1.2,1.2e-3,\n";
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_OVER;
  setup.decay_noise = 0.01;
  cavum_estimate pickup[2];
  for (int times = 1; times <= 2; times++) {
    char text[512];
    snprintf(text, sizeof text, "%s%s%s", header, rows, times == 2 ? rows : "");
    cavum_coldtest_readings readings = good_readings(text);
    cavum_coldtest *test = NULL;
    ck_assert_int_eq(cavum_coldtest_evaluate(&test, &setup, &readings, NULL), CAVUM_OK);
    cavum_coldtest_calibration calibration = cavum_coldtest_get_pickup(test);
    ck_assert_int_eq(calibration.num_readings, 3);
    pickup[times - 1] = calibration.value;
    cavum_coldtest_destroy(&test);
    cavum_coldtest_readings_clear(&readings);
  }
  ck_assert(pickup[0].value == pickup[1].value && pickup[0].uncertainty == pickup[1].uncertainty);
}
END_TEST

START_TEST(a_million_rows_are_read_and_evaluated) {
  enum { ROWS = 1000000 };
  FILE *file = fopen(path, "w");
  fputs("forward_W,reflected_W,transmitted_W\n", file);
  // No row is there twice; the last has 4 W.
  for (int i = 0; i < ROWS; i++) fprintf(file, "%.6f,0.6,0.02\n", 4.0 + 1e-6 * (ROWS - 1 - i));
  fclose(file);
  cavum_coldtest_setup setup = scenario_setup();
  setup.q_pickup.value = 2e12;
  cavum_coldtest_readings readings = {0};
  ck_assert_int_eq(cavum_coldtest_read_readings(&readings, path, &setup, NULL), CAVUM_OK);
  ck_assert_int_eq((int)readings.num_readings, ROWS);
  ck_assert_int_eq((int)readings.items[ROWS - 1].line, ROWS + 1);
  cavum_coldtest *test = NULL;
  ck_assert_int_eq(cavum_coldtest_evaluate(&test, &setup, &readings, NULL), CAVUM_OK);
  // Q0 = Q_t P_t / P_wall, and the wall has what neither comes back nor goes out.
  CAVUM_CHECK_RELATIVE(scenario_value(test, ROWS - 1, CAVUM_QUANTITY_Q0),
                       2e12 * 0.02 / (4.0 - 0.6 - 0.02), 1e-14);
  cavum_coldtest_destroy(&test);
  cavum_coldtest_readings_clear(&readings);
}
END_TEST

// What a spreadsheet could not compute begins like a comment: the row is none, and is named.
START_TEST(a_row_that_begins_with_an_error_of_a_spreadsheet_is_no_comment) {
  static const char *const cells[] = {"#DIV/0!", "#REF!", "#NAME?", "#N/A", "#NV", "#WERT!"};
  static const char *const comments[] = {"#", "# N/A", "#4", "#NVA", "#N", "#quench!", "#OLD A"};
  for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
    char text[128];
    snprintf(text, sizeof text, "forward_W,reflected_W\n4,1\n%s,1\n", cells[i]);
    cavum_coldtest_readings readings = good_readings(text);
    ck_assert_int_eq((int)readings.num_readings, 1);
    ck_assert_int_eq((int)readings.num_set_aside, 1);
    ck_assert_int_eq((int)readings.set_aside[0].line, 3);
    ck_assert_ptr_nonnull(strstr(readings.set_aside[0].reason, cells[i]));
    cavum_coldtest_readings_clear(&readings);
  }
  for (size_t i = 0; i < sizeof comments / sizeof *comments; i++) {
    char text[128];
    snprintf(text, sizeof text, "%s,x\nforward_W,reflected_W\n%s\n4,1\n%s,1\n", comments[i],
             comments[i], comments[i]);
    cavum_coldtest_readings readings = good_readings(text);
    ck_assert_int_eq((int)readings.num_readings, 1);
    ck_assert_int_eq((int)readings.num_set_aside, 0);
    cavum_coldtest_readings_clear(&readings);
  }
}
END_TEST

START_TEST(traces_are_read) {
  const char *text = "transmitted_uW,time_ms\n500,0\n250,100\n";
  write_bytes(text, strlen(text));
  cavum_decay_trace trace = {0};
  ck_assert_int_eq(cavum_coldtest_read_trace(&trace, path, NULL), CAVUM_OK);
  ck_assert_int_eq((int)trace.num_samples, 2);
  CAVUM_CHECK_RELATIVE(trace.time_s[1], 0.1, 1e-15);
  CAVUM_CHECK_RELATIVE(trace.transmitted_w[1], 250e-6, 1e-15);
  cavum_decay_trace_clear(&trace);
  static const struct {
    const char *text, *place, *part;
  } bad[] = {
      {"time_s\n1\n", ":2: ", "two columns"},
      {"time_s,transmitted_W\n1,\n", ":2: ", "two columns"},
      {"time_s,forward_W\n1,2\n", ":1: column 2: ", "known column"},
      {"transmitted_W,time_s\n3,0\n2,1\n2,0.5\n",
       ":4: column 2 (time_s): ", "where line 3 has 1 s"},
      {"time_ms,transmitted_W\n0,3\n2,2\n1,2\n",
       ":4: column 1 (time_ms): ", "found 0.001 s, where line 3 has 0.002 s"},
      {"time_s,transmitted_W\n0,y\n1,x\n", ":2: column 2 (transmitted_W): ", "'y'"},
  };
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
    cavum_error error = {0};
    write_bytes(bad[i].text, strlen(bad[i].text));
    ck_assert_int_eq(cavum_coldtest_read_trace(&trace, path, &error), CAVUM_ERR_INPUT);
    ck_assert_msg(strstr(error.message, bad[i].place) && strstr(error.message, bad[i].part),
                  "%s has no %s or no %s", error.message, bad[i].place, bad[i].part);
  }
}
END_TEST

// What only the evaluation finds has its line, too: behind a comment, and a sample without a power.
START_TEST(a_trace_that_is_no_decay_is_named_by_line) {
  static const struct {
    const char *first, *more, *part;
  } bad[] = {
      {"0,0\n1,\n", "%d,0\n", ":3: the first of 22 samples that cannot be used, of 22: 0 outside"},
      {"0,\n1,5\n", "%d,5\n", ":4: the power does not fall from here, 1 s, to the last usable"},
      {"0,5(2)\n", "%d,5(2)\n", ":3: column 2 (transmitted_W): a number alone or nothing"},
  };
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_OVER;
  cavum_coldtest_reading reading = scenario_reading(10.0, 1.0, 1e-3, 0.8);
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
    char text[1024];
    cavum_error error = {0};
    cavum_decay_trace trace = {0};
    cavum_decay_analysis analysis = {0};
    int used = snprintf(text, sizeof text, "# a comment\ntime_s,transmitted_W\n%s", bad[i].first);
    for (int k = 2; k < 22; k++) {
      used += snprintf(text + used, sizeof text - (size_t)used, bad[i].more, k);
    }
    cavum_status status =
        cavum_coldtest_read_trace_text(&trace, text, (size_t)used, "t.csv", &error);
    if (status == CAVUM_OK) {
      status = cavum_decay_analyse(&analysis, test, &trace, 1.3e9, NULL, &error);
    }
    ck_assert_int_eq(status, CAVUM_ERR_INPUT);
    ck_assert_msg(strstr(error.message, bad[i].part), "%s has no %s", error.message, bad[i].part);
    cavum_decay_trace_clear(&trace);
  }
  cavum_coldtest_destroy(&test);
}
END_TEST

// A cell that is empty or no number takes its sample away, not the trace, and so does a time that
// is that of the sample before.
START_TEST(a_sample_without_a_number_is_left_out) {
  const char *text = "time_s,transmitted_W\nx,4\n0,4\n1,\n,3\n# -\n2,1\n2,1\n2,0.9\n3,-\n";
  static const int64_t lines[] = {2, 3, 4, 5, 7, 8, 9, 10};
  write_bytes(text, strlen(text));
  cavum_decay_trace trace = {0};
  ck_assert_int_eq(cavum_coldtest_read_trace(&trace, path, NULL), CAVUM_OK);
  ck_assert_int_eq((int)trace.num_samples, 8);
  for (int i = 0; i < 8; i++) {
    ck_assert_int_eq((int)trace.line[i], (int)lines[i]);
    ck_assert_msg(isnan(trace.transmitted_w[i]) == (i != 1 && i != 4), "sample %d", i);
  }
  ck_assert(trace.time_s[4] == 2.0 && trace.transmitted_w[4] == 1.0);
  cavum_decay_trace_clear(&trace);
}
END_TEST

#define FIGURES                                                                   \
  "geometry:\n  figures: {r_over_q_ohm: 52.5, r_over_q_convention: circuit, "     \
  "accelerating_length_mm: 115.3, geometry_factor_ohm: 270, epk_over_eacc: 2.0, " \
  "bpk_over_eacc_mT_per_MV_per_m: 4.26}\n"
#define READINGS "readings: {file: r.csv}\n"

static cavum_status read_test(cavum_coldtest_file *file, const char *text, cavum_error *error) {
  return cavum_coldtest_file_read_text(file, text, strlen(text), "some/folder/t.yaml", error);
}

START_TEST(test_file_fills_the_setup) {
  cavum_coldtest_file file;
  cavum_error error = {0};
  const char *text =
      "title: T\n" FIGURES READINGS
      "frequency_MHz: 1300\n"
      "channels:\n"
      "  forward: {chain: [{part: a, dB: 30, uncertainty_dB: 0.03}, {dB: 10.5, uncertainty_dB: "
      "0.04}], meter_uncertainty_percent: 1, zero_mW: 0.5, zero_uncertainty_mW: 0.1}\n"
      "  emitted: {meter: own, meter_uncertainty_percent: 2}\n"
      "  extra: [{name: upper, reading_uncertainty_percent: 3}]\n"
      "meters: {common_gain_uncertainty_percent: 2}\n"
      "input_line: {loss_dB: 0.4, uncertainty_dB: 0.05}\n"
      "directional_coupler: {directivity_dB: 40, forward_directivity_dB: 35}\n"
      "circulator: {return_loss_dB: 25}\n"
      "decay: {uncertainty_percent: 1, reading_uncertainty_percent: 2}\n"
      "temperature: {uncertainty_mK: 5, calibration_uncertainty_mK: 8}\n"
      "loop: {phase_uncertainty_deg: 3}\n"
      "method: {q0: pickup, coupling: both, branch: under}\n"
      "pickup: {q: 2.0e12, uncertainty_percent: 3}\n"
      "input_coupler: {q: 1.0e10}\n"
      "statistics: {coverage: 0.9, seed: 7, digits: 1, largest_draws: 20000, "
      "monte_carlo_points: 5}\n"
      "limits: [{name: n, source: s, peak_magnetic_field_mT: 200}]\n"
      "published_limits: niobium\n"
      "surface_resistance: {gradient_MV_per_m: 5, tolerance_percent: 20, gap_K: 17.67, "
      "predict: [{temperature_K: 1.8, gradient_MV_per_m: 16}]}\n"
      "trapped_flux: {ambient_field_uT: 1, trapped_fraction: 0.5, sensitivity_nohm_per_uT: 4}\n"
      "traces: [{file: /abs/d.csv, noise_percent: 1, floor_uW: 2, windows: 8}]\n"
      "plan: [{gradient_MV_per_m: 16, q0: 1e10, q_external: 2.0e10}]\n";
  ck_assert_msg(read_test(&file, text, &error) == CAVUM_OK, "%s", error.message);
  const cavum_coldtest_setup *s = &file.setup;
  // 52.5 ohm in the circuit convention are 105 ohm in the linac convention.
  CAVUM_CHECK_RELATIVE(s->r_over_q_linac_ohm.value, 105.0, 1e-15);
  CAVUM_CHECK_RELATIVE(s->bpk_over_eacc_t_per_v_per_m.value, 4.26e-9, 1e-15);
  CAVUM_CHECK_RELATIVE(s->accelerating_length_m.value, 0.1153, 1e-15);
  CAVUM_CHECK_RELATIVE(s->channels[CAVUM_CHANNEL_FORWARD].attenuation_db, 40.5, 1e-15);
  CAVUM_CHECK_RELATIVE(s->channels[CAVUM_CHANNEL_FORWARD].attenuation_uncertainty_db, 0.05, 1e-15);
  CAVUM_CHECK_RELATIVE(s->channels[CAVUM_CHANNEL_FORWARD].zero_w, 5e-4, 1e-15);
  ck_assert_int_eq(s->channels[CAVUM_CHANNEL_EMITTED].chain, CAVUM_CHANNEL_EMITTED);
  ck_assert_int_eq(s->num_extra, 1);
  ck_assert_str_eq(s->channels[CAVUM_CHANNEL_EXTRA].name, "upper");
  CAVUM_CHECK_RELATIVE(s->channels[CAVUM_CHANNEL_EXTRA].noise, 0.03, 1e-15);
  CAVUM_CHECK_RELATIVE(s->common_gain_uncertainty, 0.02, 1e-15);
  ck_assert(s->input_line_loss_db == 0.4 && s->input_line_uncertainty_db == 0.05);
  ck_assert(s->directivity_db == 40.0 && s->forward_directivity_db == 35.0 &&
            s->circulator_return_loss_db == 25.0);
  CAVUM_CHECK_RELATIVE(s->decay_uncertainty, 0.01, 1e-15);
  CAVUM_CHECK_RELATIVE(s->decay_noise, 0.02, 1e-15);
  CAVUM_CHECK_RELATIVE(s->temperature_uncertainty_k, 5e-3, 1e-15);
  CAVUM_CHECK_RELATIVE(s->temperature_common_k, 8e-3, 1e-15);
  CAVUM_CHECK_RELATIVE(s->loop_phase_uncertainty_rad, 3.0 * CAVUM_PI / 180.0, 1e-15);
  ck_assert_int_eq(s->q0_method, CAVUM_Q0_PICKUP);
  ck_assert_int_eq(s->coupling, CAVUM_COUPLING_BOTH);
  ck_assert_int_eq(s->branch, CAVUM_BRANCH_UNDER);
  CAVUM_CHECK_RELATIVE(s->q_pickup.uncertainty, 6e10, 1e-15);
  ck_assert(s->q_external.value == 1e10 && s->coverage == 0.9 && s->seed == 7);
  ck_assert(s->digits == 1 && s->max_draws == 20000 && file.monte_carlo_points == 5);
  ck_assert_int_eq(s->num_limits, 1 + cavum_coldtest_num_published_limits());
  CAVUM_CHECK_RELATIVE(s->limits[0].value, 0.2, 1e-15);
  ck_assert_str_eq(file.readings_path, "some/folder/r.csv");
  ck_assert_str_eq(file.traces[0].path, "/abs/d.csv");
  ck_assert(file.fit_resistance && file.num_predictions == 1 && file.has_trapped_flux);
  CAVUM_CHECK_RELATIVE(file.resistance.e_acc_v_per_m, 5e6, 1e-15);
  // 4 nohm/uT are 4e-3 ohm/T.
  CAVUM_CHECK_RELATIVE(file.flux_sensitivity_ohm_per_t, 4e-3, 1e-15);
  ck_assert(file.num_plans == 1 && isinf(file.plans[0].q_pickup));
  cavum_coldtest_file_clear(&file);
}
END_TEST

START_TEST(result_files_are_named_not_read) {
  cavum_coldtest_file file;
  ck_assert_int_eq(read_test(&file, "geometry: {result: c.hdf}\n" READINGS, NULL), CAVUM_OK);
  ck_assert_str_eq(file.result_path, "some/folder/c.hdf");
  ck_assert_int_eq(file.result_mode, 0);
  cavum_coldtest_file_clear(&file);
}
END_TEST

// 97 letters: three times 29 and 10.
#define LONG_LINE "name of a limit that is long "
#define LONG LONG_LINE LONG_LINE LONG_LINE "and longer"

static const struct {
  const char *text, *part;
} BAD_TESTS[] = {
    {"", "empty"},
    {"title: T\n", "geometry"},
    {"geometry: {}\n" READINGS, "either result"},
    {"geometry: {result: a, figures: {r_over_q_ohm: 1}}\n" READINGS, "either result"},
    {"geometry: {figures: {r_over_q_ohm: 105, accelerating_length_mm: 115}}\n" READINGS,
     "r_over_q_convention"},
    {"geometry: {figures: {r_over_q_ohm: 105, r_over_q_convention: linac}}\n" READINGS,
     "accelerating_length_mm"},
    {"geometry: {figures: {r_over_q_ohm: 105, r_over_q_convention: rms}}\n" READINGS, "linac"},
    {FIGURES, "neither readings nor plan"},
    {FIGURES READINGS "meter: {}\n", "meters"},
    {FIGURES READINGS "meters: {common_gain_uncertainty_percent: 2 %}\n", "number"},
    {FIGURES READINGS "meters: {common_gain_uncertainty_percent: -2}\n", "negative"},
    {FIGURES READINGS "method: {branch: left}\n", "over"},
    {FIGURES READINGS "pickup: {uncertainty_percent: 3}\n", "without q"},
    {FIGURES READINGS "channels: {emitted: {zero_mW: 1}}\n", "meter: own"},
    {FIGURES READINGS "channels: {extra: [{name: forward}]}\n",
     "channels.extra[1].name: 'forward' is a column of the readings already; expected another "
     "name"},
    {FIGURES READINGS "channels: {extra: [{name: top}, {name: top}]}\n",
     "channels.extra[2].name: 'top' is another extra port already; expected another name"},
    {FIGURES READINGS "channels: {extra: [{}]}\n", "channels.extra[1]: missing key 'name'"},
    {FIGURES READINGS "channels: {forward: {chain: [{part: x}]}}\n", "dB"},
    {FIGURES READINGS "limits: [{name: a, source: b}]\n", "peak_magnetic_field_mT"},
    {FIGURES READINGS "limits: [{name: a, gradient_MV_per_m: 3}]\n", "source"},
    {FIGURES READINGS "limits: [{name: " LONG ", source: b, gradient_MV_per_m: 3}]\n",
     "limits[1].name: longer than"},
    {FIGURES READINGS "limits: [{name: a, source: " LONG LONG LONG ", gradient_MV_per_m: 3}]\n",
     "limits[1].source: longer than"},
    {FIGURES READINGS "channels: {extra: [{name: " LONG "}]}\n",
     "channels.extra[1].name: longer than"},
    {FIGURES READINGS "traces: [{file: ''}]\n", "traces[1].file: a file name of at most"},
    {FIGURES READINGS "traces: [{windows: 3}]\n", "file"},
    {FIGURES "plan: [{gradient_MV_per_m: 3, q_external: 1.0e10}]\n", "q0"},
    {FIGURES READINGS "surface_resistance: {predict: [{temperature_K: 2}]}\n", "gradient_MV_per_m"},
    {FIGURES READINGS "surface_resistance: {field_degree: 1}\n",
     "surface_resistance.field_degree: needs gradients_MV_per_m, which is not there"},
    {FIGURES READINGS "surface_resistance: {reference_temperature_K: 1.8}\n",
     "surface_resistance.reference_temperature_K: needs gradients_MV_per_m"},
};

START_TEST(bad_test_files_are_named_by_place) {
  for (size_t i = 0; i < sizeof BAD_TESTS / sizeof *BAD_TESTS; i++) {
    cavum_coldtest_file file = {.num_plans = -1};
    cavum_error error = {0};
    ck_assert_int_eq(read_test(&file, BAD_TESTS[i].text, &error), CAVUM_ERR_INPUT);
    printf("%s\n", error.message);
    ck_assert_msg(strncmp(error.message, "some/folder/t.yaml:", 19) == 0, "%s", error.message);
    ck_assert_msg(strstr(error.message, BAD_TESTS[i].part) != NULL, "%s has no %s", error.message,
                  BAD_TESTS[i].part);
    ck_assert_int_eq(file.num_plans, -1);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, units_columns_and_empty_cells);
  tcase_add_test(tests, line_ends_marks_blank_lines_and_quotes);
  tcase_add_test(tests, semicolons_go_with_decimal_commas);
  tcase_add_test(tests, empty_columns_are_passed_over);
  tcase_add_test(tests, bad_readings_are_named_by_line_and_column);
  tcase_add_test(tests, bad_rows_leave_the_others);
  tcase_add_test(tests, a_record_that_is_there_twice_counts_once);
  tcase_add_test(tests, a_table_behind_itself_gives_no_other_calibration);
  tcase_add_test(tests, a_million_rows_are_read_and_evaluated);
  tcase_add_test(tests, a_row_that_begins_with_an_error_of_a_spreadsheet_is_no_comment);
  tcase_add_test(tests, traces_are_read);
  tcase_add_test(tests, a_trace_that_is_no_decay_is_named_by_line);
  tcase_add_test(tests, a_sample_without_a_number_is_left_out);
  tcase_add_test(tests, test_file_fills_the_setup);
  tcase_add_test(tests, result_files_are_named_not_read);
  tcase_add_test(tests, bad_test_files_are_named_by_place);
}

CAVUM_TEST_MAIN("coldtest files", add_tests)
