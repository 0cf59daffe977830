// SPDX-License-Identifier: GPL-3.0-or-later
// Cell files: what is read, and that each kind of bad input gives one line with its place.
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cavum/cell.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

#define ELLIPSES                                           \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n" \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"
#define CONTOUR                                                                     \
  "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35.0\n" \
  "  equator_radius_mm: 103.3\n" ELLIPSES
#define ENDS "ends:\n  left: {kind: magnetic}\n  right: {kind: metal}\n"
#define BOX_START "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
#define BOX_AXIS "    - {line_to: {z_mm: 10, r_mm: 0}, boundary: axis}\n"
#define BOX_REST                                            \
  "    - {line_to: {z_mm: 10, r_mm: 5}, boundary: metal}\n" \
  "    - {line_to: {z_mm: 0, r_mm: 5}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: electric}\n"

static cavum_status read_text(cavum_cell *cell, const char *text, cavum_error *error) {
  return cavum_cell_read_text(cell, text, strlen(text), "folder/cell.yaml", error);
}

static cavum_cell read_good(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = read_text(&cell, text, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

START_TEST(two_ellipse_cell_is_read) {
  cavum_cell cell = read_good(
      "title: Injector cell\nbeta: 0.9\naccelerating_length_mm: 115.4\n" CONTOUR
      "  left: {iris_radius_mm: 39.0, equator_ellipse: {axial_mm: 40.3}}\n"
      "ends:\n  left: {kind: tube, length_mm: 150.0, close: electric}\n"
      "  right: {kind: tube, length_mm: 120, radius_mm: 40, close: magnetic}\n"
      "modes: {count: 5, near_MHz: 2900}\naccuracy: {frequency: 1.0e-7, other_figures: 1e-3}\n"
      "wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 5.0}\n");
  ck_assert_str_eq(cell.title, "Injector cell");
  ck_assert_int_eq(strncmp(cell.text, "title: Injector cell\n", 21), 0);
  ck_assert_int_eq(cell.kind, CAVUM_CONTOUR_TWO_ELLIPSE);
  // Millimetres over 1e3: one unit in the last place at most.
  CAVUM_CHECK_NEAR(cell.beta, 0.9, 0.0);
  CAVUM_CHECK_NEAR(cell.accelerating_length_m, 0.1154, 0.0);
  CAVUM_CHECK_NEAR(cell.right.half_length_m, 0.0577, 0.0);
  CAVUM_CHECK_NEAR(cell.right.iris_radius_m, 0.035, 0.0);
  CAVUM_CHECK_NEAR(cell.left.iris_radius_m, 0.039, 0.0);
  CAVUM_CHECK_NEAR(cell.left.equator_axial_m, 0.0403, 1e-17);
  CAVUM_CHECK_NEAR(cell.left.equator_radial_m, 0.042, 0.0);
  CAVUM_CHECK_NEAR(cell.left.iris_radial_m, 0.019, 0.0);
  CAVUM_CHECK_NEAR(cell.left_end.tube_radius_m, 0.039, 0.0);  // the iris of that side
  CAVUM_CHECK_NEAR(cell.right_end.tube_radius_m, 0.040, 0.0);
  CAVUM_CHECK_NEAR(cell.right_end.tube_length_m, 0.120, 0.0);
  ck_assert_int_eq(cell.left_end.tube_close, CAVUM_BOUNDARY_ELECTRIC);
  ck_assert_int_eq(cell.right_end.tube_close, CAVUM_BOUNDARY_MAGNETIC);
  ck_assert_int_eq(cell.num_modes, 5);
  CAVUM_CHECK_NEAR(cell.near_hz, 2.9e9, 0.0);
  CAVUM_CHECK_NEAR(cell.accuracy_frequency, 1e-7, 0.0);
  CAVUM_CHECK_NEAR(cell.accuracy_other_figures, 1e-3, 0.0);
  ck_assert_int_eq(cell.wall.kind, CAVUM_WALL_NIOBIUM);
  CAVUM_CHECK_NEAR(cell.wall.residual_resistance_ohm, 5e-9, 0.0);
  ck_assert(!cavum_cell_is_mirror_symmetric(&cell));
  cavum_cell_clear(&cell);
  cavum_cell_clear(&cell);
}
END_TEST

// Some editors put one before the text.
START_TEST(a_byte_order_mark_is_no_part_of_the_text) {
  const char *text = "\xef\xbb\xbf" TEST_CELL;
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "mark.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_str_eq(cell.title, "Test cell");
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(defaults_are_set) {
  cavum_cell cell = read_good(CONTOUR ENDS);
  ck_assert_str_eq(cell.title, "");
  CAVUM_CHECK_NEAR(cell.beta, 1.0, 0.0);
  CAVUM_CHECK_NEAR(cell.accelerating_length_m, 0.0, 0.0);
  ck_assert_int_eq(cell.num_modes, 1);
  CAVUM_CHECK_NEAR(cell.near_hz, 0.0, 0.0);
  CAVUM_CHECK_NEAR(cell.accuracy_frequency, 1e-6, 0.0);
  CAVUM_CHECK_NEAR(cell.accuracy_other_figures, 1e-4, 0.0);
  ck_assert_int_eq(cell.wall.kind, CAVUM_WALL_NONE);
  cavum_cell_clear(&cell);
}
END_TEST

// It was called after one of the figures that it is about.
START_TEST(the_former_name_of_an_accuracy_is_read_with_a_note) {
  cavum_cell cell = read_good(CONTOUR ENDS "accuracy: {other_figures: 2.0e-3}\n");
  CAVUM_CHECK_NEAR(cell.accuracy_other_figures, 2e-3, 0.0);
  ck_assert_str_eq(cell.note, "");
  cavum_cell_clear(&cell);
  cell = read_good("title: old\naccuracy: {frequency: 1.0e-7, peak_field: 2.0e-3}\n" CONTOUR ENDS);
  CAVUM_CHECK_NEAR(cell.accuracy_other_figures, 2e-3, 0.0);
  ck_assert_str_eq(
      cell.note, "folder/cell.yaml:2:31: accuracy.peak_field is called accuracy.other_figures now");
  cavum_cell_clear(&cell);
  ck_assert_str_eq(cell.note, "");
  cavum_error error = {0};
  cavum_status status = read_text(
      &cell, CONTOUR ENDS "accuracy: {other_figures: 2.0e-3, peak_field: 2.0e-3}\n", &error);
  ck_assert_int_eq(status, CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message,
                               ": accuracy.peak_field: is the former name of other_figures, which "
                               "is there as well"));
  // Ranges hold under either name.
  status = read_text(&cell, CONTOUR ENDS "accuracy: {peak_field: 2.0}\n", &error);
  ck_assert_int_eq(status, CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "accuracy.peak_field: must lie between"));
}
END_TEST

// Nothing is missing when each half gives what the contour does not.
START_TEST(both_halves_may_give_everything) {
  cavum_cell cell = read_good("contour:\n  kind: two-ellipse\n  equator_radius_mm: 103.3\n" ELLIPSES
                              "  left: {half_length_mm: 57.7, iris_radius_mm: 35}\n"
                              "  right: {half_length_mm: 56.0, iris_radius_mm: 39}\n" ENDS);
  CAVUM_CHECK_NEAR(cell.left.half_length_m, 0.0577, 0.0);
  CAVUM_CHECK_NEAR(cell.right.half_length_m, 0.056, 0.0);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(walls_are_read) {
  cavum_cell cell = read_good(CONTOUR ENDS "wall: {kind: metal, conductivity_S_per_m: 5.8e7}\n");
  ck_assert_int_eq(cell.wall.kind, CAVUM_WALL_METAL);
  CAVUM_CHECK_NEAR(cell.wall.conductivity_s_per_m, 5.8e7, 0.0);
  cavum_cell_clear(&cell);
  cell = read_good(CONTOUR ENDS "wall: {kind: resistance, surface_resistance_nohm: 20}\n");
  CAVUM_CHECK_NEAR(cell.wall.surface_resistance_ohm, 2e-8, 0.0);
  cavum_cell_clear(&cell);
  cell = read_good(CONTOUR ENDS "wall: {kind: resistance, surface_resistance_ohm: 0.01}\n");
  CAVUM_CHECK_NEAR(cell.wall.surface_resistance_ohm, 0.01, 0.0);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(mesh_cell_is_read) {
  cavum_cell cell = read_good(
      "contour:\n  kind: mesh\n  file: cell.msh\n  unit: inch\n  axis: y\n"
      "  regions: {vacuum: {}, window: {eps_r: 9.8}}\n  boundaries: {Wall: metal, mid: "
      "magnetic}\n");
  ck_assert_int_eq(cell.kind, CAVUM_CONTOUR_MESH_FILE);
  ck_assert_str_eq(cell.mesh.path, "folder/cell.msh");
  ck_assert_int_eq(cell.files.num_paths, 1);
  ck_assert_str_eq(cell.files.paths[0], "folder/cell.msh");
  CAVUM_CHECK_NEAR(cell.mesh.unit_m, 0.0254, 0.0);
  ck_assert_int_eq(cell.mesh.axis, 'y');
  ck_assert_int_eq(cell.mesh.num_regions, 2);
  ck_assert_str_eq(cell.mesh.regions[1].name, "window");
  CAVUM_CHECK_NEAR(cell.mesh.regions[1].eps_r, 9.8, 0.0);
  CAVUM_CHECK_NEAR(cell.mesh.regions[1].mu_r, 1.0, 0.0);
  ck_assert_int_eq(cell.mesh.num_boundaries, 2);
  ck_assert_str_eq(cell.mesh.boundaries[1].name, "mid");
  ck_assert_int_eq(cell.mesh.boundaries[1].boundary, CAVUM_BOUNDARY_MAGNETIC);
  cavum_contour contour = {0};
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL),
                   CAVUM_ERR_INPUT);
  cavum_cell_clear(&cell);
  cell = read_good("contour: {kind: mesh, file: /a/b.msh, unit: mm, axis: z}\n");
  ck_assert_str_eq(cell.mesh.path, "/a/b.msh");
  ck_assert_ptr_null(cell.mesh_data);
  cavum_cell_clear(&cell);
  cell = read_good(
      "contour:\n  kind: mesh\n  file_base64:\n    TWVz\n    aA==\n  unit: mm\n  axis: z\n");
  ck_assert_ptr_null(cell.mesh.path);
  ck_assert_uint_eq(cell.mesh_size, 4);
  ck_assert_mem_eq(cell.mesh_data, "Mesh", 4);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(path_cell_is_read) {
  cavum_cell cell = read_good(
      "contour:\n  kind: path\n  start: {z_mm: 1, r_mm: 0}\n  path:\n" BOX_AXIS
      "    - {ellipse_to: {z_mm: 8, r_mm: 3}, centre: {z_mm: 8, r_mm: 0}, axial_mm: 2, "
      "radial_mm: 3, turn: left, boundary: metal}\n"
      "    - {spline_through: [{z_mm: 6, r_mm: 3.5}, {z_mm: 4, r_mm: 3}], boundary: electric}\n"
      "    - {arc_to: {z_mm: 1, r_mm: 0}, centre: {z_mm: 4, r_mm: 0}, turn: left, boundary: "
      "metal}\n");
  ck_assert_int_eq(cell.path.num_curves, 5);
  ck_assert_int_eq(cell.path.curves[1].kind, CAVUM_CURVE_ELLIPSE);
  ck_assert_int_eq(cell.path.curves[2].kind, CAVUM_CURVE_CUBIC);
  ck_assert_int_eq(cell.path.curves[3].boundary, CAVUM_BOUNDARY_ELECTRIC);
  cavum_contour contour = {0};
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL), CAVUM_OK);
  ck_assert_int_eq(contour.num_curves, 5);
  ck_assert_ptr_ne(contour.curves, cell.path.curves);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}
