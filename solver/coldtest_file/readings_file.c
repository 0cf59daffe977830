// SPDX-License-Identifier: GPL-3.0-or-later
// Readings and decay traces from CSV tables.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/sha256.h"
#include "cavum/coldtest_file.h"
#include "coldtest/setup.h"
#include "coldtest_file/readings_twice.h"
#include "table/csv_table.h"

/** Quantities of the columns; channels come first, by their number. */
enum {
  COLUMN_DECAY_ENERGY = CAVUM_NUM_CHANNELS,
  COLUMN_DECAY_AMPLITUDE,
  COLUMN_FREQUENCY,
  COLUMN_TEMPERATURE,
  COLUMN_RADIATION,
  COLUMN_PRESSURE,
  COLUMN_BRANCH,
  COLUMN_TIME,
  COLUMN_USE,
  NUM_COLUMN_KINDS
};

static const cavum_csv_unit TIME_UNITS[] = {{.name = "s", .unit = CAVUM_UNIT_S},
                                            {.name = "ms", .unit = CAVUM_UNIT_MS},
                                            {.name = "us", .unit = CAVUM_UNIT_US},
                                            {.name = NULL}};
static const cavum_csv_unit FREQUENCY_UNITS[] = {{.name = "MHz", .unit = CAVUM_UNIT_MHZ},
                                                 {.name = "GHz", .unit = CAVUM_UNIT_GHZ},
                                                 {.name = "kHz", .unit = CAVUM_UNIT_KHZ},
                                                 {.name = "Hz", .unit = CAVUM_UNIT_HZ},
                                                 {.name = NULL}};
static const cavum_csv_unit TEMPERATURE_UNITS[] = {{.name = "K", .unit = CAVUM_UNIT_K},
                                                   {.name = "mK", .unit = CAVUM_UNIT_MILLIKELVIN},
                                                   {.name = NULL}};
static const cavum_csv_unit PRESSURE_UNITS[] = {{.name = "mbar", .unit = CAVUM_UNIT_MBAR},
                                                {.name = "Pa", .unit = CAVUM_UNIT_PA},
                                                {.name = "kPa", .unit = CAVUM_UNIT_KPA},
                                                {.name = NULL}};
static const cavum_csv_unit RADIATION_UNITS[] = {
    {.name = "mSv_per_h", .unit = CAVUM_UNIT_MILLISIEVERT_PER_H},
    {.name = "uSv_per_h", .unit = CAVUM_UNIT_MICROSIEVERT_PER_H},
    {.name = "Sv_per_h", .unit = CAVUM_UNIT_SV_PER_H},
    {.name = NULL}};

static const cavum_csv_column FIXED_COLUMNS[] = {
    {"forward", CAVUM_CHANNEL_FORWARD, cavum_csv_power_units},
    {"reflected", CAVUM_CHANNEL_REFLECTED, cavum_csv_power_units},
    {"transmitted", CAVUM_CHANNEL_TRANSMITTED, cavum_csv_power_units},
    {"emitted", CAVUM_CHANNEL_EMITTED, cavum_csv_power_units},
    {"decay_energy", COLUMN_DECAY_ENERGY, TIME_UNITS},
    {"decay_amplitude", COLUMN_DECAY_AMPLITUDE, TIME_UNITS},
    {"frequency", COLUMN_FREQUENCY, FREQUENCY_UNITS},
    {"bath_temperature", COLUMN_TEMPERATURE, TEMPERATURE_UNITS},
    {"radiation", COLUMN_RADIATION, RADIATION_UNITS},
    {"bath_pressure", COLUMN_PRESSURE, PRESSURE_UNITS},
    {"branch", COLUMN_BRANCH, cavum_csv_side},
    {"use", COLUMN_USE, cavum_csv_switch},
    {"note", CAVUM_CSV_NOTED, NULL},
    {"run", CAVUM_CSV_NAMED, NULL}};

enum {
  NOTE_SIZE = 1024,
  LARGEST_TEXT = 16000000,
  NUM_FIXED = sizeof FIXED_COLUMNS / sizeof *FIXED_COLUMNS
};

