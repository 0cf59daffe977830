// SPDX-License-Identifier: GPL-3.0-or-later
// Writes finished bytes to a file: every result goes through here, so that there is one place where
// a full disk, an unwritable folder and an interrupted write are dealt with.
#include "hdf5/bytes.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "cavum/store.h"

static bool write_all(int descriptor, const char *data, size_t size) {
  while (size > 0) {
    ssize_t written = write(descriptor, data, size);
    if (written < 0 && errno == EINTR) continue;
    if (written <= 0) return false;
    data += written;
    size -= (size_t)written;
  }
  return true;
}

static cavum_status fail_to_write(const char *path, int reason, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", path, strerror(reason));
}

static cavum_status write_in_place(const char *path, const void *data, size_t size,
                                   cavum_error *error) {
  bool to_standard_output = strcmp(path, "-") == 0;
  int descriptor = to_standard_output ? STDOUT_FILENO : open(path, O_WRONLY | O_CLOEXEC);
  if (descriptor < 0) return fail_to_write(path, errno, error);
  bool written = write_all(descriptor, data, size);
  int reason = errno;
  if (!to_standard_output && close(descriptor) != 0 && written) {
    written = false;
    reason = errno;
  }
  return written ? CAVUM_OK
                 : fail_to_write(to_standard_output ? "standard output" : path, reason, error);
}

static cavum_status write_and_rename(const char *path, const void *data, size_t size,
                                     cavum_error *error) {
  char *temporary = cavum_temporary_name(path);
  if (!temporary) return cavum_fail_memory(error);
  cavum_status status = CAVUM_OK;
  int descriptor = open(temporary, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0666);
  if (descriptor < 0) {
    status = fail_to_write(path, errno, error);
    goto done;
  }
  bool written = write_all(descriptor, data, size);
  int reason = errno;
  if (close(descriptor) != 0 && written) {
    written = false;
    reason = errno;
  }
  if (!written) {
    unlink(temporary);
    status = fail_to_write(path, reason, error);
    goto done;
  }
  status = cavum_commit_file(temporary, path, error);
done:
  free(temporary);
  return status;
}

cavum_status cavum_store_write_bytes(const char *path, const void *data, size_t size,
                                     cavum_error *error) {
  struct stat found;
  bool in_place = strcmp(path, "-") == 0 || (stat(path, &found) == 0 && !S_ISREG(found.st_mode));
  return in_place ? write_in_place(path, data, size, error)
                  : write_and_rename(path, data, size, error);
}

cavum_status cavum_store_write_text(const char *path, const char *text, cavum_error *error) {
  if (!path || !text) return cavum_fail_null(error, __func__);
  return cavum_store_write_bytes(path, text, strlen(text), error);
}
