// SPDX-License-Identifier: GPL-3.0-or-later
// Sections of version 2.2: counts are text also in binary files; every element carries its tags,
// the first of which is the physical group (0: none).
#include "base/stop.h"
#include "msh/parse.h"

// A count line, and in binary files the byte behind its end.
static cavum_status parse_count(cavum_msh_cursor *cursor, int64_t *count, const char *what) {
  cavum_status status = cavum_msh_text_integer(cursor, count, what);
  if (status == CAVUM_OK) cavum_msh_skip_line(cursor);
  return status;
}

// Behind x y z: dimension and tag of the entity, then its parameters, one a dimension.
static cavum_status skip_parameters(cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t dim, entity;
  status = cavum_msh_read_int(cursor, &dim, "the dimension of an entity");
  if (status != CAVUM_OK) return status;
  if (dim < 0 || dim > 3) {
    return cavum_msh_fail(cursor, cursor->last, "dimension %lld of an entity", (long long)dim);
  }
  status = cavum_msh_read_int(cursor, &entity, "the tag of an entity");
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < dim && dim < 3; i++) {
    double parameter;
    status = cavum_msh_read_real(cursor, &parameter, "a parameter of a node");
    if (status != CAVUM_OK) return status;
  }
  return status;
}

cavum_status cavum_msh_parse_nodes_2(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                     bool parametric) {
  cavum_status status = CAVUM_OK;
  int64_t count;
  status = parse_count(cursor, &count, "the number of nodes");
  if (status == CAVUM_OK) {
    status = cavum_msh_check_count(cursor, count, parametric ? 3 : 1, 0, 3, "nodes");
  }
  if (status == CAVUM_OK) status = cavum_msh_reserve_nodes(raw, cursor, count);
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < count; i++) {
    cavum_msh_node node;
    if (cavum_stop_asked_at(i)) return cavum_stop_check(cursor->error);
    status = cavum_msh_read_int(cursor, &node.tag, "a node tag");
    if (status == CAVUM_OK) status = cavum_msh_check_tag(cursor, node.tag, "node tag");
    if (status != CAVUM_OK) return status;
    for (int c = 0; c < 3; c++) {
      status = cavum_msh_read_real(cursor, &node.x[c], "a coordinate of a node");
      if (status != CAVUM_OK) return status;
    }
    if (parametric) {
      status = skip_parameters(cursor);
      if (status != CAVUM_OK) return status;
    }
    raw->nodes[raw->num_nodes++] = node;
  }
  return status;
}

// A new block when the physical group differs from that of the element before.
static cavum_status open_block(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int dim,
                               int64_t physical) {
  if (raw->num_blocks > 0) {
    const cavum_msh_block *last = &raw->blocks[raw->num_blocks - 1];
    int64_t group = last->num_physicals > 0 ? raw->physicals[last->first_physical] : 0;
    if (last->dim == dim && group == (physical < 0 ? -physical : physical)) return CAVUM_OK;
  }
  cavum_status status = cavum_msh_add_block(raw, cursor, dim, 0);
  if (status != CAVUM_OK || physical == 0) return status;
  raw->blocks[raw->num_blocks - 1].num_physicals = 1;
  return cavum_msh_add_physical(raw, cursor, physical);
}

// The tags and nodes of one element; in text files its number of tags stands before them.
static cavum_status parse_element(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int64_t tag,
                                  const cavum_msh_type *type, int64_t num_tags) {
  cavum_status status = CAVUM_OK;
  int64_t physical = 0, other;
  status = cavum_msh_check_count(cursor, num_tags, 1, 0, 0, "tags of an element");
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < num_tags; i++) {
    status = cavum_msh_read_int(cursor, i == 0 ? &physical : &other, "a tag of an element");
    if (status != CAVUM_OK) return status;
  }
  if (type->num_corners > 1) {
    status = open_block(raw, cursor, type->num_corners == 2 ? 1 : 2, physical);
    if (status != CAVUM_OK) return status;
  }
  return cavum_msh_read_element(raw, cursor, type, tag);
}

static cavum_status parse_text_element(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t tag, number, num_tags;
  cavum_msh_type type;
  status = cavum_msh_read_int(cursor, &tag, "an element tag");
  if (status == CAVUM_OK) status = cavum_msh_check_tag(cursor, tag, "element tag");
  if (status == CAVUM_OK) status = cavum_msh_read_int(cursor, &number, "an element type");
  if (status == CAVUM_OK) status = cavum_msh_check_type(&type, cursor, number);
  if (status == CAVUM_OK) {
    status = cavum_msh_read_int(cursor, &num_tags, "the number of tags of an element");
  }
  if (status == CAVUM_OK) status = parse_element(raw, cursor, tag, &type, num_tags);
  return status;
}

// A header (type, number of elements, number of tags) and its elements.
static cavum_status parse_binary_batch(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                       int64_t *left) {
  cavum_status status = CAVUM_OK;
  int64_t number, count, num_tags, tag;
  cavum_msh_type type;
  size_t at = cursor->at;
  status = cavum_msh_read_int(cursor, &number, "an element type");
  if (status == CAVUM_OK) status = cavum_msh_check_type(&type, cursor, number);
  if (status == CAVUM_OK) {
    status = cavum_msh_read_int(cursor, &count, "the number of elements that follow");
  }
  if (status == CAVUM_OK) {
    status = cavum_msh_read_int(cursor, &num_tags, "the number of tags of an element");
  }
  if (status != CAVUM_OK) return status;
  if (count < 1 || count > *left || num_tags < 0) {
    return cavum_msh_fail(cursor, at,
                          "%lld elements with %lld tags follow; expected 1 to %lld elements",
                          (long long)count, (long long)num_tags, (long long)*left);
  }
  status = cavum_msh_check_count(cursor, count, 1 + num_tags + type.num_nodes, 0, 0, "elements");
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < count; i++) {
    status = cavum_msh_read_int(cursor, &tag, "an element tag");
    if (status == CAVUM_OK) status = cavum_msh_check_tag(cursor, tag, "element tag");
    if (status == CAVUM_OK) status = parse_element(raw, cursor, tag, &type, num_tags);
    if (status != CAVUM_OK) return status;
  }
  *left -= count;
  return status;
}

cavum_status cavum_msh_parse_elements_2(cavum_msh_raw *raw, cavum_msh_cursor *cursor) {
  cavum_status status = CAVUM_OK;
  int64_t left;
  status = parse_count(cursor, &left, "the number of elements");
  if (status == CAVUM_OK) status = cavum_msh_check_count(cursor, left, 3, 0, 0, "elements");
  if (status != CAVUM_OK) return status;
  while (left > 0) {
    if (cursor->binary) {
      status = parse_binary_batch(raw, cursor, &left);
      if (status != CAVUM_OK) return status;
    } else {
      status = parse_text_element(raw, cursor);
      if (status != CAVUM_OK) return status;
      left--;
    }
  }
  return status;
}
