// SPDX-License-Identifier: GPL-3.0-or-later
// Sections of version 4.1: nodes and elements come in blocks, one an entity, and the entities carry
// the physical groups. Partitioned files repeat the entities in pieces, with groups of their own.
#include "base/stop.h"
#include "msh/parse.h"

// Physical groups of one entity: every block of the entity looks through them.
enum { MOST_GROUPS = 100 };

// Reads a count and then that many ints, which are not kept.
static cavum_status skip_int_list(cavum_msh_cursor *cursor, const char *what) {
  cavum_status status = CAVUM_OK;
  int64_t count, value;
  status = cavum_msh_read_size(cursor, &count, what);
  if (status == CAVUM_OK) status = cavum_msh_check_count(cursor, count, 1, 0, 0, what);
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < count; i++) {
    status = cavum_msh_read_int(cursor, &value, what);
    if (status != CAVUM_OK) return status;
  }
  return status;
}

static cavum_status parse_physicals(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                    cavum_msh_entity *entity) {
  cavum_status status = CAVUM_OK;
  int64_t count, tag;
  status = cavum_msh_read_size(cursor, &count, "the number of physical groups");
  if (status == CAVUM_OK) status = cavum_msh_check_count(cursor, count, 1, 0, 0, "physical groups");
  if (status != CAVUM_OK) return status;
  if (count > MOST_GROUPS) {
    return cavum_msh_fail(cursor, cursor->at,
                          "an entity in %lld physical groups; expected %d at most",
                          (long long)count, MOST_GROUPS);
  }
  entity->first_physical = raw->num_physicals;
  for (int64_t i = 0; i < count; i++) {
    status = cavum_msh_read_int(cursor, &tag, "a physical group");
    if (status == CAVUM_OK) status = cavum_msh_add_physical(raw, cursor, tag);
    if (status != CAVUM_OK) return status;
  }
  entity->num_physicals = count;
  return status;
}

static cavum_status parse_entity(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int dim,
                                 bool partitioned) {
  cavum_status status = CAVUM_OK;
  cavum_msh_entity entity = {.dim = dim};
  int64_t parent_dim = dim, parent_tag;
  double coordinate;
  status = cavum_msh_read_int(cursor, &entity.tag, "the tag of an entity");
  if (status != CAVUM_OK) return status;
  if (partitioned) {
    status = cavum_msh_read_int(cursor, &parent_dim, "the dimension of a parent entity");
    if (status == CAVUM_OK) {
      status = cavum_msh_read_int(cursor, &parent_tag, "the tag of a parent entity");
    }
    if (status == CAVUM_OK) status = skip_int_list(cursor, "partitions of an entity");
    if (status != CAVUM_OK) return status;
  }
  for (int i = 0; i < (dim == 0 ? 3 : 6); i++) {
    status = cavum_msh_read_real(cursor, &coordinate, "the extent of an entity");
    if (status != CAVUM_OK) return status;
  }
  status = parse_physicals(raw, cursor, &entity);
  if (status == CAVUM_OK && dim > 0) status = skip_int_list(cursor, "bounding entities");
  if (status != CAVUM_OK) return status;
  // A seam between partitions carries the groups of the surface it cuts, which are no groups of
  // curves.
  if (parent_dim != dim) entity.num_physicals = 0;
  if (!cavum_grow((void **)&raw->entities, &raw->entity_capacity, raw->num_entities + 1,
                  sizeof *raw->entities)) {
    return cavum_fail_memory(cursor->error);
  }
  raw->entities[raw->num_entities++] = entity;
  return status;
}

static cavum_status skip_partition_header(cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t count, value;
  status = cavum_msh_read_size(cursor, &count, "the number of partitions");
  if (status == CAVUM_OK) {
    status = cavum_msh_read_size(cursor, &count, "the number of ghost entities");
  }
  if (status == CAVUM_OK) status = cavum_msh_check_count(cursor, count, 2, 0, 0, "ghost entities");
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < 2 * count; i++) {
    status = cavum_msh_read_int(cursor, &value, "a ghost entity");
    if (status != CAVUM_OK) return status;
  }
  return status;
}

cavum_status cavum_msh_parse_entities_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                        bool partitioned) {
  cavum_status status = CAVUM_OK;
  int64_t counts[4];
  if (partitioned) {
    status = skip_partition_header(cursor);
    if (status != CAVUM_OK) return status;
  }
  for (int dim = 0; dim < 4; dim++) {
    status = cavum_msh_read_size(cursor, &counts[dim], "the number of entities");
    if (status == CAVUM_OK) {
      status = cavum_msh_check_count(cursor, counts[dim], 1, 1, 3, "entities");
    }
    if (status != CAVUM_OK) return status;
  }
  for (int dim = 0; dim < 4; dim++) {
    for (int64_t i = 0; i < counts[dim]; i++) {
      status = parse_entity(raw, cursor, dim, partitioned);
      if (status != CAVUM_OK) return status;
    }
  }
  return status;
}

