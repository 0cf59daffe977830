// SPDX-License-Identifier: GPL-3.0-or-later
// CSV files of numbers through libcsv. The text goes to the parser line by line, so that every row
// knows its line; quotes, commas and line ends inside them are the parser's business.
#include "table/csv_table.h"

#include <csv.h>
#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/nearest_word.h"
#include "base/open_file.h"
#include "base/utf8.h"
#include "cavum/coldtest.h"

// A gigabyte is some ten million rows.
static const int64_t LARGEST_FILE = 1000000000;

const cavum_csv_unit cavum_csv_power_units[] = {{.name = "W", .unit = CAVUM_UNIT_W},
                                                {.name = "mW", .unit = CAVUM_UNIT_MILLIWATT},
                                                {.name = "uW", .unit = CAVUM_UNIT_MICROWATT},
                                                {.name = "dBm", .is_dbm = true},
                                                {.name = NULL}};

const cavum_csv_unit cavum_csv_switch[] = {{.name = ""}, {.name = NULL}};
const cavum_csv_unit cavum_csv_side[] = {{.name = ""}, {.name = NULL}};

/** State of one reading. */
typedef struct reader {
  const char *path;
  const cavum_csv_column *columns;
  cavum_csv_table table;
  locale_t number_locale;  // Owned: a decimal point whatever the program's locale.
  int64_t line, row_line;  // Of the text being parsed; of the first cell of the row.
  int cell;                // Cells of this row so far.
  bool have_header;
  bool between_rows;            // The next text begins a row: not inside of quotes.
  bool unfinished;              // The text of this row ends without a line end.
  bool rejected;                // Something is wrong with this row.
  char separator;               // Of the columns; beside a comma decimal signs may be commas.
  bool comma_seen, point_seen;  // Decimal signs so far, where both may be.
  cavum_status status;          // First failure; the rest of the text is then skipped.
  cavum_error *error;
} reader;

void cavum_csv_table_clear(cavum_csv_table *table) {
  free(table->values);
  free(table->lines);
  free(table->rejected);
  free(table->notes);
  free(table->text);
  *table = (cavum_csv_table){0};
}

int cavum_csv_table_find(const cavum_csv_table *table, int quantity) {
  for (int i = 0; i < table->num_columns; i++) {
    if (table->quantity[i] == quantity) return i;
  }
  return -1;
}

// Leaves the row out; its first fault is the reason.
static void reject_row(reader *r, const char *reason) {
  cavum_csv_table *table = &r->table;
  void *rejected = table->rejected;
  if (r->rejected) return;
  r->rejected = true;
  if (!cavum_grow(&rejected, &table->rejected_capacity, table->num_rejected + 1,
                  sizeof *table->rejected)) {
    r->status = cavum_fail_memory(r->error);
    return;
  }
  table->rejected = rejected;
  cavum_csv_rejected *row = &table->rejected[table->num_rejected++];
  row->line = r->row_line;
  row->half_written = r->unfinished;
  snprintf(row->reason, sizeof row->reason, "%.511s", reason);
}

// A fault of the header is one of the file, that of a row leaves out the row.
static void fail_cell(reader *r, int column, const char *what, const char *cell) {
  char text[CAVUM_CSV_REASON_SIZE + 1024];
  snprintf(text, sizeof text, "%s:%lld: column %d%s%s%s: %s '%.40s'", r->path,
           (long long)r->row_line, column + 1, r->have_header ? " (" : "",
           r->have_header ? r->table.header[column] : "", r->have_header ? ")" : "", what, cell);
  if (r->have_header) {
    reject_row(r, text);
  } else {
    r->status = cavum_fail(r->error, CAVUM_ERR_INPUT, "%s", text);
  }
}

static void list_units(char text[80], const cavum_csv_column *column) {
  size_t used = 0;
  text[0] = '\0';
  for (const cavum_csv_unit *unit = column->units; unit->name; unit++) {
    used += (size_t)snprintf(text + used, 80 - used, "%s%s_%s", used > 0 ? ", " : "", column->name,
                             unit->name);
    if (used >= 79) return;
  }
}

