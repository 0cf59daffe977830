// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives as JSON and HDF5 have them: against those of the interface times the unit of the key,
// and against differences of figures that are read from such files as well.
#include <hdf5.h>
#include <jansson.h>

#include "cavum/store.h"
#include "solving.h"
#include "temporary_folder.h"

#define CUP                                                                        \
  "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"  \
  "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n" \
  "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"                                \
  "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n"
#define TO(z, r, end) "    - {line_to: {z_mm: " z ", r_mm: " r "}, boundary: " end "}\n"
#define NOSE(sign, from, to, turn)                                        \
  TO(sign "20", from, "metal")                                            \
  "    - {arc_to: {z_mm: " sign "20, r_mm: " to "}, centre: {z_mm: " sign \
  "20, r_mm: 16}, turn: " turn ", boundary: metal}\n"
// Two noses of the same peak.
static const char NOSES[] =
    "accelerating_length_mm: 60\ncontour:\n  kind: path\n  start: {z_mm: -70, r_mm: 0}\n  "
    "path:\n" TO("70", "0", "axis") TO("70", "12", "electric") NOSE("", "12", "20", "right")
        TO("45", "32", "metal") TO("45", "120", "metal") TO("-45", "120", "metal")
            TO("-45", "32", "metal") NOSE("-", "20", "12", "right") TO("-70", "12", "electric")
                TO("-70", "0", "electric");

// A result as both kinds of files have it.
typedef struct files {
  cavum_result *result;
  json_t *json;
  char folder[128];
  hid_t hdf5;
} files;

// The cell with one dimension set to a value in mm, where a key is given.
static files make(const char *text, const char *key, double value_mm,
                  const cavum_solve_options *options) {
  files made;
  char path[160], *as_json = NULL;
  cavum_error error = {0};
  cavum_cell cell = solving_read(text);
  if (key) ck_assert_int_eq(cavum_cell_set(&cell, key, value_mm, &error), CAVUM_OK);
  cell.accuracy_frequency = 1e-9;
  cell.accuracy_other_figures = 1e-5;
  cell.num_modes = 1;
  made.result = solving_solve(&cell, options);
  ck_assert_int_eq(cavum_store_result_to_json(&as_json, made.result, &error), CAVUM_OK);
  made.json = json_loads(as_json, 0, NULL);
  ck_assert_ptr_nonnull(made.json);
  free(as_json);
  temporary_folder_make(made.folder);
  snprintf(path, sizeof path, "%s/result.hdf", made.folder);
  ck_assert_msg(cavum_store_write_result(path, made.result, &cell, options, &error) == CAVUM_OK,
                "%s", error.message);
  made.hdf5 = H5Fopen(path, H5F_ACC_RDONLY, H5P_DEFAULT);
  ck_assert(made.hdf5 >= 0);
  cavum_cell_clear(&cell);
  return made;
}

static void clear(files *made) {
  H5Fclose(made->hdf5);
  temporary_folder_delete(made->folder);
  json_decref(made->json);
  cavum_result_destroy(&made->result);
}

// A number at a path of keys, which ends with NULL, of the first mode or the whole.
static double json_at(const files *of, bool in_mode, const char *const *keys) {
  json_t *at = of->json;
  if (in_mode) at = json_array_get(json_object_get(at, "modes"), 0);
  for (; *keys; keys++) at = json_object_get(at, *keys);
  ck_assert(json_is_number(at));
  return json_number_value(at);
}

static double hdf5_at(const files *of, const char *path) {
  double value;
  hid_t set = H5Dopen(of->hdf5, path, H5P_DEFAULT);
  ck_assert_msg(set >= 0, "%s", path);
  ck_assert(H5Dread(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, &value) >= 0);
  H5Dclose(set);
  return value;
}

static void hdf5_attribute(double *values, const files *of, const char *path, const char *name) {
  hid_t attribute = H5Aopen_by_name(of->hdf5, path, name, H5P_DEFAULT, H5P_DEFAULT);
  ck_assert_msg(attribute >= 0, "%s of %s", name, path);
  ck_assert(H5Aread(attribute, H5T_NATIVE_DOUBLE, values) >= 0);
  H5Aclose(attribute);
}

static void check_units(const files *of, const char *path, const char *expected) {
  char text[64] = "";
  hid_t attribute = H5Aopen_by_name(of->hdf5, path, "units", H5P_DEFAULT, H5P_DEFAULT);
  ck_assert_msg(attribute >= 0, "units of %s", path);
  hid_t type = H5Aget_type(attribute);
  ck_assert(H5Tget_size(type) < sizeof text);
  ck_assert(H5Aread(attribute, type, text) >= 0);
  ck_assert_str_eq(text, expected);
  H5Tclose(type);
  H5Aclose(attribute);
}

