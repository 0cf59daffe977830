// SPDX-License-Identifier: GPL-3.0-or-later
// A measured wall as HDF5: figures, sections, and columns along the wall.
#include "store/as_built_file.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/units.h"
#include "figures/stored_figure.h"
#include "store/matrix.h"

// No file has more places or sections.
enum { ROWS_MOST = 10000000 };

/** A number of a struct and its name in the file. */
typedef struct member {
  const char *name, *units, *long_name;
  size_t offset;
} member;

#define MEMBER(type, name, member, units, long_name) \
  { name, units, long_name, offsetof(type, member) }

static const member WALL[] = {
    MEMBER(cavum_as_built, "along", along_m, "m",
           "arc length along the wall of the drawing, from its first end"),
    MEMBER(cavum_as_built, "z", z_m, "m", "z of the wall of the drawing"),
    MEMBER(cavum_as_built, "r", r_m, "m", "r of the wall of the drawing"),
    MEMBER(cavum_as_built, "deviation", deviation_m, "m",
           "deviation of the measured wall from the drawing, positive outwards"),
    MEMBER(cavum_as_built, "deviation_uncertainty", deviation_uncertainty_m, "m",
           "standard uncertainty of the deviation, from the scatter of the points"),
    MEMBER(cavum_as_built, "slope", slope_hz_per_m2, "Hz/m2",
           "change of the frequency per metre of wall and metre that it is moved outwards"),
    MEMBER(cavum_as_built, "change", change_hz_per_m, "Hz/m",
           "change of the frequency per metre of wall: deviation times slope")};
enum { NUM_WALL = sizeof WALL / sizeof *WALL };

#define SECTION(name, member, units, long_name) \
  MEMBER(cavum_as_built_section, name, member, units, long_name)
static const member SECTIONS[] = {
    SECTION("from", from_m, "m",
            "arc length where the piece begins, along the wall of the drawing"),
    SECTION("to", to_m, "m", "arc length where the piece ends, along the wall of the drawing"),
    SECTION("from_z", from_z_m, "m", "z where the piece begins"),
    SECTION("from_r", from_r_m, "m", "r where the piece begins"),
    SECTION("to_z", to_z_m, "m", "z where the piece ends"),
    SECTION("to_r", to_r_m, "m", "r where the piece ends"),
    SECTION("deviation", deviation_m, "m", "mean deviation of the piece, positive outwards"),
    SECTION("change", change_hz, "Hz",
            "change of the frequency by the deviation of this piece alone"),
    SECTION("uncertainty", uncertainty_hz, "Hz", "standard uncertainty of change")};
enum { NUM_SECTIONS = sizeof SECTIONS / sizeof *SECTIONS };

#define FIGURE(name, member, long_name) \
  MEMBER(cavum_as_built_figure, name, member, "as the key says", long_name)
static const member FIGURES[] = {
    FIGURE("value", value, "figure of the measured wall"),
    FIGURE("numerical_uncertainty", numerical, "numerical uncertainty of the solve"),
    FIGURE("drawing", drawn, "figure of the drawing"),
    FIGURE("change_by_deviation", by_deviation,
           "change of the figure by the deviations along the wall, to first order"),
    FIGURE("uncertainty", uncertainty, "standard uncertainty of value"),
    FIGURE("by_noise", by_noise, "standard uncertainty from the scatter of the points"),
    FIGURE("by_probe", by_probe, "change by one standard uncertainty of the probe"),
    FIGURE("sampled", sampled, "standard deviation of the figure over the random walls"),
    FIGURE("sampled_shift", sampled_shift, "mean of the figure over the random walls, less value")};
enum { NUM_FIGURES = sizeof FIGURES / sizeof *FIGURES };

#define OUTLIER(name, member, long_name) \
  MEMBER(cavum_as_built_outlier, name, member, "m", long_name)
static const member OUTLIERS[] = {
    OUTLIER("z", z_m, "z of the outlier, after the best fit"),
    OUTLIER("r", r_m, "r of the outlier, after the best fit"),
    OUTLIER("along", along_m, "arc length along the wall of the drawing, beside the outlier"),
    OUTLIER("distance", distance_m, "distance of the outlier from the drawing, positive outwards")};
enum { NUM_OUTLIERS = sizeof OUTLIERS / sizeof *OUTLIERS };

static double number_at(const void *from, size_t offset) {
  double value;
  memcpy(&value, (const char *)from + offset, sizeof value);
  return value;
}

static double *column_at(const cavum_as_built *built, size_t offset) {
  double *column;
  memcpy(&column, (const char *)built + offset, sizeof column);
  return column;
}

// ---- write

