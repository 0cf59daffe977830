// SPDX-License-Identifier: GPL-3.0-or-later
// Some elements of a mesh as a mesh of their own: shapes, boundaries, neighbours.
#include "element/element_map.h"
#include "element/submesh.h"
#include "mesh_cases.h"
#include "mesh_check.h"

// Every third element of a capsule's mesh, the last one first.
enum { EVERY = 3, MOST = 64 };

static cavum_mesh capsule(void) {
  static cavum_pen pen;
  cavum_mesh mesh = {0};
  draw_capsule(&pen);
  cavum_contour contour = pen_contour(&pen);
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &contour, NULL, NULL), CAVUM_OK);
  return mesh;
}

static cavum_index choose(cavum_index *element, const cavum_mesh *mesh) {
  cavum_index count = 0;
  for (cavum_index e = mesh->num_elements - 1; e >= 0 && count < MOST; e -= EVERY) {
    element[count++] = e;
  }
  return count;
}

static cavum_mesh part_of(const cavum_mesh *mesh, const cavum_index *element, cavum_index count) {
  cavum_mesh part = {0};
  ck_assert_int_eq(cavum_submesh_create(&part, mesh, element, count, NULL), CAVUM_OK);
  return part;
}

START_TEST(elements_keep_their_shape) {
  cavum_index element[MOST];
  cavum_mesh mesh = capsule();
  cavum_index count = choose(element, &mesh);
  cavum_mesh part = part_of(&mesh, element, count);
  ck_assert_int_gt(count, 3);
  for (cavum_index e = 0; e < count; e++) {
    for (int k = 0; k < 9; k++) {
      double xi = -0.9 + 0.9 * (k % 3), eta = -0.7 + 0.7 * (k / 3);
      cavum_map_point a = cavum_element_map_at(&mesh, element[e], xi, eta);
      cavum_map_point b = cavum_element_map_at(&part, e, xi, eta);
      ck_assert_mem_eq(&a, &b, sizeof a);  // the same numbers by the same steps
    }
  }
  cavum_submesh_clear(&part);
  cavum_mesh_clear(&mesh);
}
END_TEST

static bool is_taken(const cavum_index *element, cavum_index count, cavum_index e) {
  for (cavum_index i = 0; i < count; i++) {
    if (element[i] == e) return true;
  }
  return false;
}

// An edge has the kind of the mesh, or is magnetic where a neighbour was left behind.
START_TEST(boundaries_are_those_of_the_mesh_or_the_cut) {
  cavum_index element[MOST], cuts = 0, inner = 0, outer = 0;
  cavum_mesh mesh = capsule();
  cavum_index count = choose(element, &mesh);
  if (!is_taken(element, count, 0)) element[count++] = 0;
  if (!is_taken(element, count, 1)) element[count++] = 1;
  cavum_mesh part = part_of(&mesh, element, count);
  for (cavum_index e = 0; e < count; e++) {
    for (int k = 0; k < 4; k++) {
      const cavum_edge *own = &part.edges[part.elements[e].edge[k]];
      const cavum_edge *edge = &mesh.edges[mesh.elements[element[e]].edge[k]];
      cavum_index other = edge->element[0] == element[e] ? edge->element[1] : edge->element[0];
      int side = own->element[0] == e ? 0 : 1;
      ck_assert_int_eq(own->element[side], e);
      ck_assert_int_eq(own->local[side], k);
      if (other < 0) {
        ck_assert_int_eq(own->boundary, edge->boundary);
        outer++;
      } else if (is_taken(element, count, other)) {
        ck_assert_int_eq(own->boundary, CAVUM_BOUNDARY_NONE);
        ck_assert_int_eq(element[own->element[1 - side]], other);
        inner++;
      } else {
        ck_assert_int_eq(own->boundary, CAVUM_BOUNDARY_MAGNETIC);
        cuts++;
      }
    }
  }
  ck_assert(cuts > 0 && inner > 0 && outer > 0);
  cavum_submesh_clear(&part);
  cavum_mesh_clear(&mesh);
}
END_TEST

// All elements: nothing is cut.
START_TEST(the_whole_is_a_part) {
  cavum_mesh mesh = capsule();
  cavum_index *element = malloc((size_t)mesh.num_elements * sizeof *element);
  for (cavum_index e = 0; e < mesh.num_elements; e++) element[e] = e;
  cavum_mesh part = part_of(&mesh, element, mesh.num_elements);
  ck_assert_int_eq(part.num_vertices, mesh.num_vertices);
  ck_assert_int_eq(part.num_edges, mesh.num_edges);
  CAVUM_CHECK_RELATIVE(mesh_area(&part), mesh_area(&mesh), 1e-15);
  for (cavum_index i = 0; i < part.num_edges; i++) {
    ck_assert_int_ne(part.edges[i].boundary, CAVUM_BOUNDARY_MAGNETIC);
  }
  cavum_submesh_clear(&part);
  free(element);
  cavum_mesh_clear(&mesh);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, elements_keep_their_shape);
  tcase_add_test(tests, boundaries_are_those_of_the_mesh_or_the_cut);
  tcase_add_test(tests, the_whole_is_a_part);
}

CAVUM_TEST_MAIN("mesh.part", add_tests)
