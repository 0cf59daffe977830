// SPDX-License-Identifier: GPL-3.0-or-later
// Mesh files of rising order of one wall against its exact contour: the stated uncertainty covers
// what the nodes leave out of the wall, and is not far larger.
#include "solving.h"
#include "temporary_folder.h"

static const char *const WANTED =
    "modes: {count: 2}\naccuracy: {frequency: 1.0e-9, other_figures: 1.0e-6}\n"
    "wall: {kind: resistance, surface_resistance_nohm: 15}\n";

static const char *const CUP =
    "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
    "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
    "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
    "ends: {left: {kind: tube, length_mm: 100, close: electric}, right: {kind: tube, length_mm: "
    "100, close: electric}}\n";

// Different ellipses at the two sides, and an equator that is no circle.
static const char *const UNEVEN_CUP =
    "contour:\n  kind: two-ellipse\n  half_length_mm: 52\n  iris_radius_mm: 31\n"
    "  equator_radius_mm: 99\n  equator_ellipse: {axial_mm: 34, radial_mm: 52}\n"
    "  iris_ellipse: {axial_mm: 9, radial_mm: 13}\n"
    "  right: {half_length_mm: 56, equator_ellipse: {axial_mm: 43, radial_mm: 29}}\n"
    "ends: {left: {kind: magnetic}, right: {kind: tube, length_mm: 80, close: electric}}\n";

static const char *const SPHERE =
    "contour:\n  kind: path\n  start: {z_mm: -100, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"
    "    - {arc_to: {z_mm: -100, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: left, boundary: "
    "metal}\n";

static void write_mesh(const char *path, const cavum_cell *cell, int order, double refinement) {
  cavum_contour contour = {0};
  cavum_mesh mesh = {0};
  cavum_error error = {0};
  cavum_mesh_options options = cavum_mesh_options_default();
  options.refinement = refinement;
  ck_assert_int_eq(cavum_cell_make_contour(&contour, cell, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &contour, &options, &error), CAVUM_OK);
  cavum_status status = cavum_mesh_write_msh(&mesh, path, order, 1e-3, false, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_contour_clear(&contour);
  cavum_mesh_clear(&mesh);
}

static cavum_result *solve_mesh(const char *path) {
  char text[1024];
  cavum_result *result = NULL;
  cavum_error error = {0};
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100\ncontour: {kind: mesh, file: %s, unit: mm, axis: x}\n%s",
           path, WANTED);
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.degree = 10;  // the geometry alone is seen
  cavum_status status = cavum_solve(&result, &cell, &options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_cell_clear(&cell);
  return result;
}

static void compare(tally *all, const char *where, const cavum_result *result,
                    const cavum_result *exact) {
  for (int m = 0; m < exact->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      if (is_tube_cut((cavum_figure_id)id)) continue;
      const cavum_figure *a = &result->modes[m].figures[id], *b = &exact->modes[m].figures[id];
      if (a->state != CAVUM_FIGURE_PRESENT || b->state != CAVUM_FIGURE_PRESENT) continue;
      printf("%s mode %d %s: observed %.12g +- %.1e exact %.12g +- %.1e\n", where, m + 1,
             cavum_figure_describe((cavum_figure_id)id).key, a->value, a->uncertainty, b->value,
             b->uncertainty);
      tally_add(all, where, (cavum_figure_id)id, a, b->value, b->uncertainty);
    }
  }
}

static void check_wall(tally *by_order, int first, int last, const char *name, const char *contour,
                       const char *folder) {
  char text[2048], path[192], where[96];
  snprintf(text, sizeof text, "accelerating_length_mm: 100\n%s%s", contour, WANTED);
  cavum_cell cell = solving_read(text);
  cavum_result *exact = solving_solve(&cell, NULL);
  for (int order = first; order <= last; order++) {
    for (int finer = 0; finer < 2; finer++) {
      snprintf(path, sizeof path, "%s/wall.msh", folder);
      write_mesh(path, &cell, order, finer ? 1.7 : 1.0);
      cavum_result *result = solve_mesh(path);
      snprintf(where, sizeof where, "%s, order %d, %s mesh", name, order,
               finer ? "fine" : "coarse");
      compare(&by_order[order], where, result, exact);
      cavum_result_destroy(&result);
    }
  }
  cavum_result_destroy(&exact);
  cavum_cell_clear(&cell);
}

START_TEST(curved_elements_of_every_order) {
  enum { FIRST = 2, LAST = 5 };
  static tally by_order[LAST + 1];
  char folder[128];
  temporary_folder_make(folder);
  check_wall(by_order, FIRST, LAST, "cup", CUP, folder);
  check_wall(by_order, FIRST, LAST, "uneven cup", UNEVEN_CUP, folder);
  check_wall(by_order, FIRST, LAST, "sphere", SPHERE, folder);
  temporary_folder_delete(folder);
  for (int order = FIRST; order <= LAST; order++) {
    char name[64];
    snprintf(name, sizeof name, "mesh files of order %d", order);
    // The promise for mesh files: what is seen of a curve through a few nodes is an estimate.
    tally_check(&by_order[order], name, 0.98, TALLY_MEDIAN_MOST);
  }
}
END_TEST

static void add_tests(TCase *tests) { tcase_add_test(tests, curved_elements_of_every_order); }

CAVUM_TEST_MAIN("orders of mesh files", add_tests)
