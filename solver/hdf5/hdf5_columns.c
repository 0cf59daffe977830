// SPDX-License-Identifier: GPL-3.0-or-later
// Columns in blocks, through a file driver that remembers the first write that failed: it is asked
// after every step, since HDF5 knows nothing of it.
#include "hdf5/hdf5_columns.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "hdf5/disk_driver.h"
#include "hdf5/hdf5_private.h"
#include "hdf5/packed_chunk.h"
#include "hdf5/seal.h"

// Level 1 with shuffling takes most of what deflate can take from numbers like these.
enum { DEFLATE_LEVEL = 1 };

static cavum_status fail_to_write(const cavum_hdf5_file *file, const char *what,
                                  cavum_error *error) {
  if (file->fault) {
    return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", file->name,
                      strerror(file->fault));
  }
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "HDF5 cannot write %s (out of memory?)", what);
}

static void open_new(cavum_hdf5_file *file) {
  file->driver = cavum_disk_driver_register();
  if (file->driver < 0) return;
  hid_t access = cavum_disk_driver_access(file->driver, &file->fault);
  if (access < 0) return;
  if (H5Pset_libver_bounds(access, H5F_LIBVER_EARLIEST, H5F_LIBVER_V18) >= 0) {
    file->id = H5Fcreate(file->name, H5F_ACC_TRUNC, H5P_DEFAULT, access);
  }
  H5Pclose(access);
}

cavum_status cavum_hdf5_create_on_disk(cavum_hdf5_file **file, const char *path,
                                       cavum_error *error) {
  cavum_status status = cavum_hdf5_reach(error);
  if (status != CAVUM_OK) return status;
  CAVUM_HDF5_ALONE;
  cavum_hdf5_file *made = cavum_hdf5_begin();
  if (!made) return cavum_fail_memory(error);
  made->name = cavum_copy_text(path);
  if (made->name) open_new(made);
  if (made->id < 0 || !cavum_hdf5_prepare_writing(made)) {
    status = made->fault ? fail_to_write(made, path, error) : cavum_fail_memory(error);
    cavum_hdf5_destroy(&made);
    return status;
  }
  *file = made;
  return CAVUM_OK;
}

cavum_status cavum_hdf5_make_ordered_group(cavum_hdf5_file *file, const char *path,
                                           cavum_error *error) {
  CAVUM_HDF5_ALONE;
  hid_t creation = H5Pcreate(H5P_GROUP_CREATE);
  hid_t group = -1;
  if (creation >= 0 &&
      H5Pset_link_creation_order(creation, H5P_CRT_ORDER_TRACKED | H5P_CRT_ORDER_INDEXED) >= 0) {
    group = H5Gcreate2(file->id, path, file->link_creation, creation, H5P_DEFAULT);
  }
  if (creation >= 0) H5Pclose(creation);
  if (group < 0) return fail_to_write(file, path, error);
  H5Gclose(group);
  return CAVUM_OK;
}

// In memory and in the file; the caller closes a text type.
static hid_t type_of(cavum_hdf5_column_type type, int text_size, bool in_file) {
  switch (type) {
    case CAVUM_HDF5_COLUMN_DOUBLE:
      return in_file ? H5T_IEEE_F64LE : H5T_NATIVE_DOUBLE;
    case CAVUM_HDF5_COLUMN_FLOAT:
      return in_file ? H5T_IEEE_F32LE : H5T_NATIVE_FLOAT;
    case CAVUM_HDF5_COLUMN_INT64:
      return in_file ? H5T_STD_I64LE : H5T_NATIVE_INT64;
    case CAVUM_HDF5_COLUMN_INT32:
      return in_file ? H5T_STD_I32LE : H5T_NATIVE_INT32;
    case CAVUM_HDF5_COLUMN_UINT8:
      return in_file ? H5T_STD_U8LE : H5T_NATIVE_UINT8;
    case CAVUM_HDF5_COLUMN_TEXT:
      break;
  }
  hid_t text = H5Tcopy(H5T_C_S1);
  if (text >= 0 &&
      (H5Tset_size(text, (size_t)text_size) < 0 || H5Tset_cset(text, H5T_CSET_UTF8) < 0 ||
       H5Tset_strpad(text, H5T_STR_NULLPAD) < 0)) {
    H5Tclose(text);
    text = -1;
  }
  return text;
}