static void remember_name(char out[256], const char *path) {
  size_t length = strlen(path);
  snprintf(out, 256, "%s", length < 256 ? path : path + length - 255);
}

static double cell(const cavum_csv_table *table, int64_t row, int quantity) {
  int column = cavum_csv_table_find(table, quantity);
  return column < 0 ? NAN : table->values[row * table->num_columns + column];
}

// The notes of a row, one after the other.
static void join_notes(char note[NOTE_SIZE], const cavum_csv_table *table, int64_t row) {
  size_t used = 0;
  note[0] = '\0';
  for (int i = 0; i < table->num_columns && used < NOTE_SIZE - 1; i++) {
    double at = table->values[row * table->num_columns + i];
    if (table->quantity[i] != CAVUM_CSV_NOTED || isnan(at)) continue;
    used += (size_t)snprintf(note + used, NOTE_SIZE - used, "%s%s", used > 0 ? "; " : "",
                             table->notes + (int64_t)at);
  }
}

// The readings' notes begin with a zero, so that 0 is no note.
static cavum_status keep_note(cavum_coldtest_readings *out, int64_t *capacity,
                              cavum_coldtest_reading *reading, const char *note,
                              cavum_error *error) {
  void *notes = out->notes;
  int64_t used = out->notes_size > 0 ? out->notes_size : 1, size = (int64_t)strlen(note) + 1;
  if (size == 1) return CAVUM_OK;
  if (used > INT32_MAX) return cavum_fail_memory(error);  // A file has a gigabyte at most.
  if (!cavum_grow(&notes, capacity, used + size, 1)) return cavum_fail_memory(error);
  out->notes = notes;
  out->notes[0] = '\0';
  memcpy(out->notes + used, note, (size_t)size);
  reading->note = (int32_t)used;
  out->notes_size = used + size;
  return CAVUM_OK;
}

// The number of the run that a row names; a row whose name cannot be kept is set aside.
static cavum_status take_run(cavum_coldtest_readings *out, cavum_coldtest_reading *reading,
                             const cavum_csv_table *table, int64_t row, const char *path,
                             cavum_error *error) {
  double at = cell(table, row, CAVUM_CSV_NAMED);
  if (isnan(at)) return CAVUM_OK;
  const char *name = table->notes + (int64_t)at;
  for (int i = 0; i < out->num_runs && reading->run == 0; i++) {
    if (strcmp(out->runs[i], name) == 0) reading->run = i + 1;
  }
  if (reading->run > 0) return CAVUM_OK;
  if (strlen(name) >= CAVUM_RUN_NAME_SIZE || out->num_runs == CAVUM_MAX_RUNS) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s:%lld: run: a name of at most %d bytes and at most %d runs were expected",
                      path, (long long)table->lines[row], CAVUM_RUN_NAME_SIZE - 1, CAVUM_MAX_RUNS);
  }
  snprintf(out->runs[out->num_runs++], CAVUM_RUN_NAME_SIZE, "%s", name);
  reading->run = out->num_runs;
  return CAVUM_OK;
}

static cavum_status check_range(const cavum_csv_table *table, int64_t row, int quantity,
                                bool zero_allowed, const char *path, cavum_error *error) {
  double value = cell(table, row, quantity);
  if (isnan(value) || value > 0.0 || (zero_allowed && value == 0.0)) return CAVUM_OK;
  int column = cavum_csv_table_find(table, quantity);
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s:%lld: column %d (%s): a number %s was expected, found %g (SI)", path,
                    (long long)table->lines[row], column + 1, table->header[column],
                    zero_allowed ? "not below 0" : "above 0", value);
}

