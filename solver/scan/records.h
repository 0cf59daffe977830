// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/records.h
 * Finished batches on disk: append-only files of records with checksums.
 *
 * OUTPUT.parts/of-NNNNN/part-KKKKK.HOST.PID.I.rec holds what one process computed of part K of N:
 *
 *     header  magic, format, row size, batch size, fingerprint of the study, host, CRC-32
 *     record  magic, batch, rows, reasons, bytes of reasons, CRC-32 of this, CRC-32 of what
 * follows; rows; reasons, each as row in the batch, length, text
 *
 * All numbers are little-endian. A file is only ever appended to by the process that made it; what
 * a killed process left unfinished at its end does not match its checksum and is not read.
 */
#ifndef CAVUM_SCAN_RECORDS_H
#define CAVUM_SCAN_RECORDS_H

#include "scan/study.h"

/** A division of the batches: part K of N. */
typedef struct cavum_division {
  int64_t part, num_parts; /**< 1 <= part <= num_parts. */
} cavum_division;

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

/**
 * Like cavum_scan_records_open(), for one part: files of the same division that belong to other
 * parts are not opened, so that ten thousand parts do not each read ten thousand files.
 */
cavum_status cavum_records_open_part(cavum_scan_records **records, const cavum_study *study,
                                     const char *output, cavum_division division,
                                     cavum_error *error);

/** True when a batch is stored. */
bool cavum_records_has(const cavum_scan_records *records, int64_t batch);

/** Sizes within a file. */
enum { CAVUM_RECORD_FILE_HEADER = 256, CAVUM_RECORD_HEADER = 40 };

/** Head of a record. */
typedef struct cavum_record_head {
  int64_t batch;
  uint32_t num_rows, num_reasons, reason_bytes;
  uint32_t payload_crc;
} cavum_record_head;

/** Puts a file header together. */
void cavum_record_encode_file(unsigned char header[CAVUM_RECORD_FILE_HEADER],
                              const cavum_study *study, const char *host);

/**
 * Checks a file header.
 * @param[out] host   Zero-terminated.
 * @retval CAVUM_OK         of this study.
 * @retval CAVUM_ERR_RANGE  no whole header.
 * @retval CAVUM_ERR_INPUT  of another study or version.
 */
cavum_status cavum_record_decode_file(char host[64],
                                      const unsigned char header[CAVUM_RECORD_FILE_HEADER],
                                      const cavum_study *study);

/** Puts the head of a record together. */
void cavum_record_encode_head(unsigned char header[CAVUM_RECORD_HEADER],
                              const cavum_record_head *head);

/** Checks the head of a record against its checksum and the study; false when it is none. */
bool cavum_record_decode_head(cavum_record_head *head,
                              const unsigned char header[CAVUM_RECORD_HEADER],
                              const cavum_study *study);

/** Bytes behind the head of a record. */
size_t cavum_record_payload(const cavum_record_head *head, const cavum_study *study);

/** CRC-32 of bytes (that of zlib, gzip and PNG). */
uint32_t cavum_record_crc(const void *data, size_t size);

#endif
