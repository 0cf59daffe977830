// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file yaml/fields.h
 * Table-driven reading of YAML files: each mapping of a file is described by a table of fields, and
 * one function checks keys, types and ranges and stores the values.
 */
#ifndef CAVUM_YAML_FIELDS_H
#define CAVUM_YAML_FIELDS_H

#include "base/units.h"
#include "yaml/reader.h"

/** Kind of a field; the comment names the type of the member that receives it. */
typedef enum cavum_yaml_field_kind {
  CAVUM_YAML_FIELD_NUMBER,  /**< double, SI. */
  CAVUM_YAML_FIELD_COUNT,   /**< int. */
  CAVUM_YAML_FIELD_WORD,    /**< int: value of one of the field's words. */
  CAVUM_YAML_FIELD_TEXT,    /**< const char *, borrowed from the tree. */
  CAVUM_YAML_FIELD_MAPPING, /**< const cavum_yaml_node *, borrowed from the tree. */
  CAVUM_YAML_FIELD_LIST,    /**< const cavum_yaml_node *, borrowed from the tree. */
  CAVUM_YAML_FIELD_NODE     /**< const cavum_yaml_node *, of any kind, borrowed from the tree. */
} cavum_yaml_field_kind;

/** A word and what it stands for; a list ends with a NULL word. */
typedef struct cavum_yaml_word {
  const char *text;
  int value;
} cavum_yaml_word;

/** Offset of a field that is checked but not stored: cavum_yaml_reader_child() gives its node. */
#define CAVUM_YAML_UNSTORED ((size_t)-1)

/** One key of a mapping. */
typedef struct cavum_yaml_field {
  const char *key;
  const char *former; /**< Its name in earlier versions, which is still read; NULL: none. */
  size_t offset;      /**< Of the member in the struct that is filled, or CAVUM_YAML_UNSTORED. */
  cavum_yaml_field_kind kind;
  bool required;
  cavum_unit unit;  /**< NUMBER: of the file. */
  double low, high; /**< NUMBER and COUNT: smallest and largest value, in the file's unit. */
  const cavum_yaml_word *words; /**< WORD. */
} cavum_yaml_field;

/** A table of fields. */
typedef struct cavum_yaml_table {
  const cavum_yaml_field *fields;
  int num_fields;
} cavum_yaml_table;

/** Makes a table from an array. */
#define CAVUM_YAML_TABLE(array) \
  { (array), (int)(sizeof(array) / sizeof *(array)) }

/**
 * Checks a mapping against a table and stores its values.
 *
 * Members whose keys are absent stay as they are.
 *
 * @param[out] target   Struct that the offsets of the table point into; on failure some members may
 *                      have been set.
 * @param[in]  reader   The file.
 * @param[in]  mapping  Any node; refused unless a mapping.
 * @param[in]  path     Dotted path of the mapping, "" for the root.
 * @param[in]  table    Its keys.
 * @retval CAVUM_ERR_INPUT  unknown key (with the nearest known one), missing key, a key under both
 *                          its names, wrong type, a number with a unit or out of range, an unknown
 *                          word.
 */
cavum_status cavum_yaml_read_fields(void *target, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *mapping, const char *path,
                                    cavum_yaml_table table);

/**
 * One line about a key of a mapping that stands there under its former name,
 * "cell.yaml:7:12: accuracy.peak_field is called accuracy.other_figures now".
 * @param[out] note     Shape [size]; untouched where every key has its present name.
 */
void cavum_yaml_note_former(char *note, size_t size, const cavum_yaml_reader *reader,
                            const cavum_yaml_node *mapping, const char *path,
                            cavum_yaml_table table);

/** Reads one of a list of words; the mapping's entry is `node`. */
cavum_status cavum_yaml_read_word(int *value, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path,
                                  const cavum_yaml_word *words);

/** Reads a finite decimal number, all of the text; the value is in the unit of the file. */
cavum_status cavum_yaml_read_number(double *value, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *node, const char *path);

#endif
