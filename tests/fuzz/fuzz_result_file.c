// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: result files of every kind whose objects are not what we wrote, in files that HDF5
// itself finds in order.
//
// An input is a list of changes to a good file: values, sizes, types, attributes, objects that are
// gone or stand in for others. HDF5 makes the changes, and the file has no seal, so that our
// readers see all of it. Bytes changed at random would reach HDF5 instead, which trusts what it
// reads: that is what the seal is for (tests/store/test_damage.c).
//
// The changed file is one of a folder: HDF5 resolves the links of a path, so it does not open what
// is in memory only. The file without changes must be read, else this would look at nothing.
//
// HDF5 is not built with sanitizers; what it allocates and frees is checked all the same. Its free
// lists of arrays and blocks would hide a use after free, so they are told to keep nothing; that of
// its own structs stays, since the cache of an open file is a megabyte.
#include <hdf5.h>
#include <math.h>

#include "cavum/cavum.h"
#include "fake_result.h"
#include "fuzz_support.h"
#include "store/coldtest_load.h"

/** LARGEST_WRITTEN: data sets that only claim to be large are not filled. */
enum {
  NUM_KINDS = 3,
  LARGEST_WRITTEN = 100000,
  MOST_OBJECTS = 400,
  NAME_SIZE = 160,
  MOST_CHANGES = 12,
  MOST_NUMBERS = 64
};

/** A good file and the names of what is in it. */
typedef struct good_file {
  char *image;
  size_t size;
  int num_objects;
  char objects[MOST_OBJECTS][NAME_SIZE];
} good_file;

/** What is left of the input. */
typedef struct input_bytes {
  const uint8_t *data;
  size_t size;
} input_bytes;

static good_file good[NUM_KINDS];
static const char *folder;

static unsigned take(input_bytes *input) {
  if (input->size == 0) return 0;
  input->size--;
  return *input->data++;
}

// Numbers at which programs go wrong, or any.
static double take_number(input_bytes *input) {
  static const double special[] = {0.0,       -0.0,         1.0,    -1.0, 2.0,  3.0,
                                   1e-320,    1e308,        -1e308, NAN,  1e18, INFINITY,
                                   -INFINITY, 2147483648.0, 4e9,    0.5};
  unsigned choice = take(input);
  if (choice < sizeof special / sizeof *special) return special[choice];
  if (choice < 128) return (double)choice - 64.0;
  uint8_t bytes[sizeof(double)];
  double number;
  for (size_t i = 0; i < sizeof bytes; i++) bytes[i] = (uint8_t)take(input);
  memcpy(&number, bytes, sizeof number);
  return number;
}

// ---- Good files --------------------------------------------------------------------------------

// One mode by two dimensions: a number, one that is absent, a peak with two sides.
static void add_derivatives(cavum_result *result) {
  static const cavum_dimension dimensions[2] = {
      {.key = "iris_radius_mm", .unit = "mm", .value_si = 0.035, .unit_si = 1e-3},
      {.key = "beta", .unit = "1", .value_si = 1.0, .unit_si = 1.0}};
  cavum_mode_result *mode = &result->modes[0];
  result->num_dimensions = 2;
  result->dimensions = fake_alloc(2, sizeof *result->dimensions);
  memcpy(result->dimensions, dimensions, sizeof dimensions);
  mode->derivatives = fake_alloc((size_t)2 * CAVUM_FIGURES_ROOM, sizeof *mode->derivatives);
  mode->one_sided = fake_alloc(8, sizeof *mode->one_sided);
  for (int i = 0; i < 2; i++) {
    cavum_derivative *of = &mode->derivatives[(size_t)i * CAVUM_FIGURES_ROOM];
    of[CAVUM_FIGURE_FREQUENCY] =
        (cavum_derivative){.state = CAVUM_FIGURE_PRESENT, .value = 1e9, .uncertainty = 10.0};
    of[CAVUM_FIGURE_Q0].reason = "it is not differentiated";
    of[CAVUM_FIGURE_EPK_OVER_EACC].reason = "the peak stands at two places";
    for (int k = 0; k < 2; k++) {
      mode->one_sided[4 * i + k] =
          (cavum_derivative){.state = CAVUM_FIGURE_PRESENT, .value = k - 0.5, .uncertainty = 0.1};
    }
  }
}

