// SPDX-License-Identifier: GPL-3.0-or-later
// Writing a MSH 4.1 file: z becomes x, r becomes y. One curve for each boundary kind and one
// surface for each region, both named; nodes belong to the boundary where there is one. Written to
// a temporary name and renamed when it is whole.
#include <errno.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "msh/number.h"

enum { BLENDED_ORDER = 6, NAME_SIZE = 128, BUFFER_SIZE = 1 << 20 };

// A file being written; errors of the stream are looked at once, at the end.
typedef struct writer {
  FILE *file;
  bool binary;
  double unit_m;
  const cavum_mesh *mesh;
  cavum_msh_numbering nodes;
} writer;

static void put_int(writer *out, int64_t value) {
  if (out->binary) {
    int32_t word = (int32_t)value;
    fwrite(&word, sizeof word, 1, out->file);
  } else {
    fprintf(out->file, "%lld ", (long long)value);
  }
}

static void put_size(writer *out, int64_t value) {
  if (out->binary) {
    fwrite(&value, sizeof value, 1, out->file);
  } else {
    fprintf(out->file, "%lld ", (long long)value);
  }
}

static void put_real(writer *out, double value) {
  if (out->binary) {
    fwrite(&value, sizeof value, 1, out->file);
  } else {
    fprintf(out->file, "%.17g ", value);
  }
}

static void end_line(writer *out) {
  if (!out->binary) fputc('\n', out->file);
}

static void put_point(writer *out, const cavum_point *point) {
  put_real(out, point->z_m / out->unit_m);
  put_real(out, point->r_m / out->unit_m);
  put_real(out, 0.0);
}

// Name of an entity as a physical group; what would end a quoted name early is replaced.
static void entity_name(char name[NAME_SIZE], const cavum_mesh *mesh, cavum_index entity) {
  if (entity < CAVUM_MSH_CURVES) {
    snprintf(name, NAME_SIZE, "%s", cavum_boundary_name((cavum_boundary)(entity + 1)));
    return;
  }
  const cavum_region *region = &mesh->regions[entity - CAVUM_MSH_CURVES];
  if (region->name && region->name[0]) {
    snprintf(name, NAME_SIZE, "%s", region->name);
  } else if (mesh->num_regions == 1) {
    snprintf(name, NAME_SIZE, "vacuum");
  } else {
    snprintf(name, NAME_SIZE, "region_%d", (int)(entity - CAVUM_MSH_CURVES) + 1);
  }
  for (char *c = name; *c; c++) {
    if (*c == '"' || (unsigned char)*c < ' ') *c = '_';
  }
}

static int entity_tag(cavum_index entity) {
  return entity < CAVUM_MSH_CURVES ? entity + 1 : entity - CAVUM_MSH_CURVES + 1;
}

static void write_names(writer *out) {
  int count = 0;
  for (cavum_index i = 0; i < out->nodes.num_entities; i++)
    count += out->nodes.entities[i].num_elements > 0;
  fprintf(out->file, "$PhysicalNames\n%d\n", count);
  for (cavum_index i = 0; i < out->nodes.num_entities; i++) {
    if (out->nodes.entities[i].num_elements == 0) continue;
    char name[NAME_SIZE];
    entity_name(name, out->mesh, i);
    fprintf(out->file, "%d %d \"%s\"\n", i < CAVUM_MSH_CURVES ? 1 : 2, entity_tag(i), name);
  }
  fprintf(out->file, "$EndPhysicalNames\n");
}

static void write_entities(writer *out) {
  int64_t counts[4] = {0, 0, 0, 0};
  for (cavum_index i = 0; i < out->nodes.num_entities; i++) {
    counts[i < CAVUM_MSH_CURVES ? 1 : 2] += out->nodes.entities[i].num_elements > 0;
  }
  fprintf(out->file, "$Entities\n");
  for (int dim = 0; dim < 4; dim++) put_size(out, counts[dim]);
  end_line(out);
  for (cavum_index i = 0; i < out->nodes.num_entities; i++) {
    const cavum_msh_extent *entity = &out->nodes.entities[i];
    if (entity->num_elements == 0) continue;
    put_int(out, entity_tag(i));
    put_point(out, &entity->low);
    put_point(out, &entity->high);
    put_size(out, 1);  // one physical group, with the tag of the entity
    put_int(out, entity_tag(i));
    put_size(out, 0);  // no bounding entities: the mesh says what bounds what
    end_line(out);
  }
  fprintf(out->file, "%s$EndEntities\n", out->binary ? "\n" : "");
}

