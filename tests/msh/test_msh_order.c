// SPDX-License-Identifier: GPL-3.0-or-later
// Large mesh files: elements and vertices lie along a curve that fills the plane, in whatever order
// the file has them; small ones keep the order of their tags.
#include "field_problem.h"

enum { CELLS = 101, SMALL = 20 };

static cavum_mesh read_grid(int cells, bool triangles, uint64_t shuffle) {
  static double at[CELLS + 1];
  for (int i = 0; i <= cells; i++) at[i] = (double)i / cells;
  grid_msh grid = {.num_s = cells,
                   .num_t = cells,
                   .s = at,
                   .t = at,
                   .order = 1,
                   .triangles = triangles,
                   .shuffle = shuffle,
                   .unit_m = 1.0,
                   .map = grid_identity,
                   .region_names = {"vacuum"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  return field_problem_grid(&grid, NULL);
}

static cavum_point middle(const cavum_mesh *mesh, cavum_index e) {
  const cavum_element *element = &mesh->elements[e];
  cavum_point sum = {0.0, 0.0};
  for (int k = 0; k < element->num_corners; k++) {
    sum.z_m += mesh->vertices[element->vertex[k]].z_m / element->num_corners;
    sum.r_m += mesh->vertices[element->vertex[k]].r_m / element->num_corners;
  }
  return sum;
}

static double distance(cavum_point a, cavum_point b) { return hypot(a.z_m - b.z_m, a.r_m - b.r_m); }

// Mean distance of an element from the next one, over the size of a cell.
static double mean_step(const cavum_mesh *mesh, int cells) {
  double sum = 0.0;
  for (cavum_index e = 1; e < mesh->num_elements; e++) {
    sum += distance(middle(mesh, e - 1), middle(mesh, e));
  }
  return sum * cells / (mesh->num_elements - 1);
}

// Mean range of the numbers of the corners of an element.
static double mean_range(const cavum_mesh *mesh) {
  double sum = 0.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    cavum_index low = element->vertex[0], high = low;
    for (int k = 1; k < element->num_corners; k++) {
      low = element->vertex[k] < low ? element->vertex[k] : low;
      high = element->vertex[k] > high ? element->vertex[k] : high;
    }
    sum += high - low;
  }
  return sum / mesh->num_elements;
}

START_TEST(neighbours_are_near_in_memory) {
  for (int triangles = 0; triangles < 2; triangles++) {
    cavum_mesh in_rows = read_grid(CELLS, triangles, 0), shuffled = read_grid(CELLS, triangles, 9);
    ck_assert_int_eq(shuffled.num_elements, (triangles ? 2 : 1) * CELLS * CELLS);
    ck_assert_int_eq(shuffled.num_vertices, (CELLS + 1) * (CELLS + 1));
    ck_assert_int_eq(shuffled.num_edges, in_rows.num_edges);
    double worst = 0.0;
    for (cavum_index e = 0; e < shuffled.num_elements; e++) {
      worst = fmax(worst, distance(middle(&shuffled, e), middle(&in_rows, e)));
    }
    CAVUM_CHECK_NEAR(worst, 0.0, 1e-14);  // rounding of sums of four corners in another order
    // The curve goes from a cell of its grid to one beside it; cells of the mesh are hit or missed
    // by a little, and longer steps are rare. At random the mean is half of the mesh.
    double step = mean_step(&shuffled, CELLS), range = mean_range(&shuffled);
    printf("%.2f cells from element to element, %.0f numbers in one\n", step, range);
    CAVUM_CHECK_NEAR(step, 1.0, 0.5);
    // Sqrt(num_vertices) in rows, a third of all at random.
    ck_assert_double_lt(range, 10.0 * CELLS);
    cavum_mesh_clear(&in_rows);
    cavum_mesh_clear(&shuffled);
  }
}
END_TEST

START_TEST(small_files_keep_their_order) {
  cavum_mesh mesh = read_grid(SMALL, false, 0);
  for (cavum_index e = 0; e < mesh.num_elements; e++) {
    cavum_point at = middle(&mesh, e);
    CAVUM_CHECK_NEAR(at.z_m, (e % SMALL + 0.5) / SMALL, 1e-14);
    CAVUM_CHECK_NEAR(at.r_m, (e / SMALL + 0.5) / SMALL, 1e-14);
  }
  for (cavum_index v = 0; v < mesh.num_vertices; v++) {
    CAVUM_CHECK_NEAR(mesh.vertices[v].z_m, (double)(v % (SMALL + 1)) / SMALL, 1e-14);
  }
  cavum_mesh_clear(&mesh);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, neighbours_are_near_in_memory);
  tcase_add_test(tests, small_files_keep_their_order);
}

CAVUM_TEST_MAIN("order of large mesh files", add)
