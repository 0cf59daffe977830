// SPDX-License-Identifier: GPL-3.0-or-later
// A gathered scan summed up in one pass over its columns: counts, ranges, the best shapes of each
// aim, and the shapes that no other beats in every aim.
#include <string.h>

#include "base/base.h"
#include "cavum/scan_store.h"
#include "figures/figure_key.h"
#include "scan/non_dominated.h"
#include "solve/figure_policy.h"
#include "store/scan_aims.h"
#include "store/scan_filter.h"

enum { BLOCK = 65536 };

/** The pass. */
typedef struct summary_state {
  const cavum_stored_scan *scan;
  const cavum_scan_aims *aims;
  const cavum_scan_filter *filter;  // NULL: all rows
  bool *wanted;                     // owned, shape [BLOCK]
  cavum_scan_summary summary;
  int64_t front_capacity;
  int64_t num_reduced;  // of the front, when it was reduced last
  int best_found[CAVUM_SUMMARY_MOST_AIMS];
  double *status, *shape, *column;       // owned, shape [BLOCK]
  double *aim[CAVUM_SUMMARY_MOST_AIMS];  // owned, shape [BLOCK]
} summary_state;

bool cavum_scan_smaller_is_better(const char *key) {
  if (!key) return false;
  cavum_figure_id id = cavum_figure_of_key(NULL, key);
  if (id != CAVUM_NUM_FIGURES) return cavum_figure_policy_of(id)->better == CAVUM_BETTER_SMALLER;
  return strcmp(key, "solves") == 0;  // a column of every scan, no figure
}

static bool is_done(const summary_state *s, int64_t row) {
  return s->wanted[row] && s->status[row] == (double)CAVUM_SHAPE_DONE;
}

static bool is_better(const cavum_scan_aims *aims, int aim, double a, double b) {
  return aims->smaller[aim] ? a < b : a > b;
}

// Leaves the points that no other beats, in their order.
static cavum_status reduce_front(summary_state *s, cavum_error *error) {
  cavum_scan_summary *summary = &s->summary;
  int64_t n = summary->num_front, kept = 0;
  int num_aims = s->aims->count;
  double *values = cavum_alloc(n * num_aims, sizeof *values);
  bool *marks = cavum_alloc(n, sizeof *marks);
  cavum_status status = values && marks ? CAVUM_OK : cavum_fail_memory(error);
  for (int64_t i = 0; status == CAVUM_OK && i < n * num_aims; i++) {
    double value = summary->front[i / num_aims].values[i % num_aims];
    values[i] = s->aims->smaller[i % num_aims] ? value : -value;
  }
  if (status == CAVUM_OK) status = cavum_non_dominated_mark(marks, values, n, num_aims, error);
  for (int64_t i = 0; status == CAVUM_OK && i < n; i++) {
    if (marks[i]) summary->front[kept++] = summary->front[i];
  }
  if (status == CAVUM_OK) summary->num_front = s->num_reduced = kept;
  free(values);
  free(marks);
  return status;
}

// Points are collected and reduced when half of them are new, so that memory grows with the front
// and not with the rows.
static cavum_status try_front(summary_state *s, const cavum_scan_point *point, cavum_error *error) {
  cavum_scan_summary *summary = &s->summary;
  if (summary->num_front >= BLOCK && summary->num_front >= 2 * s->num_reduced) {
    cavum_status status = reduce_front(s, error);
    if (status != CAVUM_OK) return status;
  }
  void *front = summary->front;
  bool grown =
      cavum_grow(&front, &s->front_capacity, summary->num_front + 1, sizeof *summary->front);
  summary->front = front;
  if (!grown) return cavum_fail_memory(error);
  summary->front[summary->num_front++] = *point;
  return CAVUM_OK;
}

// Keeps the list of one aim in order; earlier shapes win ties.
static void try_best(summary_state *s, const cavum_scan_point *point, int aim) {
  cavum_scan_point *list = s->summary.best + (size_t)aim * (size_t)s->aims->num_best;
  int place = s->best_found[aim];
  if (!isfinite(point->values[aim])) return;
  while (place > 0 && is_better(s->aims, aim, point->values[aim], list[place - 1].values[aim])) {
    place--;
  }
  if (place >= s->aims->num_best) return;
  int last = s->best_found[aim] < s->aims->num_best ? s->best_found[aim]++ : s->best_found[aim] - 1;
  memmove(list + place + 1, list + place, (size_t)(last - place) * sizeof *list);
  list[place] = *point;
}

static cavum_status take_row(summary_state *s, int64_t row, cavum_error *error) {
  cavum_scan_point point = {.shape = cavum_whole(s->shape[row], -1)};
  bool complete = s->aims->count > 0;
  for (int i = 0; i < s->aims->count; i++) {
    point.values[i] = s->aim[i][row];
    complete = complete && isfinite(point.values[i]);
  }
  for (int i = 0; i < s->aims->count; i++) try_best(s, &point, i);
  return complete ? try_front(s, &point, error) : CAVUM_OK;
}

static cavum_status take_ranges(summary_state *s, int64_t first, int64_t count,
                                cavum_error *error) {
  for (int i = 0; i < s->summary.num_columns; i++) {
    cavum_scan_range *range = &s->summary.ranges[i];
    cavum_status status = cavum_stored_scan_read(s->column, s->scan, i, first, count, error);
    if (status != CAVUM_OK) return status;
    for (int64_t row = 0; row < count; row++) {
      double value = s->column[row];
      if (!is_done(s, row) || !isfinite(value)) continue;
      range->low = range->count ? cavum_min(range->low, value) : value;
      range->high = range->count ? cavum_max(range->high, value) : value;
      range->count++;
    }
  }
  return CAVUM_OK;
}

