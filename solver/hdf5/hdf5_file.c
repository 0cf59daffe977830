// SPDX-License-Identifier: GPL-3.0-or-later
// The only file that sees HDF5: writing. The file is built by HDF5's core driver in memory and its
// image is written by bytes.c, because closing a file on a full disk reports success even when data
// were lost; an image that was taken is whole. Reading is in hdf5_file_read.c through
// hdf5_private.h.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "hdf5/bytes.h"
#include "hdf5/hdf5_private.h"
#include "hdf5/seal.h"

// Arrays from this many bytes on are chunked and deflated. Deflating field values halves them, at
// 10 ms a megabyte: for the arrays of one cell that took as long as the solve, to save one megabyte
// a file.
enum { COMPRESS_FROM_BYTES = 1 << 20 };
// Level 1 with shuffling takes most of what deflate can take from field values, at a tenth of the
// time of the higher levels.
enum { DEFLATE_LEVEL = 1 };
// Numbers in a chunk: half a megabyte of doubles, well inside HDF5's cache of one megabyte.
enum { CHUNK_LENGTH = 65536 };
// HDF5's conversion buffer, one megabyte unless told otherwise, which nothing here needs.
enum { CONVERSION_BYTES = 4096 };
// The memory image grows in steps of this size.
enum { IMAGE_STEP_BYTES = 1 << 20 };

struct type_pair {
  hid_t memory, file;
  size_t size;
};

static struct type_pair type_of(cavum_hdf5_type type) {
  switch (type) {
    case CAVUM_HDF5_DOUBLE:
      return (struct type_pair){H5T_NATIVE_DOUBLE, H5T_IEEE_F64LE, 8};
    case CAVUM_HDF5_INT32:
      return (struct type_pair){H5T_NATIVE_INT32, H5T_STD_I32LE, 4};
    case CAVUM_HDF5_INT64:
      return (struct type_pair){H5T_NATIVE_INT64, H5T_STD_I64LE, 8};
    case CAVUM_HDF5_UINT8:
      break;
  }
  return (struct type_pair){H5T_NATIVE_UINT8, H5T_STD_U8LE, 1};
}

static cavum_status refuse(const char *path, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "HDF5 cannot store %s (out of memory?)", path);
}

// HDF5 refuses a second file in memory of the same name, so the handle gives the name. It is not
// stored.
static hid_t open_core_file(const cavum_hdf5_file *handle) {
  char name[48];
  snprintf(name, sizeof name, "cavum-%p", (const void *)handle);
  hid_t access = H5Pcreate(H5P_FILE_ACCESS);
  if (access < 0) return -1;
  hid_t id = -1;
  // The oldest layout is the one that every reader understands. It also has the only superblock
  // without a checksum, which H5Fget_file_image() of HDF5 1.10 leaves wrong in the newer ones.
  if (H5Pset_fapl_core(access, IMAGE_STEP_BYTES, false) >= 0 &&
      H5Pset_libver_bounds(access, H5F_LIBVER_EARLIEST, H5F_LIBVER_V18) >= 0) {
    id = H5Fcreate(name, H5F_ACC_TRUNC, H5P_DEFAULT, access);
  }
  H5Pclose(access);
  return id;
}

// Fixed lengths: HDF5 keeps texts of variable length in a heap apart, and crashes when that is
// damaged.
hid_t cavum_hdf5_text_type(size_t size) {
  hid_t type = H5Tcopy(H5T_C_S1);
  if (type < 0) return -1;
  if (H5Tset_size(type, size > 0 ? size : 1) >= 0 && H5Tset_cset(type, H5T_CSET_UTF8) >= 0 &&
      H5Tset_strpad(type, H5T_STR_NULLPAD) >= 0) {
    return type;
  }
  H5Tclose(type);
  return -1;
}

