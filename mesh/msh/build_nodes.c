// SPDX-License-Identifier: GPL-3.0-or-later
// Nodes of a MSH file: from tags to numbers, from file coordinates to the (z, r) half plane.
#include <string.h>

#include "base/stop.h"
#include "msh/build.h"

// Rounding of coordinates, relative to the size of the mesh: mesh generators place nodes on
// straight lines to about 1e-12, text files with few digits to 1e-10 or so.
static const double ROUNDING = 1e-9;

static int compare_nodes(const void *left, const void *right) {
  const cavum_msh_node *a = left, *b = right;
  return a->tag < b->tag ? -1 : a->tag > b->tag;
}

static int compare_elements(const void *left, const void *right) {
  const cavum_msh_element *a = left, *b = right;
  return a->tag < b->tag ? -1 : a->tag > b->tag;
}

// Sorting by tag makes the result independent of the order of the blocks in the file.
static cavum_status sort_by_tag(cavum_msh_build *build) {
  cavum_msh_raw *raw = build->raw;
  bool sorted = true;
  for (int64_t i = 1; sorted && i < raw->num_nodes; i++) {
    sorted = raw->nodes[i - 1].tag < raw->nodes[i].tag;
  }
  if (!sorted) qsort(raw->nodes, (size_t)raw->num_nodes, sizeof *raw->nodes, compare_nodes);
  for (int64_t i = 1; i < raw->num_nodes; i++) {
    if (raw->nodes[i - 1].tag == raw->nodes[i].tag) {
      return cavum_msh_refuse(build, "node tag %lld appears twice", (long long)raw->nodes[i].tag);
    }
  }
  sorted = true;
  for (int64_t i = 1; sorted && i < raw->num_faces; i++) {
    sorted = raw->faces[i - 1].tag < raw->faces[i].tag;
  }
  if (!sorted) qsort(raw->faces, (size_t)raw->num_faces, sizeof *raw->faces, compare_elements);
  for (int64_t i = 1; i < raw->num_faces; i++) {
    if (raw->faces[i - 1].tag == raw->faces[i].tag) {
      return cavum_msh_refuse(build, "element tag %lld appears twice",
                              (long long)raw->faces[i].tag);
    }
  }
  return CAVUM_OK;
}

// Meshers save what is in physical groups alone, once there are any.
static cavum_status refuse_no_faces(const cavum_msh_build *build) {
  const cavum_msh_raw *raw = build->raw;
  bool grouped_lines = false;
  for (int64_t b = 0; b < raw->num_blocks; b++) {
    grouped_lines = grouped_lines || (raw->blocks[b].dim == 1 && raw->blocks[b].num_physicals > 0);
  }
  return cavum_msh_refuse(build, "no triangles or quadrilaterals in the file%s",
                          grouped_lines
                              ? ", only lines of physical curves; expected a physical group for "
                                "the surfaces too, or all elements saved"
                              : "");
}

static cavum_status check_orders(cavum_msh_build *build) {
  const cavum_msh_raw *raw = build->raw;
  if (raw->num_faces == 0) return refuse_no_faces(build);
  const cavum_msh_element *first = &raw->faces[0];
  int64_t most = raw->num_faces * cavum_msh_num_nodes(4, first->order);
  if (raw->num_nodes >= INT32_MAX || most >= INT32_MAX / 2) {
    return cavum_msh_refuse(build, "more nodes than 32-bit numbers can count");
  }
  for (int64_t i = 1; i < raw->num_faces; i++) {
    if (raw->faces[i].order != first->order) {
      return cavum_msh_refuse(build,
                              "element %lld has order %d and element %lld order %d; expected "
                              "one order throughout",
                              (long long)first->tag, first->order, (long long)raw->faces[i].tag,
                              raw->faces[i].order);
    }
  }
  for (int64_t i = 0; i < raw->num_lines; i++) {
    if (raw->lines[i].order != first->order) {
      return cavum_msh_refuse(build,
                              "line element %lld has order %d, the triangles and quadrilaterals "
                              "order %d; expected one order throughout",
                              (long long)raw->lines[i].tag, raw->lines[i].order, first->order);
    }
  }
  build->mesh.node_order = first->order;
  return CAVUM_OK;
}