static void write_nodes(writer *out) {
  int64_t blocks = 0;
  for (cavum_index i = 0; i < out->nodes.num_entities; i++)
    blocks += out->nodes.entities[i].num_nodes > 0;
  fprintf(out->file, "$Nodes\n");
  put_size(out, blocks);
  put_size(out, out->nodes.num_nodes);
  put_size(out, 1);
  put_size(out, out->nodes.num_nodes);
  end_line(out);
  cavum_index first = 0;
  for (cavum_index i = 0; i < out->nodes.num_entities; i++) {
    cavum_index count = out->nodes.entities[i].num_nodes;
    if (count == 0) continue;
    put_int(out, i < CAVUM_MSH_CURVES ? 1 : 2);
    put_int(out, entity_tag(i));
    put_int(out, 0);
    put_size(out, count);
    end_line(out);
    for (cavum_index n = first; n < first + count; n++) {
      put_size(out, (int64_t)out->nodes.node_list[n] + 1);
      end_line(out);
    }
    for (cavum_index n = first; n < first + count; n++) {
      put_point(out, &out->nodes.points[out->nodes.node_list[n]]);
      end_line(out);
    }
    first += count;
  }
  fprintf(out->file, "%s$EndNodes\n", out->binary ? "\n" : "");
}

static void open_block(writer *out, cavum_index entity, int num_corners, int64_t count) {
  put_int(out, entity < CAVUM_MSH_CURVES ? 1 : 2);
  put_int(out, entity_tag(entity));
  put_int(out, cavum_msh_type_number(num_corners, out->nodes.order));
  put_size(out, count);
  end_line(out);
}

// Boundary edges, run in the sense of their element; tags go on behind those of the elements.
static void write_lines(writer *out, cavum_index entity, int64_t *tag) {
  const cavum_mesh *mesh = out->mesh;
  int g = out->nodes.order;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    if ((cavum_index)edge->boundary != entity + 1) continue;
    put_size(out, (*tag)++);
    put_size(out, (int64_t)edge->vertex[0] + 1);
    put_size(out, (int64_t)edge->vertex[1] + 1);
    for (int m = 0; m < g - 1; m++) {
      put_size(out, (int64_t)mesh->num_vertices + (int64_t)i * (g - 1) + m + 1);
    }
    end_line(out);
  }
}

// Elements of one shape in the order of element_list, a run of one region.
static void write_faces(writer *out, const cavum_index *elements, cavum_index count,
                        int num_corners) {
  int lattice[CAVUM_MSH_MOST_NODES];
  cavum_index nodes[CAVUM_MSH_MOST_NODES];
  cavum_msh_lattice(lattice, num_corners, out->nodes.order);
  int num_nodes = cavum_msh_num_nodes(num_corners, out->nodes.order);
  for (cavum_index i = 0; i < count; i++) {
    if (out->mesh->elements[elements[i]].num_corners != num_corners) continue;
    cavum_msh_element_nodes(nodes, &out->nodes, out->mesh, elements[i]);
    put_size(out, (int64_t)elements[i] + 1);
    for (int m = 0; m < num_nodes; m++) put_size(out, (int64_t)nodes[lattice[m]] + 1);
    end_line(out);
  }
}

