// SPDX-License-Identifier: GPL-3.0-or-later
// Numbering of unknowns: vertices, edges, interiors.
#include "fem/space.h"

#include <string.h>

#include "base/base.h"
#include "element/topology.h"

static int num_interior(int num_corners, int degree) {
  return cavum_shape_count(num_corners, degree) - cavum_shape_count_skeleton(num_corners, degree);
}

cavum_status cavum_space_create(cavum_space *space, const cavum_mesh *mesh, int degree,
                                cavum_error *error) {
  if (!CAVUM_HOLDS(degree >= 1 && degree <= CAVUM_DEGREE_MOST))
    return cavum_fail_internal(error, "degree of the space");
  int64_t count = (int64_t)mesh->num_vertices + (int64_t)mesh->num_edges * (degree - 1);
  cavum_status status = CAVUM_OK;
  cavum_index *first = cavum_alloc(mesh->num_elements, sizeof *first);
  if (!first || count > INT32_MAX) CAVUM_TRY(cavum_fail_memory(error));
  cavum_index num_skeleton = (cavum_index)count;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    first[e] = (cavum_index)count;
    count += num_interior(mesh->elements[e].num_corners, degree);
    if (count > INT32_MAX) {
      CAVUM_TRY(cavum_fail(error, CAVUM_ERR_MEMORY, "more than 2^31 unknowns"));
    }
  }
  *space = (cavum_space){mesh, degree, num_skeleton, (cavum_index)count, first, 1};
  first = NULL;
done:
  free(first);
  return status;
}

int64_t cavum_space_size(const cavum_mesh *mesh, int degree) {
  int64_t count = (int64_t)mesh->num_vertices + (int64_t)mesh->num_edges * (degree - 1);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    count += num_interior(mesh->elements[e].num_corners, degree);
  }
  return count;
}

void cavum_space_clear(cavum_space *space) {
  if (!space) return;
  free(space->first_interior);
  memset(space, 0, sizeof *space);
}

void cavum_space_skeleton(cavum_index *index, double *sign, const cavum_space *space,
                          cavum_index e) {
  const cavum_element *element = &space->mesh->elements[e];
  int corners = element->num_corners, inner = space->degree - 1, a = corners;
  for (int k = 0; k < corners; k++) {
    index[k] = element->vertex[k];
    sign[k] = 1.0;
  }
  for (int k = 0; k < corners; k++) {
    cavum_index first = space->mesh->num_vertices + element->edge[k] * inner;
    double odd = element->reversed[k] ? -1.0 : 1.0;
    for (int m = 0; m < inner; m++, a++) {
      index[a] = first + m;
      sign[a] = m % 2 ? odd : 1.0;  // m = 1, 3, ... are the functions N_3, N_5, ...
    }
  }
}

void cavum_space_gather(double *local, const cavum_space *space, cavum_index e,
                        const double *global) {
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double sign[4 * CAVUM_DEGREE_MOST];
  int corners = space->mesh->elements[e].num_corners;
  int skeleton = cavum_shape_count_skeleton(corners, space->degree);
  cavum_space_skeleton(index, sign, space, e);
  for (int a = 0; a < skeleton; a++) local[a] = sign[a] * global[index[a]];
  const double *interior = global + space->first_interior[e];
  for (int k = 0; k < num_interior(corners, space->degree); k++) {
    local[skeleton + k] = interior[k * space->stride];
  }
}

void cavum_space_truncate(double *x, const cavum_space *space, int degree) {
  const cavum_mesh *mesh = space->mesh;
  int inner = space->degree - 1, kept = degree - 1;
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    memset(x + mesh->num_vertices + e * inner + kept, 0, (size_t)(inner - kept) * sizeof *x);
  }
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    int corners = mesh->elements[e].num_corners;
    int all = num_interior(corners, space->degree), low = num_interior(corners, degree);
    for (int k = low; k < all; k++) x[space->first_interior[e] + k * space->stride] = 0.0;
  }
}

void cavum_space_embed(double *high, const cavum_space *high_space, const double *low,
                       const cavum_space *low_space) {
  const cavum_mesh *mesh = high_space->mesh;
  int p = high_space->degree, q = low_space->degree, shared = p < q ? p : q;
  CAVUM_ASSERT(low_space->mesh->num_vertices == mesh->num_vertices &&
               low_space->mesh->num_edges == mesh->num_edges &&
               low_space->mesh->num_elements == mesh->num_elements);
  memset(high, 0, (size_t)high_space->num_unknowns * sizeof *high);
  memcpy(high, low, (size_t)mesh->num_vertices * sizeof *high);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    memcpy(high + mesh->num_vertices + e * (p - 1), low + mesh->num_vertices + e * (q - 1),
           (size_t)(shared - 1) * sizeof *high);
  }
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    // Interior functions of lower degrees come first.
    double *to = high + high_space->first_interior[e];
    const double *from = low + low_space->first_interior[e];
    for (int k = 0; k < num_interior(mesh->elements[e].num_corners, shared); k++) {
      to[k * high_space->stride] = from[k * low_space->stride];
    }
  }
}

void cavum_space_restrict(double *part, const cavum_space *part_space, const double *whole,
                          const cavum_space *whole_space, const cavum_index *element) {
  double local[CAVUM_SHAPES_MOST], sign[4 * CAVUM_DEGREE_MOST];
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  int inner = part_space->degree - 1, known = whole_space->degree - 1;
  CAVUM_ASSERT(known <= inner);
  memset(part, 0, (size_t)part_space->num_unknowns * sizeof *part);
  for (cavum_index e = 0; e < part_space->mesh->num_elements; e++) {
    int corners = part_space->mesh->elements[e].num_corners;
    cavum_space_gather(local, whole_space, element[e], whole);
    cavum_space_skeleton(index, sign, part_space, e);
    for (int k = 0; k < corners; k++) part[index[k]] = local[k];
    for (int k = 0; k < corners; k++) {
      for (int m = 0; m < known; m++) {
        int at = corners + k * inner + m;
        part[index[at]] = sign[at] * local[corners + k * known + m];
      }
    }
    double *interior = part + part_space->first_interior[e];
    const double *from = local + corners * (known + 1);
    for (int k = 0; k < num_interior(corners, whole_space->degree); k++) {
      interior[k * part_space->stride] = from[k];
    }
  }
}
