// SPDX-License-Identifier: GPL-3.0-or-later
// A spread by tolerances as HDF5: a row a dimension, a row a figure, matrices of one by the other.
// Values are in the units of the keys.
#include "store/spread_file.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "design/spread.h"
#include "figures/figure_key.h"
#include "figures/stored_figure.h"
#include "store/matrix.h"

enum {
  MOST = CAVUM_TOLERANCES_MOST,
  NUM_NUMBERS = 8,
  NUM_ROWS = CAVUM_NUM_FIGURES + CAVUM_NUM_GEOMETRY_FIGURES,
  ROOM_FOR_ROWS = CAVUM_FIGURES_ROOM + CAVUM_GEOMETRY_ROOM
};

// Numbers of a figure; NaN where they are not there.
static const struct {
  const char *name, *long_name;
  size_t offset;
  bool has_unit;
} COLUMNS[NUM_NUMBERS] = {
    {"value", "figure of the cell as it is", offsetof(cavum_figure_spread, value), true},
    {"deviation", "linear standard deviation", offsetof(cavum_figure_spread, deviation), true},
    {"departure", "root mean square of the nonlinear part over the deviation",
     offsetof(cavum_figure_spread, departure), false},
    {"sampled_mean", "mean over the random shapes", offsetof(cavum_figure_spread, sampled_mean),
     true},
    {"sampled_deviation", "standard deviation over the random shapes",
     offsetof(cavum_figure_spread, sampled_deviation), true},
    {"sampled_low", "value below which 2.5 % of the random shapes are",
     offsetof(cavum_figure_spread, sampled_low), true},
    {"sampled_high", "value above which 2.5 % of the random shapes are",
     offsetof(cavum_figure_spread, sampled_high), true},
    {"share_together",
     "share of the sampled variance due to several dimensions together; NaN: shares are from "
     "derivatives",
     offsetof(cavum_figure_spread, share_together), false}};

void cavum_stored_spread_clear(cavum_stored_spread *stored) {
  if (!stored) return;
  free(stored->title);
  free(stored->bands);
  cavum_spread_destroy(&stored->spread);
  *stored = (cavum_stored_spread){0};
}

// ---- write

static const char KEYS_SAY[] = "as the keys say";

// Rows are counted through: figures of the mode, then those of the shape.
static cavum_figure_spread *row_at(cavum_spread *spread, int row) {
  return row < CAVUM_NUM_FIGURES ? &spread->figures[row] : &spread->shape[row - CAVUM_NUM_FIGURES];
}

static const cavum_figure_spread *row_of(const cavum_spread *spread, int row) {
  return row < CAVUM_NUM_FIGURES ? &spread->figures[row] : &spread->shape[row - CAVUM_NUM_FIGURES];
}

static const char *key_of(int row) {
  if (row < CAVUM_NUM_FIGURES) return cavum_figure_describe((cavum_figure_id)row).key;
  return cavum_geometry_describe((cavum_geometry_id)(row - CAVUM_NUM_FIGURES)).key;
}

// Row of a key; NUM_ROWS: of a later version.
static int row_of_key(const char *key) {
  int row = 0;
  while (row < NUM_ROWS && strcmp(key_of(row), key) != 0) row++;
  return row;
}

// Those that are there.
static int list_present(int rows[NUM_ROWS], const cavum_spread *spread) {
  int count = 0;
  for (int row = 0; row < NUM_ROWS; row++) {
    if (row_of(spread, row)->state == CAVUM_FIGURE_PRESENT) rows[count++] = row;
  }
  return count;
}

static double unit_si_of(int row) {
  if (row >= CAVUM_NUM_FIGURES) {
    return cavum_geometry_describe((cavum_geometry_id)(row - CAVUM_NUM_FIGURES)).unit_si;
  }
  return cavum_from_unit(1.0, cavum_stored_figure_unit((cavum_figure_id)row));
}

