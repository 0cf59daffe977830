// SPDX-License-Identifier: GPL-3.0-or-later
// Reads the first bytes of files.
#include "cli/file_head.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

static bool read_some(cavum_file_head *head, const char *path, bool last) {
  struct stat info;
  if (stat(path, &info) != 0 || !S_ISREG(info.st_mode)) return false;
  FILE *file = fopen(path, "rb");
  if (!file) return false;
  bool good = true;
  if (last && info.st_size > CAVUM_FILE_HEAD_SIZE) {
    good = fseeko(file, info.st_size - CAVUM_FILE_HEAD_SIZE, SEEK_SET) == 0;
  }
  head->length = fread(head->text, 1, CAVUM_FILE_HEAD_SIZE, file);
  head->text[head->length] = '\0';
  good = good && !ferror(file);
  fclose(file);
  return good;
}

bool cavum_file_head_read(cavum_file_head *head, const char *path) {
  return read_some(head, path, false);
}

bool cavum_file_head_read_tail(cavum_file_head *tail, const char *path) {
  return read_some(tail, path, true);
}

bool cavum_file_head_holds(const cavum_file_head *head, const char *text) {
  return memmem(head->text, head->length, text, strlen(text)) != NULL;
}

bool cavum_file_head_begins(const char *text, const char *with) {
  return strncmp(text, with, strlen(with)) == 0;
}

bool cavum_file_head_is_hdf5(const cavum_file_head *head) {
  return cavum_file_head_begins(head->text, "\x89HDF\r\n");
}
