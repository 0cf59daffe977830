// SPDX-License-Identifier: GPL-3.0-or-later
// Files written on disk by a driver of our own: several at once, given up half-way, and refused.
// The driver of each is registered for as long as its file is open and no longer. ctest runs this
// under valgrind too (hdf5.disk_driver_watched): HDF5 1.10 reads the driver once more when it has
// given up its last hold of it.
#include <unistd.h>

#include "hdf5/hdf5_columns.h"
#include "hdf5/hdf5_private.h"
#include "support.h"

enum { ROWS = 1000, NUM_FILES = 3 };

static const char *const names[NUM_FILES] = {"disk-driver-0.hdf", "disk-driver-1.hdf",
                                             "disk-driver-2.hdf"};
static const cavum_hdf5_column column = {.path = "/columns/x", .num_rows = ROWS, .units = "1"};

static bool is_registered(hid_t driver) { return H5Iis_valid(driver) > 0; }

static cavum_hdf5_file *begin(const char *path) {
  cavum_hdf5_file *file = NULL;
  ck_assert_int_eq(cavum_hdf5_create_on_disk(&file, path, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_make_ordered_group(file, "/columns", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_make_column(file, &column, NULL), CAVUM_OK);
  return file;
}

static void write_rows(cavum_hdf5_file *file, double base) {
  double values[ROWS];
  for (int i = 0; i < ROWS; i++) values[i] = base + i;
  ck_assert_int_eq(cavum_hdf5_write_column(file, column.path, 0, ROWS, values, NULL), CAVUM_OK);
}

static void check_rows(const char *path, double base) {
  double values[ROWS];
  cavum_hdf5_file *file = NULL;
  ck_assert_int_eq(cavum_hdf5_open(&file, path, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_read_column(values, file, column.path, 0, ROWS, NULL), CAVUM_OK);
  cavum_hdf5_destroy(&file);
  for (int i = 0; i < ROWS; i++) ck_assert_double_eq(values[i], base + i);
}

// Begun and ended in different orders; each has a driver of its own.
START_TEST(several_files_at_once) {
  cavum_hdf5_file *files[NUM_FILES];
  hid_t drivers[NUM_FILES];
  for (int i = 0; i < NUM_FILES; i++) {
    files[i] = begin(names[i]);
    drivers[i] = files[i]->driver;
  }
  for (int i = NUM_FILES - 1; i >= 0; i--) write_rows(files[i], 10.0 * i);
  for (int i = 0; i < NUM_FILES; i++) {
    ck_assert(is_registered(drivers[i]));
    ck_assert_int_eq(cavum_hdf5_finish(&files[i], "scan", NULL), CAVUM_OK);
    ck_assert_ptr_null(files[i]);
    for (int k = 0; k < NUM_FILES; k++) ck_assert_int_eq(is_registered(drivers[k]), k > i);
  }
  for (int i = 0; i < NUM_FILES; i++) {
    check_rows(names[i], 10.0 * i);
    unlink(names[i]);
  }
}
END_TEST

START_TEST(given_up_and_refused) {
  for (int i = 0; i < 3; i++) {
    cavum_hdf5_file *file = begin(names[0]), *none = NULL;
    hid_t driver = file->driver;
    if (i > 0) write_rows(file, 0.0);
    ck_assert_int_eq(cavum_hdf5_create_on_disk(&none, "no-such-folder/x.hdf", NULL),
                     CAVUM_ERR_FILE);
    ck_assert(is_registered(driver) && !none);
    cavum_hdf5_destroy(&file);
    ck_assert(!is_registered(driver));
  }
  unlink(names[0]);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, several_files_at_once);
  tcase_add_test(tests, given_up_and_refused);
}

CAVUM_TEST_MAIN("disk driver", add)
