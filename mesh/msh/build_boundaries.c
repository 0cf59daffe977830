// SPDX-License-Identifier: GPL-3.0-or-later
// Boundary kinds of a MSH file: from physical curves where there are any; what they leave open is
// axis on r = 0 and metal elsewhere, and the notes say so.
#include <stdio.h>
#include <string.h>

#include "base/nearest_word.h"
#include "msh/build.h"

enum { NAME_SIZE = 64 };

// A boundary edge by its vertices in ascending order, and what the file says of it.
typedef struct outer_edge {
  cavum_index low, high, edge;
  cavum_boundary boundary;
  int32_t unknown_block;  // block whose group names mean nothing, or -1
} outer_edge;

// The boundary edges and what was counted on the way.
typedef struct mesh_outline {
  outer_edge *edges;  // owned, sorted by vertices
  int64_t num_edges;
  int64_t num_grouped_lines;  // lines in a physical group
  int64_t num_inner_lines;    // of those, lines off the boundary with the name of a boundary
} mesh_outline;

static int compare_edges(const void *left, const void *right) {
  const outer_edge *a = left, *b = right;
  if (a->low != b->low) return a->low < b->low ? -1 : 1;
  return a->high < b->high ? -1 : a->high > b->high;
}

static cavum_status collect_outline(const cavum_msh_build *build, mesh_outline *outline) {
  const cavum_mesh *mesh = &build->mesh;
  outline->edges = cavum_alloc(mesh->num_edges, sizeof *outline->edges);
  if (!outline->edges) return cavum_fail_memory(build->error);
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    if (edge->element[1] >= 0) continue;
    cavum_index a = edge->vertex[0], b = edge->vertex[1];
    outline->edges[outline->num_edges++] =
        (outer_edge){a < b ? a : b, a < b ? b : a, i, CAVUM_BOUNDARY_NONE, -1};
  }
  qsort(outline->edges, (size_t)outline->num_edges, sizeof *outline->edges, compare_edges);
  return CAVUM_OK;
}

static const char *group_name(char buffer[NAME_SIZE], const cavum_msh_raw *raw, int32_t tag) {
  const char *name = cavum_msh_raw_find_name(raw, 1, tag);
  if (name) return name;
  snprintf(buffer, NAME_SIZE, "%d", (int)tag);
  return buffer;
}

static cavum_boundary boundary_of_name(const cavum_mesh_source *source, const char *name) {
  for (cavum_index i = 0; i < source->num_boundaries; i++) {
    if (strcmp(source->boundaries[i].name, name) == 0) return source->boundaries[i].boundary;
  }
  for (int kind = CAVUM_BOUNDARY_METAL; kind <= CAVUM_BOUNDARY_SYMMETRY; kind++) {
    if (strcmp(cavum_boundary_name((cavum_boundary)kind), name) == 0) return (cavum_boundary)kind;
  }
  return CAVUM_BOUNDARY_NONE;
}

static cavum_status refuse_two_kinds(const cavum_msh_build *build, cavum_boundary a,
                                     cavum_boundary b) {
  return cavum_msh_refuse(build, "a curve is both %s and %s", cavum_boundary_name(a),
                          cavum_boundary_name(b));
}

// Boundary kind of each block of lines; NONE when no group name is known.
static cavum_status classify_blocks(const cavum_msh_build *build, cavum_boundary *kinds) {
  const cavum_msh_raw *raw = build->raw;
  for (int64_t b = 0; b < raw->num_blocks; b++) {
    const cavum_msh_block *block = &raw->blocks[b];
    kinds[b] = CAVUM_BOUNDARY_NONE;
    for (int64_t i = 0; block->dim == 1 && i < block->num_physicals; i++) {
      char buffer[NAME_SIZE];
      int32_t tag = raw->physicals[block->first_physical + i];
      cavum_boundary kind = boundary_of_name(build->source, group_name(buffer, raw, tag));
      if (kind == CAVUM_BOUNDARY_NONE || kind == kinds[b]) continue;
      if (kinds[b] != CAVUM_BOUNDARY_NONE) return refuse_two_kinds(build, kinds[b], kind);
      kinds[b] = kind;
    }
  }
  return CAVUM_OK;
}

