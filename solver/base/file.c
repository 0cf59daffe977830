// SPDX-License-Identifier: GPL-3.0-or-later
// Files that appear whole or not at all: a temporary name in the same folder, fsync, rename.
#include "base/file.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"

enum { MOST_LINKS = 40 };  // As the kernel follows.

static int length_of_folder(const char *path) {
  const char *slash = strrchr(path, '/');
  return slash ? (int)(slash - path) + 1 : 0;
}

char *cavum_file_behind_links(const char *path) {
  char target[PATH_MAX];
  char *file = cavum_copy_text(path);
  for (int i = 0; file && i < MOST_LINKS; i++) {
    ssize_t length = readlink(file, target, sizeof target - 1);
    if (length < 0) return file;
    target[length] = '\0';
    int folder = target[0] == '/' ? 0 : length_of_folder(file);
    char *next = cavum_format_text("%.*s%s", folder, file, target);
    free(file);
    file = next;
  }
  if (!file) return NULL;
  free(file);
  return cavum_copy_text(path);
}

char *cavum_temporary_name(const char *path) {
  char *file = cavum_file_behind_links(path);
  if (!file) return NULL;
  int folder = length_of_folder(file);
  char *name = cavum_format_text("%.*s.%s.%ld.%ld.tmp", folder, file, file + folder, (long)getpid(),
                                 (long)gettid());
  free(file);
  return name;
}

char *cavum_parts_folder(const char *output) {
  char *file = cavum_file_behind_links(output);
  char *folder = file ? cavum_format_text("%s.parts", file) : NULL;
  free(file);
  return folder;
}

char *cavum_temporary_name_in_parts(const char *output) {
  char *folder = cavum_parts_folder(output);
  if (!folder) return NULL;
  bool usable = access(folder, W_OK | X_OK) == 0;
  char *name =
      usable ? cavum_format_text("%s/%ld.%ld.tmp", folder, (long)getpid(), (long)gettid()) : NULL;
  free(folder);
  return usable ? name : cavum_temporary_name(output);
}

static bool sync_path(const char *path, int flags) {
  int descriptor = open(path, flags | O_CLOEXEC);
  if (descriptor < 0) return false;
  bool synced = fsync(descriptor) == 0;
  return close(descriptor) == 0 && synced;
}

static cavum_status give_name(const char *temporary, char *file, cavum_error *error) {
  struct stat found;
  bool exists = stat(file, &found) == 0;
  if (exists && !S_ISREG(found.st_mode)) {
    return cavum_fail(error, CAVUM_ERR_FILE, "%s: exists and is no regular file", file);
  }
  bool circle = !exists && errno == ELOOP;
  if (circle || !sync_path(temporary, O_RDONLY) || rename(temporary, file) != 0) {
    return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", file, strerror(errno));
  }
  sync_path(dirname(file), O_RDONLY | O_DIRECTORY);
  return CAVUM_OK;
}

cavum_status cavum_commit_file(const char *temporary, const char *path, cavum_error *error) {
  char *file = cavum_file_behind_links(path);
  cavum_status status = file ? give_name(temporary, file, error) : cavum_fail_memory(error);
  if (status != CAVUM_OK) unlink(temporary);
  free(file);
  return status;
}