// The first line of $Nodes and $Elements: blocks, items, smallest and largest tag.
static cavum_status parse_totals(cavum_msh_cursor *cursor, int64_t *blocks, int64_t *items) {
  cavum_status status = CAVUM_OK;
  int64_t smallest, largest;
  status = cavum_msh_read_size(cursor, blocks, "the number of blocks");
  if (status == CAVUM_OK) status = cavum_msh_read_size(cursor, items, "the number of items");
  if (status == CAVUM_OK) status = cavum_msh_read_size(cursor, &smallest, "the smallest tag");
  if (status == CAVUM_OK) status = cavum_msh_read_size(cursor, &largest, "the largest tag");
  if (status == CAVUM_OK) status = cavum_msh_check_count(cursor, *blocks, 3, 1, 0, "blocks");
  return status;
}

static cavum_status parse_node_block(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t dim, entity, parametric, count;
  double parameter;
  status = cavum_msh_read_int(cursor, &dim, "the dimension of an entity");
  if (status == CAVUM_OK) status = cavum_msh_read_int(cursor, &entity, "the tag of an entity");
  if (status == CAVUM_OK) status = cavum_msh_read_int(cursor, &parametric, "0 or 1 for parametric");
  if (status != CAVUM_OK) return status;
  if (dim < 0 || dim > 3 || parametric < 0 || parametric > 1) {
    return cavum_msh_fail(cursor, cursor->last,
                          "a block of nodes of dimension %lld, parametric %lld", (long long)dim,
                          (long long)parametric);
  }
  status = cavum_msh_read_size(cursor, &count, "the number of nodes");
  if (status == CAVUM_OK) status = cavum_msh_check_count(cursor, count, 0, 1, 3, "nodes");
  if (status != CAVUM_OK) return status;
  if (count == 0) return status;
  status = cavum_msh_reserve_nodes(raw, cursor, count);
  if (status != CAVUM_OK) return status;
  cavum_msh_node *nodes = &raw->nodes[raw->num_nodes];
  for (int64_t i = 0; i < count; i++) {
    status = cavum_msh_read_size(cursor, &nodes[i].tag, "a node tag");
    if (status == CAVUM_OK) status = cavum_msh_check_tag(cursor, nodes[i].tag, "node tag");
    if (status != CAVUM_OK) return status;
  }
  for (int64_t i = 0; i < count; i++) {
    if (cavum_stop_asked_at(i)) return cavum_stop_check(cursor->error);
    for (int c = 0; c < 3; c++) {
      status = cavum_msh_read_real(cursor, &nodes[i].x[c], "a coordinate of a node");
      if (status != CAVUM_OK) return status;
    }
    for (int64_t c = 0; parametric && c < dim; c++) {
      status = cavum_msh_read_real(cursor, &parameter, "a parameter of a node");
      if (status != CAVUM_OK) return status;
    }
  }
  raw->num_nodes += count;
  return status;
}

cavum_status cavum_msh_parse_nodes_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t blocks, items, before = raw->num_nodes;
  size_t at = cursor->at;
  status = parse_totals(cursor, &blocks, &items);
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < blocks; i++) {
    status = parse_node_block(raw, cursor);
    if (status != CAVUM_OK) return status;
  }
  if (raw->num_nodes - before != items) {
    return cavum_msh_fail(cursor, at, "%lld nodes announced, %lld in the blocks", (long long)items,
                          (long long)(raw->num_nodes - before));
  }
  return status;
}

static cavum_status parse_element_block(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                        int64_t *items) {
  cavum_status status = CAVUM_OK;
  int64_t dim, entity, number, count, tag;
  cavum_msh_type type;
  if (!cursor->binary) cavum_msh_skip_blanks(cursor);
  size_t at = cursor->at;
  status = cavum_msh_read_int(cursor, &dim, "the dimension of an entity");
  if (status == CAVUM_OK) status = cavum_msh_read_int(cursor, &entity, "the tag of an entity");
  if (status == CAVUM_OK) status = cavum_msh_read_int(cursor, &number, "an element type");
  if (status == CAVUM_OK) status = cavum_msh_check_type(&type, cursor, number);
  if (status == CAVUM_OK) status = cavum_msh_read_size(cursor, &count, "the number of elements");
  if (status == CAVUM_OK) {
    status = cavum_msh_check_count(cursor, count, 0, 1 + type.num_nodes, 0, "elements");
  }
  if (status != CAVUM_OK) return status;
  if (dim != (type.num_corners < 3 ? type.num_corners - 1 : 2)) {
    return cavum_msh_fail(cursor, at, "elements of type %lld on an entity of dimension %lld",
                          (long long)number, (long long)dim);
  }
  if (count > 0) {
    status = cavum_msh_add_block(raw, cursor, (int)dim, entity);
    if (status != CAVUM_OK) return status;
  }
  for (int64_t i = 0; i < count; i++) {
    status = cavum_msh_read_size(cursor, &tag, "an element tag");
    if (status == CAVUM_OK) status = cavum_msh_check_tag(cursor, tag, "element tag");
    if (status == CAVUM_OK) status = cavum_msh_read_element(raw, cursor, &type, tag);
    if (status != CAVUM_OK) return status;
  }
  *items += count;
  return status;
}

cavum_status cavum_msh_parse_elements_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t blocks, items, found = 0;
  size_t at = cursor->at;
  status = parse_totals(cursor, &blocks, &items);
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < blocks; i++) {
    status = parse_element_block(raw, cursor, &found);
    if (status != CAVUM_OK) return status;
  }
  if (found != items) {
    return cavum_msh_fail(cursor, at, "%lld elements announced, %lld in the blocks",
                          (long long)items, (long long)found);
  }
  return status;
}
