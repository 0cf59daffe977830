// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/scan_progress.h
 * Progress and summary of a scan for people and programs.
 */
#ifndef CAVUM_CLI_SCAN_PROGRESS_H
#define CAVUM_CLI_SCAN_PROGRESS_H

#include <stdio.h>

#include "cavum/scan_store.h"

/** How progress is told. */
typedef enum cavum_scan_telling {
  CAVUM_SCAN_TELL_NOTHING,
  CAVUM_SCAN_TELL_TERMINAL, /**< One line on standard error that is overwritten. */
  CAVUM_SCAN_TELL_LOG,      /**< A line a minute on standard error. */
  CAVUM_SCAN_TELL_JSON      /**< A line of JSON a second on standard output. */
} cavum_scan_telling;

/** Who tells it. */
typedef struct cavum_scan_teller {
  cavum_scan_telling telling;
  const char *watched_key;  /**< NULL: nothing is watched. */
  double told;              /**< Seconds of the run at the last line. */
  bool line_open;           /**< A terminal line waits for its end. */
  bool locks_told;          /**< That there are none. */
  const char *json_path;    /**< A file that has the newest line of JSON; NULL: none. */
  double written;           /**< Seconds of the run when it was written. */
  cavum_status json_status; /**< Of the last time that it was. */
  cavum_error json_error;
} cavum_scan_teller;

/** Tells progress when it is time to; a cavum_scan_watcher with a cavum_scan_teller as data. */
void cavum_scan_tell(const cavum_scan_progress *progress, void *data);

/** Tells the final state. */
void cavum_scan_tell_end(const cavum_scan_progress *progress, cavum_scan_teller *teller);

/** Writes a line of JSON to a file; "-" is standard output. */
cavum_status cavum_scan_write_json_line(const char *path, const char *line, cavum_error *error);

/** A span of time in a few letters: "42 s", "12 min", "3.4 h". */
void cavum_scan_format_seconds(char text[32], double seconds);

#endif
