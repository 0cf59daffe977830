// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes stand beside one another, so that their numbers can be compared and keys have room.
#include "cli/scan_summary.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/figures.h"
#include "cavum/geometry.h"
#include "cavum/requirement.h"
#include "cli/colour.h"
#include "store/scan_mode.h"
#include "store/scan_read.h"

// Shapes of all aims together that fit a screen, the JSON output has all; kinds of reasons.
enum { FRONT_SHOWN = 20, REASONS_SHOWN = 12 };
// Shapes beside one another, and the room of a key and of a number.
enum { SHAPES_BESIDE = 5, KEY_WIDTH = 34, NUMBER_WIDTH = 10, LARGEST_NUMBER = 40 };

// `contour.` may be left out of conditions and aims as well.
const char *cavum_scan_summary_key(const cavum_stored_scan *scan, int column) {
  static const char section[] = "contour.";
  const char *key = cavum_stored_scan_key(scan, column);
  size_t size = sizeof section - 1;
  return strncmp(key, section, size) == 0 ? key + size : key;
}

// The key of a figure, of any mode.
static bool is_figure(const char *key) {
  const char *behind = strncmp(key, "modes[", strlen("modes[")) == 0 ? strchr(key, '.') : NULL;
  if (behind) key = behind + 1;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (strcmp(key, cavum_figure_describe((cavum_figure_id)id).key) == 0) return true;
  }
  return false;
}

// Dimensions and figures; not how well they are known, where a peak is, or how they were computed.
bool cavum_scan_summary_is_shown(const cavum_stored_scan *scan, int column) {
  const char *key = cavum_stored_scan_key(scan, column);
  if (cavum_stored_scan_is_input(scan, column)) return true;
  if (is_figure(key)) return true;
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    if (strcmp(key, cavum_geometry_describe((cavum_geometry_id)id).key) == 0) return true;
  }
  return strcmp(key, "k_cc") == 0;
}

const char *cavum_scan_summary_unit(const cavum_stored_scan *scan, int column) {
  const char *unit = cavum_stored_scan_unit(scan, column);
  if (strcmp(unit, "ohm2") == 0) return "ohm^2";
  return strcmp(unit, "1") == 0 ? "" : unit;
}

void cavum_scan_summary_choose_aims(cavum_scan_aims *aims, const cavum_stored_scan *scan) {
  static const char *const keys[] = {"epk_over_eacc", "bpk_over_eacc_mT_per_MV_per_m",
                                     "g_times_r_over_q_linac_ohm2"};
  if (aims->count > 0) return;
  for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
    int column = cavum_stored_scan_find(scan, keys[i]);
    if (column < 0) continue;
    aims->smaller[aims->count] = cavum_scan_smaller_is_better(keys[i]);
    aims->columns[aims->count++] = column;
  }
}

// Whether a column is a derivative by an input: FIGURE_per_NUMBER.
static bool is_derivative(const cavum_stored_scan *scan, int column) {
  char ending[CAVUM_COLUMN_KEY_SIZE + 8];
  const char *key = cavum_scan_summary_key(scan, column);
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    if (!cavum_stored_scan_is_input(scan, i)) continue;
    snprintf(ending, sizeof ending, "_per_%s", cavum_scan_summary_key(scan, i));
    size_t length = strlen(key), tail = strlen(ending);
    if (length > tail && strcmp(key + length - tail, ending) == 0) return true;
  }
  return false;
}

static void print_ranges(FILE *out, const cavum_scan_summary *summary,
                         const cavum_stored_scan *scan) {
  cavum_colour_title(out, "Ranges of the shapes that are done");
  fprintf(out, "  %-*s %14s %14s\n", KEY_WIDTH, "", "smallest", "largest");
  for (int i = 0; i < summary->num_columns; i++) {
    const cavum_scan_range *range = &summary->ranges[i];
    char low[LARGEST_NUMBER], high[LARGEST_NUMBER];
    if (range->count == 0 && is_derivative(scan, i)) {
      fprintf(out, "  %-*s %14s  no shape has it, as where the halves are set separately\n",
              KEY_WIDTH, cavum_scan_summary_key(scan, i), "none");
    }
    if (range->count == 0 || !cavum_scan_summary_is_shown(scan, i)) continue;
    snprintf(low, sizeof low, "%.7g", range->low);
    snprintf(high, sizeof high, "%.7g", range->high);
    const char *unit = cavum_scan_summary_unit(scan, i);
    fprintf(out, "  %-*s %14s %14s%s%s\n", KEY_WIDTH, cavum_scan_summary_key(scan, i), low,
            strcmp(low, high) == 0 ? "the same" : high, *unit ? "  " : "", unit);
  }
}

