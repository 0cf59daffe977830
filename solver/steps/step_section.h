// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/step_section.h
 * What the sections of a step have in common: fields of a table, a source, a kept text.
 */
#ifndef CAVUM_STEPS_STEP_SECTION_H
#define CAVUM_STEPS_STEP_SECTION_H

#include "steps/chain.h"
#include "yaml/fields.h"

/** A field of a section: the struct that takes it, its key, the member, and what else is said. */
#define CAVUM_STEP_FIELD(section, name, member, ...) \
  { .key = (name), .offset = offsetof(section, member), __VA_ARGS__ }

/** The key `source` of every section, which cavum_step_read_section() takes over. */
#define CAVUM_STEP_SOURCE \
  { .key = "source", .offset = CAVUM_YAML_UNSTORED, .kind = CAVUM_YAML_FIELD_TEXT }

/** Reads the section of a kind of steps into a step; `path` is that of the section. */
typedef cavum_status cavum_step_reader(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *node, const char *path);

/**
 * Reads a section by its table, its source into the step, and whether it states an uncertainty.
 * @param[out] section  As cavum_yaml_read_fields().
 * @retval CAVUM_ERR_INPUT  as cavum_yaml_read_fields(), or a source of no or too many bytes.
 */
cavum_status cavum_step_read_section(void *section, cavum_chain_step *step,
                                     const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                     const char *path, cavum_yaml_table table);

/**
 * Copies the text of a key where it is there.
 * @param[out] copy    Untouched where the key is not there.
 * @param[in]  parent  The mapping.
 * @param[in]  key     Of a text.
 * @retval CAVUM_ERR_INPUT  of no or too many bytes.
 */
cavum_status cavum_step_copy_text(char copy[CAVUM_STEP_NAME_SIZE], const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *parent, const char *key);

#endif
