// SPDX-License-Identifier: GPL-3.0-or-later
// Chunks that are packed here are read by HDF5's own filters, and are hardly longer than what those
// would have made.
#include <string.h>
#include <unistd.h>
#include <zlib.h>

#include "base/base.h"
#include "hdf5/hdf5_columns.h"
#include "hdf5/packed_chunk.h"
#include "support.h"

enum { COUNT = CAVUM_HDF5_COLUMN_BLOCK };

/** Numbers of a kind. */
typedef enum content { CONSTANT, RAMP, NOISE, SMOOTH, FEW, NUM_CONTENTS } content;

static uint64_t next_random(uint64_t *state) {
  *state ^= *state << 13;
  *state ^= *state >> 7;
  *state ^= *state << 17;
  return *state;
}

static void fill(double *values, content kind, int64_t count) {
  uint64_t state = 88172645463325252u;
  for (int64_t i = 0; i < count; i++) {
    double part = (double)(next_random(&state) >> 11) * 0x1p-53;
    switch (kind) {
      case CONSTANT:
        values[i] = 1.25;
        break;
      case RAMP:
        values[i] = (double)i;
        break;
      case NOISE:
        values[i] = 1.3e9 * (1.0 + 1e-3 * part);
        break;
      case SMOOTH:
        values[i] = sin(1e-4 * (double)i);
        break;
      default:
        values[i] = floor(8.0 * part);
        break;
    }
  }
}

// Back by zlib alone; HDF5's filter would do the same.
START_TEST(numbers_come_back) {
  static double values[COUNT];
  static unsigned char planes[COUNT * sizeof(double)], back[COUNT * sizeof(double)];
  static unsigned char plain[2 * COUNT * sizeof(double)];
  static const size_t sizes[] = {1, 4, 8};
  for (int kind = 0; kind < NUM_CONTENTS; kind++) {
    fill(values, (content)kind, COUNT);
    for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++) {
      size_t size = sizes[s], count = sizeof values / size;
      unsigned char *packed = NULL;
      size_t length = cavum_packed_chunk_make(&packed, values, count, size, 1);
      uLongf unpacked = sizeof planes, usual = sizeof plain;
      ck_assert_ptr_nonnull(packed);
      ck_assert_int_eq(uncompress(planes, &unpacked, packed, length), Z_OK);
      ck_assert_uint_eq(unpacked, sizeof values);
      for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < size; k++) back[i * size + k] = planes[k * count + i];
      }
      ck_assert(memcmp(back, values, sizeof values) == 0);
      ck_assert_int_eq(compress2(plain, &usual, planes, sizeof planes, 1), Z_OK);
      printf("kind %d, %zu bytes each: %zu bytes, %lu by deflate alone\n", kind, size, length,
             (unsigned long)usual);
      // What a byte plane may lose by not being tried: see looks_random(), 1.4 % of a bit in eight
      // hardly a thousandth; blocks that end with their plane cost a few hundred bytes.
      if (size == 8) ck_assert_uint_le(length, usual + usual / 50 + 1024);
      free(packed);
    }
  }
}
END_TEST

// Whole chunks are packed here, the rest by HDF5; all are read by HDF5.
START_TEST(columns_are_read_by_the_library) {
  enum { ROWS = 2 * COUNT + 1000 };
  const char *path = "packed-chunk-test.hdf";
  double *values = cavum_alloc(ROWS, sizeof *values), *read = cavum_alloc(ROWS, sizeof *read);
  cavum_hdf5_file *file = NULL;
  cavum_hdf5_column column = {.path = "/columns/x", .num_rows = ROWS, .units = "1"};
  fill(values, NOISE, ROWS);
  ck_assert_int_eq(cavum_hdf5_create_on_disk(&file, path, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_make_ordered_group(file, "/columns", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_make_column(file, &column, NULL), CAVUM_OK);
  for (int64_t first = 0; first < ROWS; first += COUNT) {
    int64_t count = ROWS - first < COUNT ? ROWS - first : COUNT;
    ck_assert_int_eq(cavum_hdf5_write_column(file, column.path, first, count, values + first, NULL),
                     CAVUM_OK);
  }
  ck_assert_int_eq(cavum_hdf5_finish(&file, "scan", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_open(&file, path, NULL), CAVUM_OK);
  // Over the borders of chunks.
  ck_assert_int_eq(cavum_hdf5_read_column(read, file, column.path, 0, ROWS, NULL), CAVUM_OK);
  ck_assert(memcmp(read, values, ROWS * sizeof *values) == 0);
  cavum_hdf5_destroy(&file);
  unlink(path);
  free(values);
  free(read);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, numbers_come_back);
  tcase_add_test(tests, columns_are_read_by_the_library);
}

CAVUM_TEST_MAIN("packed chunk", add)