END_TEST

/** One bad text, where the message must point, and a part of it. */
typedef struct bad_text {
  const char *text, *place, *words;
} bad_text;

#define CELL CONTOUR ENDS
static const bad_text bad_texts[] = {
    // syntax and structure
    {"", "1:1", "the file is empty"},
    {"# nothing\n", "1:1", "the file is empty"},
    {"- a\n", "1:1", "expected a mapping"},
    {"title: [\n", "2:1", "no valid YAML"},
    {"title: a\ntitle: b\n" CELL, "2:1", "'title' comes twice, it was first given in line 1"},
    {CELL "---\ntitle: b\n", "11:1", "a second document"},
    {"title: &x a\n" CELL, "1:8", "anchors"},
    {"title: *x\n" CELL, "1:8", "aliases"},
    {"<<: {beta: 1}\n" CELL, "1:1", "merge keys"},
    {"title: !!str a\n" CELL, "1:8", "tags"},
    {"[a]: b\n", "1:1", "a key must be a word"},
    {"title: \"a\\nb\"\n" CELL, "1:8", "one line"},
    {"title: \"a\\0b\"\n" CELL, "1:8", "control characters"},
    {"a: {b: {c: {d: {e: {f: {g: {h: {i: {j: {k: {l: {m: {n: {o: {p: {q: 1}}}}}}}}}}}}}}}}\n",
     "1:64", "nested too deeply"},
    // keys
    {"titel: x\n" CELL, "1:1", "titel: unknown key, did you mean 'title'?"},
    {"colour: red\n" CELL, "1:1", "colour: unknown key"},
    {"wall: {kind: niobium, temperature_K: 2,1, residual_nohm: 4}\n" CELL, "1:40",
     "wall.1: unknown key; a decimal number has a point, no comma"},
    {"title: x\n", "1:1", "missing key 'contour'"},
    {CONTOUR "  iris_radius: 35\n" ENDS, "8:3",
     "contour.iris_radius: the unit is missing, write 'iris_radius_mm'"},
    {CONTOUR "  left: {half_length_cm: 35}\n" ENDS, "8:10",
     "contour.left.half_length_cm: unknown key, did you mean 'half_length_mm'?"},
    {"contour: {kind: two-ellipse}\n" ENDS, "1:10", "contour: missing key 'half_length_mm'"},
    {"contour: {half_length_mm: 3}\n", "1:10", "missing key 'kind'"},
    {"contour: {kind: oval}\n", "1:17",
     "expected two-ellipse, path, mesh or measured, found 'oval'"},
    {CONTOUR, "1:1", "missing key 'ends'"},
    {CONTOUR "ends: {left: {kind: metal}}\n", "8:7", "ends: missing key 'right'"},
    {CONTOUR "ends: {left: {kind: tube}, right: {kind: metal}}\n", "8:14",
     "ends.left: missing key 'length_mm' for kind: tube"},
    {CONTOUR "ends: {left: {kind: tube, length_mm: 9}, right: {kind: metal}}\n", "8:14",
     "ends.left: missing key 'close' for kind: tube, expected electric, magnetic or metal"},
    {CONTOUR "ends: {left: {kind: metal, radius_mm: 9}, right: {kind: metal}}\n", "8:39",
     "ends.left.radius_mm: is for kind: tube only"},
    {BOX_START BOX_AXIS BOX_REST ENDS, "9:1", "ends: is for contour.kind: two-ellipse only"},
    // numbers
    {"beta: 42 mm\n" CELL, "1:7", "beta: '42 mm' is not a plain number; units stand in the key"},
    {"beta: 42mm\n" CELL, "1:7", "'42mm' is not a plain number"},
    {"beta: 0,9\n" CELL, "1:7", "write a decimal point"},
    {"beta: nan\n" CELL, "1:7", "expected a number such as 42.0, found 'nan'"},
    {"beta: 0.1(31)e10\n" CELL, "1:7", "'0.1(31)e10' has its uncertainty with it"},
    {"beta: .inf\n" CELL, "1:7", "expected a number"},
    {"beta: -inf\n" CELL, "1:7", "expected a number"},
    {"beta: 0x1p-1\n" CELL, "1:7", "expected a number such as 42.0, found '0x1p-1'"},
    {"beta: 1e999\n" CELL, "1:7", "too large"},
    {"beta: '1.0'\n" CELL, "1:7", "without quotes"},
    {"beta:\n" CELL, "1:6", "expected a number, found nothing"},
    {"beta: [1]\n" CELL, "1:7", "expected a number, found a list"},
    {"beta: 1.5\n" CELL, "1:7", "must lie between 1e-06 and 1, found 1.5"},
    {"beta: 0\n" CELL, "1:7", "must be positive, found 0"},
    {"accelerating_length_mm: -3\n" CELL, "1:25", "must be positive, found -3"},
    {CELL "modes: {count: 1.5}\n", "11:16", "modes.count: expected a whole number"},
    {CELL "modes: {count: 0}\n", "11:16", "modes.count: must be positive"},
    {CELL "modes: [5]\n", "11:8", "modes: expected a mapping {...}, found a list"},
    // wall
    {CELL "wall: {kind: gold}\n", "11:14", "expected niobium, metal or resistance, found 'gold'"},
    {CELL "wall: {kind: niobium, temperature_K: 2}\n", "11:7", "missing key 'residual_nohm'"},
    {CELL "wall: {kind: metal, temperature_K: 2}\n", "11:36", "does not go with kind: metal"},
    {CELL "wall: {kind: resistance}\n", "11:7", "exactly one of"},
    {CELL "wall: {kind: resistance, surface_resistance_ohm: 1, surface_resistance_nohm: 1}\n",
     "11:7", "exactly one of"},
    {CELL "wall: {kind: niobium, temperature_K: 20, residual_nohm: 2}\n", "11:38",
     "must lie between"},
    // path
    {BOX_START BOX_AXIS "    - {line_to: {z_mm: 10, r_mm: 5}}\n", "6:7",
     "contour.path[2]: missing key 'boundary'"},
    {BOX_START BOX_AXIS "    - {boundary: metal}\n", "6:7", "expected exactly one of line_to"},
    {BOX_START BOX_AXIS "    - {line_to: {z_mm: 1, r_mm: 1}, turn: left, boundary: metal}\n",
     "6:43", "contour.path[2].turn: does not go with line_to"},
    {BOX_START BOX_AXIS "    - {arc_to: {z_mm: 1, r_mm: 1}, turn: left, boundary: metal}\n", "6:7",
     "contour.path[2]: missing key 'centre' for arc_to"},
    {BOX_START BOX_AXIS
     "    - {arc_to: {z_mm: 1, r_mm: 1}, centre: {z_mm: 0, r_mm: 0}, boundary: metal}\n",
     "6:7", "missing key 'turn' for arc_to"},
    {BOX_START BOX_AXIS "    - {arc_to: {z_mm: 1, r_mm: 1}, centre: {z_mm: 0, r_mm: 0}, turn: "
                        "left, boundary: metal}\n",
     "6:7", "contour.path[2]: no circle"},
    {BOX_START BOX_AXIS "    - {arc_to: {z_mm: 10, r_mm: 0}, centre: {z_mm: 5, r_mm: 0}, turn: "
                        "left, boundary: metal}\n",
     "6:7", "two arcs"},
    {BOX_START BOX_AXIS "    - {line_to: {z_mm: 10}, boundary: metal}\n", "6:17",
     "contour.path[2].line_to: missing key 'r_mm'"},
    {BOX_START BOX_AXIS "    - {line_to: {z_mm: 10, r_mm: -1}, boundary: metal}\n", "6:34",
     "contour.path[2].line_to.r_mm: must not be negative"},
    {BOX_START BOX_AXIS
     "    - {spline_through: [{z_mm: 9, r_mm: 5}, {z_mm: 9, r_mm: 5}], boundary: metal}\n",
     "6:7", "contour.path[2]: spline point 2 repeats"},
    {BOX_START BOX_AXIS
     "    - {spline_through: [{z_mm: 9, r_mm: 5}], direction_at_start_deg: 90, boundary: metal}\n",
     "6:24", "a stated direction takes at least 3 points"},
    {BOX_START BOX_AXIS
     "    - {line_to: {z_mm: 9, r_mm: 5}, direction_at_end_deg: 90, boundary: metal}\n",
     "6:7", "go with spline_through"},
    {BOX_START BOX_AXIS "    - {spline_through: [], boundary: metal}\n", "6:24",
     "expected at least one point"},
    {BOX_START BOX_AXIS "    - {spline_through: [3], boundary: metal}\n", "6:25",
     "contour.path[2].spline_through[1]: expected a mapping"},
    {BOX_START BOX_AXIS, "5:5", "ends at z = 10 mm, r = 0 mm, expected the start"},
    {"contour: {kind: path, start: {z_mm: 0, r_mm: 0}, path: []}\n", "1:56", "found none"},
    {BOX_START "    - {line_to: {z_mm: 10, r_mm: 0}, boundary: metal}\n" BOX_REST, "5:7",
     "contour.path[1] runs along r = 0"},
    {BOX_START "    - {line_to: {z_mm: 0, r_mm: 5}, boundary: metal}\n"
               "    - {line_to: {z_mm: 10, r_mm: 5}, boundary: metal}\n"
               "    - {line_to: {z_mm: 10, r_mm: 0}, boundary: metal}\n"
               "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: axis}\n",
     "5:5", "clockwise"},
    {BOX_START BOX_AXIS "    - {line_to: {z_mm: 0, r_mm: 5}, boundary: metal}\n"
                        "    - {line_to: {z_mm: 10, r_mm: 5}, boundary: metal}\n"
                        "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n",
     "8:7", "contour.path[4] crosses or touches contour.path[2], at z = 5 mm, r = 2.5 mm"},
    // mesh
    {"contour: {kind: mesh, file: a.msh, axis: z}\n", "1:10", "missing key 'unit'"},
    {"contour: {kind: mesh, file: '', unit: mm, axis: z}\n", "1:10", "name of a mesh file"},
    {"contour: {kind: mesh, file: a, unit: mm, axis: r}\n", "1:48", "expected x, y or z"},
    {"contour: {kind: mesh, unit: mm, axis: x}\n", "1:10", "one of the keys file and file_base64"},
    {"contour: {kind: mesh, file: a, file_base64: TWVzaA==, unit: mm, axis: x}\n", "1:10",
     "one of the keys file and file_base64"},
    {"contour: {kind: mesh, file_base64: TWVzaA=, unit: mm, axis: x}\n", "1:36",
     "contour.file_base64: is not base64"},
    {"contour: {kind: mesh, file_base64: '', unit: mm, axis: x}\n", "1:36", "a mesh file"},
    {"contour: {kind: mesh, file: a, unit: mm, axis: x, regions: {w: {eps_r: 0}}}\n", "1:72",
     "contour.regions.w.eps_r: must be positive"},
    {"contour: {kind: mesh, file: a, unit: mm, axis: x, boundaries: {w: wood}}\n", "1:67",
     "contour.boundaries.w: expected metal, electric, magnetic or axis, found 'wood'"},
    // shape
    {"contour:\n  kind: two-ellipse\n  half_length_mm: 30.0\n  iris_radius_mm: 35.0\n"
     "  equator_radius_mm: 80.0\n" ELLIPSES ENDS,
     "2:3", "no common tangent"},
};

