// SPDX-License-Identifier: GPL-3.0-or-later
// Finding and reading finished batches. Every record is checked when its file is first read, so a
// batch that counts as stored can be read; where several files have it, any will do, since the same
// batch has the same bytes wherever it was computed.
#include "scan/records.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "base/open_file.h"
#include "base/stop.h"

// Descriptors kept open while batches are read in their order, which hops from file to file.
enum { MOST_OPEN_FILES = 200 };

/** Where a batch is; file -1: nowhere. */
typedef struct batch_place {
  int64_t offset;
  int32_t file;
  uint32_t crc;
} batch_place;

/** A whole record. */
typedef struct record_entry {
  cavum_record_head head;
  int32_t file;
  int64_t offset;
} record_entry;

/** One file. */
typedef struct record_file {
  char *path;  // owned
  char host[64];
  int64_t num_batches;
  int descriptor;    // -1: closed
  bool same_shapes;  // written for exactly the shapes of the study
} record_file;

struct cavum_scan_records {
  const cavum_study *study;
  batch_place *places;    // owned, shape [num_batches]
  record_entry *entries;  // owned: all that was found, until it is sorted out
  int64_t num_entries, entries_capacity;
  int64_t num_stored, num_reasons, num_conflicts, bytes_ignored;
  record_file *files;  // owned
  int num_files, num_open;
  int64_t files_capacity;
  unsigned char *buffer;  // owned: one record
  int64_t buffer_capacity;
  cavum_shape_reason *reasons;  // owned, shape [batch_size]
  char *texts;                  // owned: the texts of the reasons
  int64_t texts_capacity;
};

static cavum_status fail_to_read(const char *path, cavum_error *error) {
  return cavum_fail_to_read(error, path);
}

// Reads exactly this many bytes; false at the end of the file or on failure.
static bool read_at(int descriptor, unsigned char *data, size_t size, int64_t offset) {
  while (size > 0) {
    ssize_t got = pread(descriptor, data, size, (off_t)offset);
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return false;
    data += got;
    offset += got;
    size -= (size_t)got;
  }
  return true;
}

static bool reserve(cavum_scan_records *records, size_t bytes) {
  void *buffer = records->buffer;
  bool grown = cavum_grow(&buffer, &records->buffer_capacity, (int64_t)bytes, 1);
  records->buffer = buffer;
  return grown;
}

// Keeps a whole record until all are known.
static cavum_status note(cavum_scan_records *records, const cavum_record_head *head, int file,
                         int64_t offset, cavum_error *error) {
  void *entries = records->entries;
  bool grown = cavum_grow(&entries, &records->entries_capacity, records->num_entries + 1,
                          sizeof *records->entries);
  records->entries = entries;
  if (!grown) return cavum_fail_memory(error);
  records->entries[records->num_entries++] = (record_entry){.head = *head, file, offset};
  return CAVUM_OK;
}

// Goes through the records of an open file up to the first that is none.
static cavum_status index_records(cavum_scan_records *records, int file, int descriptor,
                                  int64_t size, cavum_error *error) {
  int64_t offset = CAVUM_RECORD_FILE_HEADER;
  while (offset < size) {
    cavum_status stop = cavum_stop_check(error);
    if (stop != CAVUM_OK) return stop;
    unsigned char header[CAVUM_RECORD_HEADER];
    cavum_record_head head;
    if (!read_at(descriptor, header, sizeof header, offset) ||
        !cavum_record_decode_head(&head, header)) {
      break;
    }
    size_t payload = cavum_record_payload(&head, records->study);
    if (offset + CAVUM_RECORD_HEADER + (int64_t)payload > size) break;
    if (!reserve(records, payload)) return cavum_fail_memory(error);
    if (!read_at(descriptor, records->buffer, payload, offset + CAVUM_RECORD_HEADER)) break;
    if (cavum_record_crc(records->buffer, payload) == head.payload_crc) {
      cavum_status status = note(records, &head, file, offset, error);
      if (status != CAVUM_OK) return status;
    } else {
      records->bytes_ignored += CAVUM_RECORD_HEADER + (int64_t)payload;
    }
    offset += CAVUM_RECORD_HEADER + (int64_t)payload;
  }
  records->bytes_ignored += size - offset;
  return CAVUM_OK;
}