static cavum_status write_dimensions(cavum_hdf5_file *file, const cavum_spread *spread,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int n = spread->num_dimensions;
  const char *keys[MOST], *kinds[MOST];
  double widths[MOST], values[MOST];
  for (int j = 0; j < n; j++) {
    keys[j] = spread->tolerances[j].key;
    kinds[j] = spread->tolerances[j].kind == CAVUM_TOLERANCE_NORMAL ? "normal" : "uniform";
    widths[j] = spread->tolerances[j].width;
    values[j] = spread->dimensions[j].value;
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/tolerances/key", n, keys, "dimension", error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/tolerances/kind", n, kinds,
                                   "normal: width is the standard deviation; uniform: to either "
                                   "side",
                                   error));
  CAVUM_TRY(cavum_matrix_write(
      file, (cavum_matrix_name){"/tolerances/width", KEYS_SAY, "tolerance"}, n, 0, widths, error));
  CAVUM_TRY(cavum_matrix_write(
      file, (cavum_matrix_name){"/tolerances/value", KEYS_SAY, "value of the cell"}, n, 0, values,
      error));
  CAVUM_TRY(cavum_matrix_write(
      file, (cavum_matrix_name){"/tolerances/covariance", KEYS_SAY, "covariance of the dimensions"},
      n, n, spread->covariance, error));
done:
  return status;
}

static cavum_status write_numbers(cavum_hdf5_file *file, const cavum_spread *spread, const int *ids,
                                  int count, cavum_error *error) {
  double column[NUM_ROWS];
  char path[64];
  for (int c = 0; c < NUM_NUMBERS; c++) {
    for (int i = 0; i < count; i++) {
      const cavum_figure_spread *f = row_of(spread, ids[i]);
      memcpy(&column[i], (const char *)f + COLUMNS[c].offset, sizeof column[i]);
      if (COLUMNS[c].has_unit) column[i] /= unit_si_of(ids[i]);
      bool linear = COLUMNS[c].offset == offsetof(cavum_figure_spread, deviation);
      if (linear && !f->has_linear) column[i] = NAN;
      bool together = COLUMNS[c].offset == offsetof(cavum_figure_spread, share_together);
      if (together && !f->has_sampled_shares) column[i] = NAN;
    }
    snprintf(path, sizeof path, "/figures/%s", COLUMNS[c].name);
    cavum_status status = cavum_matrix_write(
        file, (cavum_matrix_name){path, KEYS_SAY, COLUMNS[c].long_name}, count, 0, column, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status write_slopes(cavum_hdf5_file *file, const cavum_spread *spread, const int *ids,
                                 int count, cavum_error *error) {
  int n = spread->num_dimensions;
  double *slope = cavum_alloc((int64_t)count * n, sizeof *slope);
  double *share = cavum_alloc((int64_t)count * n, sizeof *share);
  cavum_status status = CAVUM_OK;
  if (!slope || !share) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < count * n; i++) {
    const cavum_figure_spread *f = row_of(spread, ids[i / n]);
    slope[i] = f->has_linear ? f->slope[i % n] / unit_si_of(ids[i / n]) : NAN;
    share[i] = f->has_shares ? f->share[i % n] : NAN;
  }
  CAVUM_TRY(cavum_matrix_write(
      file,
      (cavum_matrix_name){"/figures/slope", KEYS_SAY, "derivative of the figure by the dimension"},
      count, n, slope, error));
  CAVUM_TRY(
      cavum_matrix_write(file,
                         (cavum_matrix_name){"/figures/share", KEYS_SAY,
                                             "part of the dimension in the variance of the figure"},
                         count, n, share, error));
done:
  free(slope);
  free(share);
  return status;
}

static cavum_status write_figures(cavum_hdf5_file *file, const cavum_spread *spread,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int ids[NUM_ROWS], count = list_present(ids, spread);
  const char *keys[NUM_ROWS], *reasons[NUM_ROWS];
  double holds[NUM_ROWS], missing[NUM_ROWS];
  for (int i = 0; i < count; i++) {
    const cavum_figure_spread *f = row_of(spread, ids[i]);
    keys[i] = key_of(ids[i]);
    reasons[i] = f->reason ? f->reason : "";
    holds[i] = f->has_linear && !f->is_curved;
    missing[i] = ids[i] < CAVUM_NUM_FIGURES ? spread->num_missing[ids[i]] : 0.0;
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/figures/key", count, keys, "figure", error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/figures/reason", count, reasons,
                                   "why there is no linear spread", error));
  CAVUM_TRY(cavum_matrix_write(
      file, (cavum_matrix_name){"/figures/linear_holds", KEYS_SAY, "1: the linear spread holds"},
      count, 0, holds, error));
  CAVUM_TRY(cavum_matrix_write(
      file,
      (cavum_matrix_name){"/figures/sampled_missing", "1",
                          "random shapes of the sampled spread that do not have the figure, as "
                          "where a peak is unbounded"},
      count, 0, missing, error));
  CAVUM_TRY(write_numbers(file, spread, ids, count, error));
  CAVUM_TRY(write_slopes(file, spread, ids, count, error));
done:
  return status;
}

static cavum_status write_bands(cavum_hdf5_file *file, const cavum_spread *spread,
                                const cavum_spread_band *bands, int count, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const char *keys[CAVUM_SPREAD_BANDS_MOST];
  double width[CAVUM_SPREAD_BANDS_MOST], factor[CAVUM_SPREAD_BANDS_MOST];
  double alone[CAVUM_SPREAD_BANDS_MOST * MOST], shared[CAVUM_SPREAD_BANDS_MOST * MOST];
  int n = spread->num_dimensions;
  if (count == 0) return CAVUM_OK;
  for (int i = 0; i < count; i++) {
    keys[i] = cavum_figure_describe(bands[i].figure).key;
    width[i] = bands[i].band / unit_si_of((int)bands[i].figure);
    factor[i] = NAN;
    for (int j = 0; j < n; j++) alone[i * n + j] = shared[i * n + j] = NAN;
    (void)cavum_spread_allow(alone + i * n, shared + i * n, &factor[i], spread, bands[i].figure,
                             bands[i].band);
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/bands/key", count, keys, "figure", error));
  CAVUM_TRY(
      cavum_matrix_write(file,
                         (cavum_matrix_name){"/bands/width", KEYS_SAY,
                                             "two standard deviations are to stay within +- this"},
                         count, 0, width, error));
  CAVUM_TRY(cavum_matrix_write(
      file, (cavum_matrix_name){"/bands/factor", KEYS_SAY, "by which all tolerances may grow"},
      count, 0, factor, error));
  CAVUM_TRY(cavum_matrix_write(
      file,
      (cavum_matrix_name){"/bands/alone", KEYS_SAY, "tolerance of a dimension if it alone has one"},
      count, n, alone, error));
  CAVUM_TRY(
      cavum_matrix_write(file,
                         (cavum_matrix_name){"/bands/shared", KEYS_SAY,
                                             "tolerances that give equal parts of the variance"},
                         count, n, shared, error));
done:
  return status;
}

static cavum_status write_all(cavum_hdf5_file *file, const cavum_spread *spread, const char *title,
                              const cavum_spread_band *bands, int num_bands, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const double counts[3] = {spread->num_pilot, spread->num_samples, spread->num_failed};
  const double accuracy[2] = {spread->samples_degree, spread->samples_error};
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, "/", "format", CAVUM_STORE_SPREAD_FORMAT, error));
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, "/", "label", spread->label, error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/input/title", 0, &title, "title of the cell", error));
  const char *version = cavum_version();
  CAVUM_TRY(
      cavum_hdf5_write_texts(file, "/input/version_cavum", 0, &version, "version of cavum", error));
  CAVUM_TRY(cavum_matrix_write(
      file,
      (cavum_matrix_name){"/samples", KEYS_SAY,
                          "random shapes that check the linear spread, further ones for sampled "
                          "spreads, and how many of them all do not exist"},
      3, 0, counts, error));
  CAVUM_TRY(cavum_matrix_write(
      file,
      (cavum_matrix_name){"/samples_accuracy", KEYS_SAY,
                          "degree of the solves of random shapes, and the largest part by which "
                          "that changes the spread of a figure"},
      2, 0, accuracy, error));
  CAVUM_TRY(write_dimensions(file, spread, error));
  CAVUM_TRY(write_figures(file, spread, error));
  CAVUM_TRY(write_bands(file, spread, bands, num_bands, error));
done:
  return status;
}