static void write_result(const char *path) {
  cavum_result *result = fake_result_create();
  add_derivatives(result);
  cavum_cell cell = fake_cell();
  for (int i = 0; i < result->num_modes; i++) result->modes[i].wall.num_points = 40;
  fuzz_check(cavum_store_write_result(path, result, &cell, NULL, NULL) == CAVUM_OK);
  fake_result_destroy(result);
}

static void write_coldtest(const char *path) {
  cavum_coldtest_file test = {0};
  cavum_coldtest_report *report = NULL;
  const cavum_coldtest_run_options options = {.struct_size = sizeof options,
                                              .no_monte_carlo = true};
  const char *demo = CAVUM_CELLS_FOLDER "/coldtest/injector-test.yaml";
  fuzz_check(cavum_coldtest_file_read(&test, demo, NULL) == CAVUM_OK);
  fuzz_check(cavum_coldtest_run(&report, &test, &options, NULL) == CAVUM_OK);
  fuzz_check(cavum_store_write_coldtest(path, report, NULL) == CAVUM_OK);
  cavum_coldtest_report_destroy(&report);
  cavum_coldtest_file_clear(&test);
}

// Some shapes are done, one cannot exist.
static void write_scan(const char *path) {
  static const char study_text[] =
      "cell: cell.yaml\nvary: {iris_radius_mm: [33.0, 34.0, 36.0, 140.0]}\nbatch: 2\n"
      "figures: [r_over_q_linac_ohm, epk_over_eacc]\n";
  char name[128];
  cavum_study *study = NULL;
  cavum_scan_records *records = NULL;
  cavum_scan_options options = cavum_scan_options_default();
  options.workers = 1;
  fuzz_write_file(folder, "cell.yaml", FAKE_CELL_TEXT, strlen(FAKE_CELL_TEXT));
  fuzz_write_file(folder, "study.yaml", study_text, strlen(study_text));
  snprintf(name, sizeof name, "%s/study.yaml", folder);
  fuzz_check(cavum_study_open(&study, name, NULL) == CAVUM_OK);
  fuzz_check(cavum_scan_run(NULL, study, path, &options, NULL) == CAVUM_OK);
  fuzz_check(cavum_scan_records_open(&records, study, path, NULL) == CAVUM_OK);
  fuzz_check(cavum_store_write_scan(path, study, records, NULL) == CAVUM_OK);
  cavum_scan_records_close(&records);
  cavum_study_close(&study);
}

static herr_t note_object(hid_t file, const char *name, const H5O_info_t *info, void *data) {
  (void)file;
  (void)info;
  good_file *kind = data;
  if (kind->num_objects == MOST_OBJECTS || strlen(name) >= NAME_SIZE) return 0;
  snprintf(kind->objects[kind->num_objects++], NAME_SIZE, "%s", name);
  return 0;
}

static void load(good_file *kind, const char *path) {
  FILE *file = fopen(path, "rb");
  fuzz_check(file && fseek(file, 0, SEEK_END) == 0);
  kind->size = (size_t)ftell(file);
  kind->image = malloc(kind->size);
  rewind(file);
  fuzz_check(kind->image && fread(kind->image, 1, kind->size, file) == kind->size);
  fclose(file);
  hid_t opened = H5Fopen(path, H5F_ACC_RDONLY, H5P_DEFAULT);
  fuzz_check(H5Ovisit(opened, H5_INDEX_NAME, H5_ITER_INC, note_object, kind) >= 0);
  H5Fclose(opened);
}

