// SPDX-License-Identifier: GPL-3.0-or-later
// Table-driven check of one mapping of a file: every key known, every value of the right type
// and in range, and messages that say what was expected.
#include "yaml/fields.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/nearest_word.h"

static const char *kind_text(const cavum_yaml_node *node) {
  if (node->kind == CAVUM_YAML_NODE_MAPPING) return "a mapping {...}";
  if (node->kind == CAVUM_YAML_NODE_LIST) return "a list [...]";
  return *node->text ? "a single value" : "nothing";
}

/** Says why a text is no number. */
static cavum_status fail_number(const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                const char *path, const char *rest) {
  cavum_yaml_excerpt excerpt = cavum_yaml_tree_excerpt(node->text);
  const char *word = excerpt.text;
  while (*rest == ' ') rest++;
  bool letter = (*rest >= 'A' && *rest <= 'Z') || (*rest >= 'a' && *rest <= 'z');
  if (rest != node->text && letter) {
    return cavum_yaml_reader_fail(
        reader, node,
        "%s: '%s' is not a plain number; units stand in the key, write the "
        "number alone",
        path, word);
  }
  if (rest != node->text && *rest == ',') {
    return cavum_yaml_reader_fail(
        reader, node, "%s: '%s' is not a number; write a decimal point, not a comma", path, word);
  }
  if (rest != node->text && *rest == '(') {
    return cavum_yaml_reader_fail(
        reader, node,
        "%s: '%s' has its uncertainty with it; write the number alone, an "
        "uncertainty has a key of its own",
        path, word);
  }
  return cavum_yaml_reader_fail(reader, node, "%s: expected a number such as 42.0, found '%s'",
                                path, word);
}

cavum_status cavum_yaml_read_number(double *value, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *node, const char *path) {
  if (node->kind != CAVUM_YAML_NODE_SCALAR || !*node->text) {
    return cavum_yaml_reader_fail(reader, node, "%s: expected a number, found %s", path,
                                  kind_text(node));
  }
  if (!node->plain) {
    return cavum_yaml_reader_fail(reader, node, "%s: expected a number without quotes, found '%s'",
                                  path, cavum_yaml_tree_excerpt(node->text).text);
  }
  // strtod alone would also take hexadecimal numbers, infinities and NaN.
  size_t span = strspn(node->text, "+-.0123456789eE");
  char *end = node->text;
  double number = span > 0 ? strtod_l(node->text, &end, reader->number_locale) : 0.0;
  bool decimal = end > node->text && end <= node->text + span;
  if (!decimal || *end) return fail_number(reader, node, path, decimal ? end : node->text);
  if (!isfinite(number)) {
    return cavum_yaml_reader_fail(reader, node, "%s: %s is too large to be represented", path,
                                  cavum_yaml_tree_excerpt(node->text).text);
  }
  *value = number;
  return CAVUM_OK;
}

// A unit that is a power of ten of the SI unit changes the exponent alone: rounded once, and
// without numbers longer than a double, which not every machine has.
static bool shift_exponent(double *si, const cavum_yaml_reader *reader, const char *text,
                           cavum_unit unit) {
  enum { LONGEST = 96 };
  char shifted[LONGEST + 32];
  int power;
  const char *at = strpbrk(text, "eE");
  size_t length = at ? (size_t)(at - text) : strlen(text);
  if (length > LONGEST || !cavum_unit_power_of_ten(&power, unit)) return false;
  // Beyond this a number is zero or none, whatever digits it has.
  const long most = 100000;
  long exponent = at ? strtol(at + 1, NULL, 10) : 0;
  exponent = exponent < -most ? -most : exponent > most ? most : exponent;
  snprintf(shifted, sizeof shifted, "%.*se%ld", (int)length, text, exponent + power);
  *si = strtod_l(shifted, NULL, reader->number_locale);
  return true;
}

// A double has 17 digits. What has more was written for numbers in SI that are the thousandth, or
// the millionfold, of no double: it is converted before it is rounded.
static double to_si(const cavum_yaml_reader *reader, const char *text, double number,
                    cavum_unit unit) {
  enum { DIGITS_OF_DOUBLE = 17 };
  int digits = 0;
  bool leading = true;
  for (const char *c = text; *c && *c != 'e' && *c != 'E'; c++) {
    leading = leading && (*c == '0' || *c < '0' || *c > '9');
    digits += !leading && *c >= '0' && *c <= '9';
  }
  if (digits <= DIGITS_OF_DOUBLE) return cavum_from_unit(number, unit);
  double exact;
  if (shift_exponent(&exact, reader, text, unit)) return exact;
  return cavum_from_unit_long(strtold_l(text, NULL, reader->number_locale), unit);
}

