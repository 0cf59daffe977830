// SPDX-License-Identifier: GPL-3.0-or-later
// A front in the file of its shapes: limits, figures, multipliers, and where it has gaps.
#include "store/front_file.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/geometry.h"
#include "cavum/scan_store.h"
#include "figures/figure_key.h"
#include "store/scan_read.h"

enum { FIGURES = 1 + CAVUM_FRONT_MOST_AXES };

/** A number, or one for each figure, of every point. */
typedef struct front_table {
  const char *path, *long_name;
  size_t offset;
  int of_figures;  // columns: 0 one alone, 1 of the figures with limits, 2 of all with the
                   // objective
} front_table;

static const front_table TABLES[] = {
    {"/front/limit", "limit of each figure but the first, in the unit of its key",
     offsetof(cavum_front_point, limit), 1},
    {"/front/value", "figures in the units of their keys", offsetof(cavum_front_point, value), 2},
    {"/front/uncertainty", "numerical uncertainty of value",
     offsetof(cavum_front_point, uncertainty), 2},
    {"/front/multiplier",
     "gain when each limit is relaxed by one unit: change of the logarithm of the first figure",
     offsetof(cavum_front_point, multiplier), 1},
    {"/front/residual", "residual of the first-order conditions",
     offsetof(cavum_front_point, residual), 0},
    {"/front/violation", "by how much the limit that is broken most is broken, relative",
     offsetof(cavum_front_point, violation), 0}};

static cavum_status write_table(cavum_hdf5_file *file, const front_table *table,
                                const cavum_front *front, cavum_error *error) {
  int columns = table->of_figures == 0 ? 1 : table->of_figures - 1 + front->num_axes;
  double *data = cavum_alloc((int64_t)front->num_points * columns, sizeof *data);
  if (!data) return cavum_fail_memory(error);
  for (int i = 0; i < front->num_points; i++) {
    const char *from = (const char *)&front->points[i] + table->offset;
    memcpy(data + (ptrdiff_t)i * columns, from, (size_t)columns * sizeof *data);
  }
  const cavum_hdf5_array array = {.path = table->path,
                                  .rank = table->of_figures == 0 ? 1 : 2,
                                  .extent = {front->num_points, columns},
                                  .data = data,
                                  .units = "1",
                                  .long_name = table->long_name};
  cavum_status status = cavum_hdf5_write_array(file, &array, error);
  free(data);
  return status;
}

// Words of the points, and the row of each in the columns; -1: none.
static cavum_status write_kinds(cavum_hdf5_file *file, const cavum_front *front,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const char **words = cavum_alloc(front->num_points, sizeof *words);
  double *rows = cavum_alloc(front->num_points, sizeof *rows);
  double *solves = cavum_alloc(front->num_points, sizeof *solves);
  double *seams = cavum_alloc(front->num_points, sizeof *seams);
  int row = 0;
  if (!words || !rows || !solves || !seams) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < front->num_points; i++) {
    words[i] = cavum_front_kind_word(front->points[i].kind);
    rows[i] = front->points[i].kind == CAVUM_FRONT_GAP ? -1.0 : row++;
    solves[i] = front->points[i].num_solves;
    seams[i] = front->points[i].at_seam;
  }
  const cavum_hdf5_array of_rows = {.path = "/front/row",
                                    .rank = 1,
                                    .extent = {front->num_points},
                                    .data = rows,
                                    .units = "1",
                                    .long_name = "row in /columns; -1: a gap has none"};
  const cavum_hdf5_array of_solves = {.path = "/front/solves",
                                      .rank = 1,
                                      .extent = {front->num_points},
                                      .data = solves,
                                      .units = "1",
                                      .long_name = "solves with derivatives of each point"};
  const cavum_hdf5_array of_seams = {
      .path = "/front/at_seam",
      .rank = 1,
      .extent = {front->num_points},
      .data = seams,
      .units = "1",
      .long_name = "1: a neighbouring point was computed by another part"};
  CAVUM_TRY(
      cavum_hdf5_write_texts(file, "/front/kind", front->num_points, words,
                             "point; beyond: the limit is not active, a tighter one gives the same "
                             "shape; dominated: another is better; gap: no best shape was found",
                             error));
  CAVUM_TRY(cavum_hdf5_write_array(file, &of_rows, error));
  CAVUM_TRY(cavum_hdf5_write_array(file, &of_solves, error));
  CAVUM_TRY(cavum_hdf5_write_array(file, &of_seams, error));