START_TEST(bad_texts_are_refused_with_their_place) {
  const bad_text *row = &bad_texts[_i];
  cavum_cell cell = {.num_modes = 77};
  cavum_error error = {0};
  cavum_status status = read_text(&cell, row->text, &error);
  printf("%s\n", error.message);
  ck_assert(status == CAVUM_ERR_INPUT || status == CAVUM_ERR_GEOMETRY);
  ck_assert_int_eq(status, (int)error.status);
  char place[64];
  snprintf(place, sizeof place, "folder/cell.yaml:%s: ", row->place);
  ck_assert_msg(strncmp(error.message, place, strlen(place)) == 0, "expected %s in: %s", place,
                error.message);
  ck_assert_msg(strstr(error.message, row->words) != NULL, "no '%s' in: %s", row->words,
                error.message);
  ck_assert_ptr_null(strchr(error.message, '\n'));
  ck_assert_int_eq(cell.num_modes, 77);  // untouched
}
END_TEST

/** A text of `count` repetitions. */
static char *repeat(const char *part, int count) {
  size_t length = strlen(part);
  char *text = cavum_alloc((int64_t)length * count + 1, 1);
  for (int i = 0; i < count; i++) memcpy(text + (size_t)i * length, part, length);
  return text;
}

// None of these may take long (the suite has a time limit) or be taken for a cell.
START_TEST(hostile_texts_are_refused) {
  const char *const parts[] = {"[", "{a: ", "- ",   "? ",     "- - - -\n", "a: [", "\"",
                               "!", "&a ",  "\xff", "a: b\n", "{",         "[]",   "? a\n",
                               "'", "|\n ", "%",    "*a ",    "a:\n ",     "\t"};
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    for (int size = 1000; size <= 1100000; size *= 10) {
      char *text = repeat(parts[i], size / (int)strlen(parts[i]) + 1);
      cavum_cell cell;
      cavum_error error = {0};
      cavum_status status = read_text(&cell, text, &error);
      ck_assert_int_eq(status, CAVUM_ERR_INPUT);
      ck_assert_ptr_null(strchr(error.message, '\n'));
      free(text);
    }
  }
  char *text = repeat("a", (1 << 26) + 1);
  cavum_cell cell;
  cavum_error error = {0};
  ck_assert_int_eq(read_text(&cell, text, &error), CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "longer than"));
  free(text);
}
END_TEST

