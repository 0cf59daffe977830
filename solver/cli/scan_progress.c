// SPDX-License-Identifier: GPL-3.0-or-later
// What a scan says while it runs.
#include "cli/scan_progress.h"

#include <math.h>
#include <stdlib.h>

#include "base/base.h"
#include "cavum/store.h"
#include "store/scan_rate.h"

// Seconds between lines of each kind.
static const double TERMINAL_EVERY = 0.2, LOG_EVERY = 60.0, JSON_EVERY = 1.0;

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

cavum_status cavum_scan_write_json_line(const char *path, const char *line, cavum_error *error) {
  char *text = cavum_format_text("%s\n", line);
  if (!text) return cavum_fail_memory(error);
  cavum_status status = cavum_store_write_text(path, text, error);
  free(text);
  return status;
}

// The newest line takes the place of the one before; what fails is told at the end.
static void write_file(const cavum_scan_progress *progress, cavum_scan_teller *teller) {
  char *json = cavum_store_scan_progress_to_json(progress, teller->watched_key);
  teller->json_status =
      json ? cavum_scan_write_json_line(teller->json_path, json, &teller->json_error)
           : cavum_fail_memory(&teller->json_error);
  free(json);
  teller->written = progress->seconds;
}

void cavum_scan_tell(const cavum_scan_progress *progress, void *data) {
  cavum_scan_teller *teller = data;
  double every = teller->telling == CAVUM_SCAN_TELL_TERMINAL ? TERMINAL_EVERY
                 : teller->telling == CAVUM_SCAN_TELL_LOG    ? LOG_EVERY
                                                             : JSON_EVERY;
  tell_locks(progress, teller);
  if (progress->seconds - teller->told >= every) tell(progress, teller);
  if (teller->json_path && progress->seconds - teller->written >= JSON_EVERY) {
    write_file(progress, teller);
  }
}

void cavum_scan_tell_end(const cavum_scan_progress *progress, cavum_scan_teller *teller) {
  tell(progress, teller);
  if (teller->json_path) write_file(progress, teller);
  if (teller->line_open) fputc('\n', stderr);
  teller->line_open = false;
}
