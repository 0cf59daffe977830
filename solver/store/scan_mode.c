// SPDX-License-Identifier: GPL-3.0-or-later
// The mode of a stored scan is what the text of its study says, in files of all versions.
#include "store/scan_mode.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "store/scan_read.h"
#include "yaml/tree.h"

int cavum_stored_scan_mode(const cavum_stored_scan *scan) {
  cavum_yaml_tree tree = {0};
  char *text = NULL;
  long mode = 1;
  if (cavum_stored_scan_read_text(&text, scan, "/input/study_file", NULL) != CAVUM_OK) return 1;
  if (cavum_yaml_tree_read(&tree, text, strlen(text), CAVUM_YAML_LARGEST_TEXT, "study", NULL) ==
      CAVUM_OK) {
    for (cavum_index i = tree.nodes[0].first_child; i >= 0; i = tree.nodes[i].next) {
      const cavum_yaml_node *node = &tree.nodes[i];
      bool is_mode = node->key && node->text && strcmp(node->key, "mode") == 0;
      if (is_mode) mode = strtol(node->text, NULL, 10);
    }
  }
  cavum_yaml_tree_clear(&tree);
  free(text);
  return mode >= 1 && mode <= INT_MAX ? (int)mode : 1;
}

const char *cavum_stored_scan_mode_text(char text[CAVUM_SCAN_MODE_TEXT_SIZE],
                                        const cavum_stored_scan *scan, const char *before) {
  int mode = cavum_stored_scan_mode(scan);
  text[0] = '\0';
  if (mode > 1) snprintf(text, CAVUM_SCAN_MODE_TEXT_SIZE, "%smode %d", before, mode);
  return text;
}
