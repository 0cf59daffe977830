// SPDX-License-Identifier: GPL-3.0-or-later
// What each dimension does, in reports: every number of the tables against the JSON of the same
// solve, in percent of the figure there.
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", TEST_CELL);
}

static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)

static json_t *read_json(void) {
  json_error_t where;
  json_t *root = json_loads(program_read_text(folder, "r.json"), 0, &where);
  ck_assert_msg(root != NULL, "%s", where.text);
  return root;
}

// The number of the next cell of a row, which moves behind it, without its uncertainty. Minus signs
// are those of a page. Cells of a wide table have the heads of their columns as labels.
static double next_number(const char **at, const char *label) {
  char text[64] = "", words[80] = " class=\"number\">";
  if (label) snprintf(words, sizeof words, " data-label=\"%s\">", label);
  const char *from = strstr(*at, words), *end = strstr(*at, "</tr>");
  ck_assert_msg(from != NULL && from < end, "no cell%s in: %.300s", words, *at);
  from += strlen(words);
  *at = from;
  size_t n = 0;
  for (; *from != '<' && *from != '(' && *from != ' ' && n + 1 < sizeof text; from++) {
    bool minus = strncmp(from, "\xe2\x88\x92", 3) == 0;
    text[n++] = minus ? '-' : *from;
    if (minus) from += 2;
  }
  char *rest = NULL;
  double value = strtod(text, &rest);
  ck_assert_msg(rest != text && *rest == '\0', "no number in a cell%s '%s'", words, text);
  return value;
}

static const struct {
  const char *key, *words;
} dimensions[] = {{"equator_radius_mm", "equator radius"},
                  {"iris_radius_mm", "iris radius"},
                  {"half_length_mm", "half length"}};

static const struct {
  const char *key, *label;
} columns[] = {{"frequency_Hz", "f in MHz"},
               {"r_over_q_linac_ohm", "R/Q in %"},
               {"geometry_factor_ohm", "G in %"},
               {"epk_over_eacc", "E_pk/E_acc in %"},
               {"bpk_over_eacc_mT_per_MV_per_m", "B_pk/E_acc in %"}};

static const char *find_row(const char *page, const char *id, const char *words) {
  char text[120];
  const char *table = strstr(page, id);
  ck_assert_msg(table != NULL, "no %s", id);
  snprintf(text, sizeof text, "<tr><th scope=\"row\">%s</th>", words);
  const char *row = strstr(table, text), *end = strstr(table, "</table>");
  ck_assert_msg(row != NULL && row < end, "%s has no row %s", id, words);
  return row;
}

static double number_of(const json_t *at, const char *key, const char *member) {
  const json_t *value = json_object_get(json_object_get(at, key), member);
  ck_assert_msg(json_is_number(value), "%s has no %s", key, member);
  return json_number_value(value);
}

static void check_mode(const char *page, const json_t *mode) {
  const json_t *by = json_object_get(mode, "derivatives");
  for (size_t i = 0; i < sizeof dimensions / sizeof *dimensions; i++) {
    const char *row = find_row(page, "id=\"mode-1-derivatives\"", dimensions[i].words);
    for (size_t c = 0; c < sizeof columns / sizeof *columns; c++) {
      const json_t *of = json_object_get(by, dimensions[i].key);
      double scale = c == 0 ? 1e-6 : 100.0 / number_of(mode, columns[c].key, "value");
      double expected = scale * number_of(of, columns[c].key, "value");
      // Five digits, or as many as the uncertainty leaves.
      double tolerance =
          cavum_max(1e-4 * fabs(expected), scale * number_of(of, columns[c].key, "uncertainty"));
      CAVUM_CHECK_NEAR(next_number(&row, columns[c].label), expected, tolerance);
    }
  }
}

static void check_coupling(const char *page, const json_t *coupling) {
  const json_t *by = json_object_get(coupling, "derivatives");
  double k_cc = number_of(coupling, "k_cc", "value");
  for (size_t i = 0; i < sizeof dimensions / sizeof *dimensions; i++) {
    const char *row = find_row(page, "id=\"coupling\"", dimensions[i].words);
    double d = number_of(by, dimensions[i].key, "value");
    CAVUM_CHECK_RELATIVE(next_number(&row, NULL), 100.0 * d / k_cc, 1e-4);
  }
}

// Figures of the shape stand on the page, and the contents lead to them and to the coupling.
START_TEST(reports_have_the_figures_of_the_shape) {
  static const struct {
    const char *key, *words;
    double unit;  // of the page, in that of the key
  } figures[] = {{"wall_angle_deg", "wall angle", 1.0},
                 {"iris_curvature_mm", "smallest radius of iris curvature", 1.0},
                 {"total_length_mm", "total length", 1.0},
                 {"volume_m3", "volume", 1e-3},
                 {"wall_area_m2", "wall area", 1e-4}};
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --coupling -q -o r.hdf --json r.json"), 0);
  ck_assert_int_eq(run("$CAVUM report r.hdf -o r.html"), 0);
  json_t *root = read_json();
  const json_t *geometry = json_object_get(root, "geometry");
  char *page = strdup(program_read_text(folder, "r.html"));
  for (size_t i = 0; i < sizeof figures / sizeof *figures; i++) {
    const char *row = find_row(page, "<h2 id=\"shape\">", figures[i].words);
    double expected = number_of(geometry, figures[i].key, "value") / figures[i].unit;
    // Eight digits.
    CAVUM_CHECK_RELATIVE(next_number(&row, NULL), expected, 1e-7);
  }
  ck_assert_ptr_nonnull(strstr(page, "<a href=\"#shape\">Shape</a>"));
  ck_assert_ptr_nonnull(strstr(page, "<a href=\"#coupling\">Coupling</a>"));
  free(page);
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -q -o r.hdf --overwrite"), 0);
  ck_assert_int_eq(run("$CAVUM report r.hdf -o r.html --overwrite"), 0);
  ck_assert_ptr_null(strstr(program_read_text(folder, "r.html"), "#coupling"));
}
END_TEST

START_TEST(reports_say_what_each_dimension_does) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --coupling --derivatives -q -o r.hdf --json r.json"),
                   0);
  ck_assert_int_eq(run("$CAVUM report r.hdf -o r.html"), 0);
  json_t *root = read_json();
  char *page = strdup(program_read_text(folder, "r.html"));
  check_mode(page, json_array_get(json_object_get(root, "modes"), 0));
  check_coupling(page, json_object_get(root, "coupling"));
  free(page);
  json_decref(root);
}
END_TEST

START_TEST(reports_without_derivatives_have_no_such_table) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --coupling -q -o r.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM report r.hdf -o r.html"), 0);
  ck_assert_ptr_null(strstr(program_read_text(folder, "r.html"), "What each dimension does"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, reports_have_the_figures_of_the_shape);
  tcase_add_test(tests, reports_say_what_each_dimension_does);
  tcase_add_test(tests, reports_without_derivatives_have_no_such_table);
}

CAVUM_TEST_MAIN("derivative_pages", add)