static const char *remark_on(const char *cell) {
  return strchr(cell, ';') || strchr(cell, '\t')
             ? "; columns are separated by commas, or all by semicolons, or all by tabs"
             : "";
}

static bool match_unit(reader *r, const cavum_csv_column *column, const char *rest) {
  for (const cavum_csv_unit *unit = column->units; unit->name; unit++) {
    bool plain = !*unit->name && !*rest;
    if (!plain && (*rest != '_' || strcmp(rest + 1, unit->name) != 0)) continue;
    r->table.quantity[r->cell] = column->quantity;
    r->table.unit[r->cell] = unit;
    return true;
  }
  char expected[80], what[240];
  list_units(expected, column);
  snprintf(what, sizeof what, "the unit must end the name (%s)%s, found", expected,
           remark_on(r->table.header[r->cell]));
  fail_cell(r, r->cell, what, r->table.header[r->cell]);
  return false;
}

// The known column with the longest name that the header starts with.
static const cavum_csv_column *match_column(const reader *r, const char *header) {
  const cavum_csv_column *best = NULL;
  for (const cavum_csv_column *column = r->columns; column->name; column++) {
    size_t length = strlen(column->name);
    bool starts = strncmp(header, column->name, length) == 0 &&
                  (header[length] == '\0' || header[length] == '_');
    if (starts && (!best || length > strlen(best->name))) best = column;
  }
  return best;
}

// Each known column with one unit of it, as many as there is room for.
static void list_known(char *text, size_t size, const cavum_csv_column *columns) {
  size_t used = 0;
  text[0] = '\0';
  for (const cavum_csv_column *column = columns; column->name && used < size; column++) {
    bool has_unit = column->units && column->units->name;
    const char *unit = has_unit ? column->units->name : "";
    size_t left = size - used;
    int length = snprintf(text + used, left, "%s%s%s%s", used ? ", " : "", column->name,
                          *unit ? "_" : "", unit);
    if (length < 0 || (size_t)length >= left) {
      text[used] = '\0';
      return;
    }
    used += (size_t)length;
  }
}

static void fail_column(reader *r, const char *cell) {
  char known[80], list[320], hint[CAVUM_NEAREST_SIZE];
  cavum_nearest nearest = {0};
  for (const cavum_csv_column *column = r->columns; column->name; column++) {
    if (!column->units) cavum_nearest_offer(&nearest, cell, column->name);
    for (const cavum_csv_unit *unit = column->units; unit && unit->name; unit++) {
      snprintf(known, sizeof known, "%s%s%s", column->name, *unit->name ? "_" : "", unit->name);
      cavum_nearest_offer(&nearest, cell, known);
    }
  }
  list_known(list, sizeof list, r->columns);
  r->status = cavum_fail(r->error, CAVUM_ERR_INPUT,
                         "%s:%lld: column %d: not a known column, with its unit at the end: "
                         "'%.40s'%s%s; known are %s",
                         r->path, (long long)r->row_line, r->cell + 1, cell,
                         cavum_nearest_write(hint, &nearest, ""), remark_on(cell), list);
}

// Spreadsheets write the separators of empty columns: a column without a name has no cells to read,
// and counts where a named one follows.
static void take_header(reader *r, const char *cell) {
  cavum_csv_table *table = &r->table;
  if (!*cell) {
    if (r->cell < CAVUM_CSV_MAX_COLUMNS) table->quantity[r->cell] = CAVUM_CSV_IGNORED;
    return;
  }
  size_t length = strlen(cell);
  if (r->cell >= CAVUM_CSV_MAX_COLUMNS || length >= CAVUM_CSV_HEADER_SIZE) {
    fail_cell(r, r->cell < CAVUM_CSV_MAX_COLUMNS ? r->cell : 0, "too many or too long headers at",
              cell);
    return;
  }
  memcpy(table->header[r->cell], cell, length + 1);
  const cavum_csv_column *column = match_column(r, cell);
  if (!column) {
    fail_column(r, cell);
    return;
  }
  if (!column->units) {
    table->quantity[r->cell] = column->quantity;
  } else {
    if (!match_unit(r, column, cell + strlen(column->name))) return;
    if (cavum_csv_table_find(table, column->quantity) >= 0) {
      fail_cell(r, r->cell, "this quantity has a column already:", cell);
      return;
    }
  }
  table->num_columns = r->cell + 1;
}

