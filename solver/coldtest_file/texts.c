// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of a test file that must fit, and names of the files that it points to.
#include <stdio.h>
#include <string.h>

#include "coldtest_file/sections.h"

cavum_status cavum_test_file_copy(char *out, size_t size, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path, const char *text) {
  size_t length = strlen(text);
  if (length >= size) {
    return cavum_yaml_reader_fail(reader, node, "%s: longer than %d bytes", path, (int)size - 1);
  }
  memcpy(out, text, length + 1);
  return CAVUM_OK;
}

cavum_status cavum_test_file_copy_path(char out[CAVUM_PATH_SIZE], const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *node, const char *path,
                                       const char *text) {
  const char *slash = strrchr(reader->name, '/');
  int folder = slash && text[0] != '/' ? (int)(slash - reader->name) + 1 : 0;
  int length = snprintf(out, CAVUM_PATH_SIZE, "%.*s%s", folder, reader->name, text);
  if (!*text || length < 0 || length >= CAVUM_PATH_SIZE) {
    return cavum_yaml_reader_fail(reader, node, "%s: a file name of at most %d bytes was expected",
                                  path, CAVUM_PATH_SIZE - 1);
  }
  return CAVUM_OK;
}
