// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file msh/raw.h
 * What a MSH file says, before it is judged: the common form of versions 2.2 and 4.1.
 */
#ifndef CAVUM_MSH_RAW_H
#define CAVUM_MSH_RAW_H

#include "msh/cursor.h"
#include "msh/type.h"

/** A node. */
typedef struct cavum_msh_node {
  int64_t tag;
  double x[3]; /**< File units. */
} cavum_msh_node;

/** An element. */
typedef struct cavum_msh_element {
  int64_t tag;
  int64_t first; /**< Its node tags, from raw->connectivity[first]. */
  int32_t block; /**< Elements of one block are in the same physical groups. */
  unsigned char num_corners, order, num_nodes;
  bool complete;
} cavum_msh_element;

/** Elements that share their physical groups: an entity of version 4.1, a run of lines of 2.2. */
typedef struct cavum_msh_block {
  int dim;                /**< 1 or 2. */
  int64_t entity;         /**< 4.1 only. */
  int64_t first_physical; /**< Into raw->physicals. */
  int64_t num_physicals;
} cavum_msh_block;

/** The physical groups of an entity of version 4.1. */
typedef struct cavum_msh_entity {
  int dim;
  int64_t tag;
  int64_t first_physical, num_physicals;
} cavum_msh_entity;

/** The name of a physical group. */
typedef struct cavum_msh_name {
  int dim;
  int64_t tag;
  char *name; /**< Owned. */
} cavum_msh_name;

/** All that matters of a file. Arrays are owned and grown by doubling. */
typedef struct cavum_msh_raw {
  int version; /**< 2 or 4. */
  cavum_msh_node *nodes;
  int64_t num_nodes, node_capacity;
  cavum_msh_element *lines; /**< Edges of the mesh that the file lists: boundaries. */
  int64_t num_lines, line_capacity;
  cavum_msh_element *faces; /**< Triangles and quadrilaterals. */
  int64_t num_faces, face_capacity;
  int64_t *connectivity; /**< Node tags of all nodes of faces and of the two ends of lines. */
  int64_t num_connectivity, connectivity_capacity;
  cavum_msh_block *blocks;
  int64_t num_blocks, block_capacity;
  cavum_msh_entity *entities; /**< Sorted by (dim, tag) after parsing. */
  int64_t num_entities, entity_capacity;
  int32_t *physicals; /**< Tags without their sign, which only turns the orientation. */
  int64_t num_physicals, physical_capacity;
  cavum_msh_name *names; /**< Sorted by (dim, tag) after parsing, no pair twice. */
  int64_t num_names, name_capacity;
} cavum_msh_raw;

/** Frees all and empties. */
void cavum_msh_raw_clear(cavum_msh_raw *raw);

/**
 * Sorts names and entities, and gives the blocks of version 4.1 the physical groups of their
 * entity.
 * @retval CAVUM_ERR_INPUT  a physical group has two names.
 */
cavum_status cavum_msh_raw_join_tables(cavum_msh_raw *raw, const cavum_msh_cursor *cursor);

/** Name of a physical group, or NULL when the file gives none. */
const char *cavum_msh_raw_find_name(const cavum_msh_raw *raw, int dim, int64_t tag);

/** Memory for `count` more nodes; the count was checked against the file. */
cavum_status cavum_msh_reserve_nodes(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int64_t count);

/** Starts a block of elements with no physical group yet. */
cavum_status cavum_msh_add_block(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int dim,
                                 int64_t entity);

/** Adds a physical group to the end of raw->physicals. */
cavum_status cavum_msh_add_physical(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int64_t tag);

#endif