static cavum_status take_reading(cavum_coldtest_reading *reading, const cavum_csv_table *table,
                                 int64_t row, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int quantity = COLUMN_DECAY_ENERGY; quantity < COLUMN_BRANCH; quantity++) {
    CAVUM_TRY(check_range(table, row, quantity, quantity == COLUMN_RADIATION, path, error));
  }
  *reading = cavum_coldtest_reading_empty();
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) {
    reading->power_w[channel] = cell(table, row, channel);
  }
  double energy_s = cell(table, row, COLUMN_DECAY_ENERGY);
  // The amplitude falls with twice the time constant of the energy.
  double amplitude_s = cell(table, row, COLUMN_DECAY_AMPLITUDE);
  if (!isnan(energy_s) && !isnan(amplitude_s)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s:%lld: a decay time of the energy and one of the amplitude: one of them "
                      "was expected",
                      path, (long long)table->lines[row]);
  }
  reading->decay_time_s = isnan(energy_s) ? 0.5 * amplitude_s : energy_s;
  reading->frequency_hz = cell(table, row, COLUMN_FREQUENCY);
  reading->bath_temperature_k = cell(table, row, COLUMN_TEMPERATURE);
  reading->radiation_sv_per_h = cell(table, row, COLUMN_RADIATION);
  reading->bath_pressure_pa = cell(table, row, COLUMN_PRESSURE);
  double over = cell(table, row, COLUMN_BRANCH);
  if (!isnan(over)) reading->branch = over > 0.0 ? CAVUM_BRANCH_OVER : CAVUM_BRANCH_UNDER;
  reading->line = table->lines[row];
done:
  return status;
}

static const char STILL_WRITTEN[] = "the last row is not complete: still being written";

// The rows that the table could not read.
static cavum_status take_rejected(cavum_coldtest_readings *out, const cavum_csv_table *table,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int64_t i = 0; i < table->num_rejected; i++) {
    const cavum_csv_rejected *row = &table->rejected[i];
    CAVUM_TRY(cavum_coldtest_set_row_aside(out, row->line,
                                           row->half_written ? STILL_WRITTEN : row->reason, error));
  }
done:
  return status;
}

// A record that stands there twice was measured once: it must not weigh twice.
static cavum_status count_once(cavum_coldtest_readings *out, cavum_readings_seen *seen,
                               const char *path, cavum_error *error) {
  char reason[NOTE_SIZE];
  int64_t line = out->items[out->num_readings - 1].line;
  int64_t earlier = cavum_readings_seen_add(seen, out);
  if (earlier < 0) return CAVUM_OK;
  out->num_readings--;
  snprintf(
      reason, sizeof reason,
      "%.255s:%lld: the same record as line %lld, exported twice? It counts once; a note of its "
      "own makes it another reading",
      path, (long long)line, (long long)out->items[earlier].line);
  return cavum_coldtest_set_row_aside(out, line, reason, error);
}

// A row: a reading, or set aside because it says so or because of its numbers.
static cavum_status take_row(cavum_coldtest_readings *out, cavum_readings_seen *seen,
                             int64_t *notes_capacity, const cavum_csv_table *table, int64_t row,
                             const char *path, cavum_error *error) {
  cavum_error fault = {.message = "use: no"};
  char note[NOTE_SIZE], reason[NOTE_SIZE + sizeof fault.message + sizeof "; note: "];
  cavum_coldtest_reading *reading = &out->items[out->num_readings];
  join_notes(note, table, row);
  if (cell(table, row, COLUMN_USE) != 0.0 &&
      take_reading(reading, table, row, path, &fault) == CAVUM_OK &&
      take_run(out, reading, table, row, path, &fault) == CAVUM_OK) {
    out->num_readings++;
    cavum_status status = keep_note(out, notes_capacity, reading, note, error);
    return status == CAVUM_OK ? count_once(out, seen, path, error) : status;
  }
  snprintf(reason, sizeof reason, "%s%s%s", fault.message, note[0] ? "; note: " : "", note);
  return cavum_coldtest_set_row_aside(out, table->lines[row], reason, error);
}

// The text goes from the table to the readings.
static void take_text(cavum_coldtest_readings *out, cavum_csv_table *table) {
  cavum_sha256(out->sha256, table->text, table->text_length);
  if (table->text_length > LARGEST_TEXT) return;
  out->text = table->text;
  table->text = NULL;
}

