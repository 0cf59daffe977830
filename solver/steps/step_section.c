// SPDX-License-Identifier: GPL-3.0-or-later
// Fields that every section of a step has.
#include "steps/step_section.h"

#include <string.h>

cavum_status cavum_step_copy_text(char copy[CAVUM_STEP_NAME_SIZE], const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *parent, const char *key) {
  const cavum_yaml_node *node = cavum_yaml_reader_child(reader, parent, key);
  if (!node) return CAVUM_OK;
  size_t length = strlen(node->text);
  if (length < 1 || length >= CAVUM_STEP_NAME_SIZE) {
    return cavum_yaml_reader_fail(reader, node, "%s: expected 1 to %d bytes", key,
                                  CAVUM_STEP_NAME_SIZE - 1);
  }
  memcpy(copy, node->text, length + 1);
  return CAVUM_OK;
}

static bool states_uncertainty(const cavum_yaml_reader *reader, const cavum_yaml_node *node) {
  const cavum_yaml_node *child = cavum_yaml_reader_first(reader, node);
  for (; child; child = cavum_yaml_reader_next(reader, child)) {
    if (strstr(child->key, "uncertainty")) return true;
  }
  return false;
}

cavum_status cavum_step_read_section(void *section, cavum_chain_step *step,
                                     const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                     const char *path, cavum_yaml_table table) {
  cavum_status status = cavum_yaml_read_fields(section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  step->uncertainty_not_stated = !states_uncertainty(reader, node);
  return cavum_step_copy_text(step->source, reader, node, "source");
}