// Number of the node with a tag, or -1. `table` covers the tags from the first on, or is NULL.
static int64_t find_node(const cavum_msh_raw *raw, const int32_t *table, int64_t span,
                         int64_t tag) {
  if (raw->num_nodes == 0 || tag < raw->nodes[0].tag) return -1;
  if (table) return tag - raw->nodes[0].tag < span ? table[tag - raw->nodes[0].tag] : -1;
  cavum_msh_node key = {.tag = tag};
  const cavum_msh_node *found =
      bsearch(&key, raw->nodes, (size_t)raw->num_nodes, sizeof *raw->nodes, compare_nodes);
  return found ? found - raw->nodes : -1;
}

static cavum_status number_nodes_of(cavum_msh_build *build, const cavum_msh_element *elements,
                                    int64_t count, const int32_t *table, int64_t span) {
  const cavum_msh_raw *raw = build->raw;
  for (int64_t i = 0; i < count; i++) {
    if (cavum_stop_asked_at(i)) return cavum_stop_check(build->error);
    int64_t *nodes = &raw->connectivity[elements[i].first];
    int kept = elements[i].num_corners == 2 ? 2 : elements[i].num_nodes;
    for (int m = 0; m < kept; m++) {
      int64_t number = find_node(raw, table, span, nodes[m]);
      if (number < 0) {
        return cavum_msh_refuse(build, "element %lld uses node %lld, which the file does not have",
                                (long long)elements[i].tag, (long long)nodes[m]);
      }
      nodes[m] = number;
    }
  }
  return CAVUM_OK;
}

static cavum_status number_nodes(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  const cavum_msh_raw *raw = build->raw;
  int32_t *table = NULL;
  int64_t span =
      raw->num_nodes == 0 ? 0 : raw->nodes[raw->num_nodes - 1].tag - raw->nodes[0].tag + 1;
  if (span > 0 && span / 8 <= raw->num_nodes) {  // else the tags are scattered: bisection
    table = cavum_alloc(span, sizeof *table);
    if (!table) CAVUM_TRY(cavum_fail_memory(build->error));
    memset(table, -1, (size_t)span * sizeof *table);
    for (int64_t i = 0; i < raw->num_nodes; i++) {
      table[raw->nodes[i].tag - raw->nodes[0].tag] = (int32_t)i;
    }
  }
  CAVUM_TRY(number_nodes_of(build, raw->faces, raw->num_faces, table, span));
  CAVUM_TRY(number_nodes_of(build, raw->lines, raw->num_lines, table, span));
done:
  free(table);
  return status;
}

// Marks the nodes that elements use: 1, and corners: 2.
static void mark_used(const cavum_msh_build *build) {
  const cavum_msh_raw *raw = build->raw;
  for (int64_t i = 0; i < raw->num_faces && !cavum_stop_asked_at(i); i++) {
    const int64_t *nodes = &raw->connectivity[raw->faces[i].first];
    for (int m = raw->faces[i].num_nodes - 1; m >= 0; m--) {
      cavum_index *mark = &build->vertex[nodes[m]];
      if (m < raw->faces[i].num_corners) {
        *mark = 2;
      } else if (*mark == 0) {
        *mark = 1;
      }
    }
  }
}

