// SPDX-License-Identifier: GPL-3.0-or-later
// Files of parts: names, digest, whole or none.
#include "optimum/parts.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "base/sha256.h"
#include "scan/record_writer.h"

static const char MAGIC[8] = "cavumopt";
// Changes when the bytes of a search, or what a search does, are no longer the same.
static const int FORMAT = 1;

/** What a file begins with. */
typedef struct head {
  char magic[sizeof MAGIC];
  char digest[CAVUM_PARTS_DIGEST_SIZE - 1];
  uint64_t size;
  uint32_t crc, unused;
} head;

void cavum_parts_name_start(char name[CAVUM_PARTS_NAME_SIZE], int index) {
  snprintf(name, CAVUM_PARTS_NAME_SIZE, "start-%05d", index);
}

void cavum_parts_name_segment(char name[CAVUM_PARTS_NAME_SIZE], int64_t part) {
  snprintf(name, CAVUM_PARTS_NAME_SIZE, "segment-%05lld", (long long)part);
}

static char *path_of(const cavum_parts *parts, int64_t num_parts, const char *name) {
  char *folder = cavum_records_folder(parts->output, (cavum_division){0, num_parts});
  char *path = folder ? cavum_format_text("%s/%s.search", folder, name) : NULL;
  free(folder);
  return path;
}

// Cells may have come from memory: their texts, and whatever else the goal names.
static cavum_status take_digest(char digest[CAVUM_PARTS_DIGEST_SIZE], const cavum_goal *goal,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_sha256_state state;
  const cavum_files *files = cavum_goal_files(goal);
  cavum_sha256_begin(&state);
  cavum_sha256_add(&state, &FORMAT, sizeof FORMAT);
  cavum_sha256_add_text(&state, cavum_version());
  cavum_sha256_add_text(&state, cavum_goal_text(goal));
  for (int c = 0; c < goal->num_cells; c++)
    cavum_sha256_add_text(&state, goal->cells[c].study->cell.text);
  for (int i = 0; i < files->num_paths && status == CAVUM_OK; i++) {
    status = cavum_sha256_add_file(&state, files->paths[i], error);
  }
  cavum_sha256_end(digest, &state);
  return status;
}

static int is_division(const struct dirent *entry) { return strncmp(entry->d_name, "of-", 3) == 0; }

// The names have leading zeros: in their order the numbers rise, as far as anybody divides.
static cavum_status list_divisions(cavum_parts *parts, cavum_error *error) {
  struct dirent **entries = NULL;
  char *folder = cavum_parts_folder(parts->output);
  if (!folder) return cavum_fail_memory(error);
  int count = scandir(folder, &entries, is_division, alphasort);
  int reason = count < 0 ? errno : 0;
  cavum_status status = CAVUM_OK;
  free(folder);
  if (count < 0 && reason == ENOMEM) return cavum_fail_memory(error);
  if (count < 0 && reason != ENOENT) {
    return cavum_fail(error, CAVUM_ERR_FILE, "%s.parts: cannot be read: %s", parts->output,
                      strerror(reason));
  }
  parts->divisions = cavum_alloc(count < 0 ? 0 : count, sizeof *parts->divisions);
  if (!parts->divisions) status = cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    long long number = strtoll(entries[i]->d_name + 3, NULL, 10);
    if (parts->divisions && number > 0) parts->divisions[parts->num_divisions++] = number;
    free(entries[i]);
  }
  free(entries);
  return status;
}

cavum_status cavum_parts_open(cavum_parts *parts, const cavum_goal *goal, const char *output,
                              cavum_division division, cavum_error *error) {
  *parts = (cavum_parts){.output = output, .division = division};
  cavum_status status = take_digest(parts->digest, goal, error);
  return status == CAVUM_OK ? list_divisions(parts, error) : status;
}

void cavum_parts_clear(cavum_parts *parts) {
  free(parts->divisions);
  parts->divisions = NULL;
  parts->num_divisions = 0;
}

