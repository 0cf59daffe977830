// SPDX-License-Identifier: GPL-3.0-or-later
// CSV tables by libcsv. A row is one line; libcsv is handed the text line by line, which gives line
// numbers for messages and byte offsets for going back, neither of which it has itself.
#include "scan/shape_table.h"

#include <csv.h>
#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/open_file.h"
#include "base/sha256.h"

enum { MOST_COLUMNS = 200, LONGEST_FIELD = 128 };

// One line on its way through libcsv.
typedef struct line_reader {
  const char *path;
  int64_t line;
  bool header;
  int num_fields, num_columns;
  char **names;    // header: owned texts, shape [MOST_COLUMNS]
  double *values;  // rows: shape [num_columns]
  locale_t locale;
  cavum_status status;
  cavum_error *error;
} line_reader;

static void take_name(line_reader *reader, const char *text) {
  if (strpbrk(text, ";\t")) {
    reader->status = cavum_fail(reader->error, CAVUM_ERR_INPUT,
                                "%s:1: expected names separated by commas, found '%.40s'; save the "
                                "table with commas between columns and decimal points",
                                reader->path, text);
    return;
  }
  if (!*text || reader->num_fields >= MOST_COLUMNS) {
    reader->status =
        cavum_fail(reader->error, CAVUM_ERR_INPUT, "%s:1: expected 1 to %d names, found %s",
                   reader->path, MOST_COLUMNS, *text ? "more" : "an empty one");
    return;
  }
  reader->names[reader->num_fields] = cavum_copy_text(text);
  if (!reader->names[reader->num_fields++]) reader->status = cavum_fail_memory(reader->error);
}

static void take_number(line_reader *reader, const char *text) {
  char *end = NULL;
  double value = strtod_l(text, &end, reader->locale);
  if (end == text || *end != '\0' || !isfinite(value)) {
    reader->status =
        cavum_fail(reader->error, CAVUM_ERR_INPUT, "%s:%lld: expected a number, found '%.40s'",
                   reader->path, (long long)reader->line, text);
    return;
  }
  if (reader->num_fields < reader->num_columns) reader->values[reader->num_fields] = value;
  reader->num_fields++;
}

static void take_field(void *field, size_t length, void *data) {
  line_reader *reader = data;
  char text[LONGEST_FIELD];
  if (reader->status != CAVUM_OK) return;
  if (length >= sizeof text) {
    reader->status = cavum_fail(reader->error, CAVUM_ERR_INPUT, "%s:%lld: a field is too long",
                                reader->path, (long long)reader->line);
    return;
  }
  if (length > 0) memcpy(text, field, length);
  text[length] = '\0';
  if (reader->header) {
    take_name(reader, text);
  } else {
    take_number(reader, text);
  }
}

// Reads one line; leaves the number of its fields in the reader. An empty line has none.
static cavum_status read_line(line_reader *reader, const char *line, size_t length) {
  struct csv_parser parser;
  if (csv_init(&parser, CSV_APPEND_NULL | CSV_STRICT | CSV_STRICT_FINI) != 0) {
    return cavum_fail_memory(reader->error);
  }
  reader->num_fields = 0;
  reader->status = CAVUM_OK;
  bool parsed = csv_parse(&parser, line, length, take_field, NULL, reader) == length &&
                csv_fini(&parser, take_field, NULL, reader) == 0;
  csv_free(&parser);
  if (reader->status == CAVUM_OK && !parsed) {
    reader->status =
        cavum_fail(reader->error, CAVUM_ERR_INPUT, "%s:%lld: a quote is not closed in its line",
                   reader->path, (long long)reader->line);
  }
  return reader->status;
}

static cavum_status read_row(line_reader *reader, const char *line, size_t length) {
  cavum_status status = read_line(reader, line, length);
  if (status != CAVUM_OK || reader->num_fields == reader->num_columns) return status;
  return cavum_fail(reader->error, CAVUM_ERR_INPUT, "%s:%lld: expected %d numbers, found %d",
                    reader->path, (long long)reader->line, reader->num_columns, reader->num_fields);
}

