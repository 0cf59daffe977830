// SPDX-License-Identifier: GPL-3.0-or-later
// Seven cells against an independent finite-element computation of high order on meshes of its own
// with exactly curved sides: two of them at degrees up to 12 agree to ten digits. Tube ends and
// symmetry planes do not count in losses and peaks.
#include "solving.h"

typedef struct reference_cell {
  const char *text;
  double frequency_hz, r_over_q, geometry_factor, epk, bpk;  // 0: no such figure
  int num_modes;
  double modes_hz[6];
} reference_cell;

#define PILLBOX                                                           \
  "title: pillbox\naccelerating_length_mm: 100\ncontour:\n  kind: path\n" \
  "  start: {z_mm: 0, r_mm: 0}\n  path:\n"                                \
  "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"               \
  "    - {line_to: {z_mm: 100, r_mm: 100}, boundary: metal}\n"            \
  "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"              \
  "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\nmodes: {count: 6}\n"
#define SPHERE                                                                               \
  "title: sphere\naccelerating_length_mm: 200\ncontour:\n  kind: path\n"                     \
  "  start: {z_mm: -100, r_mm: 0}\n  path:\n"                                                \
  "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"                                  \
  "    - {arc_to: {z_mm: -100, r_mm: 0}, centre: {z_mm: 0, r_mm: 0}, turn: left, boundary: " \
  "metal}\n"                                                                                 \
  "modes: {count: 4}\n"
#define COAX                                                                     \
  "title: coax\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 20}\n  path:\n" \
  "    - {line_to: {z_mm: 200, r_mm: 20}, boundary: metal}\n"                    \
  "    - {line_to: {z_mm: 200, r_mm: 60}, boundary: metal}\n"                    \
  "    - {line_to: {z_mm: 0, r_mm: 60}, boundary: metal}\n"                      \
  "    - {line_to: {z_mm: 0, r_mm: 20}, boundary: metal}\nmodes: {count: 3}\n"
#define CUP(title, end)                                                        \
  "title: " title                                                              \
  "\naccelerating_length_mm: 115.4\ncontour:\n  kind: two-ellipse\n"           \
  "  half_length_mm: 57.7\n  iris_radius_mm: 35\n  equator_radius_mm: 103.3\n" \
  "  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"                         \
  "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"                            \
  "ends:\n  left: {kind: " end "}\n  right: {kind: " end "}\nmodes: {count: 3}\n"

static const reference_cell cells[] = {
    {PILLBOX,
     1147425278.3520951,
     222.75041809678174,
     226.49267154294338,
     1.2888830932587065,
     2.5015847800603472,
     6,
     {1147425278.3520951, 1887716270.058634, 2633819797.012443, 3030494129.6720934,
      3210005694.1958423, 3990558671.4773}},
    {SPHERE,
     1309117440.104019,
     53.61457826567632,
     379.511813728941,
     1.8812840905768888,
     8.608777002433381,
     4,
     {1309117440.104019, 1846624411.4833663, 2372990511.574868, 2892365274.8605175}},
    {COAX,
     749481144.9998457,
     0,
     73.3449940588036,
     0,
     0,
     3,
     {749481144.9998457, 1498962289.9998646, 2248443434.999945}},
    {CUP("mid-cell, pi mode", "magnetic"),
     1300957950.1588056,
     113.47374479054896,
     271.25269552923754,
     1.982987818499848,
     4.16615305598198,
     0,
     {0}},
    {CUP("mid-cell, 0 mode", "electric"),
     1276664063.8226433,
     168.3008317575897,
     268.8009984009589,
     1.3788169336330003,
     3.3954103084630054,
     0,
     {0}},
    {CUP("tubes, electric ends", "tube, length_mm: 150, close: electric"),
     1288125674.4220529,
     117.56958216430925,
     269.8269033965271,
     1.764867589036077,
     4.0749531030342085,
     0,
     {0}},
    {CUP("tubes, magnetic ends", "tube, length_mm: 150, close: magnetic"),
     1288125674.5587478,
     117.56523032797115,
     269.826903461391,
     1.764900254986964,
     4.075028523215399,
     0,
     {0}},
};
enum { NUM_CELLS = sizeof cells / sizeof *cells };

static tally all;

// The reference is good to ten digits, and its mu0 differs from that of CODATA 2018 by less than
// 1e-9: difference <= our uncertainty + 1e-9 relative + the reference's own 1e-10.
static const double REFERENCE_TOLERANCE = 1e-9 + 1e-10;

static void compare(const char *where, const cavum_mode_result *mode, cavum_figure_id id,
                    double truth) {
  if (truth == 0.0) return;
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
  for (int i = 0; i < expected->num_modes; i++) {
    compare(title, &result->modes[i], CAVUM_FIGURE_FREQUENCY, expected->modes_hz[i]);
  }
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