static cavum_status index_file(cavum_scan_records *records, char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  unsigned char header[CAVUM_RECORD_FILE_HEADER];
  struct stat found;
  record_file file = {.path = path, .descriptor = -1};
  int descriptor = open(path, O_RDONLY | O_CLOEXEC);
  if (descriptor < 0 || fstat(descriptor, &found) != 0) CAVUM_TRY(fail_to_read(path, error));
  bool whole = read_at(descriptor, header, sizeof header, 0);
  status = whole ? cavum_record_decode_file(file.host, &file.same_shapes, header, records->study)
                 : CAVUM_ERR_RANGE;
  if (status == CAVUM_ERR_RANGE) {  // killed before its first record
    records->bytes_ignored += found.st_size;
    status = CAVUM_OK;
    goto done;
  }
  if (status != CAVUM_OK) {
    CAVUM_TRY(
        cavum_fail(error, CAVUM_ERR_INPUT,
                   "%s: holds a study that computes something else, or one of another version "
                   "of cavum; name another output or remove its folder",
                   path));
  }
  void *files = records->files;
  bool grown = cavum_grow(&files, &records->files_capacity, records->num_files + 1, sizeof file);
  records->files = files;
  if (!grown) CAVUM_TRY(cavum_fail_memory(error));
  records->files[records->num_files++] = file;
  path = NULL;
  CAVUM_TRY(index_records(records, records->num_files - 1, descriptor, found.st_size, error));
done:
  if (descriptor >= 0) close(descriptor);
  free(path);
  return status;
}

static int by_name(const struct dirent **a, const struct dirent **b) {
  return strcmp((*a)->d_name, (*b)->d_name);
}

static bool ends_in(const char *name, const char *ending) {
  size_t length = strlen(name), tail = strlen(ending);
  return length > tail && strcmp(name + length - tail, ending) == 0;
}

static int is_record_file(const struct dirent *entry) { return ends_in(entry->d_name, ".rec"); }

static int is_temporary(const struct dirent *entry) { return ends_in(entry->d_name, ".tmp"); }

static int is_division(const struct dirent *entry) { return strncmp(entry->d_name, "of-", 3) == 0; }

static void free_entries(struct dirent **entries, int count) {
  for (int i = 0; i < count; i++) free(entries[i]);
  free(entries);
}

// All files of one division, or those of one part of it (0: all).
static cavum_status index_folder(cavum_scan_records *records, const char *folder, int64_t part,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  struct dirent **entries = NULL;
  char prefix[32];
  snprintf(prefix, sizeof prefix, "part-%05lld.", (long long)part);
  int count = scandir(folder, &entries, is_record_file, by_name);
  if (count < 0) return fail_to_read(folder, error);
  for (int i = 0; i < count; i++) {
    if (part > 0 && strncmp(entries[i]->d_name, prefix, strlen(prefix)) != 0) continue;
    char *path = cavum_format_text("%s/%s", folder, entries[i]->d_name);
    if (!path) CAVUM_TRY(cavum_fail_memory(error));
    CAVUM_TRY(index_file(records, path, error));
  }
done:
  free_entries(entries, count);
  return status;
}

static cavum_status index_all(cavum_scan_records *records, const char *output,
                              cavum_division division, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  struct dirent **entries = NULL;
  int count = 0;
  char own[32];
  char *folder = cavum_parts_folder(output);
  if (!folder) return cavum_fail_memory(error);
  snprintf(own, sizeof own, "of-%05lld", (long long)division.num_parts);
  count = scandir(folder, &entries, is_division, by_name);
  if (count < 0 && errno != ENOENT) CAVUM_TRY(fail_to_read(folder, error));
  for (int i = 0; i < count; i++) {
    char *path = cavum_format_text("%s/%s", folder, entries[i]->d_name);
    if (!path) CAVUM_TRY(cavum_fail_memory(error));
    bool same = strcmp(entries[i]->d_name, own) == 0;
    status = index_folder(records, path, same ? division.part : 0, error);
    free(path);
    if (status != CAVUM_OK) goto done;
  }
done:
  free_entries(entries, count);
  free(folder);
  return status;
}