static bool read_number(double *value, const char *text, locale_t locale) {
  char *end = NULL;
  if (text[strspn(text, "+-.0123456789eE")] != '\0') return false;
  *value = strtod_l(text, &end, locale);
  return end != text && *end == '\0' && isfinite(*value);
}

// Between semicolons or tabs the decimal sign is a comma, or a point; with both in one file a point
// might as well stand behind thousands.
static bool read_cell(double *value, reader *r, const char *cell) {
  char text[128];
  snprintf(text, sizeof text, "%s", cell);
  char *comma = strchr(text, ','), *point = strchr(text, '.');
  if (r->separator == ',' || !(comma || point)) return read_number(value, text, r->number_locale);
  r->comma_seen = r->comma_seen || comma;
  r->point_seen = r->point_seen || point;
  if (r->comma_seen && r->point_seen) {
    r->status =
        cavum_fail(r->error, CAVUM_ERR_INPUT,
                   "%s:%lld: column %d (%s): numbers with a decimal comma and numbers with "
                   "a point in one file, found '%.40s'; write all of them alike",
                   r->path, (long long)r->row_line, r->cell + 1, r->table.header[r->cell], cell);
    return true;
  }
  if (comma) *comma = '.';
  return read_number(value, text, r->number_locale);
}

static bool is_of(const reader *r, int column, const cavum_csv_unit *units) {
  const cavum_csv_column *known = r->columns;
  while (known->name && known->quantity != r->table.quantity[column]) known++;
  return known->name && known->units == units;
}

// A cell of two words; which of them are for yes and for no depends on the column.
static void take_word(reader *r, const char *cell, bool side) {
  bool yes = strcmp(cell, side ? "over" : "yes") == 0 || (!side && strcmp(cell, "1") == 0);
  bool no = strcmp(cell, side ? "under" : "no") == 0 || (!side && strcmp(cell, "0") == 0);
  if (*cell && !yes && !no) {
    fail_cell(r, r->cell,
              side ? "over or under, or nothing was expected, found"
                   : "yes or no, 1 or 0, or nothing was expected, found",
              cell);
    return;
  }
  r->table.values[r->table.num_rows * r->table.num_columns + r->cell] = yes ? 1.0 : no ? 0.0 : NAN;
}

static void take_value(reader *r, const char *cell) {
  cavum_csv_table *table = &r->table;
  if (r->cell >= table->num_columns) {
    if (!*cell) return;
    char text[CAVUM_CSV_REASON_SIZE + 1024];
    snprintf(text, sizeof text, "%s:%lld: more cells than the %d columns of the header", r->path,
             (long long)r->row_line, table->num_columns);
    reject_row(r, text);
    return;
  }
  bool side = is_of(r, r->cell, cavum_csv_side);
  if (side || is_of(r, r->cell, cavum_csv_switch)) {
    take_word(r, cell, side);
    return;
  }
  double value = NAN;
  if (*cell && !*table->header[r->cell]) {
    fail_cell(r, r->cell, "the column has no name, but a cell", cell);
    return;
  }
  if (*cell && table->quantity[r->cell] != CAVUM_CSV_IGNORED) {
    if (!read_cell(&value, r, cell)) {
      fail_cell(r, r->cell,
                strchr(cell, '(')
                    ? "a number alone or nothing was expected (uncertainties are stated "
                      "in the test file), found"
                    : "a number or nothing was expected, found",
                cell);
      return;
    }
    if (r->status != CAVUM_OK) return;
    const cavum_csv_unit *unit = table->unit[r->cell];
    value = unit->is_dbm ? cavum_watts_from_dbm(value) : cavum_from_unit(value, unit->unit);
    if (!isfinite(value)) {
      fail_cell(r, r->cell, "out of range:", cell);
      return;
    }
  }
  table->values[table->num_rows * table->num_columns + r->cell] = value;
}

