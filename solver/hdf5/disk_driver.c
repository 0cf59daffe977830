// SPDX-License-Identifier: GPL-3.0-or-later
// The functions that HDF5 calls to write a new file. They mirror those of its own driver for POSIX
// files, but for what happens when a write fails.
#include "hdf5/disk_driver.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/** What the access properties carry. */
typedef struct driver_info {
  int *fault;
} driver_info;

/** An open file; HDF5's part comes first. */
typedef struct disk_file {
  H5FD_t base;
  int descriptor;
  haddr_t used, end;  // end of what HDF5 has given out, and of the file
  int *fault;
} disk_file;

static void note_fault(const disk_file *file) {
  if (*file->fault == 0) *file->fault = errno ? errno : ENOSPC;
}

static H5FD_t *open_file(const char *name, unsigned flags, hid_t access, haddr_t most) {
  (void)flags;  // files are always made anew
  (void)most;
  const driver_info *info = H5Pget_driver_info(access);
  disk_file *file = info ? calloc(1, sizeof *file) : NULL;
  if (!file) return NULL;
  file->fault = info->fault;
  file->descriptor = open(name, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0666);
  if (file->descriptor >= 0) return &file->base;
  note_fault(file);
  free(file);
  return NULL;
}

static herr_t close_file(H5FD_t *base) {
  disk_file *file = (disk_file *)base;
  if (close(file->descriptor) != 0) note_fault(file);
  free(file);
  return 0;
}

static herr_t tell_features(const H5FD_t *base, unsigned long *flags) {
  (void)base;
  *flags = H5FD_FEAT_AGGREGATE_METADATA | H5FD_FEAT_ACCUMULATE_METADATA | H5FD_FEAT_DATA_SIEVE |
           H5FD_FEAT_AGGREGATE_SMALLDATA | H5FD_FEAT_DEFAULT_VFD_COMPATIBLE;
  return 0;
}

static haddr_t get_used(const H5FD_t *base, H5FD_mem_t type) {
  (void)type;
  return ((const disk_file *)base)->used;
}

static herr_t set_used(H5FD_t *base, H5FD_mem_t type, haddr_t address) {
  (void)type;
  ((disk_file *)base)->used = address;
  return 0;
}

static haddr_t get_end(const H5FD_t *base, H5FD_mem_t type) {
  (void)type;
  return ((const disk_file *)base)->end;
}

// What was never written reads as zero, after a fault too.
static herr_t read_bytes(H5FD_t *base, H5FD_mem_t type, hid_t transfer, haddr_t address,
                         size_t size, void *out) {
  (void)type;
  (void)transfer;
  const disk_file *file = (const disk_file *)base;
  char *bytes = out;
  while (size > 0) {
    ssize_t got = pread(file->descriptor, bytes, size, (off_t)address);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) note_fault(file);
    if (got <= 0) break;
    bytes += got;
    address += (haddr_t)got;
    size -= (size_t)got;
  }
  memset(bytes, 0, size);
  return 0;
}

static herr_t write_bytes(H5FD_t *base, H5FD_mem_t type, hid_t transfer, haddr_t address,
                          size_t size, const void *data) {
  (void)type;
  (void)transfer;
  disk_file *file = (disk_file *)base;
  const char *bytes = data;
  if (address + size > file->end) file->end = address + size;
  while (size > 0 && *file->fault == 0) {
    errno = 0;
    ssize_t written = pwrite(file->descriptor, bytes, size, (off_t)address);
    if (written < 0 && errno == EINTR) continue;
    if (written <= 0) {
      note_fault(file);
      break;
    }
    bytes += written;
    address += (haddr_t)written;
    size -= (size_t)written;
  }
  return 0;
}

// The file ends where what HDF5 has given out ends.
static herr_t cut_file(H5FD_t *base, hid_t transfer, hbool_t closing) {
  (void)transfer;
  (void)closing;
  disk_file *file = (disk_file *)base;
  if (file->used == file->end) return 0;
  if (*file->fault == 0 && ftruncate(file->descriptor, (off_t)file->used) != 0) note_fault(file);
  file->end = file->used;
  return 0;
}

hid_t cavum_disk_driver_register(void) {
  static const H5FD_class_t class = {.name = "cavum_disk",
                                     .maxaddr = ((haddr_t)1 << 62) - 1,
                                     .fc_degree = H5F_CLOSE_WEAK,
                                     .fapl_size = sizeof(driver_info),
                                     .open = open_file,
                                     .close = close_file,
                                     .query = tell_features,
                                     .get_eoa = get_used,
                                     .set_eoa = set_used,
                                     .get_eof = get_end,
                                     .read = read_bytes,
                                     .write = write_bytes,
                                     .truncate = cut_file,
                                     .fl_map = H5FD_FLMAP_DICHOTOMY};
  return H5FDregister(&class);
}

hid_t cavum_disk_driver_access(hid_t driver, int *fault) {
  const driver_info info = {fault};
  hid_t access = H5Pcreate(H5P_FILE_ACCESS);
  if (access >= 0 && H5Pset_driver(access, driver, &info) >= 0) return access;
  if (access >= 0) H5Pclose(access);
  return -1;
}
