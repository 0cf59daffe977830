// SPDX-License-Identifier: GPL-3.0-or-later
// Opening, closing and reading HDF5 files. What is read may come from anyone: the shape and class
// of an object are checked before a byte of it is read.
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "base/alone.h"
#include "base/base.h"
#include "base/open_file.h"
#include "hdf5/hdf5_private.h"
#include "hdf5/seal.h"

cavum_hdf5_guard cavum_hdf5_enter(void) {
  cavum_hdf5_guard guard = {NULL, NULL};
  cavum_alone_enter(CAVUM_ALONE_HDF5);
  H5Eget_auto2(H5E_DEFAULT, &guard.print_errors, &guard.print_errors_data);
  H5Eset_auto2(H5E_DEFAULT, NULL, NULL);
  return guard;
}

void cavum_hdf5_leave(cavum_hdf5_guard *guard) {
  H5Eset_auto2(H5E_DEFAULT, guard->print_errors, guard->print_errors_data);
  cavum_alone_leave(CAVUM_ALONE_HDF5);
}

cavum_hdf5_file *cavum_hdf5_begin(void) {
  cavum_hdf5_file *file = cavum_alloc(1, sizeof *file);
  if (!file) return NULL;
  file->id = file->driver = file->link_creation = -1;
  file->scalar_space = file->transfer = file->contiguous = -1;
  return file;
}

bool cavum_hdf5_shut(cavum_hdf5_file *file) {
  CAVUM_HDF5_ALONE;
  bool closed = file->id < 0 || H5Fclose(file->id) >= 0;
  if (file->driver >= 0) H5FDunregister(file->driver);
  file->id = file->driver = -1;
  return closed;
}

void cavum_hdf5_destroy(cavum_hdf5_file **file) {
  if (!file || !*file) return;
  CAVUM_HDF5_ALONE;
  cavum_hdf5_file *old = *file;
  if (old->contiguous >= 0) H5Pclose(old->contiguous);
  if (old->transfer >= 0) H5Pclose(old->transfer);
  if (old->scalar_space >= 0) H5Sclose(old->scalar_space);
  if (old->link_creation >= 0) H5Pclose(old->link_creation);
  (void)cavum_hdf5_shut(old);
  free(old->name);
  free(old);
  *file = NULL;
}

static hid_t open_to_read(const char *path) {
  CAVUM_HDF5_ALONE;
  return H5Fopen(path, H5F_ACC_RDONLY, H5P_DEFAULT);
}

cavum_status cavum_hdf5_open(cavum_hdf5_file **file, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  struct stat info;
  cavum_hdf5_file *opened = NULL;
  // Before there is anything that is released by HDF5.
  CAVUM_TRY(cavum_hdf5_reach(error));
  opened = cavum_hdf5_begin();
  if (!opened) CAVUM_TRY(cavum_fail_memory(error));
  opened->name = cavum_copy_text(path);
  if (!opened->name) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_seal_check(path, error));
  bool known = stat(path, &info) == 0;
  opened->size = known ? info.st_size : 0;
  if (known && S_ISDIR(info.st_mode)) {
    errno = EISDIR;
    CAVUM_TRY(cavum_fail_to_read(error, path));
  }
  opened->id = open_to_read(path);
  if (opened->id < 0) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be opened as an HDF5 file", path));
  }
  *file = opened;
  opened = NULL;
done:
  cavum_hdf5_destroy(&opened);
  return status;
}

// H5Lexists wants every group on the way to exist, so it is asked step by step.
bool cavum_hdf5_has(const cavum_hdf5_file *file, const char *path) {
  CAVUM_HDF5_ALONE;
  char part[256];
  size_t length = strlen(path);
  if (length >= sizeof part) return false;
  for (size_t end = 1; end <= length; end++) {
    if (end < length && path[end] != '/') continue;
    if (end == 1 && path[0] == '/') continue;
    memcpy(part, path, end);
    part[end] = '\0';
    if (H5Lexists(file->id, part, H5P_DEFAULT) <= 0) return false;
  }
  return H5Oexists_by_name(file->id, path, H5P_DEFAULT) > 0;
}

bool cavum_hdf5_has_attribute(const cavum_hdf5_file *file, const char *path, const char *name) {
  CAVUM_HDF5_ALONE;
  return cavum_hdf5_has(file, path) && H5Aexists_by_name(file->id, path, name, H5P_DEFAULT) > 0;
}