// A line end in a note is a blank: notes are one line wherever they are shown.
static void take_note(reader *r, const char *text, size_t length) {
  cavum_csv_table *table = &r->table;
  void *notes = table->notes;
  double *value = &table->values[table->num_rows * table->num_columns + r->cell];
  *value = NAN;
  if (length == 0) return;
  if (!cavum_grow(&notes, &table->notes_capacity, table->notes_used + (int64_t)length + 1, 1)) {
    r->status = cavum_fail_memory(r->error);
    return;
  }
  table->notes = notes;
  char *note = table->notes + table->notes_used;
  for (size_t i = 0; i < length; i++) note[i] = (unsigned char)text[i] < 0x20 ? ' ' : text[i];
  note[length] = '\0';
  *value = (double)table->notes_used;
  table->notes_used += (int64_t)length + 1;
}

static bool make_room(reader *r) {
  cavum_csv_table *table = &r->table;
  void *values = table->values, *lines = table->lines;
  int64_t wanted = (table->num_rows + 1) * table->num_columns;
  bool grown = cavum_grow(&values, &table->row_capacity, wanted, sizeof *table->values);
  table->values = values;
  grown =
      grown && cavum_grow(&lines, &table->line_capacity, table->num_rows + 1, sizeof *table->lines);
  table->lines = lines;
  if (!grown) r->status = cavum_fail_memory(r->error);
  return grown;
}

static void take_cell(void *text, size_t length, void *data) {
  reader *r = data;
  char cell[128];
  if (r->status != CAVUM_OK) return;
  if (r->cell == 0) r->row_line = r->line;
  if (r->have_header && r->cell == 0 && !make_room(r)) return;
  size_t kept = length < sizeof cell - 1 ? length : sizeof cell - 1;
  if (kept > 0) memcpy(cell, text, kept);
  cell[kept] = '\0';
  bool noted = r->have_header && r->cell < r->table.num_columns &&
               r->table.quantity[r->cell] <= CAVUM_CSV_NOTED;
  if (noted) {
    take_note(r, text, length);
  } else if (r->have_header) {
    take_value(r, cell);
  } else {
    take_header(r, cell);
  }
  r->cell++;
}

static void take_row(int terminator, void *data) {
  reader *r = data;
  (void)terminator;
  r->between_rows = true;
  if (r->status != CAVUM_OK) return;
  if (r->have_header && r->cell < r->table.num_columns) {
    char text[CAVUM_CSV_REASON_SIZE + 1024];
    snprintf(text, sizeof text, "%s:%lld: %d cells, the header has %d columns", r->path,
             (long long)r->row_line, r->cell, r->table.num_columns);
    reject_row(r, text);
  }
  if (r->have_header && !r->rejected) {
    r->table.lines[r->table.num_rows++] = r->row_line;
    r->table.last_unfinished = r->unfinished;
  }
  if (!r->have_header && r->table.num_columns == 0) {
    r->status = cavum_fail(r->error, CAVUM_ERR_INPUT,
                           "%s:%lld: a header line was expected, found cells that are all empty",
                           r->path, (long long)r->row_line);
    return;
  }
  r->have_header = true;
  r->rejected = false;
  r->cell = 0;
}

// Control characters other than tab and line ends count as no text.
static int utf8_length(const char *text, size_t left) {
  unsigned char c = (unsigned char)text[0];
  if (c < 0x20 && c != '\t' && c != '\n' && c != '\r') return 0;
  return cavum_utf8_length(text, left);
}

