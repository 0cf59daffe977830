// SPDX-License-Identifier: GPL-3.0-or-later
// Appending finished batches. A record is put together in memory and written by one call, so that a
// process that is killed leaves either all of it or a tail that its checksum gives away. What was
// written survives the process; to survive the machine it is flushed once a second, not with every
// record: a flush on a shared file system costs more than a batch.
#include "scan/record_writer.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"

static const double SECONDS_BETWEEN_FLUSHES = 1.0;
// Files of the same process and part: a worker opens few.
enum { MOST_FILES_OF_PROCESS = 10000 };

char *cavum_records_folder(const char *output, cavum_division division) {
  char *top = cavum_parts_folder(output);
  char *folder = top ? cavum_format_text("%s/of-%05lld", top, (long long)division.num_parts) : NULL;
  free(top);
  return folder;
}

static cavum_status fail_to_write(const char *path, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", path, strerror(errno));
}

static void sync_folder(const char *folder) {
  int descriptor = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (descriptor < 0) return;
  (void)fsync(descriptor);  // some file systems cannot: then it is as durable as they are
  close(descriptor);
}

cavum_status cavum_records_make_folder(const char *output, cavum_division division,
                                       cavum_error *error) {
  char *top = cavum_parts_folder(output);
  char *folder = cavum_records_folder(output, division);
  cavum_status status = CAVUM_OK;
  if (!top || !folder) CAVUM_TRY(cavum_fail_memory(error));
  if (mkdir(top, 0777) != 0 && errno != EEXIST) CAVUM_TRY(fail_to_write(top, error));
  if (mkdir(folder, 0777) != 0 && errno != EEXIST) CAVUM_TRY(fail_to_write(folder, error));
  sync_folder(top);
done:
  free(top);
  free(folder);
  return status;
}

void cavum_record_writer_open(cavum_record_writer *writer, const cavum_study *study,
                              const char *output, cavum_division division) {
  *writer = (cavum_record_writer){
      .study = study, .output = output, .division = division, .descriptor = -1};
}

static bool reserve(cavum_record_writer *writer, size_t bytes) {
  void *buffer = writer->buffer;
  bool grown = cavum_grow(&buffer, &writer->capacity, (int64_t)bytes, 1);
  writer->buffer = buffer;
  return grown;
}

unsigned char *cavum_record_writer_begin(cavum_record_writer *writer, int num_rows) {
  writer->used = CAVUM_RECORD_HEADER + (size_t)num_rows * writer->study->layout.row_size;
  if (!reserve(writer, writer->used)) return NULL;
  memset(writer->buffer, 0, writer->used);
  return writer->buffer + CAVUM_RECORD_HEADER;
}

static bool write_all(int descriptor, const unsigned char *data, size_t size) {
  while (size > 0) {
    ssize_t written = write(descriptor, data, size);
    if (written < 0 && errno == EINTR) continue;
    if (written == 0) errno = ENOSPC;
    if (written <= 0) return false;
    data += written;
    size -= (size_t)written;
  }
  return true;
}

// Names a new file: never one that another process may be writing.
static cavum_status create_file(cavum_record_writer *writer, cavum_error *error) {
  char host[64] = "host";
  unsigned char header[CAVUM_RECORD_FILE_HEADER];
  cavum_status status = CAVUM_OK;
  char *folder = cavum_records_folder(writer->output, writer->division);
  if (!folder) return cavum_fail_memory(error);
  (void)gethostname(host, sizeof host - 1);
  for (char *c = host; *c; c++) {
    if (*c == '/' || *c == '.') *c = '-';
  }
  for (int i = 0; i < MOST_FILES_OF_PROCESS && writer->descriptor < 0; i++) {
    free(writer->path);
    writer->path = cavum_format_text("%s/part-%05lld.%s.%ld.%d.rec", folder,
                                     (long long)writer->division.part, host, (long)getpid(), i);
    if (!writer->path) CAVUM_TRY(cavum_fail_memory(error));
    writer->descriptor = open(writer->path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (writer->descriptor < 0 && errno != EEXIST) break;
  }
  if (writer->descriptor < 0) CAVUM_TRY(fail_to_write(writer->path, error));
  cavum_record_encode_file(header, writer->study, host);
  if (!write_all(writer->descriptor, header, sizeof header)) {
    status = fail_to_write(writer->path, error);
    close(writer->descriptor);
    unlink(writer->path);
    writer->descriptor = -1;
    goto done;
  }
  sync_folder(folder);
  writer->size = sizeof header;
  writer->synced_at = cavum_seconds();
done:
  free(folder);
  return status;
}

// Appends the reasons behind the rows in the buffer.
static bool add_reasons(cavum_record_writer *writer, cavum_record_head *head, int rows,
                        char *const *reasons) {
  size_t start = writer->used;
  for (int i = 0; i < rows; i++) {
    if (!reasons[i] || !reasons[i][0]) continue;
    uint32_t fields[2] = {(uint32_t)i, (uint32_t)strlen(reasons[i])};
    if (!reserve(writer, writer->used + sizeof fields + fields[1])) return false;
    memcpy(writer->buffer + writer->used, fields, sizeof fields);
    memcpy(writer->buffer + writer->used + sizeof fields, reasons[i], fields[1]);
    writer->used += sizeof fields + fields[1];
    head->num_reasons++;
  }
  head->reason_bytes = (uint32_t)(writer->used - start);
  return true;
}

cavum_status cavum_record_writer_append(cavum_record_writer *writer, int64_t batch, int rows,
                                        char *const *reasons, cavum_error *error) {
  cavum_record_head head = {.batch = batch, .num_rows = (uint32_t)rows};
  head.digest = cavum_study_digest_rows(writer->study, writer->buffer + CAVUM_RECORD_HEADER, rows);
  if (!add_reasons(writer, &head, rows, reasons)) return cavum_fail_memory(error);
  head.payload_crc =
      cavum_record_crc(writer->buffer + CAVUM_RECORD_HEADER, writer->used - CAVUM_RECORD_HEADER);
  cavum_record_encode_head(writer->buffer, &head);
  if (writer->descriptor < 0) {
    cavum_status status = create_file(writer, error);
    if (status != CAVUM_OK) return status;
  }
  if (!write_all(writer->descriptor, writer->buffer, writer->used)) {
    cavum_status status = fail_to_write(writer->path, error);
    // The tail would be ignored anyway; without it there is a little room again.
    if (ftruncate(writer->descriptor, (off_t)writer->size) != 0) return status;
    (void)lseek(writer->descriptor, (off_t)writer->size, SEEK_SET);
    return status;
  }
  writer->size += (int64_t)writer->used;
  double now = cavum_seconds();
  bool early = now >= writer->synced_at && now - writer->synced_at < SECONDS_BETWEEN_FLUSHES;
  if (early) return CAVUM_OK;
  writer->synced_at = now;
  // Quota and full disks may show up only here on network file systems.
  return fdatasync(writer->descriptor) == 0 ? CAVUM_OK : fail_to_write(writer->path, error);
}

cavum_status cavum_record_writer_close(cavum_record_writer *writer, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (writer->descriptor >= 0) {
    bool synced = fsync(writer->descriptor) == 0;
    if (close(writer->descriptor) != 0 || !synced) status = fail_to_write(writer->path, error);
  }
  free(writer->path);
  free(writer->buffer);
  cavum_record_writer_open(writer, writer->study, writer->output, writer->division);
  return status;
}