static void title_verdicts(FILE *out, const cavum_stored_scan *scan) {
  char title[CAVUM_SCAN_MODE_TEXT_SIZE + 96], mode[CAVUM_SCAN_MODE_TEXT_SIZE];
  snprintf(title, sizeof title, "Requirements of the base cell%s, shapes that are done",
           cavum_stored_scan_mode_text(mode, scan, ", by the figures of "));
  cavum_colour_title(out, title);
}

// How many shapes meet what the base cell requires.
static cavum_status print_verdicts(FILE *out, const cavum_stored_scan *scan,
                                   const cavum_scan_filter *filter, cavum_error *error) {
  bool titled = false;
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    int64_t counts[CAVUM_NUM_VERDICTS];
    const char *key = cavum_stored_scan_requirement(scan, i);
    if (!key) continue;
    cavum_status status = cavum_stored_scan_count_verdicts(counts, scan, i, filter, error);
    if (status != CAVUM_OK) return status;
    if (!titled) title_verdicts(out, scan);
    titled = true;
    fprintf(out, "  %-*s %lld met, %lld missed", KEY_WIDTH, key,
            (long long)counts[CAVUM_VERDICT_MET], (long long)counts[CAVUM_VERDICT_MISSED]);
    for (int k = 0; k < 2; k++) {
      cavum_verdict_kind kind = k == 0 ? CAVUM_VERDICT_UNDECIDED : CAVUM_VERDICT_ABSENT;
      if (counts[kind] == 0) continue;
      fprintf(out, ", %lld %s", (long long)counts[kind], cavum_verdict_word(kind));
    }
    fputc('\n', out);
  }
  return CAVUM_OK;
}

static void print_reasons(FILE *out, const cavum_stored_scan *scan) {
  cavum_scan_reason_group groups[CAVUM_SCAN_MOST_REASONS];
  int count = 0;
  if (cavum_stored_scan_group_reasons(groups, &count, scan, NULL) != CAVUM_OK || count == 0) return;
  cavum_colour_title(out, "Shapes without figures; # stands for numbers that differ");
  fprintf(out, "  %9s  %11s  %s\n", "how many", "first shape", "why");
  for (int i = 0; i < count && i < REASONS_SHOWN; i++) {
    fprintf(out, "  %9lld  %11lld  %s\n", (long long)groups[i].count,
            (long long)groups[i].first_shape, groups[i].text);
  }
  if (count > REASONS_SHOWN) {
    fprintf(out, "  and %d more kinds: --json lists them\n", count - REASONS_SHOWN);
  }
}

static bool is_aim(const cavum_scan_aims *aims, int column) {
  for (int i = 0; i < aims->count; i++) {
    if (aims->columns[i] == column) return true;
  }
  return false;
}

static cavum_status print_row(FILE *out, const cavum_stored_scan *scan, int column,
                              const cavum_scan_point *points, int count, cavum_error *error) {
  fprintf(out, "  %-*s", KEY_WIDTH, cavum_scan_summary_key(scan, column));
  for (int k = 0; k < count; k++) {
    double value = NAN;
    cavum_status status = cavum_stored_scan_read(&value, scan, column, points[k].shape, 1, error);
    if (status != CAVUM_OK) return status;
    fprintf(out, " %*.6g", NUMBER_WIDTH, value);
  }
  const char *unit = cavum_scan_summary_unit(scan, column);
  fprintf(out, "%s%s\n", *unit ? "  " : "", unit);
  return CAVUM_OK;
}

// The aims of a few shapes, then their dimensions.
static cavum_status print_beside(FILE *out, const cavum_stored_scan *scan,
                                 const cavum_scan_aims *aims, const cavum_scan_point *points,
                                 int count, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  fprintf(out, "  %-*s", KEY_WIDTH, "shape");
  for (int k = 0; k < count; k++) fprintf(out, " %*lld", NUMBER_WIDTH, (long long)points[k].shape);
  fputc('\n', out);
  for (int i = 0; i < aims->count && status == CAVUM_OK; i++) {
    status = print_row(out, scan, aims->columns[i], points, count, error);
  }
  int columns = cavum_stored_scan_num_columns(scan);
  for (int column = 0; column < columns && status == CAVUM_OK; column++) {
    if (!cavum_stored_scan_is_input(scan, column) || is_aim(aims, column)) continue;
    status = print_row(out, scan, column, points, count, error);
  }
  return status;
}