// Where a table is: in a file, or in memory.
typedef struct csv_source {
  const char *path;  // of the file, or what stands for it in messages
  const char *text;  // NULL: the file
  size_t length;
} csv_source;

static cavum_status read_csv(cavum_csv_table *table, const csv_source *from,
                             const cavum_csv_column *columns, cavum_error *error) {
  if (!from->text) return cavum_csv_table_read(table, from->path, columns, error);
  return cavum_csv_table_read_text(table, from->text, from->length, from->path, columns, error);
}

// The columns that every file may have, and those of the setup's extra channels.
static void list_columns(cavum_csv_column columns[NUM_FIXED + CAVUM_MAX_EXTRA + 1],
                         const cavum_coldtest_setup *setup) {
  memcpy(columns, FIXED_COLUMNS, sizeof FIXED_COLUMNS);
  for (int i = 0; i < setup->num_extra; i++) {
    int channel = CAVUM_CHANNEL_EXTRA + i;
    columns[NUM_FIXED + i] =
        (cavum_csv_column){setup->channels[channel].name, channel, cavum_csv_power_units};
  }
}

// The reason of the first row stands for all.
static cavum_status fail_without_readings(const cavum_coldtest_readings *found, const char *path,
                                          cavum_error *error) {
  const cavum_coldtest_set_aside *row = &found->set_aside[0];
  if (strncmp(row->reason, path, strlen(path)) == 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s", row->reason);
  }
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s:%lld: no row can be used: %s", path,
                    (long long)row->line, row->reason);
}

static cavum_status read_readings(cavum_coldtest_readings *readings, const csv_source *from,
                                  const cavum_coldtest_setup *setup, cavum_error *error) {
  cavum_coldtest_setup full;
  cavum_status status = CAVUM_OK;
  cavum_csv_table table = {0};
  cavum_coldtest_readings out = {0};
  cavum_readings_seen seen = {0};
  const char *path = from->path;
  int64_t notes_capacity = 0;
  cavum_csv_column columns[NUM_FIXED + CAVUM_MAX_EXTRA + 1] = {{0}};
  CAVUM_TRY(cavum_coldtest_setup_take(&full, setup, error));
  list_columns(columns, &full);
  CAVUM_TRY(read_csv(&table, from, columns, error));
  out.items = cavum_alloc(table.num_rows, sizeof *out.items);
  if (!out.items) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_readings_seen_create(&seen, table.num_rows, error));
  remember_name(out.file, path);
  CAVUM_TRY(take_rejected(&out, &table, error));
  // A number that has not ended may be another one a moment later.
  if (full.growing && table.last_unfinished) {
    int64_t line = table.lines[--table.num_rows];
    CAVUM_TRY(cavum_coldtest_set_row_aside(&out, line, STILL_WRITTEN, error));
  }
  for (int64_t row = 0; row < table.num_rows; row++) {
    CAVUM_TRY(take_row(&out, &seen, &notes_capacity, &table, row, path, error));
  }
  if (out.num_readings == 0) CAVUM_TRY(fail_without_readings(&out, path, error));
  take_text(&out, &table);
  *readings = out;
  out = (cavum_coldtest_readings){0};
done:
  cavum_readings_seen_clear(&seen);
  cavum_csv_table_clear(&table);
  cavum_coldtest_readings_clear(&out);
  return status;
}

cavum_status cavum_coldtest_read_readings(cavum_coldtest_readings *readings, const char *path,
                                          const cavum_coldtest_setup *setup, cavum_error *error) {
  if (!readings || !path || !setup) return cavum_fail_null(error, __func__);
  return read_readings(readings, &(csv_source){.path = path}, setup, error);
}

cavum_status cavum_coldtest_read_readings_text(cavum_coldtest_readings *readings, const char *text,
                                               size_t length, const char *name,
                                               const cavum_coldtest_setup *setup,
                                               cavum_error *error) {
  if (!readings || !text || !setup) return cavum_fail_null(error, __func__);
  const csv_source from = {name ? name : "readings", text, length};
  return read_readings(readings, &from, setup, error);
}

