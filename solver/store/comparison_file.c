// SPDX-License-Identifier: GPL-3.0-or-later
// A comparison of cold tests as JSON, CSV and HDF5.
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/coldtest_compare.h"
#include "format/number.h"
#include "store/coldtest_write.h"
#include "store/estimate_json.h"

void cavum_comparison_name(char name[64], const cavum_coldtest_report *report, int number) {
  if (!name || !report) return;
  enum { MOST_BYTES = 48 };
  const char *title = report->file.setup.title;
  size_t length = strlen(title);
  bool cut = length > MOST_BYTES;
  if (cut) length = MOST_BYTES;
  // No letter is cut in its middle.
  while (cut && length > 0 && ((unsigned char)title[length] & 0xc0) == 0x80) length--;
  if (title[0]) {
    snprintf(name, 64, "%d: %.*s%s", number, (int)length, title, cut ? "\xe2\x80\xa6" : "");
  } else {
    snprintf(name, 64, "test %d", number);
  }
}

static bool add_changes(json_t *entry, const cavum_coldtest_pair *pair) {
  json_t *changes = json_object();
  bool good = changes != NULL;
  for (int i = 0; good && i < CAVUM_NUM_CHANGES; i++) {
    const cavum_coldtest_change *c = &pair->changes[i];
    json_t *row = json_object();
    good = row && cavum_estimate_json_set(row, "first", c->first) &&
           cavum_estimate_json_set(row, "later", c->later) &&
           cavum_estimate_json_set(row, "change", c->change);
    if (good && isfinite(c->change.value)) {
      good = json_object_set_new(row, "significant", json_boolean(c->significant)) == 0;
    }
    const char *key = cavum_change_describe((cavum_change_id)i).key;
    good = json_object_set_new(changes, key, row) == 0 && good;
  }
  return json_object_set_new(entry, "changes", changes) == 0 && good;
}

static bool add_pair(json_t *array, const cavum_coldtest_pair *pair) {
  json_t *entry = json_object(), *ratios = json_array();
  bool good = entry && ratios;
  for (int64_t i = 0; good && i < pair->num_ratios; i++) {
    const cavum_coldtest_ratio *r = &pair->ratios[i];
    json_t *row = json_pack("{s:I}", "point", (json_int_t)r->point + 1);
    good = row && cavum_estimate_json_set(row, "gradient_V_per_m", r->e_acc_v_per_m) &&
           cavum_estimate_json_set(row, "q0_ratio", r->q0_ratio);
    good = json_array_append_new(ratios, row) == 0 && good;
  }
  good = good && json_object_set_new(entry, "shares_calibration",
                                     json_boolean(pair->shares_calibration)) == 0;
  good = good && json_object_set_new(entry, "shares_shape", json_boolean(pair->shares_shape)) == 0;
  good = good && json_object_set_new(entry, "caution", json_string(pair->caution)) == 0;
  good = good && add_changes(entry, pair);
  good = entry && json_object_set_new(entry, "ratios", ratios) == 0 && good;
  return json_array_append_new(array, entry) == 0 && good;
}

cavum_status cavum_store_comparison_to_json(char **text,
                                            const cavum_coldtest_comparison *comparison, int count,
                                            const cavum_coldtest_report *const *reports,
                                            cavum_error *error) {
  if (!text || !comparison || !reports) return cavum_fail_null(error, __func__);
  json_t *root = json_object(), *names = json_array(), *pairs = json_array();
  bool good = root && names && pairs &&
              json_object_set_new(root, "cavum", json_string(cavum_version())) == 0 &&
              json_object_set_new(root, "format", json_string("cavum comparison 1")) == 0;
  for (int i = 0; good && i < count; i++) {
    char name[64];
    cavum_comparison_name(name, reports[i], i + 1);
    good = json_array_append_new(names, json_string(name)) == 0;
  }
  for (int i = 0; good && i < comparison->num_pairs; i++) {
    good = add_pair(pairs, &comparison->pairs[i]);
  }
  good = good &&
         json_object_set_new(root, "coverage_factor", json_real(comparison->coverage_factor)) == 0;
  good = root && json_object_set_new(root, "tests", names) == 0 && good;
  good = root && json_object_set_new(root, "against_first", pairs) == 0 && good;
  char *made = good ? json_dumps(root, JSON_INDENT(1)) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}

static void print_estimate(FILE *out, cavum_estimate estimate) {
  char value[CAVUM_STORE_NUMBER_SIZE], uncertainty[CAVUM_STORE_NUMBER_SIZE];
  cavum_store_format_number(value, estimate.value);
  cavum_store_format_number(uncertainty, estimate.uncertainty);
  fprintf(out, ",%s,%s", value, uncertainty);
}