cavum_status cavum_store_write_spread(const char *path, const cavum_spread *spread,
                                      const char *title, const cavum_spread_band *bands,
                                      int num_bands, cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  cavum_status status = CAVUM_OK;
  if (!path || !spread || (num_bands > 0 && !bands)) return cavum_fail_null(error, __func__);
  if (num_bands < 0 || num_bands > CAVUM_SPREAD_BANDS_MOST) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "%d bands: expected 0 to %d", num_bands,
                      (int)CAVUM_SPREAD_BANDS_MOST);
  }
  CAVUM_TRY(cavum_spread_bands_check(bands, num_bands, error));
  CAVUM_TRY(cavum_hdf5_create(&file, error));
  CAVUM_TRY(write_all(file, spread, title ? title : "", bands, num_bands, error));
  CAVUM_TRY(cavum_hdf5_save(file, path, "spread", error));
done:
  cavum_hdf5_destroy(&file);
  return status;
}

// ---- read

/** Texts of a list; owned. */
typedef struct texts {
  char **list;
  int count;
} texts;

static void clear_texts(texts *t) {
  for (int i = 0; i < t->count; i++) free(t->list[i]);
  free(t->list);
  *t = (texts){0};
}

static cavum_status read_texts(texts *t, int least, int most, const cavum_hdf5_file *file,
                               const char *path, cavum_error *error) {
  cavum_status status = cavum_hdf5_read_texts(&t->list, &t->count, file, path, error);
  if (status == CAVUM_OK && (t->count < least || t->count > most)) {
    status = cavum_matrix_fail_damaged(path, error);
  }
  return status;
}

