// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of the pictures of every kind of file at every size: none on another, none beyond the page,
// none cut.
#include <check.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"
#include "text_boxes.h"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)

static const char STUDY[] =
    "title: Iris radius and its ellipse\ncell: cell.yaml\n"
    "vary:\n  iris_radius_mm: {from: 33.0, to: 36.0}\n"
    "  iris_ellipse.axial_mm: {from: 11.0, to: 13.0}\n"
    "sampling: {kind: sobol, points: 12}\n";
static const char STEPS[] =
    "cell: cell.yaml\ntarget: {frequency_MHz: 1300.0, tolerance_kHz: 50}\nsteps:\n"
    "  - {name: bench, air: {temperature_C: 21, humidity_percent: 45}}\n"
    "  - {name: bulk, remove: {depth_um: 120, uncertainty_um: 10}}\n"
    "  - {name: furnace, anneal: {change_kHz: -30, uncertainty_kHz: 10}}\n"
    "  - {name: pumped, air: {gas: vacuum}, measured_MHz: 1310.0}\n"
    "  - {name: cold, cool: {material: niobium, from_K: 293, to_K: 2}}\n";
static const char GOAL[] =
    "cell: cell.yaml\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
    "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
    "minimise: bpk_over_eacc_mT_per_MV_per_m\nlimits: {wall_angle_deg: {least: 5}}\nstarts: 1\n";

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", TEST_CELL);
  program_write_text(folder, "study.yaml", STUDY);
  program_write_text(folder, "steps.yaml", STEPS);
  program_write_text(folder, "goal.yaml", GOAL);
  program_write_text(folder, "spread.yaml",
                     TEST_CELL
                     "tolerances:\n  equator_radius_mm: {normal: 0.05}\n"
                     "  iris_radius_mm: {uniform: 0.1}\n");
  program_write_text(folder, "bare.yaml",
                     TEST_CELL_CONTOUR
                     "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n");
}

static void tear_down(void) { temporary_folder_delete(folder); }

static const char *const SIZES[] = {"screen", "column", "two-columns", "slide"};

static bool is_cut(const char *svg) { return strstr(svg, "\xe2\x80\xa6") != NULL; }

// Draws what `of` names at all sizes.
static void check_sizes(const char *of) {
  for (size_t i = 0; i < sizeof SIZES / sizeof *SIZES; i++) {
    char name[160];
    snprintf(name, sizeof name, "%s, %s", of, SIZES[i]);
    ck_assert_int_eq(run("$CAVUM draw %s -o p.svg --overwrite --size %s", of, SIZES[i]), 0);
    const char *svg = program_read_text(folder, "p.svg");
    (void)text_boxes_check(svg, name, false);
    ck_assert_msg(!is_cut(svg), "%s: a text is cut", name);
  }
}

// Numbers of shapes stand on no ring: a ring is a path that begins at its right. The last one is
// that of the key. Digits are 0.6 of their size wide at least, and 0.7 high.
static int check_numbers(const char *svg, const char *name) {
  static const double RADIUS = 4.0;
  static const char ring[] = "stroke-width=\"1.3\" d=\"M";
  int count = 0;
  for (const char *tag = strstr(svg, "<text "); tag; tag = strstr(tag + 1, "<text ")) {
    const char *open = strchr(tag, '>'), *anchor = strstr(tag, "text-anchor=\"end\"");
    size_t digits = strspn(open + 1, "0123456789");
    if (digits == 0 || open[1 + digits] != '<') continue;
    double size = text_boxes_number(tag, open, "font-size=\"");
    double width = 0.6 * size * (double)digits, y = text_boxes_number(tag, open, " y=\"");
    double x = text_boxes_number(tag, open, " x=\"") - (anchor && anchor < open ? width : 0.0);
    for (const char *at = strstr(svg, ring); at; at = strstr(at + 1, ring)) {
      char *comma = NULL;
      double right = strtod(at + strlen(ring), &comma), middle = strtod(comma + 1, NULL);
      double dx = fmax(fmax(x - (right - RADIUS), right - RADIUS - x - width), 0.0);
      double dy = fmax(fmax(y - 0.7 * size - middle, middle - y), 0.0);
      ck_assert_msg(hypot(dx, dy) > RADIUS, "%s: '%.*s' stands on a ring", name, (int)digits,
                    open + 1);
      count++;
    }
  }
  return count;
}