static cavum_status check_text(const char *text, size_t length, const char *path,
                               cavum_error *error) {
  int64_t line = 1;
  for (size_t i = 0; i < length;) {
    int step = utf8_length(text + i, length - i);
    if (step == 0) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "%s:%lld: a byte (0x%02X) that is no UTF-8 text; save the file as UTF-8",
                        path, (long long)line, (unsigned)(unsigned char)text[i]);
    }
    bool ends = text[i] == '\n' || (text[i] == '\r' && (i + 1 == length || text[i + 1] != '\n'));
    line += ends;
    i += (size_t)step;
  }
  return CAVUM_OK;
}

static size_t line_length(const char *text, size_t left) {
  for (size_t i = 0; i < left; i++) {
    if (text[i] == '\n' || (text[i] == '\r' && (i + 1 == left || text[i + 1] != '\n')))
      return i + 1;
  }
  return left;
}

// "#" begins a comment, but also what a spreadsheet writes into a cell that it could not compute:
// #DIV/0!, #REF!, #NAME?, in other languages #WERT!; #N/A and #NV. That is a row, and none to lose.
static bool is_comment(const char *text, size_t left) {
  size_t length = 1;
  if (left == 0 || text[0] != '#') return false;
  while (length < left &&
         (strchr("/0123456789", text[length]) || (text[length] >= 'A' && text[length] <= 'Z'))) {
    length++;
  }
  if (length == 1 || length == left) return true;
  if (strchr("!?", text[length])) return false;
  bool missing =
      (length == 4 && memcmp(text, "#N/A", 4) == 0) || (length == 3 && memcmp(text, "#NV", 3) == 0);
  return !(missing && strchr(",;\t\r\n", text[length]));
}

// Spreadsheets of countries whose decimal sign is the comma write semicolons or tabs: the header,
// the first line that is no comment, has them and no comma.
static char find_separator(const char *text, size_t length) {
  size_t at = 0, step = 0;
  for (; at < length; at += step) {
    step = line_length(text + at, length - at);
    if (!is_comment(text + at, step) && text[at] != '\n' && text[at] != '\r') break;
  }
  if (at >= length || memchr(text + at, ',', step)) return ',';
  bool semicolons = memchr(text + at, ';', step) != NULL;
  bool tabs = memchr(text + at, '\t', step) != NULL;
  return semicolons ? ';' : tabs ? '\t' : ',';
}

// Some spreadsheets name the separator in a first line of its own: sep=;
static size_t take_separator_line(reader *r, const char *text, size_t length) {
  size_t step = line_length(text, length);
  bool named = step >= 5 && strncmp(text, "sep=", 4) == 0 && strchr(",;\t", text[4]) &&
               strspn(text + 5, "\r\n") >= step - 5;
  if (!named) return 0;
  r->separator = text[4];
  r->line++;
  return step;
}

static cavum_status parse(reader *r, const char *text, size_t length) {
  struct csv_parser parser;
  if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_APPEND_NULL) != 0) {
    return cavum_fail_memory(r->error);
  }
  r->separator = find_separator(text, length);
  size_t first = take_separator_line(r, text, length);
  csv_set_delim(&parser, (unsigned char)r->separator);
  r->between_rows = true;
  for (size_t at = first; at < length && r->status == CAVUM_OK;) {
    size_t step = line_length(text + at, length - at);
    bool comment = r->between_rows && is_comment(text + at, length - at);
    r->line++;
    if (comment) {
      at += step;
      continue;
    }
    // Blank lines call nobody, so they leave the parser between rows.
    bool blank = text[at] == '\n' || text[at] == '\r';
    r->between_rows = r->between_rows && blank;
    r->unfinished = text[at + step - 1] != '\n' && text[at + step - 1] != '\r';
    if (csv_parse(&parser, text + at, step, take_cell, take_row, r) != step) {
      r->status = cavum_fail(r->error, CAVUM_ERR_INPUT, "%s:%lld: not CSV: %s", r->path,
                             (long long)r->line, csv_strerror(csv_error(&parser)));
    }
    at += step;
  }
  if (r->status == CAVUM_OK && csv_fini(&parser, take_cell, take_row, r) != 0) {
    r->status = cavum_fail(r->error, CAVUM_ERR_INPUT, "%s:%lld: a quote is not closed", r->path,
                           (long long)r->line);
  }
  csv_free(&parser);
  return r->status;
}