done:
  free(words);
  free(rows);
  free(solves);
  free(seams);
  return status;
}

cavum_status cavum_front_write(cavum_hdf5_file *file, const cavum_front *front,
                               cavum_error *error) {
  const char *figures[FIGURES];
  cavum_status status = CAVUM_OK;
  for (int a = 0; a <= front->num_axes; a++) {
    figures[a] = a == 0 ? front->objective.what.key : front->axes[a - 1].what.key;
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/front/figures", front->num_axes + 1, figures,
                                   "the figure that is best, then those with limits", error));
  CAVUM_TRY(write_kinds(file, front, error));
  for (size_t t = 0; t < sizeof TABLES / sizeof TABLES[0]; t++) {
    CAVUM_TRY(write_table(file, &TABLES[t], front, error));
  }
done:
  return status;
}

// ---- read

/** The group of a file. */
typedef struct stored_front {
  char **kinds, **figures;  // owned
  int num_points, num_figures;
  double *limits;  // owned, shape [num_points, num_figures - 1]
  double *seams;   // owned, shape [num_points]; NULL: of no parts
} stored_front;

static cavum_status fail_front(const cavum_stored_scan *scan, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: /front is not understood",
                    cavum_stored_scan_path(scan));
}

static cavum_status read_front(stored_front *front, const cavum_stored_scan *scan,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t count = 0;
  const cavum_hdf5_file *file = cavum_stored_scan_file(scan);
  CAVUM_TRY(cavum_hdf5_read_texts(&front->kinds, &front->num_points, file, "/front/kind", error));
  CAVUM_TRY(
      cavum_hdf5_read_texts(&front->figures, &front->num_figures, file, "/front/figures", error));
  CAVUM_TRY(cavum_hdf5_read_doubles(&front->limits, &count, file, "/front/limit", error));
  if (front->num_figures < 2 || count != (int64_t)front->num_points * (front->num_figures - 1)) {
    CAVUM_TRY(fail_front(scan, error));
  }
  if (cavum_hdf5_has(file, "/front/at_seam")) {
    CAVUM_TRY(cavum_hdf5_read_doubles(&front->seams, &count, file, "/front/at_seam", error));
    if (count != front->num_points) CAVUM_TRY(fail_front(scan, error));
  }
done:
  return status;
}

static bool is_kind(const stored_front *front, int point, cavum_front_kind kind) {
  return strcmp(front->kinds[point], cavum_front_kind_word(kind)) == 0;
}

// "2.1" or "(2.1, 220)".
static void write_limits(char text[64], const stored_front *front, int point) {
  const double *limit = front->limits + (ptrdiff_t)point * (front->num_figures - 1);
  if (front->num_figures == 2) {
    snprintf(text, 64, "%.6g", limit[0]);
  } else {
    snprintf(text, 64, "(%.6g, %.6g)", limit[0], limit[1]);
  }
}