// Few and many shapes, whose best lie close together.
START_TEST(numbers_of_shapes_stand_free) {
  int count = 0;
  for (int shapes = 3; shapes <= 300; shapes *= 10) {
    char text[512];
    snprintf(text, sizeof text,
             "cell: cell.yaml\nvary:\n  iris_radius_mm: {from: 33, to: 40}\n"
             "  iris_ellipse.axial_mm: {from: 10, to: 16}\nsampling: {kind: sobol, points: %d}\n",
             shapes);
    program_write_text(folder, "many.yaml", text);
    ck_assert_int_eq(run("$CAVUM scan -q many.yaml -o many-%d.hdf", shapes), 0);
    for (size_t i = 0; i < sizeof SIZES / sizeof *SIZES; i++) {
      char name[64];
      snprintf(name, sizeof name, "%d shapes, %s", shapes, SIZES[i]);
      ck_assert_int_eq(
          run("$CAVUM draw many-%d.hdf -o p.svg --overwrite --size %s", shapes, SIZES[i]), 0);
      count += check_numbers(program_read_text(folder, "p.svg"), name);
    }
  }
  ck_assert_int_gt(count, 100);
}
END_TEST

START_TEST(scans) {
  ck_assert_int_eq(run("$CAVUM scan -q study.yaml -o scan.hdf"), 0);
  check_sizes("scan.hdf");
  // The third of the three is Greek and signs, not letters that look like them.
  ck_assert_int_eq(run("$CAVUM draw scan.hdf -o p.svg --overwrite"), 0);
  const char *svg = program_read_text(folder, "p.svg");
  ck_assert_ptr_null(strstr(svg, "G x R/Q"));
  ck_assert_ptr_nonnull(strstr(svg, "G\xc2\xa0\xc3\x97\xc2\xa0R/Q"));
}
END_TEST

// Derivatives are named by figure and dimension, in a unit that people use; numbers with powers of
// ten push no label off the page.
START_TEST(derivatives_of_scans) {
  program_write_text(folder, "wall.yaml",
                     TEST_CELL "wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 5.0}\n");
  program_write_text(
      folder, "slopes.yaml",
      "title: Slopes\ncell: wall.yaml\nvary:\n"
      "  iris_radius_mm: {from: 33.0, to: 36.0}\n"
      "  iris_ellipse.axial_mm: {from: 11.0, to: 13.0}\n"
      "sampling: {kind: sobol, points: 12}\n"
      "derivatives: [frequency_Hz, q0, epk_over_eacc, bpk_over_eacc_mT_per_MV_per_m]\n");
  ck_assert_int_eq(run("$CAVUM scan -q slopes.yaml -o slopes.hdf"), 0);
  check_sizes(
      "slopes.hdf --y frequency_Hz_per_iris_radius_mm --x epk_over_eacc_per_iris_ellipse.axial_mm "
      "--colour q0_per_iris_ellipse.axial_mm");
  check_sizes(
      "slopes.hdf --y q0_per_iris_ellipse.axial_mm --x q0 --colour "
      "frequency_Hz_per_iris_radius_mm");
  const char *svg = program_read_text(folder, "p.svg");
  ck_assert_ptr_nonnull(strstr(svg, "frequency by iris radius in MHz/mm"));
  ck_assert_ptr_nonnull(strstr(svg, "Q0 by iris ellipse, axial in 1/mm"));
  ck_assert_int_eq(run("$CAVUM draw slopes.hdf -o p.svg --overwrite --y "
                       "bpk_over_eacc_mT_per_MV_per_m_per_iris_radius_mm"),
                   0);
  svg = program_read_text(folder, "p.svg");
  ck_assert_ptr_nonnull(strstr(svg, " by iris radius in mT/(MV/m)/mm"));
  // Numbers of tables are written as in print.
  ck_assert_int_eq(run("$CAVUM report slopes.hdf -o p.html"), 0);
  ck_assert_ptr_null(strstr(program_read_text(folder, "p.html"), "e+10</td>"));
}
END_TEST

START_TEST(steps) {
  ck_assert_int_eq(run("$CAVUM steps steps.yaml -o steps.hdf"), 0);
  check_sizes("steps.hdf");
  ck_assert_int_eq(run("$CAVUM draw steps.hdf -o p.svg --overwrite"), 0);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "p.svg"), ">Test cell<"));
  // There is one picture of them.
  ck_assert_int_eq(run("$CAVUM draw steps.hdf -o v.svg --view section"), 2);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "err"), "views of steps: sheet alone"));
}
END_TEST