static cavum_status print_shapes(FILE *out, const cavum_stored_scan *scan,
                                 const cavum_scan_aims *aims, const cavum_scan_point *points,
                                 int64_t count, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int64_t first = 0; first < count && status == CAVUM_OK; first += SHAPES_BESIDE) {
    int64_t here = count - first < SHAPES_BESIDE ? count - first : SHAPES_BESIDE;
    if (first > 0) fputc('\n', out);
    status = print_beside(out, scan, aims, points + first, (int)here, error);
  }
  return status;
}

static void print_counts(FILE *out, const cavum_scan_summary *summary,
                         const cavum_stored_scan *scan, const char *where) {
  int64_t counted = 0;
  const char *title = cavum_stored_scan_title(scan);
  for (int i = 0; i < CAVUM_NUM_SHAPE_STATUSES; i++) counted += summary->by_status[i];
  if (title[0]) {
    fprintf(out, "%s%s%s\n", cavum_colour(out, CAVUM_PRINT_HEAD), title,
            cavum_colour(out, CAVUM_PRINT_END));
  }
  if (where) fprintf(out, "%lld of ", (long long)counted);
  fprintf(out, "%lld shapes", (long long)summary->num_rows);
  if (where) fprintf(out, " where %s", where);
  for (int i = 0, told = 0; i < CAVUM_NUM_SHAPE_STATUSES; i++) {
    if (summary->by_status[i] == 0) continue;
    fprintf(out, "%s %lld %s", told++ == 0 ? ":" : ",", (long long)summary->by_status[i],
            cavum_shape_status_word((cavum_shape_status)i));
  }
  fputc('\n', out);
}

static cavum_status print_front(FILE *out, const cavum_scan_summary *summary,
                                const cavum_stored_scan *scan, const cavum_scan_aims *aims,
                                cavum_error *error) {
  char title[160];
  int64_t shown = summary->num_front < FRONT_SHOWN ? summary->num_front : FRONT_SHOWN;
  snprintf(title, sizeof title,
           "Non-dominated: %lld %s, none of which another shape beats in every aim",
           (long long)summary->num_front, summary->num_front == 1 ? "shape" : "shapes");
  cavum_colour_title(out, title);
  cavum_status status = print_shapes(out, scan, aims, summary->front, shown, error);
  if (status == CAVUM_OK && summary->num_front > shown) {
    fprintf(out, "  and %lld more: --json lists all\n", (long long)(summary->num_front - shown));
  }
  return status;
}

cavum_status cavum_scan_summary_print(FILE *out, const cavum_scan_summary *summary,
                                      const cavum_stored_scan *scan, const cavum_scan_aims *aims,
                                      const cavum_scan_filter *filter, const char *where,
                                      cavum_error *error) {
  char *note = NULL, mode[CAVUM_SCAN_MODE_TEXT_SIZE];
  cavum_status status = cavum_stored_scan_front_note(&note, scan, error);
  if (status != CAVUM_OK) return status;
  print_counts(out, summary, scan, where);
  cavum_stored_scan_mode_text(mode, scan, "figures are those of ");
  if (mode[0]) fprintf(out, "%s\n", mode);
  if (note[0]) fprintf(out, "%s\n", note);
  free(note);
  if (!where) print_reasons(out, scan);
  if (summary->by_status[CAVUM_SHAPE_DONE] == 0) {
    fprintf(out, "\nNo shape %s: there are no ranges, verdicts or best shapes\n",
            where ? "that is done meets the condition" : "is done");
    return CAVUM_OK;
  }
  print_ranges(out, summary, scan);
  status = print_verdicts(out, scan, filter, error);
  for (int i = 0; i < aims->count && summary->num_best > 0 && status == CAVUM_OK; i++) {
    char title[CAVUM_COLUMN_KEY_SIZE + 32];
    snprintf(title, sizeof title, "%s %s", aims->smaller[i] ? "Smallest" : "Largest",
             cavum_scan_summary_key(scan, aims->columns[i]));
    cavum_colour_title(out, title);
    status = print_shapes(out, scan, aims, &summary->best[i * summary->num_best], summary->num_best,
                          error);
  }
  if (status != CAVUM_OK || aims->count == 0) return status;
  return print_front(out, summary, scan, aims, error);
}