// Which file coordinates are z and r: the axis is given, r is the other one that varies.
static cavum_status find_plane(cavum_msh_build *build, int *z, int *r) {
  const cavum_msh_raw *raw = build->raw;
  double low[3] = {INFINITY, INFINITY, INFINITY}, high[3] = {-INFINITY, -INFINITY, -INFINITY};
  for (int64_t i = 0; i < raw->num_nodes; i++) {
    for (int c = 0; build->vertex[i] && c < 3; c++) {
      low[c] = cavum_min(low[c], raw->nodes[i].x[c]);
      high[c] = cavum_max(high[c], raw->nodes[i].x[c]);
    }
  }
  // x, y or z: cavum_mesh_source_check() has seen it.
  *z = build->source->axis - 'x';
  int b = *z == 0 ? 1 : 0, c = *z == 2 ? 1 : 2;
  double size = cavum_max(cavum_max(high[0] - low[0], high[1] - low[1]), high[2] - low[2]);
  double in_b = cavum_max(fabs(low[b]), fabs(high[b])),
         in_c = cavum_max(fabs(low[c]), fabs(high[c]));
  if (in_c > ROUNDING * size && in_b > ROUNDING * size) {
    return cavum_msh_refuse(build,
                            "the mesh is not in a plane through the %c axis: both %c and %c "
                            "differ from zero; expected %c = 0 or %c = 0",
                            'x' + *z, 'x' + b, 'x' + c, 'x' + b, 'x' + c);
  }
  *r = in_c > ROUNDING * size ? c : b;
  double unit_m = build->source->unit_m;
  build->size_m = unit_m * cavum_max(high[*z] - low[*z], cavum_max(fabs(high[*r]), fabs(low[*r])));
  build->tolerance_m = ROUNDING * build->size_m;
  // Areas, and ratios of areas, must neither overflow nor vanish.
  double reach = cavum_max(build->size_m, unit_m * cavum_max(fabs(low[*z]), fabs(high[*z])));
  if (!(build->size_m > 1e-100 && reach < 1e100)) {
    return cavum_msh_refuse(build, "the mesh has no size, or one that no cavity has");
  }
  return CAVUM_OK;
}

static cavum_status place_points(cavum_msh_build *build, int z, int r) {
  const cavum_msh_raw *raw = build->raw;
  double unit_m = build->source->unit_m;
  for (int64_t i = 0; i < raw->num_nodes; i++) {
    if (cavum_stop_asked_at(i)) return cavum_stop_check(build->error);
    if (build->vertex[i] == 0) continue;
    cavum_point point = {unit_m * raw->nodes[i].x[z], unit_m * raw->nodes[i].x[r]};
    if (point.r_m < -build->tolerance_m) {
      return cavum_msh_refuse(build,
                              "node %lld lies below the axis: %c = %g; expected no negative %c "
                              "with the axis along %c",
                              (long long)raw->nodes[i].tag, 'x' + r, raw->nodes[i].x[r], 'x' + r,
                              'x' + z);
    }
    if (fabs(point.r_m) <= build->tolerance_m) point.r_m = 0.0;
    build->points[i] = point;
  }
  return CAVUM_OK;
}

static cavum_status place_vertices(cavum_msh_build *build) {
  cavum_index count;
  cavum_status status = cavum_msh_build_order(&count, build);
  if (status != CAVUM_OK) return status;
  cavum_mesh *mesh = &build->mesh;
  mesh->vertices = cavum_alloc(count, sizeof *mesh->vertices);
  if (!mesh->vertices) return cavum_fail_memory(build->error);
  mesh->num_vertices = count;
  for (int64_t i = 0; i < build->raw->num_nodes && !cavum_stop_asked_at(i); i++) {
    if (build->vertex[i] >= 0) mesh->vertices[build->vertex[i]] = build->points[i];
  }
  return CAVUM_OK;
}

cavum_status cavum_msh_build_nodes(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  int z = 0, r = 0;
  status = sort_by_tag(build);
  if (status == CAVUM_OK) status = check_orders(build);
  if (status == CAVUM_OK) status = cavum_stop_check(build->error);
  if (status == CAVUM_OK) status = number_nodes(build);
  if (status == CAVUM_OK) status = cavum_stop_check(build->error);
  if (status != CAVUM_OK) return status;
  build->points = cavum_alloc(build->raw->num_nodes, sizeof *build->points);
  build->vertex = cavum_alloc(build->raw->num_nodes, sizeof *build->vertex);
  if (!build->points || !build->vertex) return cavum_fail_memory(build->error);
  mark_used(build);
  status = cavum_stop_check(build->error);
  if (status != CAVUM_OK) return status;
  status = find_plane(build, &z, &r);
  if (status == CAVUM_OK) status = place_points(build, z, r);
  if (status == CAVUM_OK) status = place_vertices(build);
  return status == CAVUM_OK ? cavum_stop_check(build->error) : status;
}
