// SPDX-License-Identifier: GPL-3.0-or-later
// A cell as text reads back as the same cell, to the bit, however it came about.
#include <stdlib.h>
#include <string.h>

#include "base/units.h"
#include "cavum/cell_text.h"
#include "random_cells.h"
#include "support.h"
#include "test_cell.h"
#include "yaml/writer.h"

static cavum_cell read_cell(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s\n%s", error.message, text);
  return cell;
}

static char *text_of(const cavum_cell *cell) {
  char *text = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_cell_to_text(&text, cell, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return text;
}

// Written, read and written again: the same cell and the same text.
static void check_round_trip(const cavum_cell *cell) {
  char *text = text_of(cell);
  cavum_cell read = read_cell(text);
  ck_assert_uint_eq(cavum_cell_digest(&read), cavum_cell_digest(cell));
  ck_assert_str_eq(read.title, cell->title ? cell->title : "");
  free(read.text);
  read.text = NULL;
  char *again = text_of(&read);
  ck_assert_str_eq(again, text);
  free(again);
  free(text);
  cavum_cell_clear(&read);
}

START_TEST(unchanged_cells_keep_their_text) {
  const char *text = "# a comment\n" TEST_CELL;
  cavum_cell cell = read_cell(text);
  char *kept = text_of(&cell);
  ck_assert_str_eq(kept, text);
  free(kept);
  cell.left.iris_radius_m = cell.right.iris_radius_m = 0.030;
  char *written = text_of(&cell);
  ck_assert_ptr_nonnull(strstr(written, "iris_radius_mm: 30\n"));
  ck_assert_ptr_null(strstr(written, "comment"));
  free(written);
  check_round_trip(&cell);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(every_kind_of_two_ellipse_cell) {
  cavum_cell cell = read_cell(TEST_CELL);
  const cavum_boundary closures[] = {CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_ELECTRIC,
                                     CAVUM_BOUNDARY_MAGNETIC};
  for (int i = 0; i < 3; i++) {
    cell.left_end.kind = (cavum_end_kind)(CAVUM_END_METAL + i);
    cell.right_end = (cavum_end){CAVUM_END_TUBE, 0.1 / 3.0, 0.11 / 3.0, closures[i]};
    cell.wall = (cavum_wall){.kind = (cavum_wall_kind)(CAVUM_WALL_RESISTANCE + i),
                             .surface_resistance_ohm = 1e-8 / 3.0,
                             .conductivity_s_per_m = 1e8 / 3.0,
                             .temperature_k = 2.0 / 3.0,
                             .residual_resistance_ohm = 1e-8 / 7.0};
    cell.near_hz = 1e10 / 3.0;
    cell.accelerating_length_m = 0.1 / 7.0;
    cell.accuracy_frequency = 1e-7 / 3.0;
    cell.left.half_length_m = 0.0577 + 1e-4 * i;
    check_round_trip(&cell);
  }
  free(cell.title);
  cell.title = strdup("A \"quoted\": {cell}, # of \xc3\xa9 \\ 'signs'");
  check_round_trip(&cell);
  cavum_cell_clear(&cell);
}
END_TEST

// All digits of a double, in every unit of a cell file.
START_TEST(numbers) {
  enum { TRIALS = 100000 };
  const cavum_unit units[] = {CAVUM_UNIT_SI, CAVUM_UNIT_MM, CAVUM_UNIT_MHZ, CAVUM_UNIT_NOHM};
  random_state state = {1};
  int num_long = 0;
  for (int i = 0; i < TRIALS; i++) {
    char text[CAVUM_WRITER_NUMBER_SIZE], cell_text[1024];
    double value = exp(random_between(&state, -8.0, 0.0));
    cavum_writer_number_text(text, value, units[i % 4]);
    // One digit before the point and 17 behind it are more than a double has.
    const char *end = strchr(text, 'e');
    bool is_long = end && end - text == 1 + 1 + 17;
    num_long += is_long;
    if (!is_long) {
      ck_assert(cavum_from_unit(strtod(text, NULL), units[i % 4]) == value);
    }
    if (i % 4 != 1 || i > 4000) continue;
    // Through the reader, as a length.
    snprintf(cell_text, sizeof cell_text, "accelerating_length_mm: %s\n%s", text, TEST_CELL);
    cavum_cell cell = read_cell(cell_text);
    ck_assert_msg(cell.accelerating_length_m == value, "%s: %.17g, expected %.17g", text,
                  cell.accelerating_length_m, value);
    cavum_cell_clear(&cell);
  }
  printf("%d of %d numbers need more than 17 digits\n", num_long, TRIALS);
  ck_assert_int_gt(num_long, 0);
  ck_assert_int_lt(num_long, TRIALS / 20);
}
END_TEST

static void check_demo(const char *name) {
  char path[512];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(path, sizeof path, "%s/%s.yaml", CAVUM_CELLS_FOLDER, name);
  cavum_status status = cavum_cell_read_file(&cell, path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  char *kept = text_of(&cell);
  ck_assert_str_eq(kept, cell.text);
  free(kept);
  free(cell.text);
  cell.text = NULL;  // as if it had been filled in
  check_round_trip(&cell);
  cavum_cell_clear(&cell);
}

START_TEST(demo_cells) {
  check_demo("injector-cell");
  check_demo("end-cell");
  check_demo("nose-cone-cell");
  check_demo("measured-cell");
  check_demo("capsule");
  check_demo("reentrant-cell");
  check_demo("coaxial-resonator");
  check_demo("pillbox");
}
END_TEST

// A path that is stretched in memory, arcs and splines with it.
START_TEST(changed_paths) {
  const char *names[] = {"nose-cone-cell", "measured-cell", "capsule"};
  for (int n = 0; n < 3; n++) {
    char path[512];
    cavum_cell cell;
    snprintf(path, sizeof path, "%s/%s.yaml", CAVUM_CELLS_FOLDER, names[n]);
    ck_assert_int_eq(cavum_cell_read_file(&cell, path, NULL), CAVUM_OK);
    if (cell.kind == CAVUM_CONTOUR_PATH) {
      const double by = 1.0 + 1.0 / 3.0;
      for (cavum_index i = 0; i < cell.path.num_curves; i++) {
        cavum_curve *c = &cell.path.curves[i];
        cavum_point *points[] = {&c->start,    &c->end,      &c->centre,  &c->cubic[0],
                                 &c->cubic[1], &c->cubic[2], &c->cubic[3]};
        for (int k = 0; k < 7; k++) points[k]->z_m *= by;
        c->axial_m *= by;
      }
      check_round_trip(&cell);
    }
    cavum_cell_clear(&cell);
  }
}
END_TEST

START_TEST(random_two_ellipse_cells) {
  random_state state = {2};
  for (int i = 0; i < 100; i++) {
    cavum_cell cell = random_two_ellipse(&state);
    check_round_trip(&cell);
    cavum_cell_clear(&cell);
  }
}
END_TEST

START_TEST(mesh_files) {
  cavum_cell cell = read_cell(
      "contour:\n  kind: mesh\n  file: folder/cell.msh\n  unit: inch\n  axis: z\n"
      "  regions:\n    window: {eps_r: 9.8}\n    \"air: 2\": {mu_r: 1.5}\n"
      "  boundaries:\n    outer: metal\n    left side: magnetic\n");
  free(cell.text);
  cell.text = NULL;
  check_round_trip(&cell);
  cell.mesh.unit_m = 0.5;
  ck_assert_int_eq(cavum_cell_check(&cell, NULL), CAVUM_ERR_INPUT);
  cavum_cell_clear(&cell);
}
END_TEST

// Any bytes at all: what is in them is looked at by a solve.
START_TEST(meshes_in_memory) {
  cavum_cell cell, other;
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_MESH_FILE;
  cell.mesh.unit_m = 0.0254;
  cell.mesh.axis = 'y';
  cell.mesh.path = strdup("its name");
  cell.mesh_size = 1001;
  cell.mesh_data = malloc(cell.mesh_size);
  for (size_t i = 0; i < cell.mesh_size; i++) cell.mesh_data[i] = (char)(i * 37 % 251);
  check_round_trip(&cell);
  char *text = text_of(&cell);
  printf("%s\n", text);
  other = read_cell(text);
  ck_assert_mem_eq(other.mesh_data, cell.mesh_data, cell.mesh_size);
  ck_assert_ptr_null(other.mesh.path);
  // Unchanged it keeps its text, with another byte it has another one.
  char *again = text_of(&other);
  ck_assert_str_eq(again, text);
  free(again);
  other.mesh_data[7] = (char)(other.mesh_data[7] ^ 4);
  ck_assert_uint_ne(cavum_cell_digest(&other), cavum_cell_digest(&cell));
  again = text_of(&other);
  ck_assert_str_ne(again, text);
  free(again);
  cavum_cell_clear(&other);
  free(text);
  cavum_cell_clear(&cell);
}
END_TEST

// More than other files may be long.
START_TEST(a_large_mesh_in_memory) {
  enum { SIZE = 3 << 20 };
  cavum_cell cell;
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_MESH_FILE;
  cell.mesh.unit_m = 1e-3;
  cell.mesh.axis = 'x';
  cell.mesh_size = SIZE;
  cell.mesh_data = malloc(SIZE);
  memset(cell.mesh_data, 'm', SIZE);
  char *text = text_of(&cell);
  cavum_cell read = read_cell(text);
  ck_assert_uint_eq(read.mesh_size, SIZE);
  ck_assert_mem_eq(read.mesh_data, cell.mesh_data, SIZE);
  cavum_cell_clear(&read);
  free(text);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(what_no_file_can_hold) {
  char *text = NULL;
  cavum_error error = {0};
  cavum_cell cell = read_cell(TEST_CELL), bad = cell;
  bad.text = NULL;
  bad.title = "two\nlines";
  ck_assert_int_eq(cavum_cell_to_text(&text, &bad, &error), CAVUM_ERR_INPUT);
  bad.title = "no UTF-8: \xff\xfe";
  ck_assert_int_eq(cavum_cell_to_text(&text, &bad, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_int_eq(cavum_cell_to_text(NULL, &cell, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_cell_to_text(&text, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_null(text);
  cavum_cell_clear(&cell);
}
END_TEST

// YAML 1.1 takes a number with an exponent for text unless it has a point: PyYAML, a reader of 1.1,
// finds no text that is a number.
START_TEST(numbers_are_numbers_for_yaml_1_1) {
  static const char script[] =
      "/usr/bin/python3 -c '\nimport sys, yaml\nbad = []\ndef walk(v):\n"
      "  if isinstance(v, dict): [walk(x) for x in v.values()]\n"
      "  elif isinstance(v, list): [walk(x) for x in v]\n"
      "  elif isinstance(v, str):\n    try: float(v); bad.append(v)\n"
      "    except ValueError: pass\n"
      "walk(yaml.safe_load(sys.stdin))\nprint(\"as text:\", bad)\nsys.exit(len(bad))'";
  cavum_cell cell = read_cell(TEST_CELL);
  free(cell.text);
  cell.text = NULL;
  cell.accuracy_frequency = 1e-6;
  cell.accuracy_other_figures = 3e-5;
  cell.near_hz = 1e15;
  cell.wall = (cavum_wall){.kind = CAVUM_WALL_METAL, .conductivity_s_per_m = 1e10};
  char *text = text_of(&cell);
  printf("%s", text);
  ck_assert_ptr_nonnull(strstr(text, "frequency: 1.0e-06"));
  FILE *reader = popen(script, "w");
  ck_assert_ptr_nonnull(reader);
  fputs(text, reader);
  ck_assert_int_eq(pclose(reader), 0);
  check_round_trip(&cell);
  free(text);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, unchanged_cells_keep_their_text);
  tcase_add_test(tests, every_kind_of_two_ellipse_cell);
  tcase_add_test(tests, numbers);
  tcase_add_test(tests, demo_cells);
  tcase_add_test(tests, changed_paths);
  tcase_add_test(tests, random_two_ellipse_cells);
  tcase_add_test(tests, mesh_files);
  tcase_add_test(tests, meshes_in_memory);
  tcase_add_test(tests, a_large_mesh_in_memory);
  tcase_add_test(tests, what_no_file_can_hold);
  tcase_add_test(tests, numbers_are_numbers_for_yaml_1_1);
}

CAVUM_TEST_MAIN("cell.cell_text", add_tests)
