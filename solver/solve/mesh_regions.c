// SPDX-License-Identifier: GPL-3.0-or-later
// Regions that a cell names and the mesh file has not, and surfaces whose names nobody asked for.
#include "solve/mesh_regions.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/base.h"
#include "base/nearest_word.h"
#include "cell/region_place.h"

static bool has_elements(const cavum_mesh *mesh, cavum_index region) {
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (mesh->elements[e].region == region) return true;
  }
  return false;
}

// Names of regions, quoted, as many as there is room for; the last of them are dots.
static void list_names(char *text, size_t size, const cavum_mesh *mesh, cavum_index without) {
  size_t used = 0;
  text[0] = '\0';
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    const char *name = mesh->regions[i].name;
    if (i == without || !*name) continue;
    if (used + strlen(name) + sizeof ", \"\", ..." > size) {
      snprintf(text + used, size - used, "%s...", used > 0 ? ", " : "");
      return;
    }
    used += (size_t)snprintf(text + used, size - used, "%s\"%s\"", used > 0 ? ", " : "", name);
  }
}

static cavum_status refuse(const cavum_cell *cell, const cavum_mesh *mesh, cavum_index region,
                           cavum_error *error) {
  char place[CAVUM_REGION_PLACE_SIZE], names[160], hint[CAVUM_NEAREST_SIZE];
  cavum_nearest nearest = {0};
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    if (i == region || !has_elements(mesh, i)) continue;
    cavum_nearest_offer(&nearest, cell->mesh.regions[region].name, mesh->regions[i].name);
  }
  cavum_cell_region_place(place, cell, region);
  list_names(names, sizeof names, mesh, region);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: the mesh file has no surface of this name%s%s%s",
                    place, cavum_nearest_write(hint, &nearest, ""), *names ? "; it has " : "",
                    names);
}

cavum_status cavum_mesh_regions_check(const cavum_cell *cell, const cavum_mesh *mesh,
                                      cavum_error *error) {
  for (cavum_index i = 0; i < cell->mesh.num_regions && i < mesh->num_regions; i++) {
    if (!has_elements(mesh, i)) return refuse(cell, mesh, i, error);
  }
  return CAVUM_OK;
}

void cavum_mesh_regions_note(char note[CAVUM_MESH_REGIONS_NOTE_SIZE], const cavum_cell *cell,
                             const cavum_mesh *mesh) {
  char names[120];
  bool tells = false;
  note[0] = '\0';
  if (cell->kind != CAVUM_CONTOUR_MESH_FILE || cell->mesh.num_regions > 0) return;
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    const char *name = mesh->regions[i].name;
    tells = tells || (*name && strcasecmp(name, "vacuum") != 0);
  }
  if (!tells) return;
  list_names(names, sizeof names, mesh, -1);
  snprintf(note, CAVUM_MESH_REGIONS_NOTE_SIZE,
           "contour.regions states no materials: all surfaces of the mesh file (%s) are taken as "
           "vacuum",
           names);
}