cavum_status cavum_store_comparison_to_csv(char **text, const cavum_coldtest_comparison *comparison,
                                           cavum_error *error) {
  if (!text || !comparison) return cavum_fail_null(error, __func__);
  char *made = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&made, &size);
  if (!out) return cavum_fail_memory(error);
  fputs("test,point,gradient_V_per_m,gradient_V_per_m_uncertainty,q0_ratio,q0_ratio_uncertainty\n",
        out);
  for (int k = 0; k < comparison->num_pairs; k++) {
    const cavum_coldtest_pair *pair = &comparison->pairs[k];
    for (int64_t i = 0; i < pair->num_ratios; i++) {
      const cavum_coldtest_ratio *r = &pair->ratios[i];
      fprintf(out, "%d,%lld", k + 2, (long long)r->point + 1);
      print_estimate(out, r->e_acc_v_per_m);
      print_estimate(out, r->q0_ratio);
      fputc('\n', out);
    }
  }
  bool good = ferror(out) == 0;
  good = fclose(out) == 0 && good;
  if (!good) {
    free(made);
    return cavum_fail_memory(error);
  }
  *text = made;
  return CAVUM_OK;
}

static cavum_status write_ratios(cavum_hdf5_file *file, const cavum_coldtest_pair *pair, int number,
                                 cavum_error *error) {
  static const struct {
    const char *name, *units, *long_name;
  } texts[] = {{"point", "1", "point of the later test, from 1"},
               {"gradient_V_per_m", "V m-1", "gradient"},
               {"gradient_V_per_m_uncertainty", "V m-1", "standard uncertainty"},
               {"q0_ratio", "1", "Q0 over that of the first test"},
               {"q0_ratio_uncertainty", "1", "standard uncertainty, shared errors cancelled"}};
  cavum_status status = CAVUM_OK;
  double *column = cavum_alloc(pair->num_ratios + 1, sizeof *column);
  if (!column) return cavum_fail_memory(error);
  for (int k = 0; k < 5 && pair->num_ratios > 0; k++) {
    char path[CAVUM_COLDTEST_PATH_SIZE];
    for (int64_t i = 0; i < pair->num_ratios; i++) {
      const cavum_coldtest_ratio *r = &pair->ratios[i];
      const double values[] = {(double)r->point + 1.0, r->e_acc_v_per_m.value,
                               r->e_acc_v_per_m.uncertainty, r->q0_ratio.value,
                               r->q0_ratio.uncertainty};
      column[i] = values[k];
    }
    snprintf(path, sizeof path, "/against_first/%d/ratios/%s", number, texts[k].name);
    CAVUM_TRY(cavum_coldtest_write_column(file, path, pair->num_ratios, column, texts[k].units,
                                          texts[k].long_name, error));
  }
done:
  free(column);
  return status;
}

static cavum_status write_caution(cavum_hdf5_file *file, const cavum_coldtest_pair *pair,
                                  int number, cavum_error *error) {
  char path[CAVUM_COLDTEST_PATH_SIZE];
  snprintf(path, sizeof path, "/against_first/%d/caution", number);
  return cavum_coldtest_write_text(file, path, pair->caution,
                                   "what makes the tests differ by itself; empty: nothing", error);
}

static cavum_status write_changes(cavum_hdf5_file *file, const cavum_coldtest_pair *pair,
                                  int number, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < CAVUM_NUM_CHANGES; i++) {
    const cavum_coldtest_change *c = &pair->changes[i];
    const cavum_change_info info = cavum_change_describe((cavum_change_id)i);
    cavum_estimate significant = {.value = c->significant ? 1.0 : 0.0, .uncertainty = NAN};
    if (!isfinite(c->change.value)) significant.value = NAN;
    const struct {
      const char *name, *units;
      cavum_estimate estimate;
    } rows[] = {{"first", info.unit, c->first},
                {"later", info.unit, c->later},
                {"change", info.unit, c->change},
                {"significant", "1", significant}};
    for (int k = 0; k < 4; k++) {
      char path[CAVUM_COLDTEST_PATH_SIZE];
      snprintf(path, sizeof path, "/against_first/%d/changes/%s/%s", number, info.key,
               rows[k].name);
      CAVUM_TRY(cavum_coldtest_write_estimate(file, path, rows[k].estimate, rows[k].units,
                                              info.text, error));
    }
  }
done:
  return status;
}

cavum_status cavum_store_write_comparison(const char *path,
                                          const cavum_coldtest_comparison *comparison, int count,
                                          const cavum_coldtest_report *const *reports,
                                          cavum_error *error) {
  if (!path || !comparison || !reports) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_hdf5_file *file = NULL;
  CAVUM_TRY(cavum_hdf5_create(&file, error));
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, "/", "format", "cavum comparison 1", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/coverage_factor", comparison->coverage_factor, "1",
                                        "k of what is significant", error));
  for (int i = 0; i < count; i++) {
    char name[64], at[CAVUM_COLDTEST_PATH_SIZE];
    cavum_comparison_name(name, reports[i], i + 1);
    snprintf(at, sizeof at, "/tests/%d/name", i + 1);
    CAVUM_TRY(cavum_coldtest_write_text(file, at, name, "title of the test", error));
  }
  for (int i = 0; i < comparison->num_pairs; i++) {
    CAVUM_TRY(write_caution(file, &comparison->pairs[i], i + 2, error));
    CAVUM_TRY(write_changes(file, &comparison->pairs[i], i + 2, error));
    CAVUM_TRY(write_ratios(file, &comparison->pairs[i], i + 2, error));
  }
  CAVUM_TRY(cavum_hdf5_save(file, path, "comparison", error));
done:
  cavum_hdf5_destroy(&file);
  return status;
}
