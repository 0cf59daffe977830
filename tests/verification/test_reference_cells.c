// SPDX-License-Identifier: GPL-3.0-or-later
// The published mid cell with four kinds of ends against spectral elements: another discretisation,
// with NumPy and SciPy alone, in spectral_elements.py beside this file. At degree 14 it comes to
// these numbers to 2e-11 of f, 1e-9 of R/Q and G (mu0, see below), 5e-7 of peaks of H, 6e-6 of
// peaks of E; a test of its own runs it at degree 10. Tube ends and symmetry planes do not count in
// losses and peaks.
#include "solving.h"

typedef struct reference_cell {
  const char *text;
  double frequency_hz, r_over_q, geometry_factor, epk, bpk;
} reference_cell;

#define CUP(title, end)                                                        \
  "title: " title                                                              \
  "\naccelerating_length_mm: 115.4\ncontour:\n  kind: two-ellipse\n"           \
  "  half_length_mm: 57.7\n  iris_radius_mm: 35\n  equator_radius_mm: 103.3\n" \
  "  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"                         \
  "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"                            \
  "ends:\n  left: {kind: " end "}\n  right: {kind: " end "}\nmodes: {count: 3}\n"

static const reference_cell cells[] = {
    {CUP("mid-cell, pi mode", "magnetic"), 1300957950.1588056, 113.47374479054896,
     271.25269552923754, 1.982987818499848, 4.16615305598198},
    {CUP("mid-cell, 0 mode", "electric"), 1276664063.8226433, 168.3008317575897, 268.8009984009589,
     1.3788169336330003, 3.3954103084630054},
    {CUP("tubes, electric ends", "tube, length_mm: 150, close: electric"), 1288125674.4220529,
     117.56958216430925, 269.8269033965271, 1.764867589036077, 4.0749531030342085},
    {CUP("tubes, magnetic ends", "tube, length_mm: 150, close: magnetic"), 1288125674.5587478,
     117.56523032797115, 269.826903461391, 1.764900254986964, 4.075028523215399},
};
enum { NUM_CELLS = sizeof cells / sizeof *cells };

static tally all;

// The reference is good to ten digits, and its mu0 differs from that of CODATA 2018 by less than
// 1e-9: difference <= our uncertainty + 1e-9 relative + the reference's own 1e-10.
static const double REFERENCE_TOLERANCE = 1e-9 + 1e-10;

static void compare(const char *where, const cavum_mode_result *mode, cavum_figure_id id,
                    double truth) {
  const cavum_figure *figure = &mode->figures[id];
  printf("%s %s: observed %.13g +- %.1e expected %.13g relative difference %.1e\n", where,
         cavum_figure_describe(id).key, figure->value, figure->uncertainty, truth,
         figure->value / truth - 1.0);
  tally_add(&all, where, id, figure, truth, REFERENCE_TOLERANCE * fabs(truth));
}

static void compare_cell(const reference_cell *expected, double frequency, double peak) {
  cavum_result *result = solving_solve_text(expected->text, frequency, peak);
  const cavum_mode_result *first = &result->modes[0];
  const char *title = result->title;
  compare(title, first, CAVUM_FIGURE_FREQUENCY, expected->frequency_hz);
  compare(title, first, CAVUM_FIGURE_R_OVER_Q_LINAC, expected->r_over_q);
  compare(title, first, CAVUM_FIGURE_R_OVER_Q_CIRCUIT, 0.5 * expected->r_over_q);
  compare(title, first, CAVUM_FIGURE_GEOMETRY_FACTOR, expected->geometry_factor);
  compare(title, first, CAVUM_FIGURE_EPK_OVER_EACC, expected->epk);
  compare(title, first, CAVUM_FIGURE_BPK_OVER_EACC, 1e-9 * expected->bpk);
  cavum_result_destroy(&result);
}

START_TEST(cells_at_default_accuracy) {
  for (int i = 0; i < NUM_CELLS; i++) compare_cell(&cells[i], 1e-6, 1e-4);
  tally_check(&all, "reference cells, default accuracy", 1.0, TALLY_MEDIAN_MOST);
}
END_TEST

START_TEST(cells_at_high_accuracy) {
  for (int i = 0; i < NUM_CELLS; i++) compare_cell(&cells[i], 1e-9, 1e-6);
  tally_check(&all, "reference cells, accuracy 1e-9 and 1e-6", 1.0, TALLY_MEDIAN_MOST);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, cells_at_default_accuracy);
  tcase_add_test(tests, cells_at_high_accuracy);
}

CAVUM_TEST_MAIN("reference cells", add_tests)