static cavum_status write_column(cavum_hdf5_file *file, const char *group, const member *what,
                                 int64_t rows, const double *data, cavum_error *error) {
  char path[160];
  snprintf(path, sizeof path, "%s/%s", group, what->name);
  return cavum_matrix_write(file, (cavum_matrix_name){path, what->units, what->long_name}, rows, 0,
                            data, error);
}

static cavum_status write_sections(cavum_hdf5_file *file, const cavum_as_built *built,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double *column = cavum_alloc(built->num_sections, sizeof *column);
  if (!column) return cavum_fail_memory(error);
  for (int c = 0; status == CAVUM_OK && c < NUM_SECTIONS; c++) {
    for (int k = 0; k < built->num_sections; k++) {
      column[k] = number_at(&built->sections[k], SECTIONS[c].offset);
    }
    status = write_column(file, "/sections", &SECTIONS[c], built->num_sections, column, error);
  }
  free(column);
  return status;
}

static cavum_status write_outliers(cavum_hdf5_file *file, const cavum_as_built *built,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (built->num_outliers < 1) return CAVUM_OK;
  double *column = cavum_alloc(built->num_outliers, sizeof *column);
  if (!column) return cavum_fail_memory(error);
  for (int c = 0; status == CAVUM_OK && c < NUM_OUTLIERS; c++) {
    for (int64_t k = 0; k < built->num_outliers; k++) {
      column[k] = number_at(&built->outliers[k], OUTLIERS[c].offset);
    }
    status = write_column(file, "/outliers", &OUTLIERS[c], built->num_outliers, column, error);
  }
  free(column);
  return status;
}