// A locale with a decimal comma, by localedef of the C library, which comes with it.
static void make_comma_locale(const char *folder) {
  char command[512], path[192];
  snprintf(path, sizeof path, "%s/definition", folder);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs(
      "comment_char %\nescape_char /\nLC_NUMERIC\ndecimal_point \",\"\nthousands_sep \".\"\n"
      "grouping 3;3\nEND LC_NUMERIC\n",
      file);
  fclose(file);
  // It warns of the other categories, and says so in its exit status.
  snprintf(command, sizeof command, "localedef --no-archive -c -i %s %s/comma >%s/log 2>&1 || true",
           path, folder, folder);
  ck_assert_int_eq(system(command), 0);
  ck_assert_int_eq(setenv("LOCPATH", folder, 1), 0);
}

// A program may have set a locale with a decimal comma.
START_TEST(numbers_do_not_depend_on_the_locale) {
  char folder[128];
  temporary_folder_make(folder);
  make_comma_locale(folder);
  ck_assert_ptr_nonnull(setlocale(LC_NUMERIC, "comma"));
  ck_assert_str_eq(localeconv()->decimal_point, ",");
  cavum_cell cell = read_good(CELL);
  CAVUM_CHECK_NEAR(cell.right.half_length_m, 0.0577, 0.0);
  cavum_cell_clear(&cell);
  setlocale(LC_NUMERIC, "C");
  temporary_folder_delete(folder);
}
END_TEST