static cavum_status apply_lines(const cavum_msh_build *build, mesh_outline *outline,
                                const cavum_boundary *kinds) {
  const cavum_msh_raw *raw = build->raw;
  for (int64_t i = 0; i < raw->num_lines; i++) {
    const cavum_msh_element *line = &raw->lines[i];
    if (raw->blocks[line->block].num_physicals == 0) continue;
    outline->num_grouped_lines++;
    cavum_index a = build->vertex[raw->connectivity[line->first]];
    cavum_index b = build->vertex[raw->connectivity[line->first + 1]];
    outer_edge key = {.low = a < b ? a : b, .high = a < b ? b : a};
    outer_edge *found =
        bsearch(&key, outline->edges, (size_t)outline->num_edges, sizeof key, compare_edges);
    cavum_boundary kind = kinds[line->block];
    if (!found) {
      outline->num_inner_lines += kind != CAVUM_BOUNDARY_NONE;
    } else if (kind == CAVUM_BOUNDARY_NONE) {
      found->unknown_block = line->block;
    } else if (found->boundary != CAVUM_BOUNDARY_NONE && found->boundary != kind) {
      return refuse_two_kinds(build, found->boundary, kind);
    } else {
      found->boundary = kind;
    }
  }
  return CAVUM_OK;
}

// Names of curves without a line in them: the file was saved in a way that lost the groups.
static cavum_status check_lost_groups(const cavum_msh_build *build, const mesh_outline *outline) {
  const cavum_msh_raw *raw = build->raw;
  for (int64_t i = 0; outline->num_grouped_lines == 0 && i < raw->num_names; i++) {
    if (raw->names[i].dim == 1) {
      return cavum_msh_refuse(
          build,
          "physical curve \"%.60s\" is named but no line of the file belongs to "
          "it; expected boundary lines in physical groups, or no such names",
          raw->names[i].name);
    }
  }
  return CAVUM_OK;
}

static bool has_curve(const cavum_msh_raw *raw, const char *name) {
  for (int64_t b = 0; b < raw->num_blocks; b++) {
    const cavum_msh_block *block = &raw->blocks[b];
    for (int64_t i = 0; block->dim == 1 && i < block->num_physicals; i++) {
      char buffer[NAME_SIZE];
      int32_t tag = raw->physicals[block->first_physical + i];
      if (strcmp(group_name(buffer, raw, tag), name) == 0) return true;
    }
  }
  return false;
}

// A curve that the cell file names and the mesh file has not: the one that was meant would have a
// kind that nobody stated.
static cavum_status refuse_curve(const cavum_msh_build *build, const cavum_boundary_name_map *map) {
  const cavum_msh_raw *raw = build->raw;
  char names[160] = "", hint[CAVUM_NEAREST_SIZE];
  size_t used = 0;
  cavum_nearest nearest = {0};
  for (int64_t i = 0; i < raw->num_names; i++) {
    const char *name = raw->names[i].name;
    if (raw->names[i].dim != 1 || strcmp(name, map->name) == 0) continue;
    cavum_nearest_offer(&nearest, map->name, name);
    if (used + strlen(name) + sizeof ", \"\", ..." > sizeof names) continue;
    used +=
        (size_t)snprintf(names + used, sizeof names - used, "%s\"%s\"", used > 0 ? ", " : "", name);
  }
  return cavum_msh_refuse(build,
                          "the cell file says that curve \"%.60s\" is %s, but the mesh file has no "
                          "physical curve of this name%s; it has %s",
                          map->name, cavum_boundary_name(map->boundary),
                          cavum_nearest_write(hint, &nearest, ""), used > 0 ? names : "none");
}

static cavum_status check_names(const cavum_msh_build *build) {
  const cavum_mesh_source *source = build->source;
  for (cavum_index i = 0; i < source->num_boundaries; i++) {
    if (!has_curve(build->raw, source->boundaries[i].name)) {
      return refuse_curve(build, &source->boundaries[i]);
    }
  }
  return CAVUM_OK;
}

static bool is_on_axis(const cavum_mesh *mesh, const cavum_edge *edge) {
  const cavum_element *element = &mesh->elements[edge->element[0]];
  for (int m = 0; m <= mesh->node_order; m++) {
    int node = cavum_msh_lattice_edge(element->num_corners, mesh->node_order, edge->local[0], m);
    if (mesh->nodes[element->first_node + node].r_m != 0.0) return false;
  }
  return true;
}

