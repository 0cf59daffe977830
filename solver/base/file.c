// SPDX-License-Identifier: GPL-3.0-or-later
// Files that appear whole or not at all: a temporary name in the same folder, fsync, rename.
#include "base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"

char *cavum_temporary_name(const char *path) {
  const char *slash = strrchr(path, '/');
  int folder_length = slash ? (int)(slash - path) + 1 : 0;
  return cavum_format_text("%.*s.%s.%ld.%ld.tmp", folder_length, path, path + folder_length,
                           (long)getpid(), (long)gettid());
}

static bool sync_path(const char *path, int flags) {
  int descriptor = open(path, flags | O_CLOEXEC);
  if (descriptor < 0) return false;
  bool synced = fsync(descriptor) == 0;
  return close(descriptor) == 0 && synced;
}

cavum_status cavum_commit_file(const char *temporary, const char *path, cavum_error *error) {
  struct stat found;
  if (stat(path, &found) == 0 && !S_ISREG(found.st_mode)) {
    unlink(temporary);
    return cavum_fail(error, CAVUM_ERR_FILE, "%s: exists and is no regular file", path);
  }
  if (!sync_path(temporary, O_RDONLY) || rename(temporary, path) != 0) {
    int reason = errno;
    unlink(temporary);
    return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", path, strerror(reason));
  }
  char *copy = cavum_copy_text(path);
  if (copy) sync_path(dirname(copy), O_RDONLY | O_DIRECTORY);
  free(copy);
  return CAVUM_OK;
}
