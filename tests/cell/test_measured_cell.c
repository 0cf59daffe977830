// SPDX-License-Identifier: GPL-3.0-or-later
// Cell files whose contour is measured: points from a file, what is wrong with them, the text.
#include <math.h>

#include "cavum/cell_key.h"
#include "cavum/cell_text.h"
#include "cell/cell.h"
#include "cell/file_measured.h"
#include "contour/curve.h"
#include "measured_wall.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

static const char PILLBOX[] =
    "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 50, r_mm: 90}, boundary: magnetic}\n"
    "    - {line_to: {z_mm: -50, r_mm: 90}, boundary: metal}\n"
    "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: magnetic}\n";
static const char BUILT[] =
    "title: built\n"
    "contour:\n  kind: measured\n  file: points.csv\n  drawing: drawing.yaml\n"
    "  scatter_um: 2\n  probe_radius_mm: 1\n"
    "requirements: {epk_over_eacc: {most: 9}}\n";

// A tube of radius 90.05 mm, touched by a ball of 1 mm.
static void write_points(const char *name, const char *header, int count) {
  char *text = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&text, &size);
  fputs(header, out);
  for (int i = 0; i < count; i++) {
    double z = -50.0 + 100.0 * ((i * 37) % count) / (count - 1.0);
    fprintf(out, "%.6f,%.6f\n", z, 89.05);
  }
  fclose(out);
  program_write_text(folder, name, text);
  free(text);
}

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "drawing.yaml", PILLBOX);
  program_write_text(folder, "built.yaml", BUILT);
  write_points("points.csv", "# points of a day\nz_mm,r_mm\n", 60);
}

static void tear_down(void) { temporary_folder_delete(folder); }

static cavum_status read_cell(cavum_cell *cell, const char *text, cavum_error *error) {
  char path[192];
  snprintf(path, sizeof path, "%s/cell.yaml", folder);
  return cavum_cell_read_text(cell, text, strlen(text), path, error);
}