static const char *nearest_kind(char hint[CAVUM_NEAREST_SIZE], const char *name) {
  static const char *const kinds[] = {"metal", "electric", "magnetic", "axis"};
  cavum_nearest nearest = {0};
  for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
    cavum_nearest_offer(&nearest, name, kinds[i]);
  }
  return cavum_nearest_write(hint, &nearest, "");
}

static cavum_status check_edge(const cavum_msh_build *build, const outer_edge *outer) {
  const cavum_mesh *mesh = &build->mesh;
  const cavum_edge *edge = &mesh->edges[outer->edge];
  const cavum_point *at = &mesh->vertices[edge->vertex[0]];
  double unit_m = build->source->unit_m;
  bool on_axis = is_on_axis(mesh, edge);
  if (outer->boundary == CAVUM_BOUNDARY_NONE && outer->unknown_block >= 0) {
    char buffer[NAME_SIZE], hint[CAVUM_NEAREST_SIZE];
    const cavum_msh_block *block = &build->raw->blocks[outer->unknown_block];
    int32_t tag = build->raw->physicals[block->first_physical];
    return cavum_msh_refuse(
        build,
        "physical curve \"%.60s\" is not a boundary kind; expected metal, electric, "
        "magnetic, axis, or a name that the cell file maps to one of them%s",
        group_name(buffer, build->raw, tag),
        nearest_kind(hint, group_name(buffer, build->raw, tag)));
  }
  if (outer->boundary == CAVUM_BOUNDARY_AXIS && !on_axis) {
    return cavum_msh_refuse(
        build, "an edge in \"axis\" begins at z = %g, r = %g; expected r = 0 all along",
        at->z_m / unit_m, at->r_m / unit_m);
  }
  if (on_axis && outer->boundary != CAVUM_BOUNDARY_NONE && outer->boundary != CAVUM_BOUNDARY_AXIS) {
    return cavum_msh_refuse(build, "an edge on r = 0 at z = %g is %s; expected axis",
                            at->z_m / unit_m, cavum_boundary_name(outer->boundary));
  }
  return CAVUM_OK;
}

// Place of an edge along a slanted direction, for finding edges at the same place.
typedef struct slanted {
  double place;
  cavum_index edge;
  bool open;  // no physical group
} slanted;

static int compare_slanted(const void *left, const void *right) {
  const slanted *a = left, *b = right;
  if (a->place != b->place) return a->place < b->place ? -1 : 1;
  return a->edge < b->edge ? -1 : a->edge > b->edge;
}

static bool same_place(const cavum_msh_build *build, cavum_index i, cavum_index j) {
  const cavum_mesh *mesh = &build->mesh;
  const cavum_edge *a = &mesh->edges[i], *b = &mesh->edges[j];
  for (int end = 0; end < 2; end++) {
    const cavum_point *p = &mesh->vertices[a->vertex[end]];
    const cavum_point *q = &mesh->vertices[b->vertex[1 - end]];
    if (fabs(p->z_m - q->z_m) + fabs(p->r_m - q->r_m) > build->tolerance_m) return false;
  }
  return true;
}

// Two boundary edges at the same place are a slit: the nodes of two parts of the mesh were never
// joined. With physical curves on both sides it is meant so; without it would silently become
// metal.
static cavum_status refuse_slits(const cavum_msh_build *build, const mesh_outline *outline) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &build->mesh;
  const int most_compared = 64;  // so that a hostile file cannot make this quadratic
  slanted *list = cavum_alloc(outline->num_edges, sizeof *list);
  if (!list) CAVUM_TRY(cavum_fail_memory(build->error));
  for (int64_t i = 0; i < outline->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[outline->edges[i].edge];
    const cavum_point *a = &mesh->vertices[edge->vertex[0]], *b = &mesh->vertices[edge->vertex[1]];
    list[i] = (slanted){0.5 * (a->z_m + b->z_m) + 0.3090169943749474 * (a->r_m + b->r_m),
                        outline->edges[i].edge, outline->edges[i].boundary == CAVUM_BOUNDARY_NONE};
  }
  qsort(list, (size_t)outline->num_edges, sizeof *list, compare_slanted);
  for (int64_t i = 0; i < outline->num_edges; i++) {
    for (int64_t j = i + 1; j < outline->num_edges && j <= i + most_compared; j++) {
      if (list[j].place - list[i].place > 2.0 * build->tolerance_m) break;
      if (!(list[i].open || list[j].open) || !same_place(build, list[i].edge, list[j].edge))
        continue;
      const cavum_point *at = &mesh->vertices[mesh->edges[list[i].edge].vertex[0]];
      CAVUM_TRY(cavum_msh_refuse(
          build,
          "elements touch at z = %g, r = %g without sharing nodes; expected joined parts, or "
          "physical curves on both sides of a slit",
          at->z_m / build->source->unit_m, at->r_m / build->source->unit_m));
    }
  }
