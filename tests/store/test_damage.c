// SPDX-License-Identifier: GPL-3.0-or-later
// Files of every kind with one bit changed, or cut short: refused, or read as what was written; no
// crash, whatever bit it is. Files of earlier versions, without a seal, are still read.
#include <check.h>
#include <string.h>
#include <unistd.h>

#include "cavum/cavum.h"
#include "fake_result.h"
#include "hdf5/seal.h"
#include "store/coldtest_load.h"
#include "study_files.h"
#include "support.h"

// With sanitizers everything takes ten times as long.
#ifdef CAVUM_SANITIZED
enum { NUM_FLIPS = 400, NUM_CUTS = 20 };
#else
enum { NUM_FLIPS = 1500, NUM_CUTS = 60 };
#endif

static study_files files;
static char *bytes;  // the file as it was written
static size_t size;

static cavum_status read_result(const char *path, cavum_error *error) {
  cavum_result *result = NULL;
  cavum_stored_origin origin = {0};
  cavum_status status = cavum_store_read_result(&result, &origin, path, error);
  cavum_result_destroy(&result);
  cavum_stored_origin_clear(&origin);
  return status;
}

static cavum_status read_mode(const char *path, cavum_error *error) {
  cavum_stored_mode mode;
  return cavum_store_read_mode(&mode, path, 0, error);
}

static cavum_status read_coldtest(const char *path, cavum_error *error) {
  cavum_stored_coldtest test;
  cavum_status status = cavum_stored_coldtest_read(&test, path, error);
  cavum_stored_coldtest_clear(&test);
  return status;
}

static cavum_status read_scan(const char *path, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  double values[8];
  cavum_status status = cavum_stored_scan_open(&scan, path, error);
  for (int i = 0; status == CAVUM_OK && i < cavum_stored_scan_num_columns(scan); i++) {
    status = cavum_stored_scan_read(values, scan, i, 0, 3, error);
  }
  cavum_stored_scan_close(&scan);
  return status;
}

static void write_result(const char *path) {
  cavum_result *result = fake_result_create();
  cavum_cell cell = fake_cell();
  ck_assert_int_eq(cavum_store_write_result(path, result, &cell, NULL, NULL), CAVUM_OK);
  fake_result_destroy(result);
}

static void write_coldtest(const char *path) {
  cavum_coldtest_file test = {0};
  cavum_coldtest_report *report = NULL;
  const cavum_coldtest_run_options options = {.struct_size = sizeof options,
                                              .no_monte_carlo = true};
  cavum_error error = {0};
  cavum_status status =
      cavum_coldtest_file_read(&test, CAVUM_CELLS_FOLDER "/coldtest/injector-test.yaml", &error);
  if (status == CAVUM_OK) status = cavum_coldtest_run(&report, &test, &options, &error);
  if (status == CAVUM_OK) status = cavum_store_write_coldtest(path, report, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_coldtest_report_destroy(&report);
  cavum_coldtest_file_clear(&test);
}

static void write_scan(const char *path) {
  cavum_scan_records *records = NULL;
  cavum_error error = {0};
  cavum_study *study = study_files_open(&files);
  cavum_status status = cavum_scan_run(NULL, study, path, NULL, &error);
  if (status == CAVUM_OK) status = cavum_scan_records_open(&records, study, path, &error);
  if (status == CAVUM_OK) status = cavum_store_write_scan(path, study, records, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_scan_records_close(&records);
  cavum_study_close(&study);
}

static const struct {
  const char *kind;
  void (*write)(const char *path);
  cavum_status (*read)(const char *path, cavum_error *error);
} cases[] = {{"result", write_result, read_result},
             {"result", write_result, read_mode},
             {"coldtest", write_coldtest, read_coldtest},
             {"scan", write_scan, read_scan}};

static void set_up(void) {
  study_files_make(&files, STUDY_CELL,
                   "cell: cell.yaml\n"
                   "vary: {iris_radius_mm: {from: 33.0, to: 60.0, points: 3}}\n");
}

static void tear_down(void) {
  temporary_folder_delete(files.folder);
  free(bytes);
  bytes = NULL;
}

static void load(void) {
  FILE *file = fopen(files.output, "rb");
  ck_assert_ptr_nonnull(file);
  bytes = malloc(16 << 20);
  size = fread(bytes, 1, 16 << 20, file);
  fclose(file);
  ck_assert_uint_gt(size, CAVUM_SEAL_SIZE);
}

static void store(size_t length) {
  FILE *file = fopen(files.output, "wb");
  ck_assert_ptr_nonnull(file);
  ck_assert_uint_eq(fwrite(bytes, 1, length, file), length);
  ck_assert_int_eq(fclose(file), 0);
}

// A changed bit of the seal may leave a file that counts as one without: its content is whole.
START_TEST(no_changed_bit_is_read) {
  unsigned seed = 7;  // any
  int refused = 0;
  cases[_i].write(files.output);
  load();
  ck_assert_int_eq(cases[_i].read(files.output, NULL), CAVUM_OK);
  for (int i = 0; i < NUM_FLIPS; i++) {
    size_t place = ((size_t)rand_r(&seed) << 15 ^ (size_t)rand_r(&seed)) % size;
    char bit = (char)(1 << (rand_r(&seed) % 8));
    cavum_error error = {0};
    bytes[place] ^= bit;
    store(size);
    cavum_status status = cases[_i].read(files.output, &error);
    bytes[place] ^= bit;
    if (status == CAVUM_OK) ck_assert_uint_ge(place, size - CAVUM_SEAL_SIZE);
    if (status == CAVUM_OK) continue;
    refused++;
    ck_assert_int_eq(cavum_status_exit(status), 2);
    ck_assert_int_eq(strncmp(error.message, files.output, strlen(files.output)), 0);
  }
  printf("%s: %d of %d refused\n", cases[_i].kind, refused, NUM_FLIPS);
  ck_assert_int_gt(refused, NUM_FLIPS / 2);
}
END_TEST

START_TEST(no_cut_file_is_read) {
  cases[_i].write(files.output);
  load();
  for (int i = 0; i < NUM_CUTS; i++) {
    store((size - CAVUM_SEAL_SIZE) * (size_t)i / NUM_CUTS);
    ck_assert_int_eq(cavum_status_exit(cases[_i].read(files.output, NULL)), 2);
  }
}
END_TEST

START_TEST(files_without_a_seal_are_read) {
  cavum_seal seal;
  cases[_i].write(files.output);
  load();
  ck_assert(cavum_seal_find(&seal, files.output));
  ck_assert_str_eq(seal.kind, cases[_i].kind);
  ck_assert_int_eq(seal.size, (int64_t)size - CAVUM_SEAL_SIZE);
  store(size - CAVUM_SEAL_SIZE);
  ck_assert(!cavum_seal_find(&seal, files.output));
  ck_assert_int_eq(cases[_i].read(files.output, NULL), CAVUM_OK);
}
END_TEST

static void add(TCase *tests) {
  enum { NUM_CASES = sizeof cases / sizeof cases[0] };
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_loop_test(tests, no_changed_bit_is_read, 0, NUM_CASES);
  tcase_add_loop_test(tests, no_cut_file_is_read, 0, NUM_CASES);
  tcase_add_loop_test(tests, files_without_a_seal_are_read, 0, NUM_CASES);
}

CAVUM_TEST_MAIN("damage", add)
