// SPDX-License-Identifier: GPL-3.0-or-later
// Text of a JSON tree: layout and numbers here, escaping of texts by jansson.
#include "format/json_text.h"

#include <stdio.h>

#include "base/base.h"
#include "format/number.h"

// Where the text goes; failed is set when jansson has no memory for a text.
typedef struct json_writer {
  FILE *out;
  bool failed;
} json_writer;

static void write_value(json_writer *writer, const json_t *value, int depth);

static void start_line(json_writer *writer, int depth) {
  fprintf(writer->out, "\n%*s", 2 * depth, "");
}

// Text, integer, true, false or null.
static void write_leaf(json_writer *writer, const json_t *value) {
  if (json_is_real(value)) {
    char number[CAVUM_STORE_NUMBER_SIZE];
    cavum_store_format_number(number, json_real_value(value));
    fputs(number, writer->out);
  } else if (json_dumpf(value, writer->out, JSON_ENCODE_ANY) != 0) {
    writer->failed = true;
  }
}

// Small objects such as {"value": 1, "at_m": {"z": 0, "r": 1}} stand on one line.
static bool fits_one_line(const json_t *value) {
  const char *key;
  json_t *member;
  json_object_foreach((json_t *)value, key, member) {
    if (json_is_array(member)) return false;
    if (json_is_object(member) && json_object_size(member) > 2) return false;
  }
  return json_object_size(value) <= 6;
}

static void write_object(json_writer *writer, const json_t *value, int depth) {
  const char *key, *separator = "";
  json_t *member;
  bool one_line = depth > 0 && fits_one_line(value);
  fputc('{', writer->out);
  json_object_foreach((json_t *)value, key, member) {
    fputs(separator, writer->out);
    if (!one_line) start_line(writer, depth + 1);
    fprintf(writer->out, "\"%s\": ", key);
    write_value(writer, member, depth + 1);
    separator = one_line ? ", " : ",";
  }
  if (!one_line) start_line(writer, depth);
  fputc('}', writer->out);
}

static void write_array(json_writer *writer, const json_t *value, int depth) {
  size_t count = json_array_size(value);
  fputc('[', writer->out);
  for (size_t i = 0; i < count; i++) {
    start_line(writer, depth + 1);
    write_value(writer, json_array_get(value, i), depth + 1);
    if (i + 1 < count) fputc(',', writer->out);
  }
  if (count > 0) start_line(writer, depth);
  fputc(']', writer->out);
}

static void write_value(json_writer *writer, const json_t *value, int depth) {
  if (json_is_object(value)) {
    write_object(writer, value, depth);
  } else if (json_is_array(value)) {
    write_array(writer, value, depth);
  } else {
    write_leaf(writer, value);
  }
}

char *cavum_store_json_text(const json_t *root) {
  char *text = NULL;
  size_t size = 0;
  json_writer writer = {.out = open_memstream(&text, &size)};
  if (!writer.out) return NULL;
  write_value(&writer, root, 0);
  fputc('\n', writer.out);
  bool failed = writer.failed || ferror(writer.out) != 0;
  if (fclose(writer.out) == 0 && !failed) return text;
  free(text);
  return NULL;
}
