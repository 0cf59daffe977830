// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/file_head.h
 * The first bytes of a file, by which its kind is known.
 */
#ifndef CAVUM_CLI_FILE_HEAD_H
#define CAVUM_CLI_FILE_HEAD_H

#include <stdbool.h>
#include <stddef.h>

/** Enough for the first keys behind comments or a long title. */
enum { CAVUM_FILE_HEAD_SIZE = 16384 };

/** First bytes of a file. */
typedef struct cavum_file_head {
  size_t length;
  char text[CAVUM_FILE_HEAD_SIZE + 1]; /**< A zero follows. */
} cavum_file_head;

/** Reads the head of a regular file; false when there is none. A pipe is left alone: what was in it
 * is gone once it was read, and opening it again waits for another writer. */
bool cavum_file_head_read(cavum_file_head *head, const char *path);

/** The same of the last bytes of a file, as many at most. */
bool cavum_file_head_read_tail(cavum_file_head *tail, const char *path);

/** True when some text is among the bytes, zeros among them or not. */
bool cavum_file_head_holds(const cavum_file_head *head, const char *text);

/** True when a text begins with another. */
bool cavum_file_head_begins(const char *text, const char *with);

/** True when a head is that of an HDF5 file. */
bool cavum_file_head_is_hdf5(const cavum_file_head *head);

#endif