static double *hdf5_column(const files *of, const char *path, cavum_index count) {
  hid_t set = H5Dopen(of->hdf5, path, H5P_DEFAULT);
  ck_assert_msg(set >= 0, "%s", path);
  hid_t space = H5Dget_space(set);
  ck_assert_int_eq(H5Sget_simple_extent_npoints(space), count);
  double *values = malloc((size_t)count * sizeof *values);
  ck_assert(H5Dread(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values) >= 0);
  H5Sclose(space);
  H5Dclose(set);
  return values;
}

static int find(const cavum_result *result, const char *key) {
  for (int i = 0; i < result->num_dimensions; i++) {
    if (strcmp(result->dimensions[i].key, key) == 0) return i;
  }
  ck_abort_msg("no dimension %s", key);
  return -1;
}

// The cell at x - 2h, x - h, x + h, x + 2h.
enum { NUM_MOVED = 4 };
static const double OFFSETS[NUM_MOVED] = {-2.0, -1.0, 1.0, 2.0};
// Of those in steps of h: fourth order.
static double slope_of(const double at[NUM_MOVED], double h) {
  return (8.0 * (at[2] - at[1]) - (at[3] - at[0])) / (12.0 * h);
}

// Figures with what their files' unit is of the one in SI, and how far differences of them tell,
// relative: the accuracy over a step of 2e-3.
static const struct {
  cavum_figure_id id;
  const char *key, *units;
  double unit_si, tolerance;
} FIGURES[] = {
    {CAVUM_FIGURE_FREQUENCY, "frequency_Hz", "Hz mm-1", 1.0, 1e-6},
    {CAVUM_FIGURE_R_OVER_Q_LINAC, "r_over_q_linac_ohm", "ohm mm-1", 1.0, 1e-4},
    {CAVUM_FIGURE_GEOMETRY_FACTOR, "geometry_factor_ohm", "ohm mm-1", 1.0, 1e-3},
    {CAVUM_FIGURE_BPK_OVER_EACC, "bpk_over_eacc_mT_per_MV_per_m", "mT/(MV/m) mm-1", 1e-9, 1e-3}};

static void check_figures(const files *base, const files *moved, const char *key, double h) {
  int by = find(base->result, key);
  for (size_t k = 0; k < sizeof FIGURES / sizeof *FIGURES; k++) {
    char path[160];
    double at[NUM_MOVED], uncertainty;
    const char *name = FIGURES[k].key;
    cavum_derivative d = cavum_result_derivative(base->result, 0, by, FIGURES[k].id);
    // Per metre, in SI.
    double expected = d.value * 1e-3 / FIGURES[k].unit_si;
    double own = d.uncertainty * 1e-3 / FIGURES[k].unit_si;
    double stored = json_at(base, true, (const char *[]){"derivatives", key, name, "value", NULL});
    CAVUM_CHECK_RELATIVE(stored, expected, 1e-14);
    CAVUM_CHECK_RELATIVE(
        json_at(base, true, (const char *[]){"derivatives", key, name, "uncertainty", NULL}), own,
        1e-14);
    snprintf(path, sizeof path, "/modes/1/derivatives/%s/%s", key, name);
    CAVUM_CHECK_RELATIVE(hdf5_at(base, path), expected, 1e-14);
    hdf5_attribute(&uncertainty, base, path, "uncertainty");
    CAVUM_CHECK_RELATIVE(uncertainty, own, 1e-14);
    check_units(base, path, FIGURES[k].units);
    for (int i = 0; i < NUM_MOVED; i++) {
      at[i] = json_at(&moved[i], true, (const char *[]){name, "value", NULL});
    }
    CAVUM_CHECK_RELATIVE(stored, slope_of(at, h), FIGURES[k].tolerance);
  }
}

