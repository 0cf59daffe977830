// SPDX-License-Identifier: GPL-3.0-or-later
// Material regions of a MSH file: from the names of physical surfaces to the regions of the source,
// or one vacuum region for each physical surface when the source lists none.
#include <stdio.h>
#include <string.h>

#include "base/stop.h"
#include "msh/build.h"

enum { UNKNOWN = -1, DROPPED = -2, NAME_SIZE = 64 };

static int compare_tags(const void *left, const void *right) {
  int32_t a = *(const int32_t *)left, b = *(const int32_t *)right;
  return a < b ? -1 : a > b;
}

static cavum_status add_region(cavum_mesh *mesh, const char *name, double eps_r, double mu_r,
                               cavum_error *error) {
  char *copy = cavum_copy_text(name);
  if (!copy) return cavum_fail_memory(error);
  mesh->regions[mesh->num_regions++] = (cavum_region){copy, eps_r, mu_r};
  return CAVUM_OK;
}

static const char *group_name(char buffer[NAME_SIZE], const cavum_msh_raw *raw, int32_t tag) {
  const char *name = cavum_msh_raw_find_name(raw, 2, tag);
  if (name) return name;
  snprintf(buffer, NAME_SIZE, "%d", (int)tag);
  return buffer;
}

// The group that decides in a source without regions: the smallest tag, 0 for none.
static int32_t leading_group(const cavum_msh_raw *raw, const cavum_msh_block *block) {
  int32_t leading = 0;
  for (int64_t i = 0; i < block->num_physicals; i++) {
    int32_t tag = raw->physicals[block->first_physical + i];
    if (tag > 0 && (leading == 0 || tag < leading)) leading = tag;
  }
  return leading;
}

// Regions by group tags: regions[i] belongs to tags[i].
static cavum_status make_vacuum_regions(cavum_msh_build *build, cavum_index *of_block) {
  cavum_status status = CAVUM_OK;
  const cavum_msh_raw *raw = build->raw;
  int64_t count = 0, distinct = 0;
  int32_t *tags = cavum_alloc(raw->num_blocks, sizeof *tags);
  if (!tags) CAVUM_TRY(cavum_fail_memory(build->error));
  for (int64_t b = 0; b < raw->num_blocks; b++) {
    if (raw->blocks[b].dim == 2) tags[count++] = leading_group(raw, &raw->blocks[b]);
  }
  qsort(tags, (size_t)count, sizeof *tags, compare_tags);
  for (int64_t i = 0; i < count; i++) {
    if (distinct == 0 || tags[i] != tags[distinct - 1]) tags[distinct++] = tags[i];
  }
  build->mesh.regions = cavum_alloc(distinct, sizeof *build->mesh.regions);
  if (!build->mesh.regions) CAVUM_TRY(cavum_fail_memory(build->error));
  for (int64_t i = 0; i < distinct; i++) {
    char buffer[NAME_SIZE];
    const char *name = tags[i] == 0 ? "" : group_name(buffer, raw, tags[i]);
    CAVUM_TRY(add_region(&build->mesh, name, 1.0, 1.0, build->error));
  }
  for (int64_t b = 0; b < raw->num_blocks; b++) {
    if (raw->blocks[b].dim != 2) continue;
    int32_t tag = leading_group(raw, &raw->blocks[b]);
    int32_t *found = bsearch(&tag, tags, (size_t)distinct, sizeof *tags, compare_tags);
    of_block[b] = (cavum_index)(found - tags);
  }
done:
  free(tags);
  return status;
}

static cavum_index find_region(const cavum_mesh_source *source, const char *name) {
  for (cavum_index i = 0; i < source->num_regions; i++) {
    if (strcmp(source->regions[i].name, name) == 0) return i;
  }
  return UNKNOWN;
}

static cavum_status refuse_two_regions(const cavum_msh_build *build, cavum_index a, cavum_index b) {
  return cavum_msh_refuse(build, "elements lie in two regions, \"%s\" and \"%s\"",
                          build->source->regions[a].name, build->source->regions[b].name);
}

static cavum_status take_source_regions(cavum_msh_build *build, cavum_index *of_block) {
  cavum_status status = CAVUM_OK;
  const cavum_msh_raw *raw = build->raw;
  const cavum_mesh_source *source = build->source;
  build->mesh.regions = cavum_alloc(source->num_regions, sizeof *build->mesh.regions);
  if (!build->mesh.regions) return cavum_fail_memory(build->error);
  for (cavum_index i = 0; i < source->num_regions; i++) {
    const cavum_region *region = &source->regions[i];
    status = add_region(&build->mesh, region->name, region->eps_r, region->mu_r, build->error);
    if (status != CAVUM_OK) return status;
  }
  for (int64_t b = 0; b < raw->num_blocks; b++) {
    const cavum_msh_block *block = &raw->blocks[b];
    for (int64_t i = 0; block->dim == 2 && i < block->num_physicals; i++) {
      char buffer[NAME_SIZE];
      int32_t tag = raw->physicals[block->first_physical + i];
      cavum_index region = find_region(source, group_name(buffer, raw, tag));
      if (region == UNKNOWN || region == of_block[b]) continue;
      if (of_block[b] != UNKNOWN) return refuse_two_regions(build, of_block[b], region);
      of_block[b] = region;
    }
  }
  return status;
}

// A face by its corners in ascending order.
typedef struct face_key {
  int64_t corner[4];
  int64_t face;
} face_key;

