// SPDX-License-Identifier: GPL-3.0-or-later
// What a scan says while it runs and afterwards.
#include "cli/scan_progress.h"

#include <math.h>
#include <stdlib.h>

#include "store/scan_rate.h"

// Seconds between lines of each kind.
static const double TERMINAL_EVERY = 0.2, LOG_EVERY = 60.0, JSON_EVERY = 1.0;
// Rows of the non-dominated set that fit a screen; the JSON output has all.
enum { FRONT_SHOWN = 20, REASONS_SHOWN = 12 };

void cavum_scan_format_seconds(char text[32], double seconds) {
  if (!isfinite(seconds)) {
    snprintf(text, 32, "-");
  } else if (seconds < 100.0) {
    snprintf(text, 32, "%.0f s", seconds);
  } else if (seconds < 6000.0) {
    snprintf(text, 32, "%.0f min", seconds / 60.0);
  } else if (seconds < 360000.0) {
    snprintf(text, 32, "%.1f h", seconds / 3600.0);
  } else {
    snprintf(text, 32, "%.1f days", seconds / 86400.0);
  }
}

static void print_line(FILE *out, const cavum_scan_progress *p, const char *watched_key) {
  char left[32], taken[32];
  cavum_scan_rate rate = cavum_scan_rate_of(p);
  cavum_scan_format_seconds(left, rate.seconds_left);
  cavum_scan_format_seconds(taken, p->seconds);
  fprintf(out, "%lld of %lld shapes (%.1f %%), %.4g/s", (long long)p->shapes_done,
          (long long)p->num_shapes, rate.percent, rate.shapes_per_second);
  for (int i = CAVUM_SHAPE_DONE + 1; i < CAVUM_NUM_SHAPE_STATUSES; i++) {
    if (p->by_status[i] == 0) continue;
    fprintf(out, ", %lld %s", (long long)p->by_status[i],
            cavum_shape_status_word((cavum_shape_status)i));
  }
  fprintf(out, ", %s, %s left", taken, left);
  if (watched_key && p->best_shape >= 0) {
    fprintf(out, ", best %s %.6g (shape %lld)", watched_key, p->best_value,
            (long long)p->best_shape);
  }
}

// Once, before anything else is told: what would keep a second run away is missing.
static void tell_locks(const cavum_scan_progress *progress, cavum_scan_teller *teller) {
  if (!progress->no_locks || teller->locks_told) return;
  if (teller->telling == CAVUM_SCAN_TELL_NOTHING) return;
  teller->locks_told = true;
  fprintf(stderr,
          "cavum: note: the file system has no locks: a second run of the same study would not be "
          "refused; both would compute the same\n");
}

static void tell(const cavum_scan_progress *progress, cavum_scan_teller *teller) {
  char *json;
  tell_locks(progress, teller);
  switch (teller->telling) {
    case CAVUM_SCAN_TELL_TERMINAL:
      fputs("\r\033[K", stderr);
      print_line(stderr, progress, teller->watched_key);
      fflush(stderr);
      teller->line_open = true;
      break;
    case CAVUM_SCAN_TELL_LOG:
      print_line(stderr, progress, teller->watched_key);
      fputc('\n', stderr);
      break;
    case CAVUM_SCAN_TELL_JSON:
      json = cavum_store_scan_progress_to_json(progress, teller->watched_key);
      if (json) printf("%s\n", json);
      fflush(stdout);
      free(json);
      break;
    case CAVUM_SCAN_TELL_NOTHING:
      break;
  }
  teller->told = progress->seconds;
}

void cavum_scan_tell(const cavum_scan_progress *progress, void *data) {
  cavum_scan_teller *teller = data;
  double every = teller->telling == CAVUM_SCAN_TELL_TERMINAL ? TERMINAL_EVERY
                 : teller->telling == CAVUM_SCAN_TELL_LOG    ? LOG_EVERY
                                                             : JSON_EVERY;
  tell_locks(progress, teller);
  if (progress->seconds - teller->told >= every) tell(progress, teller);
}

void cavum_scan_tell_end(const cavum_scan_progress *progress, cavum_scan_teller *teller) {
  tell(progress, teller);
  if (teller->line_open) fputc('\n', stderr);
  teller->line_open = false;
}