static cavum_status take_block(summary_state *s, int64_t first, int64_t count, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int status_column = cavum_stored_scan_find(s->scan, "status");
  int shape_column = cavum_stored_scan_find(s->scan, "shape");
  CAVUM_TRY(cavum_stored_scan_read(s->status, s->scan, status_column, first, count, error));
  CAVUM_TRY(cavum_stored_scan_read(s->shape, s->scan, shape_column, first, count, error));
  CAVUM_TRY(cavum_scan_filter_mark(s->wanted, s->filter, s->scan, first, count, error));
  for (int i = 0; i < s->aims->count; i++) {
    CAVUM_TRY(cavum_stored_scan_read(s->aim[i], s->scan, s->aims->columns[i], first, count, error));
  }
  CAVUM_TRY(take_ranges(s, first, count, error));
  for (int64_t row = 0; row < count; row++) {
    int code = cavum_whole_int(s->status[row], -1);
    if (!s->wanted[row]) continue;
    if (code >= 0 && code < CAVUM_NUM_SHAPE_STATUSES) s->summary.by_status[code]++;
    if (is_done(s, row)) CAVUM_TRY(take_row(s, row, error));
  }
done:
  return status;
}

static bool get_memory(summary_state *s) {
  bool got = true;
  s->summary.num_columns = cavum_stored_scan_num_columns(s->scan);
  s->summary.ranges = cavum_alloc(s->summary.num_columns, sizeof *s->summary.ranges);
  s->summary.best =
      cavum_alloc((int64_t)s->aims->count * s->aims->num_best, sizeof *s->summary.best);
  s->wanted = cavum_alloc(BLOCK, sizeof *s->wanted);
  s->status = cavum_alloc(BLOCK, sizeof(double));
  s->shape = cavum_alloc(BLOCK, sizeof(double));
  s->column = cavum_alloc(BLOCK, sizeof(double));
  for (int i = 0; i < s->aims->count; i++) {
    s->aim[i] = cavum_alloc(BLOCK, sizeof(double));
    got = got && s->aim[i];
  }
  return got && s->wanted && s->summary.ranges && s->summary.best && s->status && s->shape &&
         s->column;
}

// More are a table, not a summary.
enum { MOST_BEST = 1000000 };

cavum_status cavum_scan_summarise_where(cavum_scan_summary *summary, const cavum_stored_scan *scan,
                                        const cavum_scan_aims *given,
                                        const cavum_scan_filter *filter, cavum_error *error) {
  if (!summary || !scan || !given) return cavum_fail_null(error, __func__);
  cavum_scan_aims full;
  const cavum_scan_aims *aims = &full;
  cavum_status status = cavum_scan_aims_take(&full, given, error);
  if (status != CAVUM_OK) return status;
  if (aims->count < 0 || aims->count > CAVUM_SUMMARY_MOST_AIMS || aims->num_best < 0 ||
      aims->num_best > MOST_BEST) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "%d aims and %lld best shapes: expected 0 to %d aims and 0 to %d shapes",
                      aims->count, (long long)aims->num_best, CAVUM_SUMMARY_MOST_AIMS, MOST_BEST);
  }
  summary_state s = {.scan = scan, .aims = aims, .filter = filter};
  s.summary.num_rows = cavum_stored_scan_num_rows(scan);
  if (!get_memory(&s)) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t first = 0; first < s.summary.num_rows; first += BLOCK) {
    int64_t left = s.summary.num_rows - first;
    CAVUM_TRY(take_block(&s, first, left < BLOCK ? left : BLOCK, error));
  }
  if (s.summary.num_front > 0) CAVUM_TRY(reduce_front(&s, error));
  // Every aim has found the same number of shapes unless a figure is missing in some.
  s.summary.num_best = aims->count > 0 ? aims->num_best : 0;
  for (int i = 0; i < aims->count; i++) {
    if (s.best_found[i] < s.summary.num_best) s.summary.num_best = s.best_found[i];
  }
  for (int i = 1; i < aims->count; i++) {
    memmove(s.summary.best + (size_t)i * (size_t)s.summary.num_best,
            s.summary.best + (size_t)i * (size_t)aims->num_best,
            (size_t)s.summary.num_best * sizeof *s.summary.best);
  }
  *summary = s.summary;
  s.summary = (cavum_scan_summary){0};
done:
  for (int i = 0; i < aims->count; i++) free(s.aim[i]);
  free(s.wanted);
  free(s.status);
  free(s.shape);
  free(s.column);
  cavum_scan_summary_clear(&s.summary);
  return status;
}

cavum_status cavum_scan_summarise(cavum_scan_summary *summary, const cavum_stored_scan *scan,
                                  const cavum_scan_aims *aims, cavum_error *error) {
  return cavum_scan_summarise_where(summary, scan, aims, NULL, error);
}

void cavum_scan_summary_clear(cavum_scan_summary *summary) {
  if (!summary) return;
  free(summary->ranges);
  free(summary->best);
  free(summary->front);
  *summary = (cavum_scan_summary){0};
}