static int compare_keys(const void *left, const void *right) {
  const face_key *a = left, *b = right;
  for (int k = 0; k < 4; k++) {
    if (a->corner[k] != b->corner[k]) return a->corner[k] < b->corner[k] ? -1 : 1;
  }
  return a->face < b->face ? -1 : a->face > b->face;
}

static face_key make_key(const cavum_msh_raw *raw, int64_t face) {
  face_key key = {{-1, -1, -1, -1}, face};
  for (int k = 0; k < raw->faces[face].num_corners; k++) {
    int64_t corner = raw->connectivity[raw->faces[face].first + k];
    int place = k;
    for (; place > 0 && key.corner[place - 1] > corner; place--) {
      key.corner[place] = key.corner[place - 1];
    }
    key.corner[place] = corner;
  }
  return key;
}

// Version 2.2 lists an element once for each of its physical groups: the first one stays, and takes
// the region that is known.
static cavum_status drop_repeated_faces(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  const cavum_msh_raw *raw = build->raw;
  face_key *keys = cavum_alloc(raw->num_faces, sizeof *keys);
  if (!keys) CAVUM_TRY(cavum_fail_memory(build->error));
  for (int64_t f = 0; f < raw->num_faces; f++) {
    if (cavum_stop_asked_at(f)) CAVUM_TRY(cavum_stop_check(build->error));
    keys[f] = make_key(raw, f);
  }
  qsort(keys, (size_t)raw->num_faces, sizeof *keys, compare_keys);
  for (int64_t i = 1, first = 0; i < raw->num_faces; i++) {
    if (cavum_stop_asked_at(i)) CAVUM_TRY(cavum_stop_check(build->error));
    if (memcmp(keys[first].corner, keys[i].corner, sizeof keys[i].corner) != 0) {
      first = i;
      continue;
    }
    cavum_index *kept = &build->region[keys[first].face], *dropped = &build->region[keys[i].face];
    bool free_choice = build->source->num_regions == 0;
    if (!free_choice && *kept >= 0 && *dropped >= 0 && *kept != *dropped) {
      CAVUM_TRY(refuse_two_regions(build, *kept, *dropped));
    }
    if (*kept == UNKNOWN || (free_choice && *dropped < *kept)) *kept = *dropped;
    *dropped = DROPPED;
  }
done:
  free(keys);
  return status;
}

// Without a list in the source, regions that lost their elements to another one go.
static void drop_empty_regions(cavum_msh_build *build, cavum_index *renumbered) {
  cavum_mesh *mesh = &build->mesh;
  cavum_index kept = 0;
  for (int64_t f = 0; f < build->raw->num_faces; f++) {
    if (build->region[f] >= 0) renumbered[build->region[f]] = 1;
  }
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    cavum_region region = mesh->regions[i];
    if (renumbered[i] == 0) {
      free(region.name);
      continue;
    }
    renumbered[i] = kept;
    mesh->regions[kept++] = region;
  }
  mesh->num_regions = kept;
  for (int64_t f = 0; f < build->raw->num_faces; f++) {
    if (build->region[f] >= 0) build->region[f] = renumbered[build->region[f]];
  }
}

static cavum_status refuse_unknown(const cavum_msh_build *build, int64_t face) {
  const cavum_msh_raw *raw = build->raw;
  const cavum_msh_block *block = &raw->blocks[raw->faces[face].block];
  if (block->num_physicals == 0) {
    return cavum_msh_refuse(build,
                            "element %lld is in no physical surface; expected one of the regions "
                            "of the cell file, such as \"%s\"",
                            (long long)raw->faces[face].tag, build->source->regions[0].name);
  }
  char buffer[NAME_SIZE];
  const char *name = group_name(buffer, raw, raw->physicals[block->first_physical]);
  return cavum_msh_refuse(build,
                          "physical surface \"%.60s\" is not among the regions of the cell file; "
                          "every surface needs an entry there: add \"%.60s: {}\" for vacuum",
                          name, name);
}

cavum_status cavum_msh_build_regions(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  const cavum_msh_raw *raw = build->raw;
  cavum_index *renumbered = NULL;
  cavum_index *of_block = cavum_alloc(raw->num_blocks, sizeof *of_block);
  build->region = cavum_alloc(raw->num_faces, sizeof *build->region);
  if (!of_block || !build->region) CAVUM_TRY(cavum_fail_memory(build->error));
  for (int64_t b = 0; b < raw->num_blocks; b++) of_block[b] = UNKNOWN;
  if (build->source->num_regions > 0) {
    CAVUM_TRY(take_source_regions(build, of_block));
  } else {
    CAVUM_TRY(make_vacuum_regions(build, of_block));
  }
  for (int64_t f = 0; f < raw->num_faces; f++) build->region[f] = of_block[raw->faces[f].block];
  CAVUM_TRY(cavum_stop_check(build->error));
  if (raw->version == 2) CAVUM_TRY(drop_repeated_faces(build));
  CAVUM_TRY(cavum_stop_check(build->error));
  for (int64_t f = 0; f < raw->num_faces; f++) {
    if (build->region[f] == UNKNOWN) CAVUM_TRY(refuse_unknown(build, f));
  }
  if (build->source->num_regions == 0) {
    renumbered = cavum_alloc(build->mesh.num_regions, sizeof *renumbered);
    if (!renumbered) CAVUM_TRY(cavum_fail_memory(build->error));
    drop_empty_regions(build, renumbered);
  }
done:
  free(renumbered);
  free(of_block);
  return status;
}