static int by_batch(const void *first, const void *second) {
  const record_entry *a = first, *b = second;
  if (a->head.batch != b->head.batch) return a->head.batch < b->head.batch ? -1 : 1;
  if (a->file != b->file) return a->file < b->file ? -1 : 1;
  return a->offset < b->offset ? -1 : a->offset > b->offset;
}

/** The shapes of one batch as the study has them now. */
typedef struct present_shapes {
  const cavum_study *study;
  int64_t sampled;  // batch whose numbers are here; -1: none
  int num_rows;     // of the batch in question
  double *varied;   // owned, shape [batch_size, number of varied inputs]
} present_shapes;

static void count_rows(present_shapes *shapes, int64_t batch) {
  bool there = batch < cavum_study_num_batches(shapes->study);
  shapes->num_rows = there ? cavum_study_batch_rows(shapes->study, batch) : 0;
}

static cavum_status sample_batch(present_shapes *shapes, int64_t batch, cavum_error *error) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  // Where the sequence stands is no part of what the study says.
  cavum_study *study = (cavum_study *)shapes->study;
  int num_varied = cavum_study_num_varied(study);
  if (shapes->sampled == batch) return CAVUM_OK;
  shapes->sampled = batch;
  count_rows(shapes, batch);
  for (int i = 0; i < shapes->num_rows; i++) {
    cavum_status status = cavum_study_sample(values, study, batch * study->batch_size + i, error);
    if (status != CAVUM_OK) return status;
    memcpy(shapes->varied + (size_t)i * (size_t)num_varied, values,
           (size_t)num_varied * sizeof *values);
  }
  return CAVUM_OK;
}

// True when the record holds the first shapes of the batch, all of them or fewer.
static bool begins_batch(const present_shapes *shapes, const cavum_record_head *head) {
  if (head->num_rows > (uint32_t)shapes->num_rows) return false;
  cavum_batch_digest digest =
      cavum_study_digest_shapes(shapes->study, shapes->varied, (int)head->num_rows);
  return cavum_batch_digest_equal(&digest, &head->digest);
}

static void take_entry(cavum_scan_records *records, const record_entry *entry) {
  batch_place *place = &records->places[entry->head.batch];
  records->files[entry->file].num_batches++;
  if (place->file >= 0) {
    if (place->crc != entry->head.payload_crc) records->num_conflicts++;
    return;
  }
  *place = (batch_place){entry->offset, entry->file, entry->head.payload_crc};
  records->num_stored++;
  records->num_reasons += entry->head.num_reasons;
}

// Files of exactly these shapes need no look at them: to sample all again would take as long as the
// study is large.
static bool fits(const cavum_scan_records *records, const record_entry *entry,
                 const present_shapes *shapes) {
  if (!records->files[entry->file].same_shapes) return begins_batch(shapes, &entry->head);
  return entry->head.num_rows == (uint32_t)shapes->num_rows;
}

// Which records are of the shapes of this study. A batch that was the last one, and has grown
// since, is computed anew: what its later shapes profit from is part of their bits. Shapes that the
// study no longer has are not thrown away without a word.
static cavum_status sort_out(cavum_scan_records *records, cavum_error *error) {
  const cavum_study *study = records->study;
  cavum_status status = CAVUM_OK;
  present_shapes shapes = {.study = study, .sampled = -1};
  if (records->num_entries == 0) return CAVUM_OK;
  shapes.varied = cavum_alloc((int64_t)study->batch_size * cavum_study_num_varied(study),
                              sizeof *shapes.varied);
  if (!shapes.varied) return cavum_fail_memory(error);
  qsort(records->entries, (size_t)records->num_entries, sizeof *records->entries, by_batch);
  for (int64_t i = 0; i < records->num_entries; i++) {
    const record_entry *entry = &records->entries[i];
    if (!records->files[entry->file].same_shapes) {
      CAVUM_TRY(sample_batch(&shapes, entry->head.batch, error));
    } else {
      count_rows(&shapes, entry->head.batch);
    }
    if (!fits(records, entry, &shapes)) {
      CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT,
                           "%s: holds shapes that the study does not have, or has elsewhere now "
                           "(batch %lld); name another output or remove its folder",
                           records->files[entry->file].path, (long long)entry->head.batch));
    }
    if (entry->head.num_rows == (uint32_t)shapes.num_rows) take_entry(records, entry);
  }