static cavum_status read_dimensions(cavum_spread *made, const cavum_hdf5_file *file,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  texts keys = {0}, kinds = {0};
  double widths[MOST], values[MOST];
  CAVUM_TRY(read_texts(&keys, 1, MOST, file, "/tolerances/key", error));
  int n = keys.count;
  CAVUM_TRY(read_texts(&kinds, n, n, file, "/tolerances/kind", error));
  CAVUM_TRY(cavum_matrix_read(widths, n, file, "/tolerances/width", error));
  CAVUM_TRY(cavum_matrix_read(values, n, file, "/tolerances/value", error));
  made->dimensions = cavum_alloc(n, sizeof *made->dimensions);
  made->tolerances = cavum_alloc(n, sizeof *made->tolerances);
  made->covariance = cavum_alloc(n * n, sizeof *made->covariance);
  if (!made->dimensions || !made->tolerances || !made->covariance) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  CAVUM_TRY(cavum_matrix_read(made->covariance, n * n, file, "/tolerances/covariance", error));
  made->num_dimensions = n;
  for (int j = 0; j < n; j++) {
    cavum_tolerance *t = &made->tolerances[j];
    cavum_unit unit = cavum_unit_of_key(keys.list[j]);
    snprintf(t->key, sizeof t->key, "%s", keys.list[j]);
    t->kind =
        strcmp(kinds.list[j], "uniform") == 0 ? CAVUM_TOLERANCE_UNIFORM : CAVUM_TOLERANCE_NORMAL;
    t->width = widths[j];
    memcpy(made->dimensions[j].key, t->key, sizeof t->key);
    made->dimensions[j].unit = unit == CAVUM_UNIT_SI ? "1" : cavum_unit_symbol(unit);
    made->dimensions[j].value = values[j];
  }
done:
  clear_texts(&keys);
  clear_texts(&kinds);
  return status;
}

// Texts of a file outlive it as one of those that there are.
static const char *known_reason(const char *text) {
  return text[0] ? "as the file says, it has no derivatives" : NULL;
}

static cavum_status read_figures(cavum_spread *made, const cavum_hdf5_file *file,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int n = made->num_dimensions;
  texts keys = {0}, reasons = {0};
  double column[ROOM_FOR_ROWS], holds[ROOM_FOR_ROWS], missing[ROOM_FOR_ROWS] = {0.0};
  double *slope = NULL, *share = NULL;
  CAVUM_TRY(read_texts(&keys, 0, ROOM_FOR_ROWS, file, "/figures/key", error));
  int count = keys.count;
  CAVUM_TRY(read_texts(&reasons, count, count, file, "/figures/reason", error));
  CAVUM_TRY(cavum_matrix_read(holds, count, file, "/figures/linear_holds", error));
  if (cavum_hdf5_has(file, "/figures/sampled_missing")) {
    CAVUM_TRY(cavum_matrix_read(missing, count, file, "/figures/sampled_missing", error));
  }
  slope = cavum_alloc((int64_t)count * n, sizeof *slope);
  share = cavum_alloc((int64_t)count * n, sizeof *share);
  if (!slope || !share) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_matrix_read(slope, count * n, file, "/figures/slope", error));
  CAVUM_TRY(cavum_matrix_read(share, count * n, file, "/figures/share", error));
  for (int c = 0; c < NUM_NUMBERS; c++) {
    char path[64];
    snprintf(path, sizeof path, "/figures/%s", COLUMNS[c].name);
    CAVUM_TRY(cavum_matrix_read(column, count, file, path, error));
    for (int i = 0; i < count; i++) {
      int id = row_of_key(keys.list[i]);
      if (id >= NUM_ROWS) continue;  // of a later version
      cavum_figure_spread *f = row_at(made, id);
      double value = column[i] * (COLUMNS[c].has_unit ? unit_si_of(id) : 1.0);
      memcpy((char *)f + COLUMNS[c].offset, &value, sizeof value);
      f->state = CAVUM_FIGURE_PRESENT;
      if (id < CAVUM_NUM_FIGURES) made->num_missing[id] = cavum_whole_int(missing[i], 0);
      f->has_linear = n > 0 && isfinite(slope[i * n]);
      f->is_curved = f->has_linear && holds[i] == 0.0;
      f->reason = known_reason(reasons.list[i]);
      for (int j = 0; j < n; j++) {
        f->slope[j] = f->has_linear ? slope[i * n + j] * unit_si_of(id) : 0.0;
        f->share[j] = isfinite(share[i * n + j]) ? share[i * n + j] : 0.0;
      }
      f->has_shares = n > 0 && isfinite(share[i * n]);
      f->has_sampled_shares = f->has_shares && isfinite(f->share_together);
      if (COLUMNS[c].offset == offsetof(cavum_figure_spread, share_together) &&
          !f->has_sampled_shares) {
        f->share_together = 0.0;
      }
    }
  }
