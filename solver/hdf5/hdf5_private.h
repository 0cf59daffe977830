// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file hdf5/hdf5_private.h
 * What the hdf5_file*.c files share; no other file includes this.
 */
#ifndef CAVUM_HDF5_HDF5_PRIVATE_H
#define CAVUM_HDF5_HDF5_PRIVATE_H

#include "hdf5/hdf5_calls.h"
#include "hdf5/hdf5_file.h"

/** An open file; the identifiers are -1 when not in use. */
struct cavum_hdf5_file {
  char *name;   /**< Owned: path of a file on disk; else NULL. */
  int64_t size; /**< Bytes of a file that was opened; no limit for one in memory. */
  int fault;    /**< On disk: errno of the first write that failed, 0: none. */
  hid_t driver; /**< On disk: what writes it; registered until the file is closed. */
  hid_t id;
  hid_t link_creation; /**< Makes the groups on the way. */
  hid_t scalar_space;
  hid_t transfer;   /**< For writing. */
  hid_t contiguous; /**< Creation of datasets that are not compressed, without times. */
};

/** The caller's error printing while one of our functions is in HDF5. */
typedef struct cavum_hdf5_guard {
  H5E_auto2_t print_errors;
  void *print_errors_data;
} cavum_hdf5_guard;

/** Waits until no other thread is in HDF5 and switches its error printing off. */
cavum_hdf5_guard cavum_hdf5_enter(void);

/** Restores the error printing and lets the next thread in. */
void cavum_hdf5_leave(cavum_hdf5_guard *guard);

/**
 * First line of every function that calls HDF5, which is not thread-safe in every build: alone in
 * HDF5 and silent until the function returns.
 */
#define CAVUM_HDF5_ALONE \
  __attribute__((cleanup(cavum_hdf5_leave), unused)) cavum_hdf5_guard guard = cavum_hdf5_enter()

/** A fixed-length UTF-8 type for texts of up to `size` bytes; the caller closes it. */
hid_t cavum_hdf5_text_type(size_t size);

/** An empty handle; NULL when there is no memory. */
cavum_hdf5_file *cavum_hdf5_begin(void);

/** Closes the file of a handle, which stays, and then lets go of its driver; false when HDF5 could
 * not write the rest of it. Nothing when it is closed. */
bool cavum_hdf5_shut(cavum_hdf5_file *file);

/** Makes the properties that writing needs; false when HDF5 refuses. */
bool cavum_hdf5_prepare_writing(cavum_hdf5_file *file);

/**
 * True when a file can hold as many values as a dataset claims to have: no more than is stored, or
 * than the strongest compression makes of it.
 */
bool cavum_hdf5_can_hold(const cavum_hdf5_file *file, hid_t dataset, int64_t count, size_t size);

/** Adds a text attribute to an open object; NULL text adds nothing; false when HDF5 refuses. */
bool cavum_hdf5_add_text(const cavum_hdf5_file *file, hid_t object, const char *name,
                         const char *text);

#endif