done:
  free(shapes.varied);
  free(records->entries);
  records->entries = NULL;
  records->num_entries = records->entries_capacity = 0;
  return status;
}

cavum_status cavum_records_open_part(cavum_scan_records **records, const cavum_study *study,
                                     const char *output, cavum_division division,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t num_batches = cavum_study_num_batches(study);
  cavum_scan_records *opened = cavum_alloc(1, sizeof *opened);
  if (!opened) return cavum_fail_memory(error);
  opened->study = study;
  opened->places = cavum_alloc(num_batches, sizeof *opened->places);
  opened->reasons = cavum_alloc(study->batch_size, sizeof *opened->reasons);
  if (!opened->places || !opened->reasons) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t i = 0; i < num_batches; i++) opened->places[i].file = -1;
  CAVUM_TRY(index_all(opened, output, division, error));
  CAVUM_TRY(sort_out(opened, error));
  *records = opened;
  opened = NULL;
done:
  cavum_scan_records_close(&opened);
  return status;
}

cavum_status cavum_scan_records_open(cavum_scan_records **records, const cavum_study *study,
                                     const char *output, cavum_error *error) {
  if (!records || !study || !output) return cavum_fail_null(error, __func__);
  return cavum_records_open_part(records, study, output, (cavum_division){0, 0}, error);
}

static void close_files(cavum_scan_records *records) {
  for (int i = 0; i < records->num_files; i++) {
    if (records->files[i].descriptor >= 0) close(records->files[i].descriptor);
    records->files[i].descriptor = -1;
  }
  records->num_open = 0;
}

void cavum_scan_records_close(cavum_scan_records **records) {
  if (!records || !*records) return;
  cavum_scan_records *old = *records;
  close_files(old);
  for (int i = 0; i < old->num_files; i++) free(old->files[i].path);
  free(old->files);
  free(old->places);
  free(old->entries);
  free(old->buffer);
  free(old->reasons);
  free(old->texts);
  free(old);
  *records = NULL;
}

bool cavum_records_has(const cavum_scan_records *records, int64_t batch) {
  return records->places[batch].file >= 0;
}

int64_t cavum_scan_records_num_stored(const cavum_scan_records *records) {
  return records ? records->num_stored : 0;
}

int64_t cavum_scan_records_num_conflicts(const cavum_scan_records *records) {
  return records ? records->num_conflicts : 0;
}

int64_t cavum_scan_records_bytes_ignored(const cavum_scan_records *records) {
  return records ? records->bytes_ignored : 0;
}

int64_t cavum_scan_records_num_reasons(const cavum_scan_records *records) {
  return records ? records->num_reasons : 0;
}

int cavum_scan_records_num_files(const cavum_scan_records *records) {
  return records ? records->num_files : 0;
}

cavum_scan_source cavum_scan_records_source(const cavum_scan_records *records, int file) {
  if (!records || file < 0 || file >= records->num_files) {
    return (cavum_scan_source){.path = "", .host = ""};
  }
  const record_file *from = &records->files[file];
  return (cavum_scan_source){
      .path = from->path, .host = from->host, .num_batches = from->num_batches};
}

static cavum_status open_file(cavum_scan_records *records, record_file *file, cavum_error *error) {
  if (file->descriptor >= 0) return CAVUM_OK;
  if (records->num_open >= MOST_OPEN_FILES) close_files(records);
  file->descriptor = open(file->path, O_RDONLY | O_CLOEXEC);
  if (file->descriptor < 0) return fail_to_read(file->path, error);
  records->num_open++;
  return CAVUM_OK;
}