int LLVMFuzzerInitialize(int *count, char ***arguments) {
  (void)count;
  (void)arguments;
  void (*const write[NUM_KINDS])(const char *path) = {write_result, write_coldtest, write_scan};
  H5set_free_list_limits(-1, -1, 0, 0, 0, 0);
  H5Eset_auto2(H5E_DEFAULT, NULL, NULL);
  folder = fuzz_make_folder();
  for (int i = 0; i < NUM_KINDS; i++) {
    char path[128];
    snprintf(path, sizeof path, "%s/good-%d.hdf", folder, i);
    write[i](path);
    load(&good[i], path);
  }
  return 0;
}

// ---- Changes ------------------------------------------------------------------------------------

// A type that is none of ours, or one of ours where it does not belong.
static hid_t take_type(input_bytes *input) {
  switch (take(input) % 8) {
    case 0:
      return H5Tcopy(H5T_IEEE_F64LE);
    case 1:
      return H5Tcopy(H5T_STD_I32LE);
    case 2:
      return H5Tcopy(H5T_STD_I64BE);
    case 3:
      return H5Tcopy(H5T_STD_U8LE);
    case 4:
      return H5Tcopy(H5T_IEEE_F32BE);
    default:
      break;
  }
  hid_t type = H5Tcopy(H5T_C_S1);
  unsigned length = take(input);
  H5Tset_size(type, length == 255 ? H5T_VARIABLE : 1 + length % 80);
  H5Tset_strpad(type, length % 2 ? H5T_STR_NULLTERM : H5T_STR_SPACEPAD);
  if (length % 3) H5Tset_cset(type, H5T_CSET_UTF8);
  return type;
}

// Rank 0 to 3 or no extent at all; now and then a size that no file has.
static hid_t take_space(input_bytes *input) {
  static const hsize_t sizes[] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 40, 101, 1000, 70000, 1u << 28};
  hsize_t extent[3];
  int rank = (int)(take(input) % 5);
  if (rank == 0) return H5Screate(H5S_SCALAR);
  if (rank == 4) return H5Screate(H5S_NULL);
  for (int i = 0; i < rank; i++) extent[i] = sizes[take(input) % (sizeof sizes / sizeof *sizes)];
  return H5Screate_simple(rank, extent, NULL);
}

static void fill_numbers(input_bytes *input, hid_t dataset) {
  double values[MOST_NUMBERS];
  hid_t space = H5Dget_space(dataset), type = H5Dget_type(dataset);
  hssize_t count = H5Sget_simple_extent_npoints(space);
  if (H5Tget_class(type) != H5T_STRING && count > 0 && count <= MOST_NUMBERS) {
    for (hssize_t i = 0; i < count; i++) values[i] = take_number(input);
    H5Dwrite(dataset, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values);
  }
  H5Tclose(type);
  H5Sclose(space);
}

static void replace_dataset(input_bytes *input, hid_t file, const char *name) {
  hid_t type = take_type(input), space = take_space(input);
  H5Ldelete(file, name, H5P_DEFAULT);
  hid_t dataset = H5Dcreate2(file, name, type, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT);
  if (dataset >= 0) {
    fill_numbers(input, dataset);
    H5Dclose(dataset);
  }
  H5Sclose(space);
  H5Tclose(type);
}

// Puts a number at one place, as if a value had been changed.
static void change_number(input_bytes *input, hid_t file, const char *name) {
  hid_t dataset = H5Dopen2(file, name, H5P_DEFAULT);
  if (dataset < 0) return;
  hid_t space = H5Dget_space(dataset), type = H5Dget_type(dataset);
  hssize_t count = H5Sget_simple_extent_npoints(space);
  int rank = H5Sget_simple_extent_ndims(space);
  if (H5Tget_class(type) != H5T_STRING && count > 0 && count <= LARGEST_WRITTEN && rank <= 2) {
    hsize_t extent[2] = {1, 1}, place[2];
    if (rank > 0) H5Sget_simple_extent_dims(space, extent, NULL);
    hsize_t index = (take(input) | (hsize_t)take(input) << 8) % (hsize_t)count;
    place[0] = rank == 2 ? index / extent[1] : index;
    place[1] = index % extent[1];
    double number = take_number(input);
    hid_t one = H5Screate(H5S_SCALAR);
    if (rank > 0) H5Sselect_elements(space, H5S_SELECT_SET, 1, place);
    H5Dwrite(dataset, H5T_NATIVE_DOUBLE, one, space, H5P_DEFAULT, &number);
    H5Sclose(one);
  }
  H5Tclose(type);
  H5Sclose(space);
  H5Dclose(dataset);
}