bool cavum_hdf5_prepare_writing(cavum_hdf5_file *file) {
  file->link_creation = H5Pcreate(H5P_LINK_CREATE);
  file->scalar_space = H5Screate(H5S_SCALAR);
  file->transfer = H5Pcreate(H5P_DATASET_XFER);
  file->contiguous = H5Pcreate(H5P_DATASET_CREATE);
  return file->contiguous >= 0 && H5Pset_obj_track_times(file->contiguous, false) >= 0 &&
         file->link_creation >= 0 && file->scalar_space >= 0 && file->transfer >= 0 &&
         H5Pset_buffer(file->transfer, CONVERSION_BYTES, NULL, NULL) >= 0 &&
         H5Pset_create_intermediate_group(file->link_creation, 1) >= 0;
}

cavum_status cavum_hdf5_create(cavum_hdf5_file **file, cavum_error *error) {
  cavum_status status = cavum_hdf5_reach(error);
  if (status != CAVUM_OK) return status;
  CAVUM_HDF5_ALONE;
  cavum_hdf5_file *made = cavum_hdf5_begin();
  if (!made) return cavum_fail_memory(error);
  made->size = INT64_MAX;
  made->id = open_core_file(made);
  if (made->id < 0 || !cavum_hdf5_prepare_writing(made)) {
    cavum_hdf5_destroy(&made);
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "HDF5 cannot make a file in memory");
  }
  *file = made;
  return CAVUM_OK;
}

// The bytes of a file in memory, with room for the seal; other threads need not wait for the disk.
static cavum_status take_image(char **image, size_t *size, const cavum_hdf5_file *file,
                               const char *path, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  if (H5Fflush(file->id, H5F_SCOPE_GLOBAL) < 0) return refuse(path, error);
  ssize_t found = H5Fget_file_image(file->id, NULL, 0);
  if (found <= 0) return refuse(path, error);
  char *taken = cavum_alloc_aligned((int64_t)found + CAVUM_SEAL_SIZE, 1);
  if (!taken) return cavum_fail_memory(error);
  if (H5Fget_file_image(file->id, taken, (size_t)found) != found) {
    free(taken);
    return refuse(path, error);
  }
  *image = taken;
  *size = (size_t)found;
  return CAVUM_OK;
}

cavum_status cavum_hdf5_save(cavum_hdf5_file *file, const char *path, const char *kind,
                             cavum_error *error) {
  char *image = NULL;
  size_t size = 0;
  cavum_status status = take_image(&image, &size, file, path, error);
  if (status == CAVUM_OK) {
    cavum_seal_make(image + size, kind, image, size);
    status = cavum_store_write_bytes(path, image, size + CAVUM_SEAL_SIZE, error);
  }
  free(image);
  return status;
}

bool cavum_hdf5_add_text(const cavum_hdf5_file *file, hid_t object, const char *name,
                         const char *text) {
  if (!text) return true;
  hid_t type = cavum_hdf5_text_type(strlen(text));
  if (type < 0) return false;
  hid_t attribute = H5Acreate2(object, name, type, file->scalar_space, H5P_DEFAULT, H5P_DEFAULT);
  bool written = attribute >= 0 && H5Awrite(attribute, type, text) >= 0;
  if (attribute >= 0 && H5Aclose(attribute) < 0) written = false;
  return H5Tclose(type) >= 0 && written;
}

// count = 1 gives a scalar unless as_array is set.
static bool add_numbers_attribute(hid_t object, const char *name, cavum_hdf5_type type, int count,
                                  const void *values, bool as_array) {
  hsize_t extent = (hsize_t)count;
  bool scalar = count == 1 && !as_array;
  hid_t space = scalar ? H5Screate(H5S_SCALAR) : H5Screate_simple(1, &extent, NULL);
  if (space < 0) return false;
  struct type_pair types = type_of(type);
  hid_t attribute = H5Acreate2(object, name, types.file, space, H5P_DEFAULT, H5P_DEFAULT);
  bool written = attribute >= 0 && H5Awrite(attribute, types.memory, values) >= 0;
  if (attribute >= 0 && H5Aclose(attribute) < 0) written = false;
  return H5Sclose(space) >= 0 && written;
}