done:
  free(list);
  return status;
}

static cavum_status check_joints(const cavum_msh_build *build, const mesh_outline *outline) {
  bool *open = cavum_alloc(build->mesh.num_edges, sizeof *open);
  if (!open) return cavum_fail_memory(build->error);
  for (int64_t i = 0; i < outline->num_edges; i++) {
    open[outline->edges[i].edge] = outline->edges[i].boundary == CAVUM_BOUNDARY_NONE;
  }
  cavum_status status = cavum_msh_build_joints(build, open);
  free(open);
  return status;
}

static void write_note(cavum_msh_build *build, const mesh_outline *outline, int64_t on_axis,
                       int64_t metal, cavum_index parts) {
  char *text = build->notes.boundaries;
  size_t size = sizeof build->notes.boundaries, used = 0;
  if (outline->num_grouped_lines == 0) {
    used =
        (size_t)snprintf(text, size,
                         "the mesh file has no physical curves: %lld edges on r = 0 taken as axis, "
                         "the %lld others as metal",
                         (long long)on_axis, (long long)metal);
  } else if (on_axis + metal > 0) {
    used = (size_t)snprintf(text, size,
                            "%lld boundary edges are in no physical curve: %lld on r = 0 taken as "
                            "axis, %lld as metal",
                            (long long)(on_axis + metal), (long long)on_axis, (long long)metal);
  }
  if (outline->num_inner_lines > 0 && used < size) {
    used += (size_t)snprintf(text + used, size - used,
                             "%s%lld lines of physical curves are not on the boundary: ignored",
                             used > 0 ? "; " : "", (long long)outline->num_inner_lines);
  }
  if (parts > 1 && used < size) {
    snprintf(text + used, size - used,
             "%sthe mesh has %lld parts that share no edge, each with modes of its own",
             used > 0 ? "; " : "", (long long)parts);
  }
}

cavum_status cavum_msh_build_boundaries(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  cavum_mesh *mesh = &build->mesh;
  mesh_outline outline = {NULL, 0, 0, 0};
  int64_t on_axis = 0, metal = 0;
  cavum_index parts = 1;
  cavum_boundary *kinds = cavum_alloc(build->raw->num_blocks, sizeof *kinds);
  if (!kinds) CAVUM_TRY(cavum_fail_memory(build->error));
  CAVUM_TRY(collect_outline(build, &outline));
  CAVUM_TRY(classify_blocks(build, kinds));
  CAVUM_TRY(apply_lines(build, &outline, kinds));
  CAVUM_TRY(check_lost_groups(build, &outline));
  CAVUM_TRY(check_names(build));
  for (int64_t i = 0; i < outline.num_edges; i++) CAVUM_TRY(check_edge(build, &outline.edges[i]));
  CAVUM_TRY(refuse_slits(build, &outline));
  CAVUM_TRY(check_joints(build, &outline));
  CAVUM_TRY(cavum_msh_build_count_parts(&parts, build));
  for (int64_t i = 0; i < outline.num_edges; i++) {
    cavum_edge *edge = &mesh->edges[outline.edges[i].edge];
    edge->boundary = outline.edges[i].boundary;
    if (edge->boundary != CAVUM_BOUNDARY_NONE) continue;
    bool axis = is_on_axis(mesh, edge);
    edge->boundary = axis ? CAVUM_BOUNDARY_AXIS : CAVUM_BOUNDARY_METAL;
    on_axis += axis;
    metal += !axis;
  }
  write_note(build, &outline, on_axis, metal, parts);
done:
  free(kinds);
  free(outline.edges);
  return status;
}
