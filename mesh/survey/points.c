// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of points: every row counts, so one that cannot be read is an error of the file.
#include "survey/points.h"

#include <stdlib.h>

#include "base/base.h"
#include "table/csv_table.h"

enum { X, Y, Z, R, NUM_QUANTITIES, FEWEST_POINTS = 8 };

static const cavum_csv_unit lengths[] = {
    {.name = "mm", .unit = CAVUM_UNIT_MM},     {.name = "um", .unit = CAVUM_UNIT_UM},
    {.name = "cm", .unit = CAVUM_UNIT_CM},     {.name = "m", .unit = CAVUM_UNIT_M},
    {.name = "inch", .unit = CAVUM_UNIT_INCH}, {.name = NULL}};

static const cavum_csv_column columns[] = {{"x", X, lengths},
                                           {"y", Y, lengths},
                                           {"z", Z, lengths},
                                           {"r", R, lengths},
                                           {"point", CAVUM_CSV_IGNORED, NULL},
                                           {"section", CAVUM_CSV_IGNORED, NULL},
                                           {"note", CAVUM_CSV_IGNORED, NULL},
                                           {NULL, 0, NULL}};

void cavum_survey_points_clear(cavum_survey_points *points) {
  free(points->x_m);
  *points = (cavum_survey_points){0};
}

// Columns z and r, or x, y and z.
static cavum_status check_columns(int at[NUM_QUANTITIES], const cavum_csv_table *table,
                                  const char *path, cavum_error *error) {
  for (int i = 0; i < NUM_QUANTITIES; i++) at[i] = cavum_csv_table_find(table, i);
  bool plane = at[Z] >= 0 && at[R] >= 0 && at[X] < 0 && at[Y] < 0;
  bool space = at[Z] >= 0 && at[R] < 0 && at[X] >= 0 && at[Y] >= 0;
  if (!plane && !space) {
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "%s: expected the columns z and r, or x, y and z, each with its unit, as z_mm", path);
  }
  if (table->num_rejected > 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s", table->rejected[0].reason);
  }
  if (table->num_rows < FEWEST_POINTS || table->num_rows > CAVUM_SURVEY_POINTS_MOST) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: %lld points, expected %d to %d", path,
                      (long long)table->num_rows, FEWEST_POINTS, CAVUM_SURVEY_POINTS_MOST);
  }
  return CAVUM_OK;
}

static cavum_status check_row(const cavum_csv_table *table, const int at[NUM_QUANTITIES],
                              int64_t row, const char *path, cavum_error *error) {
  const double *values = table->values + row * table->num_columns;
  for (int i = 0; i < NUM_QUANTITIES; i++) {
    if (at[i] < 0 || !(isnan(values[at[i]]) || (i == R && values[at[i]] < 0.0))) continue;
    return cavum_fail(
        error, CAVUM_ERR_INPUT, "%s:%lld: column %d (%s): %s", path, (long long)table->lines[row],
        at[i] + 1, table->header[at[i]],
        isnan(values[at[i]]) ? "expected a number, found nothing" : "a radius is not negative");
  }
  return CAVUM_OK;
}

/** A point that is looked for among the others. */
typedef struct candidate {
  double x_m, y_m, z_m;
  int64_t at;
} candidate;

static int order_of(double a, double b) { return (a > b) - (a < b); }

static int compare_places(const candidate *x, const candidate *y) {
  int order = order_of(x->z_m, y->z_m);
  if (order == 0) order = order_of(x->x_m, y->x_m);
  return order == 0 ? order_of(x->y_m, y->y_m) : order;
}

static int compare(const void *a, const void *b) {
  const candidate *x = a, *y = b;
  int order = compare_places(x, y);
  return order == 0 ? (x->at > y->at) - (x->at < y->at) : order;
}

// Marks what repeats an earlier point; gives how often each point is there, 0: not equally often.
static int64_t mark_repeated(unsigned char *repeated, const candidate *sorted, int64_t n) {
  int64_t times = -1;
  for (int64_t i = 0, end; i < n; i = end) {
    for (end = i + 1; end < n && compare_places(&sorted[i], &sorted[end]) == 0; end++) {
      repeated[sorted[end].at] = 1;
    }
    times = times < 0 || times == end - i ? end - i : 0;
  }
  return times;
}

static void leave_out(cavum_survey_points *points, const unsigned char *repeated) {
  int64_t kept = 0;
  for (int64_t i = 0; i < points->num_points; i++) {
    if (repeated[i]) continue;
    points->x_m[kept] = points->x_m[i];
    points->y_m[kept] = points->y_m[i];
    points->z_m[kept++] = points->z_m[i];
  }
  points->num_repeated = points->num_points - kept;
  points->num_points = kept;
}

static cavum_status take_once(cavum_survey_points *points, cavum_error *error) {
  int64_t n = points->num_points;
  candidate *sorted = cavum_alloc(n, sizeof *sorted);
  unsigned char *repeated = cavum_alloc(n, 1);
  if (!sorted || !repeated) {
    free(sorted);
    free(repeated);
    return cavum_fail_memory(error);
  }
  for (int64_t i = 0; i < n; i++) {
    sorted[i] = (candidate){points->x_m[i], points->y_m[i], points->z_m[i], i};
  }
  qsort(sorted, (size_t)n, sizeof *sorted, compare);
  int64_t times = mark_repeated(repeated, sorted, n);
  if (points->in_space || times > 1) leave_out(points, repeated);
  free(sorted);
  free(repeated);
  return CAVUM_OK;
}

static cavum_status take_rows(cavum_survey_points *points, const cavum_csv_table *table,
                              const char *path, cavum_error *error) {
  int at[NUM_QUANTITIES];
  cavum_status status = check_columns(at, table, path, error);
  if (status != CAVUM_OK) return status;
  int64_t n = table->num_rows;
  cavum_survey_points made = {.num_points = n, .in_space = at[R] < 0};
  made.x_m = cavum_alloc(3 * n, sizeof *made.x_m);
  if (!made.x_m) return cavum_fail_memory(error);
  made.y_m = made.x_m + n;
  made.z_m = made.y_m + n;
  for (int64_t i = 0; i < n; i++) {
    const double *values = table->values + i * table->num_columns;
    CAVUM_TRY(check_row(table, at, i, path, error));
    made.x_m[i] = values[made.in_space ? at[X] : at[R]];
    made.y_m[i] = made.in_space ? values[at[Y]] : 0.0;
    made.z_m[i] = values[at[Z]];
  }
  CAVUM_TRY(take_once(&made, error));
  *points = made;
  made = (cavum_survey_points){0};
done:
  cavum_survey_points_clear(&made);
  return status;
}

cavum_status cavum_survey_points_read(cavum_survey_points *points, const char *path,
                                      cavum_error *error) {
  cavum_csv_table table = {0};
  cavum_status status = cavum_csv_table_read(&table, path, columns, error);
  if (status != CAVUM_OK) return status;
  status = take_rows(points, &table, path, error);
  cavum_csv_table_clear(&table);
  return status;
}