static cavum_status write_file(const char *temporary, const head *h,
                               const cavum_record_bytes *bytes, cavum_error *error) {
  FILE *file = fopen(temporary, "wb");
  bool good = file && fwrite(h, sizeof *h, 1, file) == 1 &&
              (bytes->size == 0 || fwrite(bytes->data, bytes->size, 1, file) == 1);
  int reason = errno;
  if (file && fclose(file) != 0 && good) {
    reason = errno;
    good = false;
  }
  if (good) return CAVUM_OK;
  unlink(temporary);
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", temporary,
                    strerror(reason));
}

cavum_status cavum_parts_write(const cavum_parts *parts, const char *name,
                               const cavum_record_bytes *bytes, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *path = path_of(parts, parts->division.num_parts, name);
  char *temporary = path ? cavum_temporary_name(path) : NULL;
  head h = {.size = bytes->size, .crc = cavum_record_crc(bytes->data, bytes->size)};
  memcpy(h.magic, MAGIC, sizeof h.magic);
  memcpy(h.digest, parts->digest, sizeof h.digest);
  if (!temporary || bytes->status != CAVUM_OK) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_records_make_folder(parts->output, parts->division, error));
  CAVUM_TRY(write_file(temporary, &h, bytes, error));
  CAVUM_TRY(cavum_commit_file(temporary, path, error));
done:
  free(temporary);
  free(path);
  return status;
}

bool cavum_parts_has(const cavum_parts *parts, const char *name, int64_t num_parts) {
  for (int i = 0; i < parts->num_divisions; i++) {
    if (num_parts > 0 && parts->divisions[i] != num_parts) continue;
    char *path = path_of(parts, parts->divisions[i], name);
    bool has = path && access(path, F_OK) == 0;
    free(path);
    if (has) return true;
  }
  return false;
}

// The bytes behind the head; none where they do not match it.
static cavum_status read_open(cavum_record_bytes *bytes, bool *found, const cavum_parts *parts,
                              FILE *file, const char *path, cavum_error *error) {
  head h;
  *found = false;
  if (fread(&h, sizeof h, 1, file) != 1 || memcmp(h.magic, MAGIC, sizeof h.magic) != 0) {
    return CAVUM_OK;
  }
  if (memcmp(h.digest, parts->digest, sizeof h.digest) != 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: of another goal, another cell or another version of cavum; name another "
                      "output or remove its folder",
                      path);
  }
  if (fseek(file, 0, SEEK_END) != 0) return CAVUM_OK;
  if (ftell(file) < 0 || (uint64_t)ftell(file) != sizeof h + h.size) return CAVUM_OK;
  if (fseek(file, sizeof h, SEEK_SET) != 0) return CAVUM_OK;
  void *data = cavum_alloc((int64_t)h.size, 1);
  if (!data) return cavum_fail_memory(error);
  *found =
      (h.size == 0 || fread(data, h.size, 1, file) == 1) && cavum_record_crc(data, h.size) == h.crc;
  if (*found) {
    *bytes = (cavum_record_bytes){.data = data, .size = h.size};
  } else {
    free(data);
  }
  return CAVUM_OK;
}

cavum_status cavum_parts_read(cavum_record_bytes *bytes, bool *found, const cavum_parts *parts,
                              const char *name, int64_t num_parts, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  *found = false;
  for (int i = 0; i < parts->num_divisions && !*found && status == CAVUM_OK; i++) {
    if (num_parts > 0 && parts->divisions[i] != num_parts) continue;
    char *path = path_of(parts, parts->divisions[i], name);
    if (!path) return cavum_fail_memory(error);
    FILE *file = fopen(path, "rb");
    if (file) {
      status = read_open(bytes, found, parts, file, path, error);
      fclose(file);
    } else if (errno != ENOENT) {
      status = cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be read: %s", path, strerror(errno));
    }
    free(path);
  }
  return status;
}

cavum_status cavum_parts_fail(const cavum_parts *parts, const char *name, cavum_status status,
                              cavum_error *error) {
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s.parts: %s.search is not understood", parts->output,
                    name);
}