// Spreadsheets put a byte-order mark first.
static size_t length_of_mark(const line_reader *reader, const char *line) {
  return reader->line == 1 && strncmp(line, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
}

static bool is_blank(const char *line) { return line[strspn(line, " \t\r\n")] == '\0'; }

// The first row: names, and room for a block of numbers under them.
static cavum_status read_header(cavum_shape_table *table, line_reader *reader, const char *line,
                                size_t length) {
  cavum_status status = read_line(reader, line, length);
  if (status != CAVUM_OK) return status;
  reader->header = false;
  table->num_columns = reader->num_columns = reader->num_fields;
  table->values =
      cavum_alloc((int64_t)CAVUM_SHAPE_TABLE_BLOCK * table->num_columns, sizeof(double));
  reader->values = table->values;
  return table->values ? CAVUM_OK : cavum_fail_memory(reader->error);
}

// Where the first row of each block begins.
static cavum_status keep_offset(cavum_shape_table *table, int64_t offset, cavum_error *error) {
  if (table->num_rows % CAVUM_SHAPE_TABLE_BLOCK != 0) return CAVUM_OK;
  int64_t block = table->num_rows / CAVUM_SHAPE_TABLE_BLOCK;
  void *offsets = table->offsets;
  bool grown = cavum_grow(&offsets, &table->offsets_capacity, block + 1, sizeof(int64_t));
  table->offsets = offsets;
  if (!grown) return cavum_fail_memory(error);
  table->offsets[block] = offset;
  return CAVUM_OK;
}

// What ended the lines, and whether there were any rows.
static cavum_status check_end(const cavum_shape_table *table, FILE *file, cavum_error *error) {
  if (ferror(file)) {
    return cavum_fail_to_read(error, table->path);
  }
  if (table->num_rows > 0) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s: expected names in the first row and a shape in each other", table->path);
}

// The whole file once: checks every number and keeps the offsets of blocks.
static cavum_status read_all(cavum_shape_table *table, line_reader *reader, FILE *file) {
  cavum_status status = CAVUM_OK;
  char *line = NULL;
  size_t room = 0;
  int64_t offset = 0;
  cavum_sha256_state digest;
  cavum_sha256_begin(&digest);
  for (ssize_t length; (length = getline(&line, &room, file)) >= 0; offset += length) {
    reader->line++;
    size_t mark = length_of_mark(reader, line);
    if (is_blank(line + mark)) continue;
    if (reader->header) {
      CAVUM_TRY(read_header(table, reader, line + mark, (size_t)length - mark));
      continue;
    }
    CAVUM_TRY(read_row(reader, line, (size_t)length));
    cavum_sha256_add(&digest, reader->values, (size_t)table->num_columns * sizeof(double));
    CAVUM_TRY(keep_offset(table, offset, reader->error));
    table->num_rows++;
  }
  CAVUM_TRY(check_end(table, file, reader->error));
  cavum_sha256_end(table->digest, &digest);
done:
  free(line);
  return status;
}

cavum_status cavum_shape_table_open(cavum_shape_table *table, const char *path,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_shape_table opened = {.path = cavum_copy_text(path), .block = -1};
  line_reader reader = {.path = path, .header = true, .error = error};
  FILE *file = fopen(path, "rb");
  opened.names = cavum_alloc(MOST_COLUMNS, sizeof *opened.names);
  reader.names = opened.names;
  reader.locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  if (!opened.path || !opened.names || !reader.locale) CAVUM_TRY(cavum_fail_memory(error));
  if (!file) {
    CAVUM_TRY(cavum_fail_to_open(error, path));
  }
  CAVUM_TRY(read_all(&opened, &reader, file));
  *table = opened;
done:
  if (file) fclose(file);
  if (reader.locale) freelocale(reader.locale);
  if (status != CAVUM_OK) {
    opened.num_columns = MOST_COLUMNS;  // names beyond those that were read are NULL
    cavum_shape_table_clear(&opened);
  }
  return status;
}

void cavum_shape_table_clear(cavum_shape_table *table) {
  for (int i = 0; table->names && i < table->num_columns; i++) free(table->names[i]);
  free(table->names);
  free(table->path);
  free(table->offsets);
  free(table->values);
  *table = (cavum_shape_table){.block = -1};
}

static cavum_status load_block(cavum_shape_table *table, line_reader *reader, int64_t block) {
  cavum_status status = CAVUM_OK;
  char *line = NULL;
  size_t room = 0;
  int64_t first = block * CAVUM_SHAPE_TABLE_BLOCK;
  int64_t rows = table->num_rows - first;
  if (rows > CAVUM_SHAPE_TABLE_BLOCK) rows = CAVUM_SHAPE_TABLE_BLOCK;
  FILE *file = fopen(table->path, "rb");
  if (!file || fseeko(file, (off_t)table->offsets[block], SEEK_SET) != 0) {
    CAVUM_TRY(cavum_fail(reader->error, CAVUM_ERR_FILE, "%s: cannot be read: %s", table->path,
                         strerror(errno)));
  }
  for (int64_t row = 0; row < rows;) {
    ssize_t length = getline(&line, &room, file);
    if (length < 0) {
      CAVUM_TRY(cavum_fail(reader->error, CAVUM_ERR_FILE, "%s: has changed while it is in use",
                           table->path));
    }
    if (is_blank(line)) continue;
    reader->values = table->values + row++ * table->num_columns;
    CAVUM_TRY(read_row(reader, line, (size_t)length));
  }
  table->block = block;
done:
  free(line);
  if (file) fclose(file);
  return status;
}

cavum_status cavum_shape_table_row(double *values, cavum_shape_table *table, int64_t row,
                                   cavum_error *error) {
  if (row < 0 || row >= table->num_rows) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "row %lld of a table of %lld", (long long)row,
                      (long long)table->num_rows);
  }
  if (!table->path) {
    memcpy(values, table->values + row * table->num_columns,
           (size_t)table->num_columns * sizeof *values);
    return CAVUM_OK;
  }
  int64_t block = row / CAVUM_SHAPE_TABLE_BLOCK;
  if (block != table->block) {
    line_reader reader = {.path = table->path, .num_columns = table->num_columns, .error = error};
    reader.locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    if (!reader.locale) return cavum_fail_memory(error);
    table->block = -1;
    cavum_status status = load_block(table, &reader, block);
    freelocale(reader.locale);
    if (status != CAVUM_OK) return status;
  }
  memcpy(values, table->values + (row % CAVUM_SHAPE_TABLE_BLOCK) * table->num_columns,
         (size_t)table->num_columns * sizeof *values);
  return CAVUM_OK;
}
