// SPDX-License-Identifier: GPL-3.0-or-later
// What the two versions of the MSH format share: the checks of tags and types, growing the tables.
#include <string.h>

#include "base/stop.h"
#include "msh/parse.h"

cavum_status cavum_msh_check_tag(const cavum_msh_cursor *cursor, int64_t tag, const char *what) {
  if (tag > 0) return CAVUM_OK;
  return cavum_msh_fail(cursor, cursor->last, "%s %lld is not positive", what, (long long)tag);
}

cavum_status cavum_msh_check_type(cavum_msh_type *type, const cavum_msh_cursor *cursor,
                                  int64_t number) {
  if (cavum_msh_type_find(type, number)) return CAVUM_OK;
  return cavum_msh_fail(cursor, cursor->last,
                        "element type %lld is %s; expected lines, triangles and quadrilaterals "
                        "of order 1 to %d",
                        (long long)number,
                        cavum_msh_type_is_solid(number) ? "three-dimensional" : "not supported",
                        CAVUM_MSH_LARGEST_ORDER);
}

static cavum_msh_element *add_element(cavum_msh_raw *raw, const cavum_msh_type *type) {
  bool line = type->num_corners == 2;
  void **array = line ? (void **)&raw->lines : (void **)&raw->faces;
  int64_t *count = line ? &raw->num_lines : &raw->num_faces;
  int64_t *capacity = line ? &raw->line_capacity : &raw->face_capacity;
  if (!cavum_grow((void **)&raw->connectivity, &raw->connectivity_capacity,
                  raw->num_connectivity + type->num_nodes, sizeof *raw->connectivity) ||
      !cavum_grow(array, capacity, *count + 1, sizeof(cavum_msh_element))) {
    return NULL;
  }
  return (cavum_msh_element *)*array + (*count)++;
}

cavum_status cavum_msh_read_element(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                    const cavum_msh_type *type, int64_t tag) {
  int64_t tags[CAVUM_MSH_MOST_NODES];
  for (int i = 0; i < type->num_nodes; i++) {
    cavum_status status = raw->version == 2 ? cavum_msh_read_int(cursor, &tags[i], "a node tag")
                                            : cavum_msh_read_size(cursor, &tags[i], "a node tag");
    if (status != CAVUM_OK) return status;
  }
  if (cavum_stop_asked_at(raw->num_faces)) return cavum_stop_check(cursor->error);
  if (type->num_corners == 1) return CAVUM_OK;
  cavum_msh_element *element = add_element(raw, type);
  if (!element) return cavum_fail_memory(cursor->error);
  *element = (cavum_msh_element){.tag = tag,
                                 .first = raw->num_connectivity,
                                 .block = (int32_t)(raw->num_blocks - 1),
                                 .num_corners = (unsigned char)type->num_corners,
                                 .order = (unsigned char)type->order,
                                 .num_nodes = (unsigned char)type->num_nodes,
                                 .complete = type->complete};
  int kept = type->num_corners == 2 ? 2 : type->num_nodes;
  memcpy(&raw->connectivity[raw->num_connectivity], tags, (size_t)kept * sizeof *tags);
  raw->num_connectivity += kept;
  return CAVUM_OK;
}
