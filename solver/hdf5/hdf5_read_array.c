// SPDX-License-Identifier: GPL-3.0-or-later
// Reading whole datasets. The size that a file claims is checked before memory is asked for.
#include <string.h>

#include "base/base.h"
#include "hdf5/hdf5_private.h"

// More than any result of ours holds in one dataset.
static const int64_t largest_count = (int64_t)1 << 27;
enum { LARGEST_TEXT_COUNT = 10000 };

// An open dataset with its type; -1 where there is none.
struct opened {
  hid_t dataset, type;
  int64_t count;
};

static struct opened open_dataset(const cavum_hdf5_file *file, const char *path) {
  struct opened opened = {-1, -1, 0};
  if (!cavum_hdf5_has(file, path)) return opened;
  opened.dataset = H5Dopen2(file->id, path, H5P_DEFAULT);
  if (opened.dataset < 0) return opened;
  opened.type = H5Dget_type(opened.dataset);
  hid_t space = H5Dget_space(opened.dataset);
  if (space >= 0) {
    opened.count = (int64_t)H5Sget_simple_extent_npoints(space);
    H5Sclose(space);
  }
  return opened;
}

static void close_dataset(struct opened *opened) {
  if (opened->type >= 0) H5Tclose(opened->type);
  if (opened->dataset >= 0) H5Dclose(opened->dataset);
}

static cavum_status read_values(void **values, int64_t *count, hid_t memory_type, size_t size,
                                const cavum_hdf5_file *file, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  void *read = NULL;
  struct opened opened = open_dataset(file, path);
  H5T_class_t class = opened.type >= 0 ? H5Tget_class(opened.type) : H5T_NO_CLASS;
  bool good = (class == H5T_FLOAT || class == H5T_INTEGER) && opened.count > 0 &&
              opened.count <= largest_count;
  if (good) {
    read = cavum_alloc(opened.count, size);
    if (!read) CAVUM_TRY(cavum_fail_memory(error));
    good = H5Dread(opened.dataset, memory_type, H5S_ALL, H5S_ALL, H5P_DEFAULT, read) >= 0;
  }
  if (!good) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: expected numbers at %s", file->name, path));
  }
  *values = read;
  *count = opened.count;
  read = NULL;
done:
  close_dataset(&opened);
  free(read);
  return status;
}

cavum_status cavum_hdf5_read_doubles(double **values, int64_t *count, const cavum_hdf5_file *file,
                                     const char *path, cavum_error *error) {
  void *read = NULL;
  cavum_status status =
      read_values(&read, count, H5T_NATIVE_DOUBLE, sizeof(double), file, path, error);
  if (status == CAVUM_OK) *values = read;
  return status;
}

cavum_status cavum_hdf5_read_integers(int32_t **values, int64_t *count, const cavum_hdf5_file *file,
                                      const char *path, cavum_error *error) {
  void *read = NULL;
  cavum_status status =
      read_values(&read, count, H5T_NATIVE_INT32, sizeof(int32_t), file, path, error);
  if (status == CAVUM_OK) *values = read;
  return status;
}

// Takes HDF5's strings over into memory of ours and frees them.
static cavum_status take_texts(char ***texts, char **read, int count, cavum_error *error) {
  bool copied = true;
  char **own = cavum_alloc(count, sizeof *own);
  for (int i = 0; i < count; i++) {
    if (own) own[i] = cavum_copy_text(read[i]);
    copied = copied && own && own[i];
    H5free_memory(read[i]);
  }
  if (copied) {
    *texts = own;
    return CAVUM_OK;
  }
  for (int i = 0; own && i < count; i++) free(own[i]);
  free(own);
  return cavum_fail_memory(error);
}

cavum_status cavum_hdf5_read_texts(char ***texts, int *count, const cavum_hdf5_file *file,
                                   const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char **read = NULL;
  struct opened opened = open_dataset(file, path);
  bool good = opened.type >= 0 && H5Tget_class(opened.type) == H5T_STRING &&
              H5Tis_variable_str(opened.type) > 0 && opened.count > 0 &&
              opened.count <= LARGEST_TEXT_COUNT;
  if (good) {
    read = cavum_alloc(opened.count, sizeof *read);
    if (!read) CAVUM_TRY(cavum_fail_memory(error));
    good = H5Dread(opened.dataset, opened.type, H5S_ALL, H5S_ALL, H5P_DEFAULT, read) >= 0;
  }
  if (!good) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: expected text at %s", file->name, path));
  }
  CAVUM_TRY(take_texts(texts, read, (int)opened.count, error));
  *count = (int)opened.count;
done:
  close_dataset(&opened);
  free(read);
  return status;
}