static void write_elements(writer *out) {
  int64_t blocks = 0, total = 0, tag = (int64_t)out->mesh->num_elements + 1;
  for (cavum_index i = 0; i < out->nodes.num_entities; i++) {
    const cavum_msh_extent *entity = &out->nodes.entities[i];
    int64_t triangles = entity->num_triangles, others = entity->num_elements - triangles;
    blocks += (triangles > 0) + (others > 0);
    total += entity->num_elements;
  }
  fprintf(out->file, "$Elements\n");
  put_size(out, blocks);
  put_size(out, total);
  put_size(out, 1);
  put_size(out, total);
  end_line(out);
  cavum_index first = 0;
  for (cavum_index i = 0; i < out->nodes.num_entities; i++) {
    const cavum_msh_extent *entity = &out->nodes.entities[i];
    if (entity->num_elements == 0) continue;
    if (i < CAVUM_MSH_CURVES) {
      open_block(out, i, 2, entity->num_elements);
      write_lines(out, i, &tag);
      continue;
    }
    int64_t counts[2] = {entity->num_triangles, entity->num_elements - entity->num_triangles};
    for (int n = 3; n <= 4; n++) {
      if (counts[n - 3] == 0) continue;
      open_block(out, i, n, counts[n - 3]);
      write_faces(out, &out->nodes.element_list[first], entity->num_elements, n);
    }
    first += entity->num_elements;
  }
  fprintf(out->file, "%s$EndElements\n", out->binary ? "\n" : "");
}

static void write_file(writer *out) {
  const int byte_order = 1;
  fprintf(out->file, "$MeshFormat\n4.1 %d 8\n", out->binary ? 1 : 0);
  if (out->binary) {
    fwrite(&byte_order, sizeof byte_order, 1, out->file);
    fputc('\n', out->file);
  }
  // By this a mesh of ours is told from that of another program, which is not written over.
  fprintf(out->file, "$EndMeshFormat\n$Comments\ncavum\n$EndComments\n");
  write_names(out);
  write_entities(out);
  write_nodes(out);
  write_elements(out);
}

static cavum_status check_request(const cavum_mesh *mesh, const char *path, int order,
                                  double unit_m, cavum_error *error) {
  if (order < 1 || order > CAVUM_MSH_LARGEST_ORDER) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "%s: order %d of a MSH file; expected 1 to %d", path,
                      order, CAVUM_MSH_LARGEST_ORDER);
  }
  if (!(unit_m > 0.0 && isfinite(unit_m))) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "%s: unit of %g m; expected a positive length", path,
                      unit_m);
  }
  if (mesh->num_elements == 0) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "%s: a mesh without elements", path);
  }
  return CAVUM_OK;
}

// Fills the temporary file and puts it in place of the old one.
static cavum_status write_and_commit(writer *out, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *temporary = cavum_temporary_name(path);
  locale_t c_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  if (!temporary || !c_locale) CAVUM_TRY(cavum_fail_memory(error));
  out->file = fopen(temporary, "wb");
  if (!out->file) {
    CAVUM_TRY(
        cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", path, strerror(errno)));
  }
  setvbuf(out->file, NULL, _IOFBF, BUFFER_SIZE);
  locale_t before = uselocale(c_locale);  // the decimal point is a point in every program
  errno = 0;
  write_file(out);
  uselocale(before);
  bool failed = fflush(out->file) != 0 || ferror(out->file) != 0;
  int reason = errno;
  if (fclose(out->file) != 0 || failed) {
    unlink(temporary);
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_FILE, "%s: cannot be written: %s", path,
                         reason ? strerror(reason) : "write error"));
  }
  CAVUM_TRY(cavum_commit_file(temporary, path, error));
done:
  if (c_locale) freelocale(c_locale);
  free(temporary);
  return status;
}

cavum_status cavum_mesh_write_msh(const cavum_mesh *mesh, const char *path, int order,
                                  double unit_m, bool binary, cavum_error *error) {
  if (!mesh || !path) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  writer out = {.binary = binary, .unit_m = unit_m, .mesh = mesh};
  if (order == 0) order = mesh->node_order > 0 ? mesh->node_order : BLENDED_ORDER;
  CAVUM_TRY(check_request(mesh, path, order, unit_m, error));
  CAVUM_TRY(cavum_msh_number_nodes(&out.nodes, mesh, order, error));
  CAVUM_TRY(write_and_commit(&out, path, error));
done:
  cavum_msh_numbering_clear(&out.nodes);
  return status;
}