static hid_t make_creation(int64_t num_rows, cavum_hdf5_column_type type) {
  int64_t block = type == CAVUM_HDF5_COLUMN_TEXT ? CAVUM_HDF5_TEXT_BLOCK : CAVUM_HDF5_COLUMN_BLOCK;
  hsize_t chunk = (hsize_t)(num_rows < block ? num_rows : block);
  hid_t creation = H5Pcreate(H5P_DATASET_CREATE);
  if (creation < 0) return -1;
  bool set = H5Pset_obj_track_times(creation, false) >= 0;
  if (set && num_rows > 0) {
    set = H5Pset_chunk(creation, 1, &chunk) >= 0 && H5Pset_shuffle(creation) >= 0 &&
          H5Pset_deflate(creation, DEFLATE_LEVEL) >= 0;
  }
  if (set) return creation;
  H5Pclose(creation);
  return -1;
}

cavum_status cavum_hdf5_make_column(cavum_hdf5_file *file, const cavum_hdf5_column *column,
                                    cavum_error *error) {
  CAVUM_HDF5_ALONE;
  hsize_t extent = (hsize_t)column->num_rows;
  hid_t space = H5Screate_simple(1, &extent, NULL);
  hid_t type = type_of(column->type, column->text_size, true);
  hid_t creation = make_creation(column->num_rows, column->type);
  hid_t dataset = -1;
  bool made = false;
  if (space >= 0 && type >= 0 && creation >= 0) {
    dataset =
        H5Dcreate2(file->id, column->path, type, space, file->link_creation, creation, H5P_DEFAULT);
  }
  if (dataset >= 0) {
    made = cavum_hdf5_add_text(file, dataset, "units", column->units) &&
           cavum_hdf5_add_text(file, dataset, "long_name", column->long_name) &&
           cavum_hdf5_add_text(file, dataset, "definition", column->definition);
    if (H5Dclose(dataset) < 0) made = false;
  }
  if (creation >= 0) H5Pclose(creation);
  if (column->type == CAVUM_HDF5_COLUMN_TEXT && type >= 0) H5Tclose(type);
  if (space >= 0) H5Sclose(space);
  return made && !file->fault ? CAVUM_OK : fail_to_write(file, column->path, error);
}

// Rows [first, first + count) of a data set, as a pair of spaces.
static bool select_rows(hid_t dataset, int64_t first, int64_t count, hid_t *memory, hid_t *disk) {
  hsize_t start = (hsize_t)first, extent = (hsize_t)count;
  *memory = H5Screate_simple(1, &extent, NULL);
  *disk = H5Dget_space(dataset);
  return *memory >= 0 && *disk >= 0 &&
         H5Sselect_hyperslab(*disk, H5S_SELECT_SET, &start, NULL, &extent, NULL) >= 0;
}

static void close_spaces(hid_t memory, hid_t disk) {
  if (memory >= 0) H5Sclose(memory);
  if (disk >= 0) H5Sclose(disk);
}

// What the numbers of a data set are in memory: the native form of its type in the file.
static hid_t native_type(hid_t dataset) {
  hid_t stored = H5Dget_type(dataset);
  if (stored < 0) return -1;
  hid_t native = H5Tget_native_type(stored, H5T_DIR_DEFAULT);
  H5Tclose(stored);
  return native;
}

// A whole chunk of numbers goes to the file as it will stand there.
static bool write_chunk(hid_t dataset, hid_t type, int64_t first, const void *data) {
  unsigned char *packed = NULL;
  hsize_t start = (hsize_t)first;
  size_t bytes = cavum_packed_chunk_make(&packed, data, CAVUM_HDF5_COLUMN_BLOCK, H5Tget_size(type),
                                         DEFLATE_LEVEL);
  bool written = bytes > 0 && H5Dwrite_chunk(dataset, H5P_DEFAULT, 0, &start, bytes, packed) >= 0;
  free(packed);
  return written;
}