// All that it was read from is known, in whatever way it was opened, and stays known.
START_TEST(files_that_were_read_are_listed) {
  char path[192];
  cavum_cell cell;
  cavum_error error = {0};
  ck_assert_msg(read_cell(&cell, BUILT, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(cell.files.num_paths, 2);
  cavum_cell_clear(&cell);
  ck_assert_int_eq(cell.files.num_paths, 0);
  snprintf(path, sizeof path, "%s/built.yaml", folder);
  ck_assert_msg(cavum_cell_read_file(&cell, path, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_msg(cavum_cell_set(&cell, "path[1].line_to.z_mm", 50.0, &error) == CAVUM_OK, "%s",
                error.message);
  ck_assert_int_eq(cell.files.num_paths, 3);
  ck_assert_str_eq(cell.files.paths[0], path);
  ck_assert_ptr_nonnull(strstr(cell.files.paths[1], "/drawing.yaml"));
  ck_assert_ptr_nonnull(strstr(cell.files.paths[2], "/points.csv"));
  cavum_cell_clear(&cell);
  // A program whose cell ends before the list gets none, and nothing is lost.
  size_t before = offsetof(cavum_cell, files);
  memset(&cell, 1, sizeof cell);
  ck_assert_int_eq(cavum_cell_read_file_sized(&cell, before, path, &error), CAVUM_OK);
  ck_assert_int_eq(cell.files.num_paths, 0x01010101);
  cavum_cell_clear(&cell);
  ck_assert_int_eq(cell.files.num_paths, 0x01010101);
}
END_TEST

START_TEST(a_measured_cell_is_a_path) {
  cavum_cell cell, again;
  cavum_error error = {0};
  char *text = NULL;
  ck_assert_msg(read_cell(&cell, BUILT, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(cell.kind, CAVUM_CONTOUR_PATH);
  ck_assert_str_eq(cell.title, "built");
  CAVUM_CHECK_NEAR(cell.path.curves[2].start.r_m, 0.09005, 1e-8);
  CAVUM_CHECK_NEAR(cell.path.curves[2].end.r_m, 0.09005, 1e-8);
  ck_assert_int_eq(cell.path.curves[0].boundary, CAVUM_BOUNDARY_AXIS);
  // Its text needs no other file and keeps what else stands there.
  ck_assert_ptr_null(strstr(cell.text, "measured"));
  ck_assert_ptr_nonnull(strstr(cell.text, "requirements: {epk_over_eacc: {most: 9}}"));
  ck_assert_msg(cavum_cell_to_text(&text, &cell, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_str_eq(text, cell.text);
  ck_assert_int_eq(cavum_cell_read_text(&again, text, strlen(text), NULL, &error), CAVUM_OK);
  ck_assert_mem_eq(again.path.curves, cell.path.curves,
                   (size_t)cell.path.num_curves * sizeof *cell.path.curves);
  free(text);
  cavum_cell_clear(&again);
  cavum_cell_clear(&cell);
}
END_TEST

// The cell is that of the drawing in all that it does not state: a voltage needs the speed of the
// particles, Q0 the wall. What it states is its own.
START_TEST(what_is_not_stated_is_that_of_the_drawing) {
  cavum_cell cell;
  cavum_error error = {0};
  program_write_text(folder, "drawing.yaml",
                     "beta: 0.62\nwall: {kind: niobium, temperature_K: 2, residual_nohm: 6}\n"
                     "modes: {count: 3, near_MHz: 2000}\naccuracy: {frequency: 1e-7}\n");
  char *drawing = NULL;
  ck_assert_int_ge(asprintf(&drawing, "%s%s", program_read_text(folder, "drawing.yaml"), PILLBOX),
                   0);
  program_write_text(folder, "drawing.yaml", drawing);
  free(drawing);
  ck_assert_msg(read_cell(&cell, BUILT, &error) == CAVUM_OK, "%s", error.message);
  for (int again = 0; again < 2; again++) {
    ck_assert_double_eq(cell.beta, 0.62);
    ck_assert_int_eq(cell.wall.kind, CAVUM_WALL_NIOBIUM);
    ck_assert_double_eq_tol(cell.wall.residual_resistance_ohm, 6e-9, 1e-20);
    ck_assert_int_eq(cell.num_modes, 3);
    ck_assert_double_eq(cell.near_hz, 2e9);
    ck_assert_double_eq(cell.accuracy_frequency, 1e-7);
    ck_assert_double_eq(cell.accuracy_other_figures, 1e-4);
    // The text holds it too, and what else stands there.
    ck_assert_ptr_nonnull(strstr(cell.text, "requirements: {epk_over_eacc: {most: 9}}"));
    char *text = strdup(cell.text);
    cavum_cell_clear(&cell);
    ck_assert_msg(cavum_cell_read_text(&cell, text, strlen(text), NULL, &error) == CAVUM_OK, "%s",
                  error.message);
    free(text);
  }
  cavum_cell_clear(&cell);
  char own[1024];
  snprintf(own, sizeof own,
           "beta: 0.8\nwall: {kind: resistance, surface_resistance_nohm: 20}\nmodes: {count: 2}\n"
           "accuracy: {other_figures: 1e-3}\n%s",
           BUILT);
  ck_assert_msg(read_cell(&cell, own, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_double_eq(cell.beta, 0.8);
  ck_assert_int_eq(cell.wall.kind, CAVUM_WALL_RESISTANCE);
  ck_assert_int_eq(cell.num_modes, 2);
  ck_assert_double_eq(cell.near_hz, 0.0);
  ck_assert_double_eq(cell.accuracy_frequency, 1e-6);
  ck_assert_double_eq(cell.accuracy_other_figures, 1e-3);
  cavum_cell_clear(&cell);
}
END_TEST

// As a spreadsheet of a country with decimal commas writes the same points.
START_TEST(tables_may_have_semicolons_and_decimal_commas) {
  cavum_cell comma, semicolon;
  cavum_error error = {0};
  char *text = strdup(program_read_text(folder, "points.csv"));
  for (char *at = text; *at; at++) *at = *at == ',' ? ';' : *at == '.' ? ',' : *at;
  ck_assert_ptr_nonnull(strstr(text, "z_mm;r_mm\n"));
  ck_assert_msg(read_cell(&comma, BUILT, &error) == CAVUM_OK, "%s", error.message);
  program_write_text(folder, "points.csv", text);
  ck_assert_msg(read_cell(&semicolon, BUILT, &error) == CAVUM_OK, "%s", error.message);
  ck_assert_mem_eq(semicolon.path.curves, comma.path.curves,
                   (size_t)comma.path.num_curves * sizeof *comma.path.curves);
  cavum_cell_clear(&comma);
  cavum_cell_clear(&semicolon);
  free(text);
}
END_TEST

// A two-ellipse half cell drawn 0.3 mm too short at both ends: whatever solves the measured wall is
// told. A tube does not tell where it is mirrored, so the pillbox has nothing to say.
static void write_longer(double longer_mm) {
  static const char shape[] =
      "contour:\n  kind: two-ellipse\n  half_length_mm: %.17g\n  iris_radius_mm: 35\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
      "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
      "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n";
  char text[512];
  cavum_cell cell;
  cavum_contour contour = {0};
  snprintf(text, sizeof text, shape, 57.7);
  program_write_text(folder, "drawing.yaml", text);
  snprintf(text, sizeof text, shape, 57.7 + longer_mm);
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL), CAVUM_OK);
  char *points = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&points, &size);
  fputs("z_mm,r_mm\n", out);
  for (cavum_index i = 0; i < contour.num_curves; i++) {
    for (int k = 0; contour.curves[i].boundary == CAVUM_BOUNDARY_METAL && k < 80; k++) {
      cavum_point at = cavum_curve_point(&contour.curves[i], (k + 0.5) / 80);
      double noise_mm = 1e-3 * ((k * 7 + i * 3) % 11 - 5) / 5.0;
      fprintf(out, "%.6f,%.6f\n", 1e3 * at.z_m, 1e3 * at.r_m + noise_mm);
    }
  }
  fclose(out);
  program_write_text(folder, "points.csv", points);
  free(points);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
  program_write_text(folder, "long.yaml",
                     "contour: {kind: measured, file: points.csv, drawing: drawing.yaml, "
                     "scatter_um: 2}\n");
}

// The planes as they were fitted, in the table and in the report.
START_TEST(fitted_planes_are_printed_and_reported) {
  for (int longer = 0; longer < 2; longer++) {
    write_longer(0.3 * longer);
    ck_assert_int_eq(program_run(folder,
                                 "\"$CAVUM\" as-built long.yaml -o b.hdf --overwrite && "
                                 "\"$CAVUM\" report b.hdf -o b.html --overwrite"),
                     0);
    const char *table = program_read_text(folder, "out");
    ck_assert_ptr_nonnull(strstr(table, longer
                                            ? "left  end    ANOTHER LENGTH: the points beside it "
                                              "are mirrored 0.29"
                                            : "left  end    mirrored "));
    ck_assert_ptr_nonnull(
        strstr(table, longer ? "right end    ANOTHER LENGTH" : "right end    mirrored "));
    const char *html = program_read_text(folder, "b.html");
    const char *planes = strstr(html, "Where the points say that the wall is mirrored");
    ck_assert_ptr_nonnull(planes);
    ck_assert_ptr_nonnull(strstr(planes, "57.700<"));
    if (longer) ck_assert_ptr_nonnull(strstr(planes, "0.297<"));
    ck_assert_ptr_nonnull(strstr(planes, longer
                                             ? ">another length: the cell is solved with the plane"
                                             : ">as drawn, within five uncertainties<"));
    ck_assert_ptr_nonnull(strstr(html, "Best fit: the points were moved along z by "));
  }
}
END_TEST

// Metal on its cylinder alone.
static const char CAN[] =
    "accelerating_length_mm: 100\ncontour:\n  kind: path\n"
    "  start: {z_mm: 0, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 100, r_mm: 100}, boundary: electric}\n"
    "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: electric}\n";

// Each point twice is each point once; where two sections agree by rounding in some places, all are
// measured. With x and y no two points are the same.
START_TEST(points_that_were_exported_twice_count_once) {
  static const struct {
    const char *header;
    int times, few_times, used;
  } cases[] = {{"z_mm,r_mm", 1, 1, 100},
               {"z_mm,r_mm", 2, 2, 100},
               {"z_mm,r_mm", 1, 2, 110},
               {"x_mm,y_mm,z_mm", 1, 2, 100}};
  program_write_text(folder, "can.yaml", CAN);
  program_write_text(folder, "twice.yaml",
                     "accelerating_length_mm: 100\ncontour: {kind: measured, file: twice.csv, "
                     "drawing: can.yaml, scatter_um: 2, best_fit: none}\n");
  for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
    static char text[16384];
    size_t used = (size_t)snprintf(text, sizeof text, "%s\n", cases[k].header);
    for (int i = 0; i < 100; i++) {
      for (int n = 0; n < (i < 10 ? cases[k].few_times : cases[k].times); n++) {
        used += (size_t)snprintf(text + used, sizeof text - used,
                                 k == 3 ? "100,0,%.4f\n" : "%.4f,100\n", 0.5 + i);
      }
    }
    program_write_text(folder, "twice.csv", text);
    ck_assert_int_eq(program_run(folder, "\"$CAVUM\" as-built twice.yaml"), 0);
    char expected[64];
    snprintf(expected, sizeof expected, "points       %d, used %d\n", cases[k].used, cases[k].used);
    printf("%s%s", program_read_text(folder, "err"), expected);
    ck_assert_ptr_nonnull(strstr(program_read_text(folder, "out"), expected));
    bool said = strstr(program_read_text(folder, "err"),
                       " measured points repeat others exactly and were left out") != NULL;
    ck_assert_int_eq(said, k == 1 || k == 3);
  }
}
END_TEST

// Points that scatter by 0.1 mm to either side, stated as 2 um: said in table, report and where the
// cell is solved.
START_TEST(more_scatter_than_stated_is_said) {
  static char text[16384];
  size_t used = (size_t)snprintf(text, sizeof text, "z_mm,r_mm\n");
  random_state state = {5};
  for (int i = 0; i < 100; i++) {
    used += (size_t)snprintf(text + used, sizeof text - used, "%.4f,%.5f\n", 0.5 + i,
                             100.0 + 0.1 * measured_wall_normal(&state));
  }
  program_write_text(folder, "rough.csv", text);
  program_write_text(folder, "can.yaml", CAN);
  program_write_text(folder, "rough.yaml",
                     "accelerating_length_mm: 100\ncontour: {kind: measured, file: rough.csv, "
                     "drawing: can.yaml, scatter_um: 2, best_fit: none}\n");
  ck_assert_int_eq(program_run(folder,
                               "\"$CAVUM\" as-built rough.yaml -o rough.hdf && \"$CAVUM\" report "
                               "rough.hdf -o rough.html && \"$CAVUM\" solve rough.yaml"),
                   0);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "out"), "MORE SCATTER than stated"));
  ck_assert_ptr_nonnull(
      strstr(program_read_text(folder, "rough.html"), "MORE SCATTER than stated"));
  ck_assert_ptr_nonnull(
      strstr(program_read_text(folder, "err"), "more than the stated scatter_um of 2 "));
}
END_TEST

START_TEST(another_length_is_told_by_all_that_solves) {
  static const char *const commands[] = {
      "\"$CAVUM\" solve long.yaml", "\"$CAVUM\" mesh long.yaml -o m.msh",
      ("printf 'cell: long.yaml\\nsteps: [{name: cold, cool: {contraction: 0.001}}]\\n' >s.yaml && "
       "\"$CAVUM\" steps s.yaml"),
      "\"$CAVUM\" as-built long.yaml"};
  for (int longer = 0; longer < 2; longer++) {
    write_longer(0.3 * longer);
    for (size_t i = 0; i < sizeof commands / sizeof *commands; i++) {
      ck_assert_int_eq(program_run(folder, "%s", commands[i]), 0);
      const char *told = strstr(program_read_text(folder, "err"), "ANOTHER LENGTH");
      printf("%s\n", told ? told : "nothing told");
      ck_assert(longer ? told != NULL : told == NULL);
      if (longer)
        ck_assert_ptr_nonnull(strstr(told,
                                     "mm at the right end; it is solved with the planes of the "
                                     "drawing: change the half length"));
    }
  }
}
END_TEST

static const struct {
  const char *key, *instead, *points, *message;
} refused[] = {
    {"scatter_um: 2", "scatter_um: 0", NULL, "cell.yaml:6:15: contour.scatter_um"},
    {"scatter_um: 2", "scatter_mm: 2", NULL,
     "contour.scatter_mm: unknown key, did you mean 'scatter_um'?"},
    {"drawing: drawing.yaml", "drawing: none.yaml", NULL, "cell.yaml:5:12: contour.drawing: "},
    {"drawing: drawing.yaml", "drawing: built.yaml", NULL, "kind two-ellipse or path"},
    {"file: points.csv", "file: none.csv", NULL, "cell.yaml:4:9: contour.file: "},
    {"file: points.csv", "file: bad.csv", "z_mm,r_mm\n1,2\n3,x\n",
     "bad.csv:3: column 2 (r_mm): a number or nothing was expected, found 'x'"},
    {"file: points.csv", "file: bad.csv", "z_mm,r_mm\n1,2\n3\n", "bad.csv:3: 1 cells"},
    {"file: points.csv", "file: bad.csv", "z_mm\n1\n",
     "expected the columns z and r, or x, y and z"},
    {"file: points.csv", "file: bad.csv", "z_mm,radius_mm\n1,2\n", "not a known column"},
    {"file: points.csv", "file: bad.csv", "z_mm,r_mm\n1,2\n", "1 points, expected 8 to"},
    {"file: points.csv", "file: metres.csv", NULL, "another cell, other units"},
    {"file: points.csv", "file: few.csv", NULL, "no points between z = "},
};

START_TEST(what_cannot_be_used_is_refused_with_its_place) {
  cavum_cell cell;
  cavum_error error = {0};
  char text[512];
  const char *at = strstr(BUILT, refused[_i].key);
  ck_assert_ptr_nonnull(at);
  snprintf(text, sizeof text, "%.*s%s%s", (int)(at - BUILT), BUILT, refused[_i].instead,
           at + strlen(refused[_i].key));
  if (refused[_i].points) program_write_text(folder, "bad.csv", refused[_i].points);
  write_points("metres.csv", "z_cm,r_cm\n", 60);
  // A tube is straight: a gap of a quarter of it is one.
  program_write_text(folder, "few.csv",
                     "z_mm,r_mm\n-50,89\n-49,89\n-30,89\n-20,89\n0,89\n40,89\n45,89\n50,89\n");
  cavum_status status = read_cell(&cell, text, &error);
  printf("%s\n", error.message);
  ck_assert_int_eq(cavum_status_exit(status), 2);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].message));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, files_that_were_read_are_listed);
  tcase_add_test(tests, a_measured_cell_is_a_path);
  tcase_add_test(tests, what_is_not_stated_is_that_of_the_drawing);
  tcase_add_test(tests, tables_may_have_semicolons_and_decimal_commas);
  tcase_add_test(tests, points_that_were_exported_twice_count_once);
  tcase_add_test(tests, more_scatter_than_stated_is_said);
  tcase_add_test(tests, another_length_is_told_by_all_that_solves);
  tcase_add_test(tests, fitted_planes_are_printed_and_reported);
  tcase_add_loop_test(tests, what_cannot_be_used_is_refused_with_its_place, 0,
                      sizeof refused / sizeof refused[0]);
}

CAVUM_TEST_MAIN("measured cells", add)
