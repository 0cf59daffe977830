// SPDX-License-Identifier: GPL-3.0-or-later
// Record locks of POSIX: they belong to a process, so workers neither hold nor lift them.
#include "scan/claim.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"

static cavum_status fail_taken(int descriptor, const char *output, cavum_error *error) {
  struct flock holder = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
  if (fcntl(descriptor, F_GETLK, &holder) == 0 && holder.l_type != F_UNLCK && holder.l_pid > 0) {
    return cavum_fail(error, CAVUM_ERR_FILE,
                      "%s: another run computes it already (process %ld); nothing was done", output,
                      (long)holder.l_pid);
  }
  return cavum_fail(error, CAVUM_ERR_FILE, "%s: another run computes it already; nothing was done",
                    output);
}

// What locking fails with where a file system, or the server behind it, has no locks.
static bool has_no_locks(int reason) {
  return reason == ENOLCK || reason == ENOSYS || reason == EOPNOTSUPP || reason == EINVAL;
}

// Locks the file of this name; *claim stays -1 when the file was removed meanwhile, to try again.
static cavum_status try_to_take(int *claim, bool *removed, const char *path, const char *output,
                                cavum_error *error) {
  struct flock whole = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
  struct stat info;
  cavum_status status = CAVUM_OK;
  int descriptor = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0666);
  *removed = false;
  if (descriptor < 0) {
    return cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", path, strerror(errno));
  }
  if (fcntl(descriptor, F_SETLK, &whole) != 0) {
    int reason = errno;
    if (reason == EACCES || reason == EAGAIN) {
      status = fail_taken(descriptor, output, error);
    } else if (!has_no_locks(reason)) {
      status =
          cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be locked: %s", path, strerror(reason));
    }
    close(descriptor);
    return status;
  }
  *removed = fstat(descriptor, &info) == 0 && info.st_nlink == 0;
  if (*removed) {
    close(descriptor);
  } else {
    *claim = descriptor;
  }
  return CAVUM_OK;
}

cavum_status cavum_scan_claim_take(int *claim, const char *output, cavum_division division,
                                   cavum_error *error) {
  enum { MOST_TRIES = 100 };
  cavum_status status = CAVUM_OK;
  bool removed = true;
  int taken = -1;
  char *folder = cavum_records_folder(output, division);
  char *path =
      folder ? cavum_format_text("%s/part-%05lld.lock", folder, (long long)division.part) : NULL;
  free(folder);
  if (!path) return cavum_fail_memory(error);
  for (int i = 0; status == CAVUM_OK && removed && i < MOST_TRIES; i++) {
    status = try_to_take(&taken, &removed, path, output, error);
  }
  free(path);
  if (status == CAVUM_OK) *claim = taken;
  return status;
}

void cavum_scan_claim_drop(int claim) {
  if (claim >= 0) close(claim);
}