static bool add_attributes(const cavum_hdf5_file *file, hid_t object,
                           const cavum_hdf5_array *array) {
  if (!cavum_hdf5_add_text(file, object, "units", array->units) ||
      !cavum_hdf5_add_text(file, object, "long_name", array->long_name)) {
    return false;
  }
  for (int i = 0; i < array->num_attributes; i++) {
    const cavum_hdf5_attribute *extra = &array->attributes[i];
    bool added = extra->text ? cavum_hdf5_add_text(file, object, extra->name, extra->text)
                             : add_numbers_attribute(object, extra->name, CAVUM_HDF5_DOUBLE,
                                                     extra->count, extra->numbers, false);
    if (!added) return false;
  }
  return true;
}

// Creation properties of a compressed dataset.
static hid_t make_compression(const cavum_hdf5_file *file, int rank, const hsize_t extent[2]) {
  hid_t creation = H5Pcopy(file->contiguous);
  hsize_t chunk[2] = {extent[0], rank == 2 ? extent[1] : 1};
  hsize_t rows = CHUNK_LENGTH / chunk[1] > 0 ? CHUNK_LENGTH / chunk[1] : 1;
  if (chunk[0] > rows) chunk[0] = rows;
  if (creation < 0 || (H5Pset_chunk(creation, rank, chunk) >= 0 && H5Pset_shuffle(creation) >= 0 &&
                       H5Pset_deflate(creation, DEFLATE_LEVEL) >= 0)) {
    return creation;
  }
  H5Pclose(creation);
  return -1;
}

// Creates an empty dataset, compressed where it pays; -1 when HDF5 refuses.
static hid_t create_dataset(const cavum_hdf5_file *file, const cavum_hdf5_array *array, hid_t type,
                            const hsize_t extent[2], size_t bytes) {
  bool scalar = array->rank == 0, compressed = !scalar && bytes >= COMPRESS_FROM_BYTES;
  hid_t space = scalar ? file->scalar_space : H5Screate_simple(array->rank, extent, NULL);
  hid_t creation = compressed ? make_compression(file, array->rank, extent) : file->contiguous;
  hid_t dataset = -1;
  if (space >= 0 && creation >= 0) {
    dataset =
        H5Dcreate2(file->id, array->path, type, space, file->link_creation, creation, H5P_DEFAULT);
  }
  if (compressed && creation >= 0) H5Pclose(creation);
  if (!scalar && space >= 0) H5Sclose(space);
  return dataset;
}

// Creates, fills and closes a dataset with its attributes.
static bool add_dataset(const cavum_hdf5_file *file, const cavum_hdf5_array *array,
                        struct type_pair types) {
  hsize_t extent[2] = {(hsize_t)array->extent[0], (hsize_t)array->extent[1]};
  size_t count = 1;
  for (int i = 0; i < array->rank; i++) count *= (size_t)extent[i];
  hid_t dataset = create_dataset(file, array, types.file, extent, count * types.size);
  if (dataset < 0) return false;
  bool added = (count == 0 || H5Dwrite(dataset, types.memory, H5S_ALL, H5S_ALL, file->transfer,
                                       array->data) >= 0) &&
               add_attributes(file, dataset, array);
  return H5Dclose(dataset) >= 0 && added;
}

cavum_status cavum_hdf5_write_array(cavum_hdf5_file *file, const cavum_hdf5_array *array,
                                    cavum_error *error) {
  CAVUM_HDF5_ALONE;
  if (!CAVUM_HOLDS(array->rank >= 0 && array->rank <= 2)) {
    return cavum_fail_internal(error, "rank of an array to store");
  }
  return add_dataset(file, array, type_of(array->type)) ? CAVUM_OK : refuse(array->path, error);
}

// Texts one behind the other, each in `width` bytes; NULL: no memory.
static char *pack_texts(int count, const char *const *texts, size_t width) {
  char *packed = cavum_alloc(count, width);
  for (int i = 0; packed && i < count; i++) {
    memcpy(packed + (size_t)i * width, texts[i], strlen(texts[i]));
  }
  return packed;
}

