// SPDX-License-Identifier: GPL-3.0-or-later
// What a MSH file says: growing its tables and letting them go.
#include "msh/raw.h"

#include <string.h>

void cavum_msh_raw_clear(cavum_msh_raw *raw) {
  for (int64_t i = 0; i < raw->num_names; i++) free(raw->names[i].name);
  free(raw->nodes);
  free(raw->lines);
  free(raw->faces);
  free(raw->connectivity);
  free(raw->blocks);
  free(raw->entities);
  free(raw->physicals);
  free(raw->names);
  memset(raw, 0, sizeof *raw);
}

cavum_status cavum_msh_reserve_nodes(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int64_t count) {
  if (!cavum_grow((void **)&raw->nodes, &raw->node_capacity, raw->num_nodes + count,
                  sizeof *raw->nodes)) {
    return cavum_fail_memory(cursor->error);
  }
  return CAVUM_OK;
}

cavum_status cavum_msh_add_block(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int dim,
                                 int64_t entity) {
  if (raw->num_blocks == INT32_MAX || !cavum_grow((void **)&raw->blocks, &raw->block_capacity,
                                                  raw->num_blocks + 1, sizeof *raw->blocks)) {
    return cavum_fail_memory(cursor->error);
  }
  raw->blocks[raw->num_blocks++] = (cavum_msh_block){dim, entity, raw->num_physicals, 0};
  return CAVUM_OK;
}

cavum_status cavum_msh_add_physical(cavum_msh_raw *raw, cavum_msh_cursor *cursor, int64_t tag) {
  if (!cavum_grow((void **)&raw->physicals, &raw->physical_capacity, raw->num_physicals + 1,
                  sizeof *raw->physicals)) {
    return cavum_fail_memory(cursor->error);
  }
  // INT32_MIN has no counterpart; any other number does as the name of a group nobody uses.
  raw->physicals[raw->num_physicals++] =
      tag == INT32_MIN ? INT32_MAX : (int32_t)(tag < 0 ? -tag : tag);
  return CAVUM_OK;
}

static int compare_names(const void *left, const void *right) {
  const cavum_msh_name *a = left, *b = right;
  if (a->dim != b->dim) return a->dim < b->dim ? -1 : 1;
  return a->tag < b->tag ? -1 : a->tag > b->tag;
}

static int compare_entities(const void *left, const void *right) {
  const cavum_msh_entity *a = left, *b = right;
  if (a->dim != b->dim) return a->dim < b->dim ? -1 : 1;
  return a->tag < b->tag ? -1 : a->tag > b->tag;
}

const char *cavum_msh_raw_find_name(const cavum_msh_raw *raw, int dim, int64_t tag) {
  cavum_msh_name key = {dim, tag, NULL};
  const cavum_msh_name *found =
      raw->num_names == 0
          ? NULL
          : bsearch(&key, raw->names, (size_t)raw->num_names, sizeof key, compare_names);
  return found ? found->name : NULL;
}

cavum_status cavum_msh_raw_join_tables(cavum_msh_raw *raw, const cavum_msh_cursor *cursor) {
  if (raw->num_names > 1) {
    qsort(raw->names, (size_t)raw->num_names, sizeof *raw->names, compare_names);
  }
  for (int64_t i = 1; i < raw->num_names; i++) {
    if (compare_names(&raw->names[i - 1], &raw->names[i]) == 0) {
      return cavum_fail(cursor->error, CAVUM_ERR_INPUT,
                        "%s: physical group %lld of dimension %d has two names", cursor->name,
                        (long long)raw->names[i].tag, raw->names[i].dim);
    }
  }
  if (raw->version == 2 || raw->num_entities == 0) return CAVUM_OK;
  qsort(raw->entities, (size_t)raw->num_entities, sizeof *raw->entities, compare_entities);
  for (int64_t i = 0; i < raw->num_blocks; i++) {
    cavum_msh_block *block = &raw->blocks[i];
    cavum_msh_entity key = {.dim = block->dim, .tag = block->entity};
    const cavum_msh_entity *entity =
        bsearch(&key, raw->entities, (size_t)raw->num_entities, sizeof key, compare_entities);
    if (!entity) continue;
    block->first_physical = entity->first_physical;
    block->num_physicals = entity->num_physicals;
  }
  return CAVUM_OK;
}