static bool write_rows(hid_t dataset, hid_t type, int64_t first, int64_t count, const void *data) {
  hid_t memory = -1, disk = -1;
  bool little = __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__;
  if (little && first % CAVUM_HDF5_COLUMN_BLOCK == 0 && count == CAVUM_HDF5_COLUMN_BLOCK &&
      H5Tget_class(type) != H5T_STRING) {
    return write_chunk(dataset, type, first, data);
  }
  bool written = select_rows(dataset, first, count, &memory, &disk) &&
                 H5Dwrite(dataset, type, memory, disk, H5P_DEFAULT, data) >= 0;
  close_spaces(memory, disk);
  return written;
}

cavum_status cavum_hdf5_write_column(cavum_hdf5_file *file, const char *path, int64_t first,
                                     int64_t count, const void *data, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  hid_t type = -1;
  bool written = false;
  if (count == 0) return CAVUM_OK;
  hid_t dataset = H5Dopen2(file->id, path, H5P_DEFAULT);
  if (dataset >= 0) {
    type = native_type(dataset);
    written = type >= 0 && write_rows(dataset, type, first, count, data);
    if (type >= 0) H5Tclose(type);
    if (H5Dclose(dataset) < 0) written = false;
  }
  return written && !file->fault ? CAVUM_OK : fail_to_write(file, path, error);
}

// The file is closed before the fault is looked at: most of it is written by then only.
cavum_status cavum_hdf5_finish(cavum_hdf5_file **file, const char *kind, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  cavum_status status = CAVUM_OK;
  cavum_hdf5_file *made = *file;
  bool written = H5Fflush(made->id, H5F_SCOPE_GLOBAL) >= 0;
  if (!cavum_hdf5_shut(made)) written = false;
  if (!written || made->fault) status = fail_to_write(made, made->name, error);
  if (status == CAVUM_OK) status = cavum_seal_append(made->name, kind, error);
  cavum_hdf5_destroy(file);
  return status;
}

/** Hands names on to a visitor. */
typedef struct visit_state {
  cavum_hdf5_visitor *visitor;
  void *data;
} visit_state;

static herr_t visit_link(hid_t group, const char *name, const H5L_info_t *info, void *data) {
  (void)group;
  (void)info;
  visit_state *state = data;
  return state->visitor(name, state->data) ? 0 : 1;
}

cavum_status cavum_hdf5_visit(const cavum_hdf5_file *file, const char *path,
                              cavum_hdf5_visitor *visitor, void *data, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  visit_state state = {visitor, data};
  herr_t result = -1;
  hid_t group = cavum_hdf5_has(file, path) ? H5Gopen2(file->id, path, H5P_DEFAULT) : -1;
  if (group >= 0) {
    hsize_t place = 0;
    result = H5Literate(group, H5_INDEX_CRT_ORDER, H5_ITER_INC, &place, visit_link, &state);
    H5Gclose(group);
  }
  if (result >= 0) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: expected an ordered group at %s", file->name,
                    path);
}

static bool has_column_shape(hid_t dataset, int64_t *rows) {
  hsize_t extent = 0;
  hid_t space = H5Dget_space(dataset);
  bool good = space >= 0 && H5Sget_simple_extent_ndims(space) == 1 &&
              H5Sget_simple_extent_dims(space, &extent, NULL) == 1;
  if (space >= 0) H5Sclose(space);
  if (good) *rows = (int64_t)extent;
  return good;
}

int64_t cavum_hdf5_column_rows(const cavum_hdf5_file *file, const char *path) {
  CAVUM_HDF5_ALONE;
  int64_t rows = -1;
  hid_t dataset = cavum_hdf5_has(file, path) ? H5Dopen2(file->id, path, H5P_DEFAULT) : -1;
  if (dataset < 0) return -1;
  hid_t type = H5Dget_type(dataset);
  if (type < 0 || !has_column_shape(dataset, &rows) ||
      (rows > 0 && !cavum_hdf5_can_hold(file, dataset, rows, H5Tget_size(type)))) {
    rows = -1;
  }
  if (type >= 0) H5Tclose(type);
  H5Dclose(dataset);
  return rows;
}