// What follows from the members, so that scripts need not know how.
static cavum_status write_derived(cavum_hdf5_file *file, const char *group,
                                  const cavum_as_built_figure *f, double unit, cavum_error *error) {
  const struct {
    member what;
    double value;
  } columns[] = {
      {{"sampled_mean", "as the key says", "mean of the figure over the random walls", 0},
       f->value + f->sampled_shift},
      {{"linear_uncertainty", "as the key says",
        "standard uncertainty from points and probe: by_noise and by_probe in quadrature", 0},
       hypot(f->by_noise, f->by_probe)}};
  for (size_t k = 0; k < sizeof columns / sizeof *columns; k++) {
    double value = columns[k].value / unit;
    cavum_status status = write_column(file, group, &columns[k].what, 1, &value, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status write_figure(cavum_hdf5_file *file, const cavum_as_built *built,
                                 cavum_figure_id id, cavum_error *error) {
  double unit = cavum_from_unit(1.0, cavum_stored_figure_unit(id));
  char group[128];
  snprintf(group, sizeof group, "/figures/%s", cavum_figure_describe(id).key);
  for (int c = 0; c < NUM_FIGURES; c++) {
    double value = number_at(&built->figures[id], FIGURES[c].offset) / unit;
    cavum_status status = write_column(file, group, &FIGURES[c], 1, &value, error);
    if (status != CAVUM_OK) return status;
  }
  return write_derived(file, group, &built->figures[id], unit, error);
}

static cavum_status write_points(cavum_hdf5_file *file, const cavum_as_built *b,
                                 cavum_error *error) {
  const double counts[4] = {(double)b->num_points, (double)b->num_used, (double)b->num_outliers,
                            (double)b->num_beyond};
  const double lengths[4] = {b->stated_scatter_m, b->found_scatter_m, b->scatter_m,
                             b->probe_uncertainty_m};
  const double mode = b->mode + 1, draws = b->num_draws, reached = b->accuracy_reached;
  double planes[8];
  for (int k = 0; k < 2; k++) {
    const cavum_as_built_plane *p = &b->planes[k];
    const double row[4] = {p->z_m, p->beyond_m, p->uncertainty_m, p->is_elsewhere};
    memcpy(planes + 4L * k, row, sizeof row);
  }
  const struct {
    member what;
    int rows;
    const double *data;
  } columns[] = {
      {{"mode", "1", "mode, from 1", 0}, 1, &mode},
      {{"walls_drawn", "1", "number of random walls that were solved", 0}, 1, &draws},
      {{"points", "1", "numbers of points: in the file, used, outliers, beyond the ends", 0},
       4,
       counts},
      {{"scatter", "m",
        "standard deviation of a point: stated, found, used; standard uncertainty of the probe", 0},
       4,
       lengths},
      {{"best_fit", "m, rad", "best fit of the points: shifts along x, y, z; tilts about x, y", 0},
       5,
       b->motion},
      {{"shift_uncertainty", "m", "standard uncertainty of the shift along z; 0: none was fitted",
        0},
       1,
       &b->shift_uncertainty_m},
      {{"accuracy_reached", "1", "1: both solves are as accurate as asked for", 0}, 1, &reached},
      {{"planes", "m, m, m, 1",
        "mirror planes, left and right: z in the drawing, how far outside it the wall is mirrored, "
        "standard uncertainty, 1: another place than drawn",
        0},
       8,
       planes}};
  for (size_t k = 0; k < sizeof columns / sizeof *columns; k++) {
    cavum_status status =
        write_column(file, "/input", &columns[k].what, columns[k].rows, columns[k].data, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status write_all(cavum_hdf5_file *file, const cavum_as_built *built,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const char *version = cavum_version(), *title = built->title;
  CAVUM_TRY(
      cavum_hdf5_write_text_attribute(file, "/", "format", CAVUM_STORE_AS_BUILT_FORMAT, error));
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, "/", "label", built->label, error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/input/title", 0, &title, "title of the cell", error));
  CAVUM_TRY(
      cavum_hdf5_write_texts(file, "/input/version_cavum", 0, &version, "version of cavum", error));
  CAVUM_TRY(write_points(file, built, error));
  CAVUM_TRY(write_outliers(file, built, error));
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (built->figures[id].exists) {
      CAVUM_TRY(write_figure(file, built, (cavum_figure_id)id, error));
    }
  }
  CAVUM_TRY(write_sections(file, built, error));
  for (int c = 0; c < NUM_WALL; c++) {
    CAVUM_TRY(write_column(file, "/wall", &WALL[c], built->num_places,
                           column_at(built, WALL[c].offset), error));
  }
done:
  return status;
}

cavum_status cavum_store_write_as_built(const char *path, const cavum_as_built *built,
                                        cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  cavum_status status = CAVUM_OK;
  if (!path || !built) return cavum_fail_null(error, __func__);
  CAVUM_TRY(cavum_hdf5_create(&file, error));
  CAVUM_TRY(write_all(file, built, error));
  CAVUM_TRY(cavum_hdf5_save(file, path, "as-built", error));
done:
  cavum_hdf5_destroy(&file);
  return status;
}

// ---- read

static cavum_status read_column(double **values, int64_t *rows, const cavum_hdf5_file *file,
                                const char *group, const char *name, cavum_error *error) {
  char path[160];
  int64_t found = 0;
  double *read = NULL;
  snprintf(path, sizeof path, "%s/%s", group, name);
  cavum_status status = cavum_hdf5_read_doubles(&read, &found, file, path, error);
  if (status != CAVUM_OK) return status;
  if (found < 1 || found > ROWS_MOST || (*rows > 0 && found != *rows)) {
    free(read);
    cavum_matrix_fail_damaged(path, error);
    return CAVUM_ERR_INPUT;
  }
  *rows = found;
  *values = read;
  return CAVUM_OK;
}

static cavum_status read_sections(cavum_as_built *made, const cavum_hdf5_file *file,
                                  cavum_error *error) {
  int64_t rows = 0;
  for (int c = 0; c < NUM_SECTIONS; c++) {
    double *column = NULL;
    cavum_status status = read_column(&column, &rows, file, "/sections", SECTIONS[c].name, error);
    if (status != CAVUM_OK) return status;
    if (!made->sections) made->sections = cavum_alloc(rows, sizeof *made->sections);
    if (!made->sections) {
      free(column);
      return cavum_fail_memory(error);
    }
    made->num_sections = (int)rows;
    for (int64_t k = 0; k < rows; k++) {
      memcpy((char *)&made->sections[k] + SECTIONS[c].offset, &column[k], sizeof column[k]);
    }
    free(column);
  }
  return CAVUM_OK;
}

static cavum_status read_outliers(cavum_as_built *made, const cavum_hdf5_file *file,
                                  cavum_error *error) {
  int64_t rows = made->num_outliers;
  if (rows < 1) return CAVUM_OK;
  if (rows > ROWS_MOST) return cavum_matrix_fail_damaged("/input/points", error);
  made->outliers = cavum_alloc(rows, sizeof *made->outliers);
  if (!made->outliers) return cavum_fail_memory(error);
  for (int c = 0; c < NUM_OUTLIERS; c++) {
    double *column = NULL;
    cavum_status status = read_column(&column, &rows, file, "/outliers", OUTLIERS[c].name, error);
    if (status != CAVUM_OK) return status;
    for (int64_t k = 0; k < rows; k++) {
      memcpy((char *)&made->outliers[k] + OUTLIERS[c].offset, &column[k], sizeof column[k]);
    }
    free(column);
  }
  return CAVUM_OK;
}

static void take_planes(cavum_as_built *made, const double *numbers) {
  for (int k = 0; k < 2; k++) {
    const double *row = numbers + 4L * k;
    made->planes[k] = (cavum_as_built_plane){row[0], row[1], row[2], row[3] != 0.0};
  }
}

static cavum_status read_wall(cavum_as_built *made, const cavum_hdf5_file *file,
                              cavum_error *error) {
  int64_t rows = 0;
  for (int c = 0; c < NUM_WALL; c++) {
    double *column = NULL;
    cavum_status status = read_column(&column, &rows, file, "/wall", WALL[c].name, error);
    if (status != CAVUM_OK) return status;
    memcpy((char *)made + WALL[c].offset, &column, sizeof column);
  }
  made->num_places = (cavum_index)rows;
  return CAVUM_OK;
}

static cavum_status read_figures(cavum_as_built *made, const cavum_hdf5_file *file,
                                 cavum_error *error) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit((cavum_figure_id)id));
    char group[128];
    snprintf(group, sizeof group, "/figures/%s", cavum_figure_describe((cavum_figure_id)id).key);
    made->figures[id].exists = cavum_hdf5_has(file, group);
    for (int c = 0; made->figures[id].exists && c < NUM_FIGURES; c++) {
      double *value = NULL;
      int64_t one = 1;
      cavum_status status = read_column(&value, &one, file, group, FIGURES[c].name, error);
      if (status != CAVUM_OK) return status;
      *value *= unit;
      memcpy((char *)&made->figures[id] + FIGURES[c].offset, value, sizeof *value);
      free(value);
    }
  }
  return CAVUM_OK;
}

static cavum_status read_points(cavum_as_built *made, const cavum_hdf5_file *file,
                                cavum_error *error) {
  double *counts = NULL, *lengths = NULL, *motion = NULL, *planes = NULL, reached = 0.0;
  double mode = 1.0, draws = 0.0;
  int64_t four = 4, five = 5, eight = 8;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(read_column(&counts, &four, file, "/input", "points", error));
  CAVUM_TRY(read_column(&lengths, &four, file, "/input", "scatter", error));
  CAVUM_TRY(read_column(&motion, &five, file, "/input", "best_fit", error));
  CAVUM_TRY(read_column(&planes, &eight, file, "/input", "planes", error));
  CAVUM_TRY(cavum_hdf5_read_number(&reached, file, "/input/accuracy_reached", error));
  CAVUM_TRY(
      cavum_hdf5_read_number(&made->shift_uncertainty_m, file, "/input/shift_uncertainty", error));
  CAVUM_TRY(cavum_hdf5_read_number(&mode, file, "/input/mode", error));
  CAVUM_TRY(cavum_hdf5_read_number(&draws, file, "/input/walls_drawn", error));
  made->mode = cavum_whole_int(mode - 1.0, 0);
  made->num_draws = cavum_whole_int(draws, 0);
  made->accuracy_reached = reached != 0.0;
  take_planes(made, planes);
  made->num_points = (int64_t)counts[0];
  made->num_used = (int64_t)counts[1];
  made->num_outliers = (int64_t)counts[2];
  made->num_beyond = (int64_t)counts[3];
  made->stated_scatter_m = lengths[0];
  made->found_scatter_m = lengths[1];
  made->scatter_m = lengths[2];
  made->probe_uncertainty_m = lengths[3];
  memcpy(made->motion, motion, sizeof made->motion);
done:
  free(counts);
  free(lengths);
  free(motion);
  free(planes);
  return status;
}

static cavum_status read_all(cavum_as_built *made, const cavum_hdf5_file *file,
                             cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char title[1024] = "";
  CAVUM_TRY(cavum_hdf5_read_text(made->label, sizeof made->label, file, "/", "label", error));
  CAVUM_TRY(cavum_hdf5_read_text(title, sizeof title, file, "/input/title", NULL, error));
  made->title = cavum_copy_text(title);
  if (!made->title) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(read_points(made, file, error));
  CAVUM_TRY(read_outliers(made, file, error));
  CAVUM_TRY(read_figures(made, file, error));
  CAVUM_TRY(read_sections(made, file, error));
  CAVUM_TRY(read_wall(made, file, error));
done:
  return status;
}

cavum_status cavum_stored_as_built_read(cavum_as_built **built, const char *path,
                                        cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  char format[64] = "";
  cavum_status status = CAVUM_OK;
  cavum_as_built *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_hdf5_open(&file, path, error));
  cavum_hdf5_read_text(format, sizeof format, file, "/", "format", NULL);
  if (strcmp(format, CAVUM_STORE_AS_BUILT_FORMAT) != 0) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: no file of cavum as-built", path));
  }
  CAVUM_TRY(read_all(made, file, error));
  *built = made;
  made = NULL;
done:
  cavum_hdf5_destroy(&file);
  cavum_as_built_destroy(&made);
  return status;
}
