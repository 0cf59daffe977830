// SPDX-License-Identifier: GPL-3.0-or-later
// Sections of version 4.1: nodes and elements come in blocks, one an entity, and the entities carry
// the physical groups. Partitioned files repeat the entities in pieces, with groups of their own.
#include "msh/parse.h"

// Physical groups of one entity: every block of the entity looks through them.
enum { MOST_GROUPS = 100 };

// Reads a count and then that many ints, which are not kept.
static cavum_status skip_int_list(cavum_msh_cursor *cursor, const char *what) {
  cavum_status status = CAVUM_OK;
  int64_t count, value;
  CAVUM_TRY(cavum_msh_read_size(cursor, &count, what));
  CAVUM_TRY(cavum_msh_check_count(cursor, count, 1, 0, 0, what));
  for (int64_t i = 0; i < count; i++) CAVUM_TRY(cavum_msh_read_int(cursor, &value, what));
done:
  return status;
}

static cavum_status parse_physicals(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                    cavum_msh_entity *entity) {
  cavum_status status = CAVUM_OK;
  int64_t count, tag;
  CAVUM_TRY(cavum_msh_read_size(cursor, &count, "the number of physical groups"));
  CAVUM_TRY(cavum_msh_check_count(cursor, count, 1, 0, 0, "physical groups"));
  if (count > MOST_GROUPS) {
    CAVUM_TRY(cavum_msh_fail(cursor, cursor->at,
                             "an entity in %lld physical groups; expected %d at most",
                             (long long)count, MOST_GROUPS));
  }
  entity->first_physical = raw->num_physicals;
  for (int64_t i = 0; i < count; i++) {
    CAVUM_TRY(cavum_msh_read_int(cursor, &tag, "a physical group"));
    CAVUM_TRY(cavum_msh_add_physical(raw, cursor, tag));
  }
  entity->num_physicals = count;
done:
  return status;
}

static cavum_status parse_entity(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int dim,
                                 bool partitioned) {
  cavum_status status = CAVUM_OK;
  cavum_msh_entity entity = {.dim = dim};
  int64_t parent_dim = dim, parent_tag;
  double coordinate;
  CAVUM_TRY(cavum_msh_read_int(cursor, &entity.tag, "the tag of an entity"));
  if (partitioned) {
    CAVUM_TRY(cavum_msh_read_int(cursor, &parent_dim, "the dimension of a parent entity"));
    CAVUM_TRY(cavum_msh_read_int(cursor, &parent_tag, "the tag of a parent entity"));
    CAVUM_TRY(skip_int_list(cursor, "partitions of an entity"));
  }
  for (int i = 0; i < (dim == 0 ? 3 : 6); i++) {
    CAVUM_TRY(cavum_msh_read_real(cursor, &coordinate, "the extent of an entity"));
  }
  CAVUM_TRY(parse_physicals(raw, cursor, &entity));
  if (dim > 0) CAVUM_TRY(skip_int_list(cursor, "bounding entities"));
  // A seam between partitions carries the groups of the surface it cuts, which are no groups of
  // curves.
  if (parent_dim != dim) entity.num_physicals = 0;
  if (!cavum_grow((void **)&raw->entities, &raw->entity_capacity, raw->num_entities + 1,
                  sizeof *raw->entities)) {
    CAVUM_TRY(cavum_fail_memory(cursor->error));
  }
  raw->entities[raw->num_entities++] = entity;
done:
  return status;
}

static cavum_status skip_partition_header(cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t count, value;
  CAVUM_TRY(cavum_msh_read_size(cursor, &count, "the number of partitions"));
  CAVUM_TRY(cavum_msh_read_size(cursor, &count, "the number of ghost entities"));
  CAVUM_TRY(cavum_msh_check_count(cursor, count, 2, 0, 0, "ghost entities"));
  for (int64_t i = 0; i < 2 * count; i++) {
    CAVUM_TRY(cavum_msh_read_int(cursor, &value, "a ghost entity"));
  }
done:
  return status;
}

cavum_status cavum_msh_parse_entities_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                        bool partitioned) {
  cavum_status status = CAVUM_OK;
  int64_t counts[4];
  if (partitioned) CAVUM_TRY(skip_partition_header(cursor));
  for (int dim = 0; dim < 4; dim++) {
    CAVUM_TRY(cavum_msh_read_size(cursor, &counts[dim], "the number of entities"));
    CAVUM_TRY(cavum_msh_check_count(cursor, counts[dim], 1, 1, 3, "entities"));
  }
  for (int dim = 0; dim < 4; dim++) {
    for (int64_t i = 0; i < counts[dim]; i++) {
      CAVUM_TRY(parse_entity(raw, cursor, dim, partitioned));
    }
  }
done:
  return status;
}