// "; WHAT at 2.1, 2.2 and 3 more" behind a note.
static cavum_status add_places(char **note, const stored_front *front, cavum_front_kind kind,
                               const char *what, cavum_error *error) {
  enum { MOST_SHOWN = 8 };
  int count = 0;
  for (int i = 0; i < front->num_points; i++) {
    char limits[64], more[32] = "";
    if (!is_kind(front, i, kind) || ++count > MOST_SHOWN + 1) continue;
    write_limits(limits, front, i);
    if (count > MOST_SHOWN) snprintf(more, sizeof more, " and more");
    char *longer = count > MOST_SHOWN ? cavum_format_text("%s%s", *note, more)
                   : count > 1        ? cavum_format_text("%s, %s", *note, limits)
                                      : cavum_format_text("%s; %s %s", *note, what, limits);
    if (!longer) return cavum_fail_memory(error);
    free(*note);
    *note = longer;
  }
  return CAVUM_OK;
}

// How many of the gaps are where two parts meet: no walk went through there.
static cavum_status add_seams(char **note, const stored_front *front, cavum_error *error) {
  int count = 0;
  for (int i = 0; front->seams && i < front->num_points; i++) {
    count += front->seams[i] != 0.0 && is_kind(front, i, CAVUM_FRONT_GAP);
  }
  if (count == 0) return CAVUM_OK;
  char *longer = cavum_format_text("%s, %d of them at a seam of parts", *note, count);
  if (!longer) return cavum_fail_memory(error);
  free(*note);
  *note = longer;
  return CAVUM_OK;
}

// A figure as people know it.
static const char *name_of(const char *key) {
  int mode = -1;
  cavum_figure_id figure = cavum_figure_of_key(&mode, key);
  if (figure != CAVUM_NUM_FIGURES) return cavum_figure_describe(figure).long_name;
  for (int i = 0; i < CAVUM_NUM_GEOMETRY_FIGURES; i++) {
    cavum_geometry_info d = cavum_geometry_describe((cavum_geometry_id)i);
    if (strcmp(d.key, key) == 0) return d.long_name;
  }
  return key;
}

static cavum_status write_note(char **note, const stored_front *front, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int points = 0, gaps = 0;
  for (int i = 0; i < front->num_points; i++) {
    points += is_kind(front, i, CAVUM_FRONT_POINT) || is_kind(front, i, CAVUM_FRONT_BEYOND);
    gaps += is_kind(front, i, CAVUM_FRONT_GAP);
  }
  bool two = front->num_figures > 2;
  char *made = cavum_format_text("Front of %s against %s%s%s: %d point%s%s",
                                 name_of(front->figures[0]), name_of(front->figures[1]),
                                 two ? " and " : "", two ? name_of(front->figures[2]) : "", points,
                                 points == 1 ? "" : "s", gaps > 0 ? "" : ", no gaps");
  if (!made) return cavum_fail_memory(error);
  CAVUM_TRY(add_places(&made, front, CAVUM_FRONT_GAP, "gaps at", error));
  CAVUM_TRY(add_seams(&made, front, error));
  CAVUM_TRY(add_places(&made, front, CAVUM_FRONT_BEYOND, "limit not active at", error));
  CAVUM_TRY(add_places(&made, front, CAVUM_FRONT_DOMINATED, "dominated at", error));
  *note = made;
  made = NULL;
done:
  free(made);
  return status;
}

cavum_status cavum_stored_scan_front_note(char **note, const cavum_stored_scan *scan,
                                          cavum_error *error) {
  if (!note || !scan) return cavum_fail_null(error, __func__);
  stored_front front = {0};
  char *made = NULL;
  cavum_status status = CAVUM_OK;
  if (cavum_hdf5_has(cavum_stored_scan_file(scan), "/front/kind")) {
    status = read_front(&front, scan, error);
    if (status == CAVUM_OK) status = write_note(&made, &front, error);
  } else {
    made = cavum_copy_text("");
    if (!made) status = cavum_fail_memory(error);
  }
  cavum_hdf5_free_texts(front.kinds, front.num_points);
  cavum_hdf5_free_texts(front.figures, front.num_figures);
  free(front.limits);
  free(front.seams);
  if (status == CAVUM_OK) *note = made;
  return status;
}
