// SPDX-License-Identifier: GPL-3.0-or-later
// What a scan says to programs: progress, cost, sources, summary.
#include "store/scan_json.h"

#include <jansson.h>
#include <math.h>

#include "base/base.h"
#include "cavum/requirement.h"
#include "cavum/scan_store.h"
#include "format/json_text.h"
#include "format/json_value.h"
#include "store/scan_aims.h"
#include "store/scan_mode.h"
#include "store/scan_rate.h"

// Fewest digits that always read back as the same double.
enum { DIGITS = 17 };

static json_t *number(double value) { return isfinite(value) ? json_real(value) : json_null(); }

// One line, freed tree; NULL when there is no memory.
static char *one_line(json_t *root) {
  char *text = root ? json_dumps(root, JSON_COMPACT | JSON_REAL_PRECISION(DIGITS)) : NULL;
  json_decref(root);
  return text;
}

static json_t *counts_by_status(const int64_t *by_status) {
  json_t *counts = json_object();
  for (int i = 0; i < CAVUM_NUM_SHAPE_STATUSES; i++) {
    json_object_set_new(counts, cavum_shape_status_word((cavum_shape_status)i),
                        json_integer(by_status[i]));
  }
  return counts;
}

char *cavum_store_scan_progress_to_json(const cavum_scan_progress *p, const char *watched_key) {
  if (!p) return NULL;
  cavum_scan_rate rate = cavum_scan_rate_of(p);
  json_t *root = json_object();
  if (!root) return NULL;
  json_object_set_new(root, "cavum", json_string(cavum_version()));
  json_object_set_new(root, "shapes", json_integer(p->num_shapes));
  json_object_set_new(root, "shapes_done", json_integer(p->shapes_done));
  json_object_set_new(root, "shapes_before", json_integer(p->shapes_before));
  json_object_set_new(root, "batches", json_integer(p->num_batches));
  json_object_set_new(root, "batches_done", json_integer(p->batches_done));
  json_object_set_new(root, "solves", json_integer(p->num_solves));
  json_object_set_new(root, "seconds", number(p->seconds));
  json_object_set_new(root, "shapes_per_second", number(rate.shapes_per_second));
  json_object_set_new(root, "seconds_left", number(rate.seconds_left));
  json_object_set_new(root, "workers_lost", json_integer(p->workers_lost));
  json_object_set_new(root, "by_status", counts_by_status(p->by_status));
  if (watched_key && p->best_shape >= 0) {
    json_object_set_new(root, "best",
                        json_pack("{s:s, s:I, s:f}", "figure", watched_key, "shape",
                                  (json_int_t)p->best_shape, "value", p->best_value));
  }
  return one_line(root);
}

char *cavum_store_scan_estimate_to_json(const cavum_scan_estimate *e, const cavum_study *study) {
  if (!e || !study) return NULL;
  json_t *root = json_object();
  if (!root) return NULL;
  double shapes = (double)cavum_study_num_shapes(study);
  json_object_set_new(root, "cavum", json_string(cavum_version()));
  json_object_set_new(root, "shapes", json_integer(cavum_study_num_shapes(study)));
  json_object_set_new(root, "batches", json_integer(cavum_study_num_batches(study)));
  json_object_set_new(root, "shapes_measured", json_integer(e->shapes_measured));
  json_object_set_new(root, "seconds_per_shape", number(e->seconds_per_shape));
  json_object_set_new(root, "core_seconds", number(e->seconds_per_shape * shapes));
  json_object_set_new(root, "worker_memory_bytes", number(e->memory_bytes));
  json_object_set_new(root, "record_bytes", number(e->row_bytes * shapes));
  return one_line(root);
}

// Adds the batches of one file to the entry of its host.
static void count_host(json_t *hosts, const cavum_scan_source *source) {
  json_int_t before = json_integer_value(json_object_get(hosts, source->host));
  json_object_set_new(hosts, source->host, json_integer(before + source->num_batches));
}

cavum_status cavum_store_scan_sources_to_json(char **text, const cavum_study *study,
                                              const cavum_scan_records *records,
                                              cavum_error *error) {
  if (!text || !study || !records) return cavum_fail_null(error, __func__);
  json_t *root = json_object(), *hosts = json_object();
  for (int i = 0; hosts && i < cavum_scan_records_num_files(records); i++) {
    cavum_scan_source source = cavum_scan_records_source(records, i);
    count_host(hosts, &source);
  }
  json_object_set_new(root, "cavum", json_string(cavum_version()));
  json_object_set_new(root, "fingerprint", json_string(cavum_study_fingerprint(study)));
  json_object_set_new(root, "files", json_integer(cavum_scan_records_num_files(records)));
  json_object_set_new(root, "batches", json_integer(cavum_study_num_batches(study)));
  json_object_set_new(root, "bytes_ignored",
                      json_integer(cavum_scan_records_bytes_ignored(records)));
  json_object_set_new(root, "batches_by_host", hosts);
  char *made = root ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}

static json_t *point_to_json(const cavum_scan_point *point, const cavum_stored_scan *scan,
                             const cavum_scan_aims *aims) {
  json_t *object = json_object();
  json_object_set_new(object, "shape", json_integer(point->shape));
  for (int i = 0; i < aims->count; i++) {
    json_object_set_new(object, cavum_stored_scan_key(scan, aims->columns[i]),
                        number(point->values[i]));
  }
  return object;
}

