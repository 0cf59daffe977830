// SPDX-License-Identifier: GPL-3.0-or-later
// Files are compared by size, time and inode; notices of inotify only end the wait early, so that
// nothing depends on them.
#include "cli/follow.h"

#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

enum { WAIT_MS = 250 };

static void look(struct stat *seen, const char *path) {
  memset(seen, 0, sizeof *seen);
  if (path[0] && stat(path, seen) != 0) memset(seen, 0, sizeof *seen);
}

static bool is_same(const struct stat *a, const struct stat *b) {
  return a->st_size == b->st_size && a->st_ino == b->st_ino && a->st_dev == b->st_dev &&
         a->st_mtim.tv_sec == b->st_mtim.tv_sec && a->st_mtim.tv_nsec == b->st_mtim.tv_nsec;
}

void cavum_follow_begin(cavum_follow *follow) {
  memset(follow, 0, sizeof *follow);
  follow->notices = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
}

void cavum_follow_watch(cavum_follow *follow, const char *first, const char *second) {
  const char *const paths[CAVUM_FOLLOW_FILES] = {first, second};
  for (int i = 0; i < CAVUM_FOLLOW_FILES; i++) {
    snprintf(follow->path[i], sizeof follow->path[i], "%s", paths[i]);
  }
  cavum_follow_look(follow);
}

void cavum_follow_look(cavum_follow *follow) {
  for (int i = 0; i < CAVUM_FOLLOW_FILES; i++) {
    const char *path = follow->path[i];
    look(&follow->seen[i], path);
    // Watching a file again changes the watch that is there; another file may have its name by now.
    if (follow->notices >= 0 && path[0]) {
      (void)inotify_add_watch(follow->notices, path, IN_MODIFY | IN_CLOSE_WRITE | IN_MOVE_SELF);
    }
  }
}

bool cavum_follow_wait(cavum_follow *follow, bool (*stop)(void *data)) {
  char notices[4096];
  struct pollfd source = {.fd = follow->notices, .events = POLLIN};
  while (!stop(NULL)) {
    for (int i = 0; i < CAVUM_FOLLOW_FILES; i++) {
      struct stat now;
      look(&now, follow->path[i]);
      if (!is_same(&now, &follow->seen[i])) return true;
    }
    // A descriptor below 0 is passed over: a wait of this time.
    if (poll(&source, 1, WAIT_MS) > 0 && read(follow->notices, notices, sizeof notices) < 0) {
      continue;
    }
  }
  return false;
}

void cavum_follow_end(cavum_follow *follow) {
  if (follow->notices >= 0) close(follow->notices);
  follow->notices = -1;
}