static void check_coupling(const files *base, const files *moved, const char *key, double h) {
  char path[160];
  double at[NUM_MOVED], uncertainty;
  cavum_derivative d = cavum_result_coupling_derivative(base->result, find(base->result, key));
  double stored =
      json_at(base, false, (const char *[]){"coupling", "derivatives", key, "value", NULL});
  CAVUM_CHECK_RELATIVE(stored, d.value * 1e-3, 1e-14);
  CAVUM_CHECK_RELATIVE(
      json_at(base, false, (const char *[]){"coupling", "derivatives", key, "uncertainty", NULL}),
      d.uncertainty * 1e-3, 1e-14);
  snprintf(path, sizeof path, "/coupling/derivatives/%s", key);
  CAVUM_CHECK_RELATIVE(hdf5_at(base, path), d.value * 1e-3, 1e-14);
  hdf5_attribute(&uncertainty, base, path, "uncertainty");
  CAVUM_CHECK_RELATIVE(uncertainty, d.uncertainty * 1e-3, 1e-14);
  check_units(base, path, "mm-1");
  for (int i = 0; i < NUM_MOVED; i++) {
    at[i] = json_at(&moved[i], false, (const char *[]){"coupling", "k_cc", "value", NULL});
  }
  // Two frequencies to 1e-9 that differ by 2 %, over a step of 2e-3 that moves it by as much again.
  CAVUM_CHECK_RELATIVE(stored, slope_of(at, h), 1e-4);
}

// E and H at all points of the wall, of their largest derivative.
static void check_wall(const files *base, const files *moved, const char *key, double h) {
  const cavum_mode_result *mode = &base->result->modes[0];
  cavum_index count = mode->wall.num_points;
  int by = find(base->result, key);
  int64_t all = (int64_t)base->result->num_dimensions * count;
  for (int electric = 0; electric < 2; electric++) {
    char path[160];
    const char *name = electric ? "E" : "H";
    double *at[NUM_MOVED], worst = 0.0, size = 0.0;
    const double *own = (electric ? mode->wall_e_by : mode->wall_h_by) + (int64_t)by * count;
    snprintf(path, sizeof path, "/modes/1/wall_derivatives/%s/%s", key, name);
    check_units(base, path, electric ? "V m-1 mm-1" : "A m-1 mm-1");
    double *stored = hdf5_column(base, path, count);
    snprintf(path, sizeof path, "/modes/1/wall_derivatives/%s/%s_uncertainty", key, name);
    check_units(base, path, electric ? "V m-1 mm-1" : "A m-1 mm-1");
    double *uncertainty = hdf5_column(base, path, count);
    snprintf(path, sizeof path, "/modes/1/wall/%s", name);
    for (int i = 0; i < NUM_MOVED; i++) at[i] = hdf5_column(&moved[i], path, count);
    for (cavum_index p = 0; p < count; p++) {
      const double values[NUM_MOVED] = {at[0][p], at[1][p], at[2][p], at[3][p]};
      CAVUM_CHECK_NEAR(stored[p], own[p] * 1e-3, 1e-14 * fabs(own[p]));
      CAVUM_CHECK_NEAR(uncertainty[p], own[all + p] * 1e-3, 1e-14 * own[all + p]);
      worst = fmax(worst, fabs(stored[p] - slope_of(values, h)));
      size = fmax(size, fabs(stored[p]));
    }
    printf("%s along the wall by %s: off by %.1e of at most %.3g\n", name, key, worst / size, size);
    // Fields to 1e-5 over a step of 2e-3.
    ck_assert_double_le(worst, 1e-2 * size);
    for (int i = 0; i < NUM_MOVED; i++) free(at[i]);
    free(stored);
    free(uncertainty);
  }
}

START_TEST(files_have_the_unit_of_the_dimension) {
  const char *key = "iris_radius_mm";
  const double x = 35.0, h = 2e-3 * x;
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = options.profiles = true;
  files moved[NUM_MOVED];
  for (int i = 0; i < NUM_MOVED; i++) moved[i] = make(CUP, key, x + OFFSETS[i] * h, &options);
  options.derivatives = options.wall_derivatives = true;
  files base = make(CUP, NULL, 0.0, &options);
  check_figures(&base, moved, key, h);
  check_coupling(&base, moved, key, h);
  check_wall(&base, moved, key, h);
  clear(&base);
  for (int i = 0; i < NUM_MOVED; i++) clear(&moved[i]);
}
END_TEST