static cavum_status read_ranged_number(double *value, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *node, const char *path,
                                       const cavum_yaml_field *field) {
  double number = 0.0;
  cavum_status status = cavum_yaml_read_number(&number, reader, node, path);
  if (status != CAVUM_OK) return status;
  if (number >= field->low && number <= field->high) {
    *value = number;
    return CAVUM_OK;
  }
  if (field->low > 0.0 && number <= 0.0) {
    return cavum_yaml_reader_fail(reader, node, "%s: must be positive, found %g", path, number);
  }
  if (field->low == 0.0 && number < 0.0) {
    return cavum_yaml_reader_fail(reader, node, "%s: must not be negative, found %g", path, number);
  }
  return cavum_yaml_reader_fail(reader, node, "%s: must lie between %g and %g, found %.9g", path,
                                field->low, field->high, number);
}

static cavum_status read_count(int *value, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *node, const char *path,
                               const cavum_yaml_field *field) {
  double number = 0.0;
  cavum_status status = read_ranged_number(&number, reader, node, path, field);
  if (status != CAVUM_OK) return status;
  if (number != floor(number)) {
    return cavum_yaml_reader_fail(reader, node, "%s: expected a whole number, found %.9g", path,
                                  number);
  }
  *value = (int)number;
  return CAVUM_OK;
}

/** "a, b or c". */
static void list_words(char *out, size_t size, const cavum_yaml_word *words) {
  size_t used = 0;
  *out = '\0';
  for (int i = 0; words[i].text && used < size; i++) {
    const char *separator = i == 0 ? "" : words[i + 1].text ? ", " : " or ";
    used += (size_t)snprintf(out + used, size - used, "%s%s", separator, words[i].text);
  }
}

cavum_status cavum_yaml_read_word(int *value, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path,
                                  const cavum_yaml_word *words) {
  char expected[160], hint[CAVUM_NEAREST_SIZE];
  cavum_nearest nearest = {0};
  list_words(expected, sizeof expected, words);
  if (node->kind != CAVUM_YAML_NODE_SCALAR || !*node->text) {
    return cavum_yaml_reader_fail(reader, node, "%s: expected %s, found %s", path, expected,
                                  kind_text(node));
  }
  for (int i = 0; words[i].text; i++) {
    cavum_nearest_offer(&nearest, node->text, words[i].text);
    if (strcmp(words[i].text, node->text) != 0) continue;
    *value = words[i].value;
    return CAVUM_OK;
  }
  return cavum_yaml_reader_fail(reader, node, "%s: expected %s, found '%s'%s", path, expected,
                                cavum_yaml_tree_excerpt(node->text).text,
                                cavum_nearest_write(hint, &nearest, ""));
}

static cavum_status read_collection(const cavum_yaml_node **value, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *node, const char *path, bool list) {
  cavum_yaml_node_kind wanted = list ? CAVUM_YAML_NODE_LIST : CAVUM_YAML_NODE_MAPPING;
  if (node->kind != wanted) {
    return cavum_yaml_reader_fail(reader, node, "%s: expected %s, found %s", path,
                                  list ? "a list [...]" : "a mapping {...}", kind_text(node));
  }
  *value = node;
  return CAVUM_OK;
}

/** Reads one value into the member of its field. */
static cavum_status read_field(void *target, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *node, const char *path,
                               const cavum_yaml_field *field) {
  union {
    double number;
    int count;
    const void *pointer;
  } unstored;
  void *member =
      field->offset == CAVUM_YAML_UNSTORED ? (void *)&unstored : (char *)target + field->offset;
  double number = 0.0;
  cavum_status status = CAVUM_OK;
  switch (field->kind) {
    case CAVUM_YAML_FIELD_NUMBER:
      status = read_ranged_number(&number, reader, node, path, field);
      if (status == CAVUM_OK) {
        *(double *)member = to_si(reader, node->text, number, field->unit);
      }
      break;
    case CAVUM_YAML_FIELD_COUNT:
      return read_count(member, reader, node, path, field);
    case CAVUM_YAML_FIELD_WORD:
      return cavum_yaml_read_word(member, reader, node, path, field->words);
    case CAVUM_YAML_FIELD_TEXT:
      if (node->kind != CAVUM_YAML_NODE_SCALAR) {
        return cavum_yaml_reader_fail(reader, node, "%s: expected text, found %s", path,
                                      kind_text(node));
      }
      *(const char **)member = node->text;
      break;
    case CAVUM_YAML_FIELD_MAPPING:
      return read_collection(member, reader, node, path, false);
    case CAVUM_YAML_FIELD_LIST:
      return read_collection(member, reader, node, path, true);
    case CAVUM_YAML_FIELD_NODE:
      *(const cavum_yaml_node **)member = node;
      break;
  }
  return status;
}