static void print_ranges(FILE *out, const cavum_scan_summary *summary,
                         const cavum_stored_scan *scan) {
  fprintf(out, "\n%-44s %14s %14s  %s\n", "ranges of the shapes that are done", "smallest",
          "largest", "unit");
  for (int i = 0; i < summary->num_columns; i++) {
    const cavum_scan_range *range = &summary->ranges[i];
    if (range->count == 0) continue;
    fprintf(out, "%-44s %14.8g %14.8g  %s\n", cavum_stored_scan_key(scan, i), range->low,
            range->high, cavum_stored_scan_unit(scan, i));
  }
}

static void print_reasons(FILE *out, const cavum_stored_scan *scan) {
  cavum_scan_reason_group groups[CAVUM_SCAN_MOST_REASONS];
  int count = 0;
  if (cavum_stored_scan_group_reasons(groups, &count, scan, NULL) != CAVUM_OK || count == 0) return;
  fprintf(out, "\n%12s  %12s  %s\n", "shapes", "first", "why, with # for numbers");
  for (int i = 0; i < count && i < REASONS_SHOWN; i++) {
    fprintf(out, "%12lld  %12lld  %s\n", (long long)groups[i].count,
            (long long)groups[i].first_shape, groups[i].text);
  }
  if (count > REASONS_SHOWN) {
    fprintf(out, "%12s  %12s  %d more kinds: --json lists them\n", "...", "",
            count - REASONS_SHOWN);
  }
}

static void print_heading(FILE *out, const cavum_stored_scan *scan, const cavum_scan_aims *aims) {
  fprintf(out, "%12s", "shape");
  for (int i = 0; i < aims->count; i++) {
    fprintf(out, "  %*s", 16, cavum_stored_scan_key(scan, aims->columns[i]));
  }
  fputc('\n', out);
}

static void print_point(FILE *out, const cavum_stored_scan *scan, const cavum_scan_point *point,
                        const cavum_scan_aims *aims) {
  fprintf(out, "%12lld", (long long)point->shape);
  for (int i = 0; i < aims->count; i++) {
    int width = (int)snprintf(NULL, 0, "%s", cavum_stored_scan_key(scan, aims->columns[i]));
    fprintf(out, "  %*.8g", width > 16 ? width : 16, point->values[i]);
  }
  fputc('\n', out);
}

void cavum_scan_print_summary(FILE *out, const cavum_scan_summary *summary,
                              const cavum_stored_scan *scan, const cavum_scan_aims *aims,
                              const char *where) {
  int64_t counted = 0;
  for (int i = 0; i < CAVUM_NUM_SHAPE_STATUSES; i++) counted += summary->by_status[i];
  if (cavum_stored_scan_title(scan)[0]) fprintf(out, "%s\n", cavum_stored_scan_title(scan));
  if (where) fprintf(out, "%lld of ", (long long)counted);
  fprintf(out, "%lld shapes", (long long)summary->num_rows);
  if (where) fprintf(out, " where %s", where);
  for (int i = 0; i < CAVUM_NUM_SHAPE_STATUSES; i++) {
    if (summary->by_status[i] == 0) continue;
    fprintf(out, ", %lld %s", (long long)summary->by_status[i],
            cavum_shape_status_word((cavum_shape_status)i));
  }
  fputc('\n', out);
  if (!where) print_reasons(out, scan);
  print_ranges(out, summary, scan);
  for (int i = 0; i < aims->count; i++) {
    fprintf(out, "\n%s %s\n", aims->smaller[i] ? "smallest" : "largest",
            cavum_stored_scan_key(scan, aims->columns[i]));
    print_heading(out, scan, aims);
    for (int k = 0; k < summary->num_best; k++) {
      print_point(out, scan, &summary->best[i * summary->num_best + k], aims);
    }
  }
  if (aims->count == 0) return;
  fprintf(out, "\n%lld shapes that no other beats in every one of these\n",
          (long long)summary->num_front);
  print_heading(out, scan, aims);
  for (int64_t i = 0; i < summary->num_front && i < FRONT_SHOWN; i++) {
    print_point(out, scan, &summary->front[i], aims);
  }
  if (summary->num_front > FRONT_SHOWN) {
    fprintf(out, "%12s  (%lld more: --json lists all)\n", "...",
            (long long)(summary->num_front - FRONT_SHOWN));
  }
}
