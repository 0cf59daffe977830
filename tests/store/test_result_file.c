// SPDX-License-Identifier: GPL-3.0-or-later
// The result file: what was written is read back, the bytes do not depend on the time, a failure
// leaves the old file and nothing else.
#include <check.h>
#include <hdf5.h>
#include <signal.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "base/sha256.h"
#include "cavum/store.h"
#include "fake_result.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128], path[192];

static void set_up(void) {
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/result.hdf", folder);
}

static void tear_down(void) { temporary_folder_delete(folder); }

static cavum_status write_fake(const char *where, cavum_error *error) {
  cavum_result *result = fake_result_create();
  cavum_cell cell = fake_cell();
  cavum_status status = cavum_store_write_result(where, result, &cell, NULL, error);
  fake_result_destroy(result);
  return status;
}

static char *read_bytes(const char *where, long *size) {
  FILE *file = fopen(where, "rb");
  ck_assert_ptr_nonnull(file);
  fseek(file, 0, SEEK_END);
  *size = ftell(file);
  rewind(file);
  char *bytes = malloc((size_t)*size + 1);
  ck_assert_uint_eq(fread(bytes, 1, (size_t)*size, file), (size_t)*size);
  fclose(file);
  return bytes;
}

START_TEST(figures_are_read_back) {
  cavum_error error = {0};
  cavum_stored_mode mode;
  ck_assert_msg(write_fake(path, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_msg(cavum_store_read_mode(&mode, path, 0, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_str_eq(mode.title, "Injector cell \"A\" \xc2\xb5");
  ck_assert_str_eq(mode.label, "TM010");
  ck_assert_str_eq(mode.accelerating_length_from, "2 x half_length");
  CAVUM_CHECK_NEAR(mode.accelerating_length_m, 0.1154, 0.0);  // stored as it is
  char fingerprint[65];
  cavum_sha256(fingerprint, FAKE_CELL_TEXT, strlen(FAKE_CELL_TEXT));
  ck_assert_str_eq(mode.cell_sha256, fingerprint);
  CAVUM_CHECK_NEAR(mode.figures[CAVUM_FIGURE_FREQUENCY].value, 1288125674.4, 0.0);
  CAVUM_CHECK_NEAR(mode.figures[CAVUM_FIGURE_FREQUENCY].uncertainty, 0.31, 0.0);
  const cavum_figure *peak = &mode.figures[CAVUM_FIGURE_EPK_OVER_EACC];
  ck_assert(peak->state == CAVUM_FIGURE_PRESENT && peak->has_position);
  CAVUM_CHECK_NEAR(peak->at.z_m, 0.0577, 0.0);
  CAVUM_CHECK_NEAR(peak->at.r_m, 0.035, 0.0);
  const cavum_figure *unbounded = &mode.figures[CAVUM_FIGURE_BPK_OVER_EACC];
  ck_assert(unbounded->state == CAVUM_FIGURE_UNBOUNDED && unbounded->has_position);
  ck_assert_int_eq(mode.figures[CAVUM_FIGURE_SURFACE_RESISTANCE].basis, CAVUM_BASIS_FIT);
  ck_assert_int_eq(mode.figures[CAVUM_FIGURE_Q0].basis, CAVUM_BASIS_WITH_FIT);
  ck_assert_int_eq(mode.figures[CAVUM_FIGURE_FREQUENCY].basis, CAVUM_BASIS_COMPUTED);
  ck_assert(mode.figures[CAVUM_FIGURE_SHUNT_IMPEDANCE].state == CAVUM_FIGURE_ABSENT);
}
END_TEST

// In the program a figure is in SI, in files in the unit of its key.
START_TEST(peaks_of_b_are_stored_in_the_unit_of_their_key) {
  cavum_error error = {0};
  cavum_result *result = fake_result_create(), *back = NULL;
  cavum_cell cell = fake_cell();
  cavum_stored_mode mode;
  double value = 0.0, uncertainty = 0.0;
  char units[32] = "";
  fake_set(&result->modes[1], CAVUM_FIGURE_BPK_OVER_EACC, 4.26e-9, 3e-14);
  ck_assert_str_eq(cavum_figure_describe(CAVUM_FIGURE_BPK_OVER_EACC).unit, "T/(V/m)");
  ck_assert_int_eq(cavum_store_write_result(path, result, &cell, NULL, &error), CAVUM_OK);
  hid_t file = H5Fopen(path, H5F_ACC_RDONLY, H5P_DEFAULT);
  hid_t set = H5Dopen(file, "/modes/2/figures/bpk_over_eacc_mT_per_MV_per_m", H5P_DEFAULT);
  hid_t attribute = H5Aopen(set, "units", H5P_DEFAULT), type = H5Aget_type(attribute);
  ck_assert(H5Dread(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, &value) >= 0);
  ck_assert(H5Tget_size(type) < sizeof units && H5Aread(attribute, type, units) >= 0);
  H5Tclose(type);
  H5Aclose(attribute);
  attribute = H5Aopen(set, "uncertainty", H5P_DEFAULT);
  ck_assert(H5Aread(attribute, H5T_NATIVE_DOUBLE, &uncertainty) >= 0);
  H5Aclose(attribute);
  H5Dclose(set);
  H5Fclose(file);
  // One rounding on the way there, one on the way back.
  CAVUM_CHECK_RELATIVE(value, 4.26, 2.3e-16);
  CAVUM_CHECK_RELATIVE(uncertainty, 3e-5, 2.3e-16);
  ck_assert_str_eq(units, "mT/(MV/m)");
  ck_assert_int_eq(cavum_store_read_mode(&mode, path, 1, &error), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(mode.figures[CAVUM_FIGURE_BPK_OVER_EACC].value, 4.26e-9, 4.5e-16);
  ck_assert_int_eq(cavum_store_read_result(&back, NULL, path, &error), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(back->modes[1].figures[CAVUM_FIGURE_BPK_OVER_EACC].value, 4.26e-9, 4.5e-16);
  CAVUM_CHECK_RELATIVE(back->modes[1].figures[CAVUM_FIGURE_BPK_OVER_EACC].uncertainty, 3e-14,
                       4.5e-16);
  cavum_result_destroy(&back);
  fake_result_destroy(result);
}
END_TEST

// The accuracy of all figures but the frequency had another name.
START_TEST(accuracies_of_earlier_files_are_read) {
  cavum_error error = {0};
  cavum_result *back = NULL;
  cavum_stored_origin origin;
  ck_assert_int_eq(write_fake(path, &error), CAVUM_OK);
  hid_t file = H5Fopen(path, H5F_ACC_RDWR, H5P_DEFAULT);
  ck_assert(H5Lmove(file, "/input/accuracy_other_figures", file, "/input/accuracy_peak_field",
                    H5P_DEFAULT, H5P_DEFAULT) >= 0);
  H5Fclose(file);
  ck_assert_msg(cavum_store_read_result(&back, &origin, path, &error) == CAVUM_OK, "%s",
                error.message);
  CAVUM_CHECK_NEAR(origin.accuracy_other_figures, 1e-4, 0.0);
  cavum_stored_origin_clear(&origin);
  cavum_result_destroy(&back);
}
END_TEST

START_TEST(second_mode_and_missing_mode) {
  cavum_error error = {0};
  cavum_stored_mode mode = {.beta = -1.0};
  ck_assert_int_eq(write_fake(path, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_store_read_mode(&mode, path, 2, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_int_eq(cavum_store_read_mode(&mode, path, -1, &error), CAVUM_ERR_INPUT);
  CAVUM_CHECK_NEAR(mode.beta, -1.0, 0.0);  // untouched
  ck_assert_int_eq(cavum_store_read_mode(&mode, path, 1, &error), CAVUM_OK);
  ck_assert_str_eq(mode.label, "");
  ck_assert(mode.figures[CAVUM_FIGURE_Q0].state == CAVUM_FIGURE_ABSENT);
}
END_TEST

START_TEST(same_result_gives_the_same_bytes) {
  cavum_error error = {0};
  char second[200];
  long size[2];
  snprintf(second, sizeof second, "%s/second.hdf", folder);
  ck_assert_int_eq(write_fake(path, &error), CAVUM_OK);
  sleep(2);  // HDF5 stamps whole seconds when it stamps
  ck_assert_int_eq(write_fake(second, &error), CAVUM_OK);
  char *a = read_bytes(path, &size[0]), *b = read_bytes(second, &size[1]);
  printf("%ld and %ld bytes\n", size[0], size[1]);
  ck_assert_int_eq(size[0], size[1]);
  ck_assert_int_eq(memcmp(a, b, (size_t)size[0]), 0);
  free(a);
  free(b);
}
END_TEST

// Visits every object: datasets outside /VTKHDF must have both attributes, figures two more.
static herr_t check_object(hid_t root, const char *name, const H5O_info_t *info, void *data) {
  int *count = data;
  if (info->type != H5O_TYPE_DATASET || strncmp(name, "VTKHDF/", 7) == 0) return 0;
  ++*count;
  bool figure = strstr(name, "/figures/") || strcmp(name, "coupling/k_cc") == 0 ||
                strstr(name, "mode_frequency");
  const char *wanted[] = {"units", "long_name", "definition"};
  for (int i = 0; i < (figure ? 3 : 2); i++) {
    ck_assert_msg(H5Aexists_by_name(root, name, wanted[i], H5P_DEFAULT) > 0, "%s lacks %s", name,
                  wanted[i]);
  }
  if (figure) {
    ck_assert_msg(H5Aexists_by_name(root, name, "uncertainty", H5P_DEFAULT) > 0 ||
                      H5Aexists_by_name(root, name, "reason", H5P_DEFAULT) > 0,
                  "%s lacks uncertainty", name);
  }
  return 0;
}

START_TEST(every_dataset_says_what_it_is) {
  int count = 0;
  ck_assert_int_eq(write_fake(path, NULL), CAVUM_OK);
  hid_t file = H5Fopen(path, H5F_ACC_RDONLY, H5P_DEFAULT);
  ck_assert_int_ge(
      H5Ovisit2(file, H5_INDEX_NAME, H5_ITER_INC, check_object, &count, H5O_INFO_BASIC), 0);
  H5Fclose(file);
  printf("%d datasets\n", count);
  ck_assert_int_gt(count, 70);  // 2 modes, 17 figures, profiles, curves, fields, mesh, input
}
END_TEST

START_TEST(unwritable_folder_is_an_error) {
  cavum_error error = {0};
  ck_assert_int_eq(write_fake("/nowhere/at/all/result.hdf", &error), CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "/nowhere/at/all/result.hdf"));
  // A folder in the place of the file: root may write anywhere, but not this.
  ck_assert_int_eq(mkdir(path, 0755), 0);
  ck_assert_int_eq(write_fake(path, &error), CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  ck_assert_int_eq(temporary_folder_count(folder), 1);
}
END_TEST

START_TEST(full_device_is_an_error) {
  cavum_error error = {0};
  ck_assert_int_eq(write_fake("/dev/full", &error), CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  ck_assert_int_eq(cavum_store_write_text("/dev/full", "text", &error), CAVUM_ERR_FILE);
  struct stat info;
  ck_assert_int_eq(stat("/dev/full", &info), 0);
  ck_assert(S_ISCHR(info.st_mode));  // still the device
}
END_TEST

START_TEST(failed_write_keeps_the_old_file) {
  cavum_error error = {0};
  ck_assert_int_eq(cavum_store_write_text(path, "old", &error), CAVUM_OK);
  // The temporary name is taken by a folder, so the new file cannot even be started.
  char *temporary = cavum_temporary_name(path);
  ck_assert_int_eq(mkdir(temporary, 0755), 0);
  ck_assert_int_eq(write_fake(path, &error), CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  free(temporary);
  long size;
  char *bytes = read_bytes(path, &size);
  ck_assert_int_eq(size, 3);
  ck_assert_int_eq(memcmp(bytes, "old", 3), 0);
  free(bytes);
}
END_TEST

// A limit on file sizes stands in for a disk that fills up in the middle of the file.
START_TEST(full_disk_leaves_the_old_file_alone) {
  cavum_error error = {0};
  ck_assert_int_eq(cavum_store_write_text(path, "old", &error), CAVUM_OK);
  struct rlimit before;
  ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &before), 0);
  struct rlimit limit = {10000, before.rlim_max};
  signal(SIGXFSZ, SIG_IGN);
  ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &limit), 0);
  ck_assert_int_eq(write_fake(path, &error), CAVUM_ERR_FILE);
  ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &before), 0);  // for counts of lines
  printf("%s\n", error.message);
  long size;
  char *bytes = read_bytes(path, &size);
  ck_assert_int_eq(size, 3);
  free(bytes);
  ck_assert_int_eq(temporary_folder_count(folder), 1);
}
END_TEST

START_TEST(nothing_but_the_result_is_left) {
  ck_assert_int_eq(write_fake(path, NULL), CAVUM_OK);
  ck_assert_int_eq(write_fake(path, NULL), CAVUM_OK);
  ck_assert_int_eq(temporary_folder_count(folder), 1);
}
END_TEST

START_TEST(foreign_files_are_refused) {
  cavum_error error = {0};
  cavum_stored_mode mode;
  ck_assert_int_eq(cavum_store_read_mode(&mode, path, 0, &error), CAVUM_ERR_FILE);
  ck_assert_int_eq(cavum_store_write_text(path, "no HDF5 file at all\n", &error), CAVUM_OK);
  ck_assert_int_eq(cavum_store_read_mode(&mode, path, 0, &error), CAVUM_ERR_FILE);
  printf("%s\n", error.message);
  hid_t file = H5Fcreate(path, H5F_ACC_TRUNC, H5P_DEFAULT, H5P_DEFAULT);
  H5Fclose(file);
  ck_assert_int_eq(cavum_store_read_mode(&mode, path, 0, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
}
END_TEST

// A figure that was replaced by something that is no number must be refused, not read.
START_TEST(spoiled_figure_is_refused) {
  cavum_error error = {0};
  cavum_stored_mode mode;
  ck_assert_int_eq(write_fake(path, &error), CAVUM_OK);
  hid_t file = H5Fopen(path, H5F_ACC_RDWR, H5P_DEFAULT);
  ck_assert_int_ge(H5Ldelete(file, "/modes/1/figures/frequency_Hz", H5P_DEFAULT), 0);
  hsize_t extent[1] = {1000000};
  hid_t space = H5Screate_simple(1, extent, NULL);
  hid_t dataset = H5Dcreate2(file, "/modes/1/figures/frequency_Hz", H5T_IEEE_F64LE, space,
                             H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT);
  H5Dclose(dataset);
  H5Sclose(space);
  H5Fclose(file);
  ck_assert_int_eq(cavum_store_read_mode(&mode, path, 0, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, figures_are_read_back);
  tcase_add_test(tests, peaks_of_b_are_stored_in_the_unit_of_their_key);
  tcase_add_test(tests, accuracies_of_earlier_files_are_read);
  tcase_add_test(tests, second_mode_and_missing_mode);
  tcase_add_test(tests, same_result_gives_the_same_bytes);
  tcase_add_test(tests, every_dataset_says_what_it_is);
  tcase_add_test(tests, unwritable_folder_is_an_error);
  tcase_add_test(tests, full_device_is_an_error);
  tcase_add_test(tests, failed_write_keeps_the_old_file);
  tcase_add_test(tests, full_disk_leaves_the_old_file_alone);
  tcase_add_test(tests, nothing_but_the_result_is_left);
  tcase_add_test(tests, foreign_files_are_refused);
  tcase_add_test(tests, spoiled_figure_is_refused);
}

CAVUM_TEST_MAIN("result_file", add_tests)
