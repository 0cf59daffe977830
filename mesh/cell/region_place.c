// SPDX-License-Identifier: GPL-3.0-or-later
// The place of a region in the text of its cell file: the text is taken apart again, since a mesh
// is read long after its cell and a message about it is rare.
#include "cell/region_place.h"

#include <stdio.h>
#include <string.h>

#include "cell/limits.h"
#include "yaml/reader.h"

static bool find_key(int *line, int *column, const cavum_cell *cell, const char *name) {
  cavum_yaml_reader reader;
  if (!cell->text || !*cell->text) return false;
  if (cavum_yaml_reader_open(&reader, cell->text, strlen(cell->text), CAVUM_CELL_LARGEST_TEXT,
                             "cell", NULL) != CAVUM_OK) {
    return false;
  }
  const cavum_yaml_node *node = cavum_yaml_reader_child(&reader, &reader.tree.nodes[0], "contour");
  if (node) node = cavum_yaml_reader_child(&reader, node, "regions");
  if (node) node = cavum_yaml_reader_child(&reader, node, name);
  if (node) {
    *line = node->key_line;
    *column = node->key_column;
  }
  cavum_yaml_reader_clear(&reader);
  return node != NULL;
}

void cavum_cell_region_place(char place[CAVUM_REGION_PLACE_SIZE], const cavum_cell *cell,
                             cavum_index index) {
  int line = 0, column = 0;
  const char *name = cell->mesh.regions[index].name;
  if (!find_key(&line, &column, cell, name)) {
    snprintf(place, CAVUM_REGION_PLACE_SIZE, "cell: mesh.regions[%d] '%.60s'", (int)index, name);
    return;
  }
  // The file of a cell comes first among its files; one from a text has none.
  const char *file = cell->files.num_paths > 0 ? cell->files.paths[0] : "cell";
  if (cell->mesh.path && strcmp(file, cell->mesh.path) == 0) file = "cell";
  snprintf(place, CAVUM_REGION_PLACE_SIZE, "%.255s:%d:%d: contour.regions.%.60s", file, line,
           column, name);
}
