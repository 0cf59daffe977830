// SPDX-License-Identifier: GPL-3.0-or-later
// Readers of YAML files.
#include "yaml/reader.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/open_file.h"

cavum_status cavum_yaml_reader_open(cavum_yaml_reader *reader, const char *text, size_t length,
                                    size_t largest, const char *name, cavum_error *error) {
  if (!name) name = "text";
  cavum_yaml_reader opened = {.name = name, .error = error};
  cavum_status status = cavum_yaml_tree_read(&opened.tree, text, length, largest, name, error);
  if (status != CAVUM_OK) return status;
  opened.number_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  if (!opened.number_locale) {
    cavum_yaml_reader_clear(&opened);
    return cavum_fail_memory(error);
  }
  *reader = opened;
  return CAVUM_OK;
}

// As much as a file has, in steps, since few are as long as they may be.
static cavum_status load(char **text, size_t *length, FILE *file, size_t most, const char *path,
                         cavum_error *error) {
  enum { FIRST_ROOM = 1 << 14 };
  void *read = NULL;
  int64_t capacity = 0;
  size_t used = 0, room = FIRST_ROOM;
  do {
    if (!cavum_grow(&read, &capacity, (int64_t)room, 1)) {
      free(read);
      return cavum_fail_memory(error);
    }
    used += fread((char *)read + used, 1, room - used, file);
    if (used < room) break;
    room = 2 * room < most ? 2 * room : most;
  } while (used < room);
  if (ferror(file)) {
    free(read);
    return cavum_fail_to_read(error, path);
  }
  *text = read;
  *length = used;
  return CAVUM_OK;
}

cavum_status cavum_yaml_load_text(char **text, size_t *length, const char *path, size_t largest,
                                  cavum_error *error) {
  FILE *file = fopen(path, "rb");
  if (!file) {
    return cavum_fail_to_open(error, path);
  }
  cavum_status status = load(text, length, file, largest + 1, path, error);
  fclose(file);
  return status;
}

void cavum_yaml_reader_clear(cavum_yaml_reader *reader) {
  if (reader->number_locale) freelocale(reader->number_locale);
  cavum_yaml_tree_clear(&reader->tree);
  *reader = (cavum_yaml_reader){0};
}

cavum_yaml_path cavum_yaml_path_join(const char *parent, const char *key) {
  cavum_yaml_path path;
  snprintf(path.text, sizeof path.text, "%.64s%s%s", parent, *parent ? "." : "",
           cavum_yaml_tree_excerpt(key).text);
  return path;
}

cavum_yaml_path cavum_yaml_path_index(const char *parent, cavum_index index) {
  cavum_yaml_path path;
  snprintf(path.text, sizeof path.text, "%.96s[%d]", parent, index);
  return path;
}

void cavum_yaml_reader_error_write(const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                   const char *format, ...) {
  char message[CAVUM_MESSAGE_SIZE];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(message, sizeof message, format, arguments);
  va_end(arguments);
  cavum_yaml_error_write(reader->error, CAVUM_ERR_INPUT, reader->name, node->line, node->column,
                         "%s", message);
}

static const cavum_yaml_node *node_at(const cavum_yaml_reader *reader, cavum_index index) {
  return index >= 0 ? &reader->tree.nodes[index] : NULL;
}

const cavum_yaml_node *cavum_yaml_reader_first(const cavum_yaml_reader *reader,
                                               const cavum_yaml_node *parent) {
  return node_at(reader, parent->first_child);
}

const cavum_yaml_node *cavum_yaml_reader_next(const cavum_yaml_reader *reader,
                                              const cavum_yaml_node *node) {
  return node_at(reader, node->next);
}

const cavum_yaml_node *cavum_yaml_reader_child(const cavum_yaml_reader *reader,
                                               const cavum_yaml_node *mapping, const char *key) {
  const cavum_yaml_node *child = cavum_yaml_reader_first(reader, mapping);
  while (child && strcmp(child->key, key) != 0) child = cavum_yaml_reader_next(reader, child);
  return child;
}

cavum_status cavum_yaml_reader_relay(const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                     cavum_status status, const char *prefix,
                                     const cavum_error *what) {
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(reader->error);
  return cavum_yaml_tree_fail(reader->error, status, reader->name, node->line, node->column,
                              "%s: %s", prefix, what->message);
}
