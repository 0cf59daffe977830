// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/follow.h
 * Waiting until one of two files changes.
 */
#ifndef CAVUM_CLI_FOLLOW_H
#define CAVUM_CLI_FOLLOW_H

#include <limits.h>
#include <stdbool.h>
#include <sys/stat.h>

#include "cavum/status.h"

enum { CAVUM_FOLLOW_FILES = 2 };

/** What is watched, and how the files were when they were last looked at. */
typedef struct cavum_follow {
  int notices; /**< Of inotify; -1: the system has none to give, times and sizes are enough. */
  char path[CAVUM_FOLLOW_FILES][PATH_MAX];
  struct stat seen[CAVUM_FOLLOW_FILES];
} cavum_follow;

/** Begins; end it with cavum_follow_end(). */
void cavum_follow_begin(cavum_follow *follow);

/** Names the files, "" for none, and looks at them. */
void cavum_follow_watch(cavum_follow *follow, const char *first, const char *second);

/** Remembers how the files are: call it before they are read. */
void cavum_follow_look(cavum_follow *follow);

/**
 * Returns true when a file is not as it was, false when `stop` says so. A change is seen at once
 * where inotify tells of it (not on network file systems), else within a quarter of a second.
 */
bool cavum_follow_wait(cavum_follow *follow, bool (*stop)(void *data));

/** Ends it. */
void cavum_follow_end(cavum_follow *follow);

#endif
