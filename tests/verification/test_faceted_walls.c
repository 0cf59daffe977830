// SPDX-License-Identifier: GPL-3.0-or-later
// Walls that mesh files have as polygons. One whose rounded edge is a polygon of three pieces with
// many sides on each: figures are those of the polygon, drawn as a path, within their
// uncertainties; the warning that says so names figures that the round edge has indeed elsewhere.
#include "curved_mesh.h"
#include "mesh_shapes.h"
#include "solving.h"
#include "temporary_folder.h"

#define HEAD "accelerating_length_mm: 60\nmodes: {count: 1}\n"
#define PATH HEAD "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
#define TO(z, r, kind) "    - {line_to: {z_mm: " z ", r_mm: " r "}, boundary: " kind "}\n"
// The corners are points of the circle of 20 mm about z = 40, r = 80 mm at 30 and 60 degrees.

static const char POLYGON[] = PATH TO("60", "0", "axis") TO("60", "80", "metal")
    TO("57.32050807568877", "90", "metal") TO("50", "97.32050807568877", "metal")
        TO("40", "100", "metal") TO("0", "100", "metal") TO("0", "0", "metal");
static const char ROUND[] = PATH TO("60", "0", "axis") TO("60", "80", "metal")
    "    - {arc_to: {z_mm: 40, r_mm: 100}, centre: {z_mm: 40, r_mm: 80}, turn: left, boundary: "
    "metal}\n" TO("0", "100", "metal") TO("0", "0", "metal");

// Writes a mesh and solves the file.
static cavum_result *solve_file(const cavum_mesh *mesh, const char *head) {
  char folder[128], path[192], text[512];
  cavum_error error = {0};
  cavum_result *result = NULL;
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/facets.msh", folder);
  cavum_status status = cavum_mesh_write_msh(mesh, path, 0, 1e-3, true, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  snprintf(text, sizeof text, "%scontour: {kind: mesh, file: %s, unit: mm, axis: x}\n", head, path);
  cavum_cell cell = solving_read(text);
  (void)cavum_solve(&result, &cell, NULL, &error);
  ck_assert_msg(result != NULL, "%s", error.message);
  temporary_folder_delete(folder);
  cavum_cell_clear(&cell);
  return result;
}

static cavum_result *solve_mesh(void) {
  cavum_error error = {0};
  cavum_contour contour = {0};
  cavum_cell cell = solving_read(POLYGON);
  cavum_status status = cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_mesh mesh = curved_contour_mesh(&contour, 0.5, 1, true, 3.0);
  cavum_result *result = solve_file(&mesh, HEAD);
  cavum_cell_clear(&cell);
  cavum_contour_clear(&contour);
  cavum_mesh_clear(&mesh);
  return result;
}

static bool warns_of(const cavum_result *result, const char *words) {
  for (int i = 0; i < result->num_warnings; i++) {
    if (strstr(result->warnings[i], words)) return true;
  }
  return false;
}

START_TEST(facets_have_the_figures_of_their_polygon) {
  static const cavum_figure_id named[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_R_OVER_Q_LINAC,
                                          CAVUM_FIGURE_GEOMETRY_FACTOR, CAVUM_FIGURE_BPK_OVER_EACC};
  cavum_result *facets = solve_mesh();
  cavum_result *polygon = solving_solve_text(POLYGON, 1e-9, 1e-6);
  cavum_result *round = solving_solve_text(ROUND, 1e-9, 1e-6);
  ck_assert(warns_of(facets, "uncertainties of f, R/Q, G, peak fields, all figures"));
  for (size_t i = 0; i < sizeof named / sizeof *named; i++) {
    const cavum_figure *figure = &facets->modes[0].figures[named[i]];
    const cavum_figure *truth = &polygon->modes[0].figures[named[i]];
    double off = fabs(figure->value - solving_value(&round->modes[0], named[i]));
    printf("%s: %.8g +- %.1e, polygon %.8g, round edge %.1e away\n",
           cavum_figure_describe(named[i]).key, figure->value, figure->uncertainty, truth->value,
           off);
    ck_assert_double_le(fabs(figure->value - truth->value),
                        figure->uncertainty + truth->uncertainty);
    ck_assert_double_gt(off, figure->uncertainty);
  }
  cavum_result_destroy(&facets);
  cavum_result_destroy(&polygon);
  cavum_result_destroy(&round);
}
END_TEST

// A sphere of straight sides of a higher order, as programs make them that raise the order of a
// mesh without its geometry: the uncertainties are those of order 1, which cover the sphere.
START_TEST(straight_sides_of_a_higher_order_cover_the_curve) {
  const curved_rings rings = {.num_layers = 1,
                              .num_regions = 1,
                              .order = 1,
                              .edges_half_turn = 14,
                              .layer = {{CURVED_ELLIPSE, 0.1, 0.1, 0.0}}};
  cavum_result *sphere = solving_solve_text(
      "accelerating_length_mm: 200\nmodes: {count: 2}\ncontour:\n  kind: path\n"
      "  start: {z_mm: -100, r_mm: 0}\n  path:\n" TO("100", "0", "axis")
      "    - {arc_to: {z_mm: -100, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: left, boundary: "
      "metal}\n",
      1e-9, 1e-6);
  for (int order = 2; order <= 3; order++) {
    cavum_mesh polygon = curved_rings_mesh(&rings);
    cavum_mesh mesh = curved_of_straight_sides(&polygon, order, order == 3);
    cavum_result *result = solve_file(&mesh, "accelerating_length_mm: 200\nmodes: {count: 2}\n");
    for (int m = 0; m < 2; m++) {
      for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
        const cavum_figure *figure = &result->modes[m].figures[id];
        const cavum_figure *truth = &sphere->modes[m].figures[id];
        if (figure->state != CAVUM_FIGURE_PRESENT || truth->state != CAVUM_FIGURE_PRESENT) continue;
        printf("order %d, mode %d, %s: %.8g +- %.1e, sphere %.8g\n", order, m + 1,
               cavum_figure_describe((cavum_figure_id)id).key, figure->value, figure->uncertainty,
               truth->value);
        ck_assert_double_le(fabs(figure->value - truth->value),
                            figure->uncertainty + truth->uncertainty);
      }
    }
    cavum_result_destroy(&result);
    cavum_mesh_clear(&mesh);
  }
  cavum_result_destroy(&sphere);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, facets_have_the_figures_of_their_polygon);
  tcase_add_test(tests, straight_sides_of_a_higher_order_cover_the_curve);
}

CAVUM_TEST_MAIN("faceted_walls", add_tests)