static bool is_number(hid_t dataset) {
  hid_t type = H5Dget_type(dataset);
  if (type < 0) return false;
  H5T_class_t class = H5Tget_class(type);
  H5Tclose(type);
  return class == H5T_FLOAT || class == H5T_INTEGER;
}

cavum_status cavum_hdf5_read_column_type(cavum_hdf5_column_type *type, const cavum_hdf5_file *file,
                                         const char *path, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  static const cavum_hdf5_column_type types[] = {CAVUM_HDF5_COLUMN_DOUBLE, CAVUM_HDF5_COLUMN_FLOAT,
                                                 CAVUM_HDF5_COLUMN_INT64, CAVUM_HDF5_COLUMN_INT32,
                                                 CAVUM_HDF5_COLUMN_UINT8};
  bool found = false;
  hid_t dataset = cavum_hdf5_has(file, path) ? H5Dopen2(file->id, path, H5P_DEFAULT) : -1;
  hid_t stored = dataset >= 0 ? H5Dget_type(dataset) : -1;
  for (size_t i = 0; stored >= 0 && !found && i < sizeof types / sizeof *types; i++) {
    found = H5Tequal(stored, type_of(types[i], 0, true)) > 0;
    if (found) *type = types[i];
  }
  if (stored >= 0) H5Tclose(stored);
  if (dataset >= 0) H5Dclose(dataset);
  if (found) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: %s is no column", file->name, path);
}

cavum_status cavum_hdf5_read_column(double *values, const cavum_hdf5_file *file, const char *path,
                                    int64_t first, int64_t count, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  int64_t rows = 0;
  hid_t memory = -1, disk = -1;
  bool good = false;
  hid_t dataset = cavum_hdf5_has(file, path) ? H5Dopen2(file->id, path, H5P_DEFAULT) : -1;
  if (dataset >= 0) {
    good = has_column_shape(dataset, &rows) && is_number(dataset) && first >= 0 && count >= 0 &&
           first + count <= rows;
    if (good && count > 0) {
      good = select_rows(dataset, first, count, &memory, &disk) &&
             H5Dread(dataset, H5T_NATIVE_DOUBLE, memory, disk, H5P_DEFAULT, values) >= 0;
      close_spaces(memory, disk);
    }
    H5Dclose(dataset);
  }
  if (good) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: cannot read rows %lld to %lld of %s", file->name,
                    (long long)first, (long long)(first + count - 1), path);
}

cavum_status cavum_hdf5_read_text_column(char **texts, size_t *width, const cavum_hdf5_file *file,
                                         const char *path, int64_t first, int64_t count,
                                         cavum_error *error) {
  CAVUM_HDF5_ALONE;
  int64_t rows = cavum_hdf5_column_rows(file, path);
  hid_t dataset = rows >= 0 ? H5Dopen2(file->id, path, H5P_DEFAULT) : -1;
  hid_t stored = dataset >= 0 ? H5Dget_type(dataset) : -1, memory = -1, disk = -1, type = -1;
  char *read = NULL;
  bool good = stored >= 0 && H5Tget_class(stored) == H5T_STRING &&
              H5Tis_variable_str(stored) == 0 && first >= 0 && count > 0 && first + count <= rows;
  size_t size = good ? H5Tget_size(stored) + 1 : 0;
  if (good) {
    type = cavum_hdf5_text_type(size);
    read = cavum_alloc(count, size);
    good = read && type >= 0 && select_rows(dataset, first, count, &memory, &disk) &&
           H5Dread(dataset, type, memory, disk, H5P_DEFAULT, read) >= 0;
    close_spaces(memory, disk);
  }
  if (type >= 0) H5Tclose(type);
  if (stored >= 0) H5Tclose(stored);
  if (dataset >= 0) H5Dclose(dataset);
  if (good) {
    *texts = read;
    *width = size;
    return CAVUM_OK;
  }
  free(read);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: cannot read rows %lld to %lld of %s", file->name,
                    (long long)first, (long long)(first + count - 1), path);
}