START_TEST(peaks_at_two_places_have_both_derivatives_in_files) {
  static const char *const sides[2] = {"grows", "shrinks"};
  const char *key = "path[4].centre.z_mm", *name = "epk_over_eacc";
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  const double h = 0.02;
  char path[160];
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  files base = make(NOSES, NULL, 0.0, &options);
  options.derivatives = false;
  int by = find(base.result, key);
  double x = base.result->dimensions[by].value_si * 1e3;
  double figure = json_at(&base, true, (const char *[]){name, "value", NULL});
  snprintf(path, sizeof path, "/modes/1/derivatives/%s/%s", key, name);
  ck_assert(isnan(hdf5_at(&base, path)));
  for (int k = 0; k < 2; k++) {
    double stored[2], slope[2];
    cavum_change change = k == 0 ? CAVUM_CHANGE_GROWS : CAVUM_CHANGE_SHRINKS;
    cavum_derivative d = cavum_result_one_sided_derivative(base.result, 0, by, id, change);
    hdf5_attribute(stored, &base, path, sides[k]);
    CAVUM_CHECK_RELATIVE(stored[0], d.value * 1e-3, 1e-14);
    CAVUM_CHECK_RELATIVE(stored[1], d.uncertainty * 1e-3, 1e-14);
    CAVUM_CHECK_RELATIVE(
        json_at(&base, true, (const char *[]){"derivatives", key, name, sides[k], "value", NULL}),
        d.value * 1e-3, 1e-14);
    CAVUM_CHECK_RELATIVE(
        json_at(&base, true,
                (const char *[]){"derivatives", key, name, sides[k], "uncertainty", NULL}),
        d.uncertainty * 1e-3, 1e-14);
    for (int i = 0; i < 2; i++) {
      double step = (i + 1) * (k == 0 ? h : -h);
      files moved = make(NOSES, key, x + step, &options);
      slope[i] = (json_at(&moved, true, (const char *[]){name, "value", NULL}) - figure) / step;
      clear(&moved);
    }
    // As in the tests of derivatives: twice 1e-5 of the peak over a step, twice.
    CAVUM_CHECK_NEAR(stored[0], 2.0 * slope[0] - slope[1], 4e-5 * figure / h + stored[1]);
  }
  check_units(&base, path, "mm-1");
  clear(&base);
}
END_TEST

static void check_same(cavum_derivative read, cavum_derivative solved) {
  ck_assert_int_eq(read.state, solved.state);
  CAVUM_CHECK_RELATIVE(read.value, solved.value, 1e-14);
  CAVUM_CHECK_RELATIVE(read.uncertainty, solved.uncertainty, 1e-14);
  if (solved.reason) ck_assert_str_eq(read.reason, solved.reason);
  if (!solved.reason) ck_assert_ptr_null(read.reason);
}

static void check_read(const cavum_result *read, const cavum_result *solved) {
  ck_assert_int_eq(read->num_dimensions, solved->num_dimensions);
  ck_assert_int_eq(read->num_modes, solved->num_modes);
  for (int i = 0; i < solved->num_dimensions; i++) {
    ck_assert_str_eq(read->dimensions[i].key, solved->dimensions[i].key);
    ck_assert_str_eq(read->dimensions[i].unit, solved->dimensions[i].unit);
    CAVUM_CHECK_RELATIVE(read->dimensions[i].value_si, solved->dimensions[i].value_si, 1e-14);
    check_same(cavum_result_coupling_derivative(read, i),
               cavum_result_coupling_derivative(solved, i));
    for (int at = 0; at < solved->num_modes * CAVUM_NUM_FIGURES; at++) {
      int mode = at / CAVUM_NUM_FIGURES;
      cavum_figure_id id = (cavum_figure_id)(at % CAVUM_NUM_FIGURES);
      check_same(cavum_result_derivative(read, mode, i, id),
                 cavum_result_derivative(solved, mode, i, id));
      for (int k = 0; k < 2; k++) {
        cavum_change change = k == 0 ? CAVUM_CHANGE_GROWS : CAVUM_CHANGE_SHRINKS;
        check_same(cavum_result_one_sided_derivative(read, mode, i, id, change),
                   cavum_result_one_sided_derivative(solved, mode, i, id, change));
      }
    }
  }
}

static const struct {
  const char *cell;
  bool coupling, derivatives;
} read_back[] = {{CUP, true, true}, {NOSES, false, true}, {CUP, true, false}};

START_TEST(results_that_are_read_have_their_derivatives) {
  cavum_result *read = NULL;
  cavum_error error = {0};
  char path[160];
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = read_back[_i].coupling;
  options.derivatives = read_back[_i].derivatives;
  files base = make(read_back[_i].cell, NULL, 0.0, &options);
  snprintf(path, sizeof path, "%s/result.hdf", base.folder);
  ck_assert_msg(cavum_store_read_result(&read, NULL, path, &error) == CAVUM_OK, "%s",
                error.message);
  ck_assert_int_eq(base.result->num_dimensions > 0, read_back[_i].derivatives);
  check_read(read, base.result);
  cavum_result_destroy(&read);
  clear(&base);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, files_have_the_unit_of_the_dimension);
  tcase_add_test(tests, peaks_at_two_places_have_both_derivatives_in_files);
  tcase_add_loop_test(tests, results_that_are_read_have_their_derivatives, 0,
                      sizeof read_back / sizeof *read_back);
}

CAVUM_TEST_MAIN("derivative_files", add)