START_TEST(searches) {
  ck_assert_int_eq(run("$CAVUM optimise -q goal.yaml -o best.hdf"), 0);
  check_sizes("best.hdf");
  check_sizes("best.hdf --view search");
  ck_assert_int_eq(run("$CAVUM draw best.hdf --view search -o p.svg --overwrite"), 0);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "p.svg"), ">Best shape of Test cell<"));
}
END_TEST

START_TEST(spreads) {
  ck_assert_int_eq(run("$CAVUM tolerances spread.yaml --samples 40 -o spread.hdf"), 0);
  check_sizes("spread.hdf");
}
END_TEST

static void check_margin(const char *svg) {
  static text_box boxes[TEXT_BOXES_MOST];
  const cavum_canvas_page page = {.kind = CAVUM_CANVAS_MEASURE, .width = 1.0, .height = 1.0};
  cavum_canvas *canvas = NULL;
  ck_assert_int_eq(cavum_canvas_create(&canvas, &page, NULL), CAVUM_OK);
  int count = text_boxes_read(boxes, canvas, svg);
  ck_assert_int_gt(count, 4);
  for (int i = 0; i < count; i++) {
    // As the title does; numbers of texts are rounded to a hundredth of a point.
    ck_assert_msg(boxes[i].x0 > 16.0 - 0.02, "'%s' begins at %g", boxes[i].words, boxes[i].x0);
  }
  cavum_canvas_destroy(&canvas);
}

// A cell without a title is named by its file alone.
// In a column of a journal labels of a budget stand above its bars, the table of a plan in parts,
// and charts below each other.
START_TEST(cold_tests) {
  static const char *const views[] = {"sheet", "budget", "quality", "resistance"};
  ck_assert_int_eq(run("cp -r " CAVUM_DEMO_FOLDER " demo && $CAVUM coldtest "
                       "demo/coldtest/injector-test.yaml -q -o test.hdf"),
                   0);
  for (size_t i = 0; i < sizeof views / sizeof *views; i++) {
    ck_assert_int_eq(
        run("$CAVUM draw test.hdf -o p.svg --overwrite --size column --view %s", views[i]), 0);
    const char *svg = program_read_text(folder, "p.svg");
    (void)text_boxes_check(svg, views[i], false);
    ck_assert_msg(!is_cut(svg), "%s: a text is cut", views[i]);
  }
  // Beside the bars, on a screen, the longest label begins within the margin of the page.
  ck_assert_int_eq(run("$CAVUM draw test.hdf -o p.svg --overwrite --view budget"), 0);
  check_margin(program_read_text(folder, "p.svg"));
  ck_assert_int_eq(run("$CAVUM coldtest --plan demo/coldtest/injector-test.yaml -q -o plan.hdf"),
                   0);
  check_sizes("plan.hdf");
}
END_TEST

// Two noses that nearly touch: an odd mode hardly meets the beam, and its fields over the gradient
// are powers of ten.
static const char GAP[] =
    "title: Gap\nbeta: 0.3\naccelerating_length_mm: 1\ncontour:\n  kind: path\n"
    "  start: {z_mm: -60.5, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 60.5, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 60.5, r_mm: 8}, boundary: electric}\n"
    "    - {line_to: {z_mm: 0.5, r_mm: 8}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0.5, r_mm: 20}, boundary: metal}\n"
    "    - {line_to: {z_mm: 60.5, r_mm: 20}, boundary: metal}\n"
    "    - {line_to: {z_mm: 60.5, r_mm: 100}, boundary: metal}\n"
    "    - {line_to: {z_mm: -60.5, r_mm: 100}, boundary: metal}\n"
    "    - {line_to: {z_mm: -60.5, r_mm: 20}, boundary: metal}\n"
    "    - {line_to: {z_mm: -0.5, r_mm: 20}, boundary: metal}\n"
    "    - {line_to: {z_mm: -0.5, r_mm: 8}, boundary: metal}\n"
    "    - {line_to: {z_mm: -60.5, r_mm: 8}, boundary: metal}\n"
    "    - {line_to: {z_mm: -60.5, r_mm: 0}, boundary: electric}\n"
    "modes: {count: 2}\nwall: {kind: metal, conductivity_S_per_m: 5.8e7}\n";

// No mark-up shows, neither for the eye nor for who has a page read out.
static void check_no_markup(const char *text) {
  const char *script = strstr(text, "<script");
  for (const char *at = strstr(text, "^{"); at; at = strstr(at + 1, "^{")) {
    ck_assert_msg(script && at > script, "mark-up: %.60s", at - 20);
  }
}