static void write_text(input_bytes *input, hid_t file, const char *name) {
  char text[256] = "";
  unsigned length = take(input);
  for (unsigned i = 0; i < length; i++) text[i] = (char)take(input);
  hid_t type = H5Tcopy(H5T_C_S1), space = H5Screate(H5S_SCALAR);
  H5Tset_size(type, length + 1);
  H5Ldelete(file, name, H5P_DEFAULT);
  hid_t dataset = H5Dcreate2(file, name, type, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT);
  if (dataset >= 0) {
    H5Dwrite(dataset, type, H5S_ALL, H5S_ALL, H5P_DEFAULT, text);
    H5Dclose(dataset);
  }
  H5Sclose(space);
  H5Tclose(type);
}

// One of the attributes of an object: gone, or of another type and size.
static void change_attribute(input_bytes *input, hid_t file, const char *name) {
  char attribute[NAME_SIZE];
  H5O_info_t info;
  if (H5Oget_info_by_name2(file, name, &info, H5O_INFO_NUM_ATTRS, H5P_DEFAULT) < 0) return;
  if (info.num_attrs == 0) return;
  hsize_t index = take(input) % info.num_attrs;
  if (H5Aget_name_by_idx(file, name, H5_INDEX_NAME, H5_ITER_INC, index, attribute, sizeof attribute,
                         H5P_DEFAULT) < 0) {
    return;
  }
  H5Adelete_by_name(file, name, attribute, H5P_DEFAULT);
  if (take(input) % 4 == 0) return;
  hid_t type = take_type(input), space = take_space(input);
  hssize_t count = H5Sget_simple_extent_npoints(space);
  hid_t made = count > 1000 ? -1
                            : H5Acreate_by_name(file, name, attribute, type, space, H5P_DEFAULT,
                                                H5P_DEFAULT, H5P_DEFAULT);
  if (made >= 0) {
    double values[MOST_NUMBERS];
    for (hssize_t i = 0; i < count && i < MOST_NUMBERS; i++) values[i] = take_number(input);
    if (count <= MOST_NUMBERS && H5Tget_class(type) != H5T_STRING) {
      H5Awrite(made, H5T_NATIVE_DOUBLE, values);
    }
    H5Aclose(made);
  }
  H5Sclose(space);
  H5Tclose(type);
}

static void change(input_bytes *input, hid_t file, const good_file *kind) {
  const char *name = kind->objects[(take(input) | take(input) << 8) % (unsigned)kind->num_objects];
  const char *other = kind->objects[(unsigned)input->size % (unsigned)kind->num_objects];
  switch (take(input) % 8) {
    case 0:
      H5Ldelete(file, name, H5P_DEFAULT);
      break;
    case 1:
      replace_dataset(input, file, name);
      break;
    case 2:
      write_text(input, file, name);
      break;
    case 3:  // another object under this name
      H5Ldelete(file, name, H5P_DEFAULT);
      H5Lcreate_hard(file, other, file, name, H5P_DEFAULT, H5P_DEFAULT);
      break;
    case 4:
    case 5:
      change_attribute(input, file, name);
      break;
    default:
      change_number(input, file, name);
      break;
  }
}

// The good file with the changes, in new memory.
static char *make_file(input_bytes *input, const good_file *kind, size_t *size) {
  hid_t access = H5Pcreate(H5P_FILE_ACCESS);
  H5Pset_fapl_core(access, 1 << 16, false);
  H5Pset_file_image(access, kind->image, kind->size);
  hid_t file = H5Fopen("changed", H5F_ACC_RDWR, access);
  fuzz_check(file >= 0);
  for (int i = 0; i < MOST_CHANGES && input->size > 0; i++) change(input, file, kind);
  H5Fflush(file, H5F_SCOPE_GLOBAL);
  ssize_t found = H5Fget_file_image(file, NULL, 0);
  char *image = found > 0 ? malloc((size_t)found) : NULL;
  fuzz_check(image && H5Fget_file_image(file, image, (size_t)found) == found);
  H5Fclose(file);
  H5Pclose(access);
  *size = (size_t)found;
  return image;
}