static json_t *ranges_to_json(const cavum_scan_summary *summary, const cavum_stored_scan *scan) {
  json_t *ranges = json_object();
  for (int i = 0; i < summary->num_columns; i++) {
    const cavum_scan_range *range = &summary->ranges[i];
    if (range->count == 0 || cavum_stored_scan_requirement(scan, i)) continue;
    json_t *entry = json_object();
    json_object_set_new(entry, "low", number(range->low));
    json_object_set_new(entry, "high", number(range->high));
    json_object_set_new(ranges, cavum_stored_scan_key(scan, i), entry);
  }
  return ranges;
}

// {KEY: {"met": 3, ...}} of the requirements that the base cell states.
static json_t *verdicts_to_json(const cavum_stored_scan *scan, const cavum_scan_filter *filter) {
  json_t *requirements = json_object();
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    int64_t counts[CAVUM_NUM_VERDICTS];
    const char *key = cavum_stored_scan_requirement(scan, i);
    if (!key) continue;
    if (cavum_stored_scan_count_verdicts(counts, scan, i, filter, NULL) != CAVUM_OK) continue;
    json_t *entry = json_object();
    for (int kind = 0; kind < CAVUM_NUM_VERDICTS; kind++) {
      json_object_set_new(entry, cavum_verdict_word((cavum_verdict_kind)kind),
                          json_integer(counts[kind]));
    }
    json_object_set_new(requirements, key, entry);
  }
  return requirements;
}

static json_t *reasons_to_json(const cavum_stored_scan *scan) {
  cavum_scan_reason_group groups[CAVUM_SCAN_MOST_REASONS];
  int count = 0;
  json_t *list = json_array();
  if (cavum_stored_scan_group_reasons(groups, &count, scan, NULL) != CAVUM_OK) return list;
  for (int i = 0; i < count; i++) {
    json_array_append_new(
        list, json_pack("{s:I, s:I, s:s}", "count", (json_int_t)groups[i].count, "first_shape",
                        (json_int_t)groups[i].first_shape, "text", groups[i].text));
  }
  return list;
}

char *cavum_store_scan_summary_to_json(const cavum_scan_summary *summary,
                                       const cavum_stored_scan *scan, const cavum_scan_aims *aims) {
  return cavum_store_scan_summary_to_json_where(summary, scan, aims, NULL);
}

static json_t *summary_tree(const cavum_scan_summary *summary, const cavum_stored_scan *scan,
                            const cavum_scan_aims *aims, const cavum_scan_filter *filter) {
  json_t *root = json_object(), *best = json_object(), *front = json_array();
  json_t *better = json_object();
  for (int i = 0; i < aims->count; i++) {
    json_t *list = json_array();
    for (int k = 0; k < summary->num_best; k++) {
      const cavum_scan_point *point = &summary->best[i * summary->num_best + k];
      json_array_append_new(list, point_to_json(point, scan, aims));
    }
    json_object_set_new(best, cavum_stored_scan_key(scan, aims->columns[i]), list);
    json_object_set_new(better, cavum_stored_scan_key(scan, aims->columns[i]),
                        json_string(aims->smaller[i] ? "smaller" : "larger"));
  }
  for (int64_t i = 0; i < summary->num_front; i++) {
    json_array_append_new(front, point_to_json(&summary->front[i], scan, aims));
  }
  json_object_set_new(root, "title", json_string(cavum_stored_scan_title(scan)));
  json_object_set_new(root, "mode", json_integer(cavum_stored_scan_mode(scan)));
  json_object_set_new(root, "shapes", json_integer(summary->num_rows));
  json_object_set_new(root, "by_status", counts_by_status(summary->by_status));
  json_object_set_new(root, "reasons", reasons_to_json(scan));
  json_object_set_new(root, "ranges", ranges_to_json(summary, scan));
  json_object_set_new(root, "requirements", verdicts_to_json(scan, filter));
  json_object_set_new(root, "better", better);
  json_object_set_new(root, "best", best);
  json_object_set_new(root, "non_dominated", front);
  return root;
}

char *cavum_store_scan_summary_to_json_where(const cavum_scan_summary *summary,
                                             const cavum_stored_scan *scan,
                                             const cavum_scan_aims *aims,
                                             const cavum_scan_filter *filter) {
  cavum_scan_aims full;
  if (!summary || !scan || cavum_scan_aims_take(&full, aims, NULL) != CAVUM_OK) return NULL;
  json_t *root = json_object(), *tree = summary_tree(summary, scan, &full, filter);
  bool good = root && tree && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              json_object_update(root, tree) == 0;
  char *text = good ? cavum_store_json_text(root) : NULL;
  json_decref(tree);
  json_decref(root);
  return text;
}

// {KEY: [text of each study]} of the keys that differ.
static bool set_keys(json_t *root, const char *name, const cavum_compared_keys *keys, int count) {
  json_t *differing = json_object();
  bool good = cavum_json_set(root, name, differing);
  for (int i = 0; good && i < keys->count; i++) {
    json_t *values = json_array();
    good = cavum_json_set(differing, keys->names[i], values);
    for (int k = 0; good && k < count; k++) {
      good = json_array_append_new(values, json_string(keys->values[i * count + k])) == 0;
    }
  }
  return good;
}

cavum_status cavum_compared_scans_json_write(char **text, const cavum_compared_scans *all,
                                             cavum_error *error) {
  json_t *root = json_object(), *list = json_array();
  bool good = root && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              cavum_json_set(root, "compared_studies", list);
  for (int k = 0; good && k < all->count; k++) {
    json_t *one = summary_tree(all->summaries[k], all->scans[k], all->aims[k], NULL);
    good = json_array_append_new(list, one) == 0 &&
           cavum_json_set(one, "file", json_string(all->paths[k]));
  }
  good = good && set_keys(root, "study_keys", &all->study_keys, all->count) &&
         set_keys(root, "cell_keys", &all->cell_keys, all->count);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