// The first line of $Nodes and $Elements: blocks, items, smallest and largest tag.
static cavum_status parse_totals(cavum_msh_cursor *cursor, int64_t *blocks, int64_t *items) {
  cavum_status status = CAVUM_OK;
  int64_t smallest, largest;
  CAVUM_TRY(cavum_msh_read_size(cursor, blocks, "the number of blocks"));
  CAVUM_TRY(cavum_msh_read_size(cursor, items, "the number of items"));
  CAVUM_TRY(cavum_msh_read_size(cursor, &smallest, "the smallest tag"));
  CAVUM_TRY(cavum_msh_read_size(cursor, &largest, "the largest tag"));
  CAVUM_TRY(cavum_msh_check_count(cursor, *blocks, 3, 1, 0, "blocks"));
done:
  return status;
}

static cavum_status parse_node_block(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t dim, entity, parametric, count;
  double parameter;
  CAVUM_TRY(cavum_msh_read_int(cursor, &dim, "the dimension of an entity"));
  CAVUM_TRY(cavum_msh_read_int(cursor, &entity, "the tag of an entity"));
  CAVUM_TRY(cavum_msh_read_int(cursor, &parametric, "0 or 1 for parametric"));
  if (dim < 0 || dim > 3 || parametric < 0 || parametric > 1) {
    CAVUM_TRY(cavum_msh_fail(cursor, cursor->last,
                             "a block of nodes of dimension %lld, parametric %lld", (long long)dim,
                             (long long)parametric));
  }
  CAVUM_TRY(cavum_msh_read_size(cursor, &count, "the number of nodes"));
  CAVUM_TRY(cavum_msh_check_count(cursor, count, 0, 1, 3, "nodes"));
  if (count == 0) goto done;
  CAVUM_TRY(cavum_msh_reserve_nodes(raw, cursor, count));
  cavum_msh_node *nodes = &raw->nodes[raw->num_nodes];
  for (int64_t i = 0; i < count; i++) {
    CAVUM_TRY(cavum_msh_read_size(cursor, &nodes[i].tag, "a node tag"));
    CAVUM_TRY(cavum_msh_check_tag(cursor, nodes[i].tag, "node tag"));
  }
  for (int64_t i = 0; i < count; i++) {
    for (int c = 0; c < 3; c++) {
      CAVUM_TRY(cavum_msh_read_real(cursor, &nodes[i].x[c], "a coordinate of a node"));
    }
    for (int64_t c = 0; parametric && c < dim; c++) {
      CAVUM_TRY(cavum_msh_read_real(cursor, &parameter, "a parameter of a node"));
    }
  }
  raw->num_nodes += count;
done:
  return status;
}

cavum_status cavum_msh_parse_nodes_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t blocks, items, before = raw->num_nodes;
  size_t at = cursor->at;
  CAVUM_TRY(parse_totals(cursor, &blocks, &items));
  for (int64_t i = 0; i < blocks; i++) CAVUM_TRY(parse_node_block(raw, cursor));
  if (raw->num_nodes - before != items) {
    CAVUM_TRY(cavum_msh_fail(cursor, at, "%lld nodes announced, %lld in the blocks",
                             (long long)items, (long long)(raw->num_nodes - before)));
  }
done:
  return status;
}

static cavum_status parse_element_block(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                        int64_t *items) {
  cavum_status status = CAVUM_OK;
  int64_t dim, entity, number, count, tag;
  cavum_msh_type type;
  if (!cursor->binary) cavum_msh_skip_blanks(cursor);
  size_t at = cursor->at;
  CAVUM_TRY(cavum_msh_read_int(cursor, &dim, "the dimension of an entity"));
  CAVUM_TRY(cavum_msh_read_int(cursor, &entity, "the tag of an entity"));
  CAVUM_TRY(cavum_msh_read_int(cursor, &number, "an element type"));
  CAVUM_TRY(cavum_msh_check_type(&type, cursor, number));
  CAVUM_TRY(cavum_msh_read_size(cursor, &count, "the number of elements"));
  CAVUM_TRY(cavum_msh_check_count(cursor, count, 0, 1 + type.num_nodes, 0, "elements"));
  if (dim != (type.num_corners < 3 ? type.num_corners - 1 : 2)) {
    CAVUM_TRY(cavum_msh_fail(cursor, at, "elements of type %lld on an entity of dimension %lld",
                             (long long)number, (long long)dim));
  }
  if (count > 0) CAVUM_TRY(cavum_msh_add_block(raw, cursor, (int)dim, entity));
  for (int64_t i = 0; i < count; i++) {
    CAVUM_TRY(cavum_msh_read_size(cursor, &tag, "an element tag"));
    CAVUM_TRY(cavum_msh_check_tag(cursor, tag, "element tag"));
    CAVUM_TRY(cavum_msh_read_element(raw, cursor, &type, tag));
  }
  *items += count;
done:
  return status;
}

cavum_status cavum_msh_parse_elements_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t blocks, items, found = 0;
  size_t at = cursor->at;
  CAVUM_TRY(parse_totals(cursor, &blocks, &items));
  for (int64_t i = 0; i < blocks; i++) CAVUM_TRY(parse_element_block(raw, cursor, &found));
  if (found != items) {
    CAVUM_TRY(cavum_msh_fail(cursor, at, "%lld elements announced, %lld in the blocks",
                             (long long)items, (long long)found));
  }
done:
  return status;
}
