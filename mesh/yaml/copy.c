// SPDX-License-Identifier: GPL-3.0-or-later
// Sections of one file for another, by the tree of the first.
#include "yaml/copy.h"

#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "yaml/tree.h"
#include "yaml/writer.h"

// Sections have a line for each key; what is within it stands in that line.
static void copy_value(cavum_writer *writer, const cavum_yaml_tree *tree,
                       const cavum_yaml_node *node, int depth) {
  CAVUM_ASSERT(depth <= CAVUM_YAML_LARGEST_DEPTH);  // of every tree that was read
  if (node->key) cavum_writer_word(writer, node->key);
  if (node->kind == CAVUM_YAML_NODE_SCALAR) {
    if (node->plain) {
      cavum_writer_word(writer, node->text);
    } else {
      cavum_writer_text(writer, node->text);
    }
    return;
  }
  bool list = node->kind == CAVUM_YAML_NODE_LIST;
  if (list) {
    cavum_writer_open_list(writer);
  } else {
    cavum_writer_open_mapping(writer, depth > 0);
  }
  for (cavum_index i = node->first_child; i >= 0; i = tree->nodes[i].next) {
    copy_value(writer, tree, &tree->nodes[i], depth + 1);
  }
  if (list) {
    cavum_writer_close_list(writer);
  } else {
    cavum_writer_close_mapping(writer);
  }
}

static const cavum_yaml_node *find(const cavum_yaml_tree *tree, const char *key) {
  for (cavum_index i = tree->nodes[0].first_child; i >= 0; i = tree->nodes[i].next) {
    if (tree->nodes[i].key && strcmp(tree->nodes[i].key, key) == 0) return &tree->nodes[i];
  }
  return NULL;
}

cavum_status cavum_yaml_copy_sections(char **copied, const char *text, const char *const keys[],
                                      size_t num_keys, cavum_error *error) {
  cavum_yaml_tree tree = {0};
  cavum_writer *writer = NULL;
  cavum_status status = CAVUM_OK;
  bool any = false;
  char *made = NULL;
  CAVUM_TRY(
      cavum_yaml_tree_read(&tree, text, strlen(text), CAVUM_YAML_LARGEST_TEXT, "text", error));
  writer = cavum_writer_create();
  if (!writer) CAVUM_TRY(cavum_fail_memory(error));
  cavum_writer_open_mapping(writer, false);
  for (size_t k = 0; k < num_keys; k++) {
    const cavum_yaml_node *section = find(&tree, keys[k]);
    if (!section) continue;
    copy_value(writer, &tree, section, 0);
    any = true;
  }
  cavum_writer_close_mapping(writer);
  CAVUM_TRY(cavum_writer_finish(&made, writer, error));
  if (!any) made[0] = '\0';
  *copied = made;
done:
  cavum_writer_destroy(&writer);
  cavum_yaml_tree_clear(&tree);
  return status;
}
