// SPDX-License-Identifier: GPL-3.0-or-later
// A chunk of texts fits into HDF5's cache: a chunk that does not is packed and unpacked anew for
// each block that is written or read.
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "hdf5/hdf5_columns.h"
#include "hdf5/hdf5_private.h"
#include "support.h"

enum { ROWS = 2 * CAVUM_HDF5_TEXT_BLOCK + 17, SIZE = CAVUM_MESSAGE_SIZE };

static const char *const path = "text-columns.hdf";
static const cavum_hdf5_column column = {.path = "/reasons/text",
                                         .type = CAVUM_HDF5_COLUMN_TEXT,
                                         .text_size = SIZE,
                                         .num_rows = ROWS,
                                         .units = "1"};

static void write_texts(void) {
  cavum_hdf5_file *file = NULL;
  static char texts[CAVUM_HDF5_TEXT_BLOCK][SIZE];
  ck_assert_int_eq(cavum_hdf5_create_on_disk(&file, path, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_make_ordered_group(file, "/reasons", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_make_column(file, &column, NULL), CAVUM_OK);
  for (int first = 0; first < ROWS; first += CAVUM_HDF5_TEXT_BLOCK) {
    int count = ROWS - first < CAVUM_HDF5_TEXT_BLOCK ? ROWS - first : CAVUM_HDF5_TEXT_BLOCK;
    memset(texts, 0, sizeof texts);
    for (int i = 0; i < count; i++) snprintf(texts[i], SIZE, "reason %d", first + i);
    ck_assert_int_eq(cavum_hdf5_write_column(file, column.path, first, count, texts, NULL),
                     CAVUM_OK);
  }
  ck_assert_int_eq(cavum_hdf5_finish(&file, "scan", NULL), CAVUM_OK);
}

START_TEST(chunks_fit_into_the_cache) {
  cavum_hdf5_file *file = NULL;
  char *texts = NULL, expected[SIZE];
  size_t width = 0, slots = 0, cache_bytes = 0;
  double kept = 0.0;
  hsize_t rows = 0;
  write_texts();
  ck_assert_int_eq(cavum_hdf5_open(&file, path, NULL), CAVUM_OK);
  hid_t dataset = H5Dopen2(file->id, column.path, H5P_DEFAULT);
  hid_t creation = H5Dget_create_plist(dataset), opened = H5Dget_access_plist(dataset);
  ck_assert_int_eq(H5Pget_chunk(creation, 1, &rows), 1);
  ck_assert_int_ge(H5Pget_chunk_cache(opened, &slots, &cache_bytes, &kept), 0);
  printf("%zu bytes in a chunk, %zu in the cache\n", (size_t)rows * SIZE, cache_bytes);
  ck_assert_uint_le(rows * SIZE, cache_bytes);
  H5Pclose(opened);
  H5Pclose(creation);
  H5Dclose(dataset);
  ck_assert_int_eq(cavum_hdf5_read_text_column(&texts, &width, file, column.path, 0, ROWS, NULL),
                   CAVUM_OK);
  for (int i = 0; i < ROWS; i++) {
    snprintf(expected, sizeof expected, "reason %d", i);
    ck_assert_str_eq(texts + (size_t)i * width, expected);
  }
  free(texts);
  cavum_hdf5_destroy(&file);
  unlink(path);
}
END_TEST

static void add(TCase *tests) { tcase_add_test(tests, chunks_fit_into_the_cache); }

CAVUM_TEST_MAIN("text_columns", add)
