// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/record_format.h
 * The bytes of finished batches on disk: append-only files of records with checksums.
 *
 * OUTPUT.parts/of-NNNNN/part-KKKKK.HOST.PID.I.rec holds what one process computed of part K of N:
 *
 *     header  magic, format, row size, batch size, settings of the study, host, CRC-32
 *     record  magic, batch, rows, reasons, bytes of reasons, digest of the shapes, CRC-32 of this,
 *             CRC-32 of what follows; rows; reasons, each as row in the batch, length, text
 *
 * All numbers are little-endian. A file is only ever appended to by the process that made it; what
 * a killed process left unfinished at its end does not match its checksum and is not read.
 */
#ifndef CAVUM_SCAN_RECORD_FORMAT_H
#define CAVUM_SCAN_RECORD_FORMAT_H

#include "scan/study_digest.h"

/** A division of the batches: part K of N. */
typedef struct cavum_division {
  int64_t part, num_parts; /**< 1 <= part <= num_parts. */
} cavum_division;

/** Sizes within a file. */
enum { CAVUM_RECORD_FILE_HEADER = 256, CAVUM_RECORD_HEADER = 48 };

/** Head of a record. */
typedef struct cavum_record_head {
  int64_t batch;
  uint32_t num_rows, num_reasons, reason_bytes;
  uint32_t payload_crc;
  cavum_batch_digest digest; /**< Of its shapes. */
} cavum_record_head;

/** Puts a file header together. */
void cavum_record_encode_file(unsigned char header[CAVUM_RECORD_FILE_HEADER],
                              const cavum_study *study, const char *host);

/**
 * Checks a file header.
 * @param[out] host         Zero-terminated.
 * @param[out] same_shapes  True when it was written for exactly these shapes (the same
 * fingerprint).
 * @retval CAVUM_OK         of a study with these settings.
 * @retval CAVUM_ERR_RANGE  no whole header.
 * @retval CAVUM_ERR_INPUT  of other settings or another version.
 */
cavum_status cavum_record_decode_file(char host[64], bool *same_shapes,
                                      const unsigned char header[CAVUM_RECORD_FILE_HEADER],
                                      const cavum_study *study);

/** Puts the head of a record together. */
void cavum_record_encode_head(unsigned char header[CAVUM_RECORD_HEADER],
                              const cavum_record_head *head);

/** Checks the head of a record against its checksum; false when it is none. */
bool cavum_record_decode_head(cavum_record_head *head,
                              const unsigned char header[CAVUM_RECORD_HEADER]);

/** Bytes behind the head of a record. */
size_t cavum_record_payload(const cavum_record_head *head, const cavum_study *study);

/** CRC-32 of bytes (that of zlib, gzip and PNG). */
uint32_t cavum_record_crc(const void *data, size_t size);

#endif