// ---- Reading ------------------------------------------------------------------------------------

static cavum_status read_result(const char *path) {
  cavum_result *result = NULL;
  cavum_stored_origin origin = {0};
  cavum_stored_mode mode;
  cavum_error error = {0};
  char *json = NULL;
  cavum_status status = cavum_store_read_result(&result, &origin, path, &error);
  if (status == CAVUM_OK) status = cavum_store_result_to_json(&json, result, &error);
  if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
  free(json);
  cavum_result_destroy(&result);
  cavum_stored_origin_clear(&origin);
  cavum_status of_mode = cavum_store_read_mode(&mode, path, 1, &error);
  if (of_mode != CAVUM_OK) fuzz_check_refusal(of_mode, &error);
  return status;
}

static cavum_status read_coldtest(const char *path) {
  cavum_stored_coldtest test;
  cavum_error error = {0};
  cavum_status status = cavum_stored_coldtest_read(&test, path, &error);
  if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
  cavum_stored_coldtest_clear(&test);
  return status;
}

static cavum_status read_scan(const char *path) {
  cavum_stored_scan *scan = NULL;
  cavum_scan_summary summary = {0};
  cavum_error error = {0};
  cavum_status status = cavum_stored_scan_open(&scan, path, &error);
  if (status == CAVUM_OK) {
    cavum_scan_aims aims = {.struct_size = sizeof aims, .count = 1, .num_best = 3};
    aims.columns[0] = cavum_stored_scan_num_columns(scan) / 2;
    status = cavum_scan_summarise(&summary, scan, &aims, &error);
    cavum_scan_summary_clear(&summary);
  }
  if (status == CAVUM_OK) status = cavum_store_write_scan_csv("/dev/null", scan, &error);
  if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
  cavum_stored_scan_close(&scan);
  return status;
}

// Pictures and reports: a view of each kind, now and then.
static void draw(const char *path, unsigned choice) {
  static const cavum_picture_view views[] = {
      CAVUM_VIEW_SHEET,   CAVUM_VIEW_SECTION, CAVUM_VIEW_AXIS,       CAVUM_VIEW_WALL,
      CAVUM_VIEW_MESH,    CAVUM_VIEW_QUALITY, CAVUM_VIEW_RESISTANCE, CAVUM_VIEW_BUDGET,
      CAVUM_VIEW_SCATTER, CAVUM_VIEW_LOADED,  CAVUM_VIEW_FREQUENCY,  CAVUM_VIEW_TRACES,
      CAVUM_VIEW_PLAN};
  const unsigned num_views = sizeof views / sizeof *views;
  cavum_picture_options options = cavum_picture_options_default();
  char *bytes = NULL;
  size_t size = 0;
  cavum_error error = {0};
  if (choice > num_views) return;
  options.format = CAVUM_PICTURE_SVG;
  options.view = views[choice % num_views];
  cavum_status status = choice == num_views
                            ? cavum_picture_report_file(&bytes, &size, path, &error)
                            : cavum_picture_draw_file(&bytes, &size, path, &options, &error);
  if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
  free(bytes);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  cavum_status (*const read[NUM_KINDS])(const char *path) = {read_result, read_coldtest, read_scan};
  static const char name[] = "changed.hdf";
  input_bytes input = {data, size};
  unsigned kind = take(&input) % NUM_KINDS, view = take(&input);
  bool changed = input.size > 0;
  size_t length = 0;
  char path[128];
  char *image = make_file(&input, &good[kind], &length);
  fuzz_write_file(folder, name, image, length);
  free(image);
  snprintf(path, sizeof path, "%s/%s", folder, name);
  cavum_status status = read[kind](path);
  fuzz_check(changed || status == CAVUM_OK);
  draw(path, view);
  return 0;
}
