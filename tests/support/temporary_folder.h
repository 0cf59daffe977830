// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file temporary_folder.h
 * A folder of its own for each test that writes files.
 */
#ifndef CAVUM_TEST_TEMPORARY_FOLDER_H
#define CAVUM_TEST_TEMPORARY_FOLDER_H

#include <check.h>
#include <dirent.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/** Makes an empty folder; the name has room for file names after it. */
static inline void temporary_folder_make(char folder[128]) {
  const char *parent = getenv("TMPDIR");
  snprintf(folder, 128, "%s/cavum-test-XXXXXX", parent && parent[0] ? parent : "/tmp");
  ck_assert_ptr_nonnull(mkdtemp(folder));
}

static inline int temporary_folder_delete_entry(const char *path, const struct stat *info, int type,
                                                struct FTW *place) {
  (void)info;
  (void)type;
  (void)place;
  return remove(path);
}

/** Deletes the folder and all in it. */
static inline void temporary_folder_delete(const char *folder) {
  nftw(folder, temporary_folder_delete_entry, 8, FTW_DEPTH | FTW_PHYS);
}

/** Number of entries of a folder, hidden ones too; -1 when it cannot be read. */
static inline int temporary_folder_count(const char *folder) {
  DIR *entries = opendir(folder);
  if (!entries) return -1;
  int count = 0;
  for (struct dirent *entry = readdir(entries); entry; entry = readdir(entries)) {
    if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0) count++;
  }
  closedir(entries);
  return count;
}

#endif