// A number of many digits is that in SI with another exponent, which may be longer than any
// integer.
START_TEST(exponents_may_be_of_any_length) {
  cavum_cell cell = read_good(
      "accelerating_length_mm: 1.000000000000000000000e2\ncontour:\n  kind: path\n"
      "  start: {z_mm: 1.234567890123456789012e-9223372036854775809999, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 5, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 5, r_mm: 3}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 3}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n");
  CAVUM_CHECK_NEAR(cell.accelerating_length_m, 0.1, 0.0);
  CAVUM_CHECK_NEAR(cell.path.curves[0].start.z_m, 0.0, 0.0);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(files_that_cannot_be_read) {
  cavum_cell cell;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_cell_read_file(&cell, "/no/such/file.yaml", &error), CAVUM_ERR_FILE);
  ck_assert_ptr_nonnull(strstr(error.message, "/no/such/file.yaml: cannot be opened"));
  ck_assert_int_eq(cavum_cell_read_file(&cell, "/", &error), CAVUM_ERR_FILE);
  ck_assert_int_eq(cavum_cell_read_file(&cell, "/dev/zero", &error), CAVUM_ERR_INPUT);
}
END_TEST

static const char *const cell_names[] = {"injector-cell",     "mid-cell",       "end-cell",
                                         "reentrant-cell",    "nose-cone-cell", "capsule",
                                         "coaxial-resonator", "pillbox",        "measured-cell"};

