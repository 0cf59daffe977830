// SPDX-License-Identifier: GPL-3.0-or-later
// The bytes of record files. Numbers are copied as they are in memory, which is little-endian.
#include "scan/record_format.h"

#include <string.h>
#include <zlib.h>

#include "base/base.h"

_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "record files are little-endian");

static const char file_magic[8] = "cavumrec";
static const uint32_t RECORD_MAGIC = 0x42766163;  // "cavB"
static const uint32_t FORMAT_VERSION = 2;

/** The header of a file, as on disk. */
typedef struct file_header {
  char magic[8];
  uint32_t format, row_size, batch_size, crc;
  char settings[64], host[64];
  char fingerprint[64];  // zeros in files of earlier versions
  unsigned char unused[40];
} file_header;
_Static_assert(sizeof(file_header) == CAVUM_RECORD_FILE_HEADER, "no padding");

/** The head of a record, as on disk. */
typedef struct record_header {
  uint32_t magic, crc;
  int64_t batch;
  uint32_t num_rows, num_reasons, reason_bytes, payload_crc;
  cavum_batch_digest digest;
} record_header;
_Static_assert(sizeof(record_header) == CAVUM_RECORD_HEADER, "no padding");

uint32_t cavum_record_crc(const void *data, size_t size) {
  return (uint32_t)crc32_z(crc32_z(0, NULL, 0), data, size);
}

// A header's checksum is that of the header with zero in its place.
static uint32_t file_crc(file_header header) {
  header.crc = 0;
  return cavum_record_crc(&header, sizeof header);
}

static uint32_t head_crc(record_header header) {
  header.crc = 0;
  return cavum_record_crc(&header, sizeof header);
}

void cavum_record_encode_file(unsigned char bytes[CAVUM_RECORD_FILE_HEADER],
                              const cavum_study *study, const char *host) {
  file_header header = {.format = FORMAT_VERSION,
                        .row_size = (uint32_t)study->layout.row_size,
                        .batch_size = (uint32_t)study->batch_size};
  memcpy(header.magic, file_magic, sizeof header.magic);
  memcpy(header.settings, study->settings, sizeof header.settings);
  memcpy(header.fingerprint, study->fingerprint, sizeof header.fingerprint);
  size_t length = strlen(host);
  memcpy(header.host, host, length < sizeof header.host ? length : sizeof header.host - 1);
  header.crc = file_crc(header);
  memcpy(bytes, &header, sizeof header);
}

cavum_status cavum_record_decode_file(char host[64], bool *same_shapes,
                                      const unsigned char bytes[CAVUM_RECORD_FILE_HEADER],
                                      const cavum_study *study) {
  file_header header;
  memcpy(&header, bytes, sizeof header);
  if (memcmp(header.magic, file_magic, sizeof header.magic) != 0 ||
      header.crc != file_crc(header)) {
    return CAVUM_ERR_RANGE;
  }
  if (header.format != FORMAT_VERSION || header.row_size != study->layout.row_size ||
      header.batch_size != (uint32_t)study->batch_size ||
      memcmp(header.settings, study->settings, sizeof header.settings) != 0) {
    return CAVUM_ERR_INPUT;
  }
  memcpy(host, header.host, sizeof header.host);
  host[sizeof header.host - 1] = '\0';
  *same_shapes = memcmp(header.fingerprint, study->fingerprint, sizeof header.fingerprint) == 0;
  return CAVUM_OK;
}

void cavum_record_encode_head(unsigned char bytes[CAVUM_RECORD_HEADER],
                              const cavum_record_head *head) {
  record_header header = {.magic = RECORD_MAGIC,
                          .batch = head->batch,
                          .num_rows = head->num_rows,
                          .num_reasons = head->num_reasons,
                          .reason_bytes = head->reason_bytes,
                          .payload_crc = head->payload_crc,
                          .digest = head->digest};
  header.crc = head_crc(header);
  memcpy(bytes, &header, sizeof header);
}

bool cavum_record_decode_head(cavum_record_head *head,
                              const unsigned char bytes[CAVUM_RECORD_HEADER]) {
  record_header header;
  memcpy(&header, bytes, sizeof header);
  if (header.magic != RECORD_MAGIC || header.crc != head_crc(header)) return false;
  if (header.batch < 0 || header.num_rows < 1 ||
      header.num_rows > (uint32_t)CAVUM_STUDY_LARGEST_BATCH ||
      header.num_reasons > header.num_rows) {
    return false;
  }
  *head = (cavum_record_head){.batch = header.batch,
                              .num_rows = header.num_rows,
                              .num_reasons = header.num_reasons,
                              .reason_bytes = header.reason_bytes,
                              .payload_crc = header.payload_crc,
                              .digest = header.digest};
  return true;
}

size_t cavum_record_payload(const cavum_record_head *head, const cavum_study *study) {
  return head->num_rows * study->layout.row_size + head->reason_bytes;
}
