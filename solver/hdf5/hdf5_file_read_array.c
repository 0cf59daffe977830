// SPDX-License-Identifier: GPL-3.0-or-later
// Reading whole datasets. The size that a file claims is checked against its own before memory is
// asked for.
#include <string.h>

#include "base/base.h"
#include "hdf5/hdf5_private.h"

enum { LARGEST_TEXT_COUNT = 10000 };
// Deflate takes at most 258 bytes to 2 bits, blocks and trees not counted.
enum { LARGEST_COMPRESSION = 1032 };

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

bool cavum_hdf5_can_hold(const cavum_hdf5_file *file, hid_t dataset, int64_t count, size_t size) {
  if (!file->name) return true;  // Built by this program, in memory.
  hid_t creation = H5Dget_create_plist(dataset);
  if (creation < 0) return false;
  bool chunked = H5Pget_layout(creation) == H5D_CHUNKED;
  H5Pclose(creation);
  double stored = (double)H5Dget_storage_size(dataset), wanted = (double)count * (double)size;
  if (stored > (double)file->size) return false;
  return wanted <= (chunked ? LARGEST_COMPRESSION * stored : stored);
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
              cavum_hdf5_can_hold(file, opened.dataset, opened.count, H5Tget_size(opened.type));
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
  CAVUM_HDF5_ALONE;
  void *read = NULL;
  cavum_status status =
      read_values(&read, count, H5T_NATIVE_DOUBLE, sizeof(double), file, path, error);
  if (status == CAVUM_OK) *values = read;
  return status;
}

cavum_status cavum_hdf5_read_integers(int32_t **values, int64_t *count, const cavum_hdf5_file *file,
                                      const char *path, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  void *read = NULL;
  cavum_status status =
      read_values(&read, count, H5T_NATIVE_INT32, sizeof(int32_t), file, path, error);
  if (status == CAVUM_OK) *values = read;
  return status;
}

void cavum_hdf5_free_texts(char **texts, int count) {
  for (int i = 0; texts && i < count; i++) free(texts[i]);
  free(texts);
}

// Texts of a fixed length, one behind the other.
static bool read_fixed(char **texts, const struct opened *opened) {
  size_t width = H5Tget_size(opened->type);
  bool good = false;
  char *packed = cavum_alloc(opened->count, width);
  if (packed &&
      H5Dread(opened->dataset, opened->type, H5S_ALL, H5S_ALL, H5P_DEFAULT, packed) >= 0) {
    good = true;
    for (int64_t i = 0; i < opened->count; i++) {
      texts[i] = cavum_format_text("%.*s", (int)width, packed + (size_t)i * width);
      good = good && texts[i];
    }
  }
  free(packed);
  return good;
}

// Texts in HDF5's heap, as earlier versions wrote them: into memory of ours.
static bool read_variable(char **texts, const struct opened *opened) {
  bool good = false;
  char **heap = cavum_alloc(opened->count, sizeof *heap);
  if (heap && H5Dread(opened->dataset, opened->type, H5S_ALL, H5S_ALL, H5P_DEFAULT, heap) >= 0) {
    good = true;
    for (int64_t i = 0; i < opened->count; i++) {
      texts[i] = cavum_copy_text(heap[i]);
      good = good && texts[i];
      H5free_memory(heap[i]);
    }
  }
  free(heap);
  return good;
}

cavum_status cavum_hdf5_read_texts(char ***texts, int *count, const cavum_hdf5_file *file,
                                   const char *path, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  cavum_status status = CAVUM_OK;
  char **read = NULL;
  struct opened opened = open_dataset(file, path);
  bool good = opened.type >= 0 && H5Tget_class(opened.type) == H5T_STRING && opened.count > 0 &&
              opened.count <= LARGEST_TEXT_COUNT &&
              cavum_hdf5_can_hold(file, opened.dataset, opened.count, H5Tget_size(opened.type));
  if (good) {
    read = cavum_alloc(opened.count, sizeof *read);
    if (!read) CAVUM_TRY(cavum_fail_memory(error));
    good = H5Tis_variable_str(opened.type) > 0 ? read_variable(read, &opened)
                                               : read_fixed(read, &opened);
  }
  if (!good) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: expected text at %s", file->name, path));
  }
  *texts = read;
  *count = (int)opened.count;
  read = NULL;
done:
  cavum_hdf5_free_texts(read, (int)opened.count);
  close_dataset(&opened);
  return status;
}

cavum_status cavum_hdf5_read_first_text(char **text, const cavum_hdf5_file *file, const char *path,
                                        cavum_error *error) {
  char **texts = NULL;
  int count = 0;
  cavum_status status = cavum_hdf5_read_texts(&texts, &count, file, path, error);
  if (status != CAVUM_OK) return status;
  *text = texts[0];
  texts[0] = NULL;
  cavum_hdf5_free_texts(texts, count);
  return CAVUM_OK;
}