START_TEST(example_cells_are_read) {
  char path[512];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(path, sizeof path, "%s/%s.yaml", _i % 2 != 0 ? CAVUM_DEMO_FOLDER : CAVUM_CELLS_FOLDER,
           cell_names[_i / 2]);
  cavum_status status = cavum_cell_read_file(&cell, path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_contour contour = {0};
  status = cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%s: %d curves\n", cell.title, contour.num_curves);
  ck_assert_int_ge(contour.num_curves, 4);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, two_ellipse_cell_is_read);
  tcase_add_test(tests, a_byte_order_mark_is_no_part_of_the_text);
  tcase_add_test(tests, defaults_are_set);
  tcase_add_test(tests, the_former_name_of_an_accuracy_is_read_with_a_note);
  tcase_add_test(tests, both_halves_may_give_everything);
  tcase_add_test(tests, walls_are_read);
  tcase_add_test(tests, mesh_cell_is_read);
  tcase_add_test(tests, path_cell_is_read);
  tcase_add_loop_test(tests, bad_texts_are_refused_with_their_place, 0,
                      (int)(sizeof bad_texts / sizeof *bad_texts));
  tcase_add_test(tests, hostile_texts_are_refused);
  tcase_add_test(tests, numbers_do_not_depend_on_the_locale);
  tcase_add_test(tests, exponents_may_be_of_any_length);
  tcase_add_test(tests, files_that_cannot_be_read);
  tcase_add_loop_test(tests, example_cells_are_read, 0,
                      2 * (int)(sizeof cell_names / sizeof *cell_names));
}

CAVUM_TEST_MAIN("cell_file", add_tests)
