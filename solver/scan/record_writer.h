// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/record_writer.h
 * Appending finished batches to a file of records.
 */
#ifndef CAVUM_SCAN_RECORD_WRITER_H
#define CAVUM_SCAN_RECORD_WRITER_H

#include "scan/record_format.h"

/** A file that is being appended to. Zero-initialise. */
typedef struct cavum_record_writer {
  const cavum_study *study; /**< Borrowed. */
  const char *output;       /**< Borrowed. */
  cavum_division division;
  int descriptor;        /**< -1 before the first record. */
  char *path;            /**< Owned. */
  int64_t size;          /**< Bytes of whole records and header. */
  double synced_at;      /**< Seconds. */
  unsigned char *buffer; /**< Owned: one record. */
  size_t used;
  int64_t capacity;
} cavum_record_writer;

/** The folder of the records of a division; free() it, NULL without memory. */
char *cavum_records_folder(const char *output, cavum_division division);

/** Makes the folder of an output and of a division, where they are missing. */
cavum_status cavum_records_make_folder(const char *output, cavum_division division,
                                       cavum_error *error);

/** Prepares a writer; its file is made with the first record. */
void cavum_record_writer_open(cavum_record_writer *writer, const cavum_study *study,
                              const char *output, cavum_division division);

/** One row of the record that is being put together: where to write it; NULL: no memory. */
unsigned char *cavum_record_writer_begin(cavum_record_writer *writer, int num_rows);

/**
 * Appends a record of the rows begun and their reasons; all of it or nothing, and on disk within
 * a second or two.
 * @param[in,out] writer   After cavum_record_writer_begin().
 * @param[in]     batch    Number.
 * @param[in]     rows     Rows of it.
 * @param[in]     reasons  Shape [rows]: reason of each row, "" or NULL for none.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_FILE    cannot be written (disk full, quota): what was there before is intact.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_record_writer_append(cavum_record_writer *writer, int64_t batch, int rows,
                                        char *const *reasons, cavum_error *error);

/** Puts all on disk and closes; the writer may be used again. */
cavum_status cavum_record_writer_close(cavum_record_writer *writer, cavum_error *error);

#endif