static void add_sample(cavum_decay_trace *out, double time_s, double power_w, int64_t line) {
  out->time_s[out->num_samples] = time_s;
  out->transmitted_w[out->num_samples] = power_w;
  out->line[out->num_samples++] = line;
}

// A row without a power, or without a time of its own, is kept with no power, and so is one that
// could not be read: it is counted as left out.
static cavum_status take_samples(cavum_decay_trace *out, const cavum_csv_table *table,
                                 const char *path, cavum_error *error) {
  double last_s = -INFINITY;
  int64_t complete = 0, last_line = 0, bad = 0;
  int time_column = cavum_csv_table_find(table, COLUMN_TIME);
  for (int64_t row = 0; row < table->num_rows; row++) {
    double time_s = cell(table, row, COLUMN_TIME);
    double power_w = cell(table, row, CAVUM_CHANNEL_TRANSMITTED);
    while (bad < table->num_rejected && table->rejected[bad].line < table->lines[row]) {
      add_sample(out, last_s, NAN, table->rejected[bad++].line);
    }
    if (time_s < last_s) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "%s:%lld: column %d (%s): times that rise were expected, found %.9g s, "
                        "where line %lld has %.9g s: sort the rows",
                        path, (long long)table->lines[row], time_column + 1,
                        table->header[time_column], time_s, (long long)last_line, last_s);
    }
    bool whole = time_s > last_s && !isnan(power_w);
    if (!isnan(time_s)) last_s = time_s;
    if (!isnan(time_s)) last_line = table->lines[row];
    add_sample(out, last_s, whole ? power_w : NAN, table->lines[row]);
    complete += whole;
  }
  for (; bad < table->num_rejected && !table->rejected[bad].half_written; bad++) {
    add_sample(out, last_s, NAN, table->rejected[bad].line);
  }
  if (complete > 0) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s:%lld: time and transmitted power were expected, in two columns", path,
                    (long long)table->lines[0]);
}

static cavum_status allocate_trace(cavum_decay_trace *out, int64_t count, cavum_error *error) {
  out->time_s = cavum_alloc(count, sizeof(double));
  out->transmitted_w = cavum_alloc(count, sizeof(double));
  out->line = cavum_alloc(count, sizeof *out->line);
  return out->time_s && out->transmitted_w && out->line ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status read_trace(cavum_decay_trace *trace, const csv_source *from,
                               cavum_error *error) {
  const char *path = from->path;
  static const cavum_csv_column columns[] = {
      {"time", COLUMN_TIME, TIME_UNITS},
      {"transmitted", CAVUM_CHANNEL_TRANSMITTED, cavum_csv_power_units},
      {"note", CAVUM_CSV_IGNORED, NULL},
      {NULL, 0, NULL}};
  cavum_status status = CAVUM_OK;
  cavum_csv_table table = {0};
  cavum_decay_trace out = {0};
  CAVUM_TRY(read_csv(&table, from, columns, error));
  CAVUM_TRY(allocate_trace(&out, table.num_rows + table.num_rejected, error));
  remember_name(out.file, path);
  CAVUM_TRY(take_samples(&out, &table, path, error));
  *trace = out;
  out = (cavum_decay_trace){0};
done:
  cavum_csv_table_clear(&table);
  cavum_decay_trace_clear(&out);
  return status;
}

cavum_status cavum_coldtest_read_trace(cavum_decay_trace *trace, const char *path,
                                       cavum_error *error) {
  if (!trace || !path) return cavum_fail_null(error, __func__);
  return read_trace(trace, &(csv_source){.path = path}, error);
}

cavum_status cavum_coldtest_read_trace_text(cavum_decay_trace *trace, const char *text,
                                            size_t length, const char *name, cavum_error *error) {
  if (!trace || !text) return cavum_fail_null(error, __func__);
  return read_trace(trace, &(csv_source){name ? name : "trace", text, length}, error);
}
