// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_file/sections.h
 * The sections of a test file, one reader each. The table-driven check is that of the cell files.
 */
#ifndef CAVUM_COLDTEST_FILE_SECTIONS_H
#define CAVUM_COLDTEST_FILE_SECTIONS_H

#include "base/base.h"
#include "base/units.h"
#include "cavum/coldtest_file.h"
#include "yaml/fields.h"

/** Row of a field table: a number of a section struct, in the unit of its key. */
#define CAVUM_TEST_NUMBER(type, member, key_text, lowest, highest)                        \
  {                                                                                       \
    .key = (key_text), .offset = offsetof(type, member), .kind = CAVUM_YAML_FIELD_NUMBER, \
    .low = (lowest), .high = (highest)                                                    \
  }
/** Row for a whole number (int). */
#define CAVUM_TEST_COUNT(type, member, key_text, lowest, highest)                        \
  {                                                                                      \
    .key = (key_text), .offset = offsetof(type, member), .kind = CAVUM_YAML_FIELD_COUNT, \
    .low = (lowest), .high = (highest)                                                   \
  }
/** Row for a text (const char *). */
#define CAVUM_TEST_TEXT(type, member, key_text) \
  { .key = (key_text), .offset = offsetof(type, member), .kind = CAVUM_YAML_FIELD_TEXT }
/** Row for a word (int). */
#define CAVUM_TEST_WORD(type, member, key_text, word_list)                              \
  {                                                                                     \
    .key = (key_text), .offset = offsetof(type, member), .kind = CAVUM_YAML_FIELD_WORD, \
    .words = (word_list)                                                                \
  }
/** Row for a mapping or a list (const cavum_yaml_node *). */
#define CAVUM_TEST_NODE(type, member, key_text, node_kind) \
  { .key = (key_text), .offset = offsetof(type, member), .kind = (node_kind) }

/** `geometry`: figures typed in, or the result file they come from. */
cavum_status cavum_test_file_read_geometry(cavum_coldtest_file *file,
                                           const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *node);

/** `channels`: attenuation, meter, zero, reading of each port. */
cavum_status cavum_test_file_read_channels(cavum_coldtest_setup *setup,
                                           const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *node);

/** The one-line sections about meters, lines, decay, temperature, methods and statistics. */
cavum_status cavum_test_file_read_calibration(cavum_coldtest_file *file,
                                              const cavum_yaml_reader *reader,
                                              const cavum_yaml_node *root);

/** `limits`. */
cavum_status cavum_test_file_read_limits(cavum_coldtest_setup *setup,
                                         const cavum_yaml_reader *reader,
                                         const cavum_yaml_node *node);

/** `published_limits: niobium`. */
cavum_status cavum_test_file_add_published_limits(cavum_coldtest_setup *setup,
                                                  const cavum_yaml_reader *reader,
                                                  const cavum_yaml_node *node);

/** `surface_resistance`, `trapped_flux`, `traces` and `plan`. */
cavum_status cavum_test_file_read_series(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                                         const cavum_yaml_node *root);

/** `radiation` and `field_emission`. */
cavum_status cavum_test_file_read_emission(cavum_coldtest_file *file,
                                           const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *root);

/** Copies a text that must fit; fails at the node's place. */
cavum_status cavum_test_file_copy(char *out, size_t size, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path, const char *text);

/** Copies a file name, taken from the folder of the test file unless absolute. */
cavum_status cavum_test_file_copy_path(char out[CAVUM_PATH_SIZE], const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *node, const char *path,
                                       const char *text);

#endif