static bool is_number(hid_t type) {
  H5T_class_t class = H5Tget_class(type);
  return class == H5T_FLOAT || class == H5T_INTEGER;
}

// True when the space holds exactly `count` values; closes the space.
static bool holds(hid_t space, int count) {
  if (space < 0) return false;
  bool fits = H5Sget_simple_extent_npoints(space) == count;
  H5Sclose(space);
  return fits;
}

cavum_status cavum_hdf5_read_number(double *value, const cavum_hdf5_file *file, const char *path,
                                    cavum_error *error) {
  CAVUM_HDF5_ALONE;
  double read = 0.0;
  bool good = false;
  hid_t dataset = cavum_hdf5_has(file, path) ? H5Dopen2(file->id, path, H5P_DEFAULT) : -1;
  if (dataset >= 0) {
    hid_t type = H5Dget_type(dataset);
    good = type >= 0 && is_number(type) && holds(H5Dget_space(dataset), 1) &&
           H5Dread(dataset, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, &read) >= 0;
    if (type >= 0) H5Tclose(type);
    H5Dclose(dataset);
  }
  if (!good)
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: expected one number at %s", file->name, path);
  *value = read;
  return CAVUM_OK;
}

cavum_status cavum_hdf5_read_numbers_attribute(double *values, int count,
                                               const cavum_hdf5_file *file, const char *path,
                                               const char *name, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  bool good = false;
  hid_t attribute = cavum_hdf5_has_attribute(file, path, name)
                        ? H5Aopen_by_name(file->id, path, name, H5P_DEFAULT, H5P_DEFAULT)
                        : -1;
  if (attribute >= 0) {
    hid_t type = H5Aget_type(attribute);
    good = type >= 0 && is_number(type) && holds(H5Aget_space(attribute), count) &&
           H5Aread(attribute, H5T_NATIVE_DOUBLE, values) >= 0;
    if (type >= 0) H5Tclose(type);
    H5Aclose(attribute);
  }
  if (good) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: expected attribute %s of %d numbers at %s",
                    file->name, name, count, path);
}

// Reads a text through a dataset or an attribute into new memory; NULL when it is none. Files of
// earlier versions have variable lengths.
static char *read_single_text(const cavum_hdf5_file *file, hid_t dataset, hid_t attribute) {
  char *text = NULL, *heap = NULL;
  hid_t type = attribute >= 0 ? H5Aget_type(attribute) : H5Dget_type(dataset);
  if (type < 0) return NULL;
  bool single = holds(attribute >= 0 ? H5Aget_space(attribute) : H5Dget_space(dataset), 1);
  bool is_text = single && H5Tget_class(type) == H5T_STRING;
  bool variable = is_text && H5Tis_variable_str(type) > 0;
  size_t size = variable ? 0 : H5Tget_size(type);
  if (is_text && !variable && (int64_t)size <= file->size) text = cavum_alloc((int64_t)size + 1, 1);
  if (variable || text) {
    void *target = variable ? (void *)&heap : text;
    herr_t read = attribute >= 0 ? H5Aread(attribute, type, target)
                                 : H5Dread(dataset, type, H5S_ALL, H5S_ALL, H5P_DEFAULT, target);
    if (read >= 0 && variable && heap) text = cavum_copy_text(heap);
    if (read >= 0 && heap) H5free_memory(heap);
    if (read < 0) {
      free(text);
      text = NULL;
    }
  }
  H5Tclose(type);
  return text;
}

cavum_status cavum_hdf5_read_text(char *text, size_t size, const cavum_hdf5_file *file,
                                  const char *path, const char *attribute, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  char *read = NULL;
  if (attribute && cavum_hdf5_has_attribute(file, path, attribute)) {
    hid_t id = H5Aopen_by_name(file->id, path, attribute, H5P_DEFAULT, H5P_DEFAULT);
    if (id >= 0) read = read_single_text(file, -1, id);
    if (id >= 0) H5Aclose(id);
  } else if (!attribute && cavum_hdf5_has(file, path)) {
    hid_t id = H5Dopen2(file->id, path, H5P_DEFAULT);
    if (id >= 0) read = read_single_text(file, id, -1);
    if (id >= 0) H5Dclose(id);
  }
  if (!read) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: expected a text at %s%s%s", file->name, path,
                      attribute ? ", attribute " : "", attribute ? attribute : "");
  }
  snprintf(text, size, "%s", read);
  free(read);
  return CAVUM_OK;
}