// Unpacks the reasons that follow the rows; false when they do not fit their count.
static bool unpack_reasons(cavum_scan_records *records, const cavum_record_head *head,
                           const unsigned char *bytes) {
  void *texts = records->texts;
  int64_t room = (int64_t)head->reason_bytes + head->num_reasons + 1;
  bool grown = cavum_grow(&texts, &records->texts_capacity, room, 1);
  records->texts = texts;
  if (!grown) return false;
  char *text = records->texts;
  size_t used = 0;
  for (uint32_t i = 0; i < head->num_reasons; i++) {
    uint32_t fields[2];
    if (used + sizeof fields > head->reason_bytes) return false;
    memcpy(fields, bytes + used, sizeof fields);
    used += sizeof fields;
    if (fields[0] >= head->num_rows || fields[1] > head->reason_bytes - used) return false;
    memcpy(text, bytes + used, fields[1]);
    text[fields[1]] = '\0';
    records->reasons[i] = (cavum_shape_reason){
        .shape = head->batch * records->study->batch_size + fields[0], .text = text};
    text += fields[1] + 1;
    used += fields[1];
  }
  return true;
}

cavum_status cavum_scan_records_read(cavum_scan_batch *batch, cavum_scan_records *records,
                                     int64_t index, cavum_error *error) {
  if (!batch || !records) return cavum_fail_null(error, __func__);
  int64_t num_batches = cavum_study_num_batches(records->study);
  if (index < 0 || index >= num_batches) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "batch index %lld: expected 0 to %lld",
                      (long long)index, (long long)num_batches - 1);
  }
  const batch_place *place = &records->places[index];
  unsigned char header[CAVUM_RECORD_HEADER];
  cavum_record_head head = {0};
  if (place->file < 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "batch %lld is missing", (long long)index);
  }
  record_file *file = &records->files[place->file];
  cavum_status status = open_file(records, file, error);
  if (status != CAVUM_OK) return status;
  bool good = read_at(file->descriptor, header, sizeof header, place->offset) &&
              cavum_record_decode_head(&head, header) && head.batch == index &&
              head.num_rows == (uint32_t)cavum_study_batch_rows(records->study, index);
  size_t payload = good ? cavum_record_payload(&head, records->study) : 0;
  if (good && !reserve(records, payload)) return cavum_fail_memory(error);
  good = good &&
         read_at(file->descriptor, records->buffer, payload, place->offset + CAVUM_RECORD_HEADER) &&
         cavum_record_crc(records->buffer, payload) == place->crc &&
         unpack_reasons(records, &head, records->buffer + payload - head.reason_bytes);
  if (!good) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: was damaged while it was in use", file->path);
  }
  *batch = (cavum_scan_batch){.first_shape = index * records->study->batch_size,
                              .num_rows = (int)head.num_rows,
                              .rows = records->buffer,
                              .num_reasons = (int)head.num_reasons,
                              .reasons = records->reasons};
  return CAVUM_OK;
}

static int is_file_of_ours(const struct dirent *entry) {
  // Of searches (optimum/parts.h) also what a killed process left half-written.
  return ends_in(entry->d_name, ".rec") || ends_in(entry->d_name, ".lock") ||
         strstr(entry->d_name, ".search") != NULL;
}

static void remove_files(const char *folder, int (*which)(const struct dirent *)) {
  struct dirent **entries = NULL;
  int count = scandir(folder, &entries, which, by_name);
  for (int i = 0; i < count; i++) {
    char *path = cavum_format_text("%s/%s", folder, entries[i]->d_name);
    if (path) unlink(path);
    free(path);
  }
  free_entries(entries, count);
}

// Removes the record files of one division, its claims (claim.h) and its folder.
static void remove_division(const char *folder) {
  remove_files(folder, is_file_of_ours);
  rmdir(folder);
}

cavum_status cavum_scan_records_remove(const char *output, cavum_error *error) {
  if (!output) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  struct dirent **entries = NULL;
  char *folder = cavum_parts_folder(output);
  if (!folder) return cavum_fail_memory(error);
  remove_files(folder, is_temporary);  // of gatherings that were killed
  int count = scandir(folder, &entries, is_division, by_name);
  for (int i = 0; i < count; i++) {
    char *path = cavum_format_text("%s/%s", folder, entries[i]->d_name);
    if (path) remove_division(path);
    free(path);
  }
  free_entries(entries, count);
  if (rmdir(folder) != 0 && errno != ENOENT) {
    status =
        cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be removed: %s", folder, strerror(errno));
  }
  free(folder);
  return status;
}