cavum_status cavum_hdf5_write_texts(cavum_hdf5_file *file, const char *path, int count,
                                    const char *const *texts, const char *long_name,
                                    cavum_error *error) {
  CAVUM_HDF5_ALONE;
  int num_texts = count > 0 ? count : 1;
  size_t width = 1;
  for (int i = 0; i < num_texts; i++) {
    if (strlen(texts[i]) > width) width = strlen(texts[i]);
  }
  char *packed = pack_texts(num_texts, texts, width);
  hid_t type = cavum_hdf5_text_type(width);
  cavum_hdf5_array array = {.path = path,
                            .rank = count > 0 ? 1 : 0,
                            .extent = {count, 1},
                            .data = packed,
                            .units = "1",
                            .long_name = long_name};
  struct type_pair types = {type, type, 0};  // no size: texts are never compressed
  bool added = packed && type >= 0 && add_dataset(file, &array, types);
  if (type >= 0) H5Tclose(type);
  free(packed);
  return added ? CAVUM_OK : refuse(path, error);
}

cavum_status cavum_hdf5_write_text_attribute(cavum_hdf5_file *file, const char *path,
                                             const char *name, const char *text,
                                             cavum_error *error) {
  CAVUM_HDF5_ALONE;
  hid_t object = H5Oopen(file->id, path, H5P_DEFAULT);
  bool added = object >= 0 && cavum_hdf5_add_text(file, object, name, text);
  if (object >= 0 && H5Oclose(object) < 0) added = false;
  return added ? CAVUM_OK : refuse(path, error);
}

cavum_status cavum_hdf5_write_ascii_attribute(cavum_hdf5_file *file, const char *path,
                                              const char *name, const char *text,
                                              cavum_error *error) {
  CAVUM_HDF5_ALONE;
  hid_t object = H5Oopen(file->id, path, H5P_DEFAULT);
  hid_t type = H5Tcopy(H5T_C_S1);
  hid_t attribute = -1;
  bool added = false;
  if (object >= 0 && type >= 0 && H5Tset_size(type, strlen(text)) >= 0 &&
      H5Tset_strpad(type, H5T_STR_NULLPAD) >= 0) {
    attribute = H5Acreate2(object, name, type, file->scalar_space, H5P_DEFAULT, H5P_DEFAULT);
  }
  if (attribute >= 0) {
    added = H5Awrite(attribute, type, text) >= 0;
    if (H5Aclose(attribute) < 0) added = false;
  }
  if (type >= 0) H5Tclose(type);
  if (object >= 0) H5Oclose(object);
  return added ? CAVUM_OK : refuse(path, error);
}

cavum_status cavum_hdf5_write_integers_attribute(cavum_hdf5_file *file, const char *path,
                                                 const char *name, int count, const int64_t *values,
                                                 cavum_error *error) {
  CAVUM_HDF5_ALONE;
  hid_t object = H5Oopen(file->id, path, H5P_DEFAULT);
  bool added =
      object >= 0 && add_numbers_attribute(object, name, CAVUM_HDF5_INT64, count, values, true);
  if (object >= 0) H5Oclose(object);
  return added ? CAVUM_OK : refuse(path, error);
}

cavum_status cavum_hdf5_make_group(cavum_hdf5_file *file, const char *path, cavum_error *error) {
  CAVUM_HDF5_ALONE;
  hid_t group = H5Gcreate2(file->id, path, file->link_creation, H5P_DEFAULT, H5P_DEFAULT);
  if (group < 0) return refuse(path, error);
  H5Gclose(group);
  return CAVUM_OK;
}

cavum_status cavum_hdf5_link(cavum_hdf5_file *file, const char *existing, const char *path,
                             cavum_error *error) {
  CAVUM_HDF5_ALONE;
  bool linked =
      H5Lcreate_hard(file->id, existing, file->id, path, file->link_creation, H5P_DEFAULT) >= 0;
  return linked ? CAVUM_OK : refuse(path, error);
}

void cavum_hdf5_version(char text[32]) {
  CAVUM_HDF5_ALONE;
  unsigned major = 0, minor = 0, release = 0;
  H5get_libversion(&major, &minor, &release);
  snprintf(text, 32, "%u.%u.%u", major, minor, release);
}