done:
  clear_texts(&keys);
  clear_texts(&reasons);
  free(slope);
  free(share);
  return status;
}

static cavum_status read_bands(cavum_stored_spread *made, const cavum_hdf5_file *file,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  texts keys = {0};
  double width[CAVUM_SPREAD_BANDS_MOST];
  if (!cavum_hdf5_has(file, "/bands/key")) return CAVUM_OK;
  CAVUM_TRY(read_texts(&keys, 0, CAVUM_SPREAD_BANDS_MOST, file, "/bands/key", error));
  CAVUM_TRY(cavum_matrix_read(width, keys.count, file, "/bands/width", error));
  made->bands = cavum_alloc(keys.count, sizeof *made->bands);
  if (!made->bands) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < keys.count; i++) {
    cavum_figure_id id = cavum_figure_of_key(NULL, keys.list[i]);
    if (id >= CAVUM_NUM_FIGURES) continue;
    made->bands[made->num_bands++] = (cavum_spread_band){id, width[i] * unit_si_of((int)id)};
  }
done:
  clear_texts(&keys);
  return status;
}

static cavum_status read_all(cavum_stored_spread *made, const cavum_hdf5_file *file,
                             const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char format[64] = "";
  texts title = {0};
  double counts[3], accuracy[2] = {0.0, 0.0};
  (void)cavum_hdf5_read_text(format, sizeof format, file, "/", "format", NULL);
  if (strcmp(format, CAVUM_STORE_SPREAD_FORMAT) != 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: no spread by tolerances", path);
  }
  made->spread = cavum_alloc(1, sizeof *made->spread);
  if (!made->spread) CAVUM_TRY(cavum_fail_memory(error));
  cavum_spread *spread = made->spread;
  CAVUM_TRY(cavum_hdf5_read_text(spread->label, sizeof spread->label, file, "/", "label", error));
  CAVUM_TRY(read_texts(&title, 1, 1, file, "/input/title", error));
  made->title = cavum_copy_text(title.list[0]);
  if (!made->title) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_matrix_read(counts, 3, file, "/samples", error));
  spread->num_pilot = cavum_whole_int(counts[0], 0);
  spread->num_samples = cavum_whole_int(counts[1], 0);
  spread->num_failed = cavum_whole_int(counts[2], 0);
  if (cavum_hdf5_has(file, "/samples_accuracy")) {
    CAVUM_TRY(cavum_matrix_read(accuracy, 2, file, "/samples_accuracy", error));
  }
  spread->samples_degree = cavum_whole_int(accuracy[0], 0);
  spread->samples_error = accuracy[1];
  CAVUM_TRY(read_dimensions(spread, file, error));
  CAVUM_TRY(read_figures(spread, file, error));
  CAVUM_TRY(read_bands(made, file, error));
done:
  clear_texts(&title);
  return status;
}

cavum_status cavum_stored_spread_read(cavum_stored_spread *stored, const char *path,
                                      cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  cavum_stored_spread made = {0};
  cavum_status status = cavum_hdf5_open(&file, path, error);
  if (status == CAVUM_OK) status = read_all(&made, file, path, error);
  cavum_hdf5_destroy(&file);
  if (status == CAVUM_OK) {
    *stored = made;
  } else {
    cavum_stored_spread_clear(&made);
  }
  return status;
}