START_TEST(powers_of_ten) {
  program_write_text(folder, "gap.yaml", GAP);
  ck_assert_int_eq(run("$CAVUM solve -q gap.yaml -o gap.hdf && $CAVUM solve -q cell.yaml -o a.hdf"),
                   0);
  static const char *const views[] = {"sheet", "section", "axis", "wall"};
  for (size_t i = 0; i < sizeof views / sizeof *views; i++) {
    char of[64];
    snprintf(of, sizeof of, "gap.hdf --mode 2 --view %s", views[i]);
    check_sizes(of);
    check_no_markup(program_read_text(folder, "p.svg"));
  }
  check_sizes("gap.hdf --mode 2 --field E");
  ck_assert_int_eq(run("$CAVUM compare gap.hdf a.hdf --mode 2 --mode-b 1 -o p.svg --overwrite"), 0);
  check_no_markup(program_read_text(folder, "p.svg"));
  ck_assert_int_eq(run("$CAVUM report gap.hdf -o p.html"), 0);
  const char *page = program_read_text(folder, "p.html");
  check_no_markup(page);
  ck_assert_ptr_nonnull(strstr(strstr(page, "<h2 id=\"mode-2\">"),
                               "\xc3\x97"
                               "10\xe2\x81\xbb"));
}
END_TEST

// Numbers of the axis with that label, as many as stand above it in the order of the page.
static int numbers_above(const text_box **numbers, const text_box *boxes, int count,
                         const text_box *label) {
  int found = 0;
  for (int i = 0; i < count && found < 20; i++) {
    bool above = boxes[i].y1 < label->y0 && boxes[i].y1 > label->y0 - 20.0;
    if (above && boxes[i].centred) numbers[found++] = &boxes[i];
  }
  return found;
}

// The field on the axis stands below the outlines, z in line.
static void check_z_in_line(const char *svg) {
  static text_box boxes[TEXT_BOXES_MOST];
  const cavum_canvas_page page = {.kind = CAVUM_CANVAS_MEASURE, .width = 1.0, .height = 1.0};
  const text_box *numbers[2][20];
  int of[2] = {0, 0}, frames = 0;
  cavum_canvas *canvas = NULL;
  ck_assert_int_eq(cavum_canvas_create(&canvas, &page, NULL), CAVUM_OK);
  int count = text_boxes_read(boxes, canvas, svg);
  for (int i = 0; i < count && frames < 2; i++) {
    if (strncmp(boxes[i].words, "z from", 6) != 0) continue;
    of[frames] = numbers_above(numbers[frames], boxes, count, &boxes[i]);
    frames++;
  }
  ck_assert_int_eq(frames, 2);
  ck_assert_int_gt(of[0], 1);
  ck_assert_int_eq(of[0], of[1]);
  for (int i = 0; i < of[0]; i++) {
    ck_assert_str_eq(numbers[0][i]->words, numbers[1][i]->words);
    ck_assert_double_eq_tol(numbers[0][i]->x0, numbers[1][i]->x0, 0.02);  // as they are rounded
  }
  cavum_canvas_destroy(&canvas);
}

START_TEST(overlays) {
  ck_assert_int_eq(run("$CAVUM solve -q cell.yaml -o a.hdf && $CAVUM solve -q bare.yaml -o b.hdf"),
                   0);
  check_sizes("a.hdf b.hdf");
  ck_assert_int_eq(run("$CAVUM draw a.hdf b.hdf -o p.svg --overwrite"), 0);
  ck_assert_ptr_null(strstr(program_read_text(folder, "p.svg"), "b.hdf: ,"));
  check_z_in_line(program_read_text(folder, "p.svg"));
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf -o c.html"), 0);
  ck_assert_ptr_null(strstr(program_read_text(folder, "out"), ": ,"));
  ck_assert_ptr_null(strstr(program_read_text(folder, "c.html"), ": ,"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, scans);
  tcase_add_test(tests, derivatives_of_scans);
  tcase_add_test(tests, numbers_of_shapes_stand_free);
  tcase_add_test(tests, steps);
  tcase_add_test(tests, searches);
  tcase_add_test(tests, spreads);
  tcase_add_test(tests, cold_tests);
  tcase_add_test(tests, overlays);
  tcase_add_test(tests, powers_of_ten);
}

CAVUM_TEST_MAIN("picture_texts", add)