static cavum_status read_text(char **text, size_t *length, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *bytes = NULL;
  int64_t capacity = 0;
  size_t used = 0;
  FILE *file = fopen(path, "rb");
  if (!file) {
    return cavum_fail_to_open(error, path);
  }
  for (bool more = true; more;) {
    void *grown = bytes;
    if (!cavum_grow(&grown, &capacity, (int64_t)used + 65536, 1)) {
      status = cavum_fail_memory(error);
      goto done;
    }
    bytes = grown;
    size_t taken = fread(bytes + used, 1, (size_t)capacity - used, file);
    used += taken;
    more = taken > 0;
    if ((int64_t)used > LARGEST_FILE) {
      status = cavum_fail(error, CAVUM_ERR_INPUT, "%s: larger than a gigabyte", path);
      goto done;
    }
  }
  if (ferror(file)) {
    status = cavum_fail_to_read(error, path);
    goto done;
  }
  bytes[used] = '\0';  // There is room: the last round asked for more than it took.
  *text = bytes;
  *length = used;
  bytes = NULL;
done:
  free(bytes);
  fclose(file);
  return status;
}

// Takes the text, also when it fails.
static cavum_status read_table(cavum_csv_table *table, char *text, size_t length, const char *path,
                               const cavum_csv_column *columns, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  reader r = {.path = path, .columns = columns, .error = error};
  CAVUM_TRY(check_text(text, length, path, error));
  r.number_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  if (!r.number_locale) {
    status = cavum_fail_memory(error);
    goto done;
  }
  // Spreadsheets put a byte-order mark first.
  size_t mark = length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
  CAVUM_TRY(parse(&r, text + mark, length - mark));
  if (r.have_header && r.table.num_rows == 0 && r.table.num_rejected > 0) {
    status = cavum_fail(error, CAVUM_ERR_INPUT, "%s", r.table.rejected[0].reason);
    goto done;
  }
  if (!r.have_header || r.table.num_rows == 0) {
    status = cavum_fail(error, CAVUM_ERR_INPUT, "%s:1: %s", path,
                        r.have_header ? "a header, but no rows below it"
                                      : "empty: a header line and rows were expected");
    goto done;
  }
  r.table.text = text;
  r.table.text_length = length;
  text = NULL;
  *table = r.table;
  r.table = (cavum_csv_table){0};
done:
  free(text);
  if (r.number_locale) freelocale(r.number_locale);
  cavum_csv_table_clear(&r.table);
  return status;
}

cavum_status cavum_csv_table_read(cavum_csv_table *table, const char *path,
                                  const cavum_csv_column *columns, cavum_error *error) {
  char *text = NULL;
  size_t length = 0;
  cavum_status status = read_text(&text, &length, path, error);
  return status == CAVUM_OK ? read_table(table, text, length, path, columns, error) : status;
}

cavum_status cavum_csv_table_read_text(cavum_csv_table *table, const char *text, size_t length,
                                       const char *name, const cavum_csv_column *columns,
                                       cavum_error *error) {
  if (length > (size_t)LARGEST_FILE) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: larger than a gigabyte", name);
  }
  char *copy = cavum_alloc((int64_t)length + 1, 1);
  if (!copy) return cavum_fail_memory(error);
  if (length > 0) memcpy(copy, text, length);
  return read_table(table, copy, length, name, columns, error);
}
