// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/open_file.h
 * Files that cannot be opened or read.
 */
#ifndef CAVUM_BASE_OPEN_FILE_H
#define CAVUM_BASE_OPEN_FILE_H

#include <errno.h>
#include <string.h>

#include "base/base.h"

/** CAVUM_ERR_FILE with the reason that errno has; an empty name is said to be none. */
static inline cavum_status cavum_fail_to_open(cavum_error *error, const char *path) {
  if (!*path) return cavum_fail(error, CAVUM_ERR_FILE, "expected the name of a file, found none");
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be opened: %s", path, strerror(errno));
}

/** CAVUM_ERR_FILE with the reason that errno has; a folder opens like a file and is told apart
 * here. */
static inline cavum_status cavum_fail_to_read(cavum_error *error, const char *path) {
  if (errno == EISDIR) {
    return cavum_fail(error, CAVUM_ERR_FILE, "%s: is a folder, expected a file", path);
  }
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be read: %s", path, strerror(errno));
}

#endif
