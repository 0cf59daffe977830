// SPDX-License-Identifier: GPL-3.0-or-later
// Storage of patches.
#include "mesher/patches.h"

#include <string.h>

#include "base/base.h"

void cavum_patches_clear(cavum_patches *patches) {
  if (!patches) return;
  free(patches->vertices);
  free(patches->patches);
  memset(patches, 0, sizeof *patches);
}

cavum_index cavum_patches_add_vertex(cavum_patches *patches, cavum_point point) {
  if (!cavum_grow((void **)&patches->vertices, &patches->vertex_capacity,
                  (int64_t)patches->num_vertices + 1, sizeof *patches->vertices)) {
    return -1;
  }
  patches->vertices[patches->num_vertices] = point;
  return patches->num_vertices++;
}

bool cavum_patches_add(cavum_patches *patches, const cavum_patch *patch) {
  if (!cavum_grow((void **)&patches->patches, &patches->patch_capacity,
                  (int64_t)patches->num_patches + 1, sizeof *patches->patches)) {
    return false;
  }
  patches->patches[patches->num_patches++] = *patch;
  return true;
}