// `{frequency_MHz: 650,5}` reads as a second key, 5.
static bool is_behind_decimal_comma(const cavum_yaml_node *node) {
  return node->key[0] && strspn(node->key, "0123456789") == strlen(node->key);
}

/** Refuses an unknown key, with the nearest known one. */
static cavum_status fail_key(const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                             const char *path, cavum_yaml_table table) {
  cavum_nearest nearest = {0};
  char hint[CAVUM_NEAREST_SIZE];
  size_t length = strlen(node->key);
  for (int i = 0; i < table.num_fields; i++) {
    const char *candidate = table.fields[i].key;
    bool unit_missing = strncmp(candidate, node->key, length) == 0 && candidate[length] == '_';
    if (length > 0 && unit_missing) {
      return cavum_yaml_tree_fail(reader->error, CAVUM_ERR_INPUT, reader->name, node->key_line,
                                  node->key_column, "%s: the unit is missing, write '%s'", path,
                                  candidate);
    }
    cavum_nearest_offer(&nearest, node->key, candidate);
  }
  bool comma = is_behind_decimal_comma(node);
  return cavum_yaml_tree_fail(
      reader->error, CAVUM_ERR_INPUT, reader->name, node->key_line, node->key_column,
      "%s: unknown key%s", path,
      comma ? "; a decimal number has a point, no comma" : cavum_nearest_write(hint, &nearest, ""));
}

static bool is_former(const cavum_yaml_field *field, const char *key) {
  return field->former && strcmp(field->former, key) == 0;
}

static const cavum_yaml_field *find_field(cavum_yaml_table table, const char *key) {
  for (int i = 0; i < table.num_fields; i++) {
    const cavum_yaml_field *field = &table.fields[i];
    if (strcmp(field->key, key) == 0 || is_former(field, key)) return field;
  }
  return NULL;
}

/** The value of a field under either name; NULL: it is not there. */
static const cavum_yaml_node *find_value(const cavum_yaml_reader *reader,
                                         const cavum_yaml_node *mapping,
                                         const cavum_yaml_field *field) {
  const cavum_yaml_node *node = cavum_yaml_reader_child(reader, mapping, field->key);
  if (node || !field->former) return node;
  return cavum_yaml_reader_child(reader, mapping, field->former);
}

void cavum_yaml_note_former(char *note, size_t size, const cavum_yaml_reader *reader,
                            const cavum_yaml_node *mapping, const char *path,
                            cavum_yaml_table table) {
  const cavum_yaml_node *child = cavum_yaml_reader_first(reader, mapping);
  for (; child; child = cavum_yaml_reader_next(reader, child)) {
    const cavum_yaml_field *field = find_field(table, child->key);
    if (!field || !is_former(field, child->key)) continue;
    cavum_yaml_path old_path = cavum_yaml_path_join(path, child->key);
    cavum_yaml_path new_path = cavum_yaml_path_join(path, field->key);
    snprintf(note, size, "%.120s:%d:%d: %s is called %s now", reader->name, child->key_line,
             child->key_column, old_path.text, new_path.text);
    return;
  }
}

cavum_status cavum_yaml_read_fields(void *target, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *mapping, const char *path,
                                    cavum_yaml_table table) {
  const cavum_yaml_node *checked;
  cavum_status status =
      read_collection(&checked, reader, mapping, *path ? path : "the file", false);
  if (status != CAVUM_OK) return status;
  const cavum_yaml_node *child = cavum_yaml_reader_first(reader, mapping);
  for (; child; child = cavum_yaml_reader_next(reader, child)) {
    cavum_yaml_path child_path = cavum_yaml_path_join(path, child->key);
    const cavum_yaml_field *field = find_field(table, child->key);
    if (!field) return fail_key(reader, child, child_path.text, table);
    if (is_former(field, child->key) && cavum_yaml_reader_child(reader, mapping, field->key)) {
      return cavum_yaml_tree_fail(
          reader->error, CAVUM_ERR_INPUT, reader->name, child->key_line, child->key_column,
          "%s: is the former name of %s, which is there as well", child_path.text, field->key);
    }
    status = read_field(target, reader, child, child_path.text, field);
    if (status != CAVUM_OK) return status;
  }
  for (int i = 0; i < table.num_fields; i++) {
    const cavum_yaml_field *field = &table.fields[i];
    if (!field->required || find_value(reader, mapping, field)) continue;
    return cavum_yaml_reader_fail(reader, mapping, "%s: missing key '%s'",
                                  *path ? path : "the file", field->key);
  }
  return CAVUM_OK;
}
