// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of the report's tables: figures in their units with uncertainties in the same.
#include <stdlib.h>
#include <string.h>

#include "report/html.h"
#include "support.h"

static void check_figure(cavum_figure_id id, double value, double uncertainty, const char *number,
                         const char *unit) {
  char text[96], shown[24];
  const cavum_figure figure = {
      .state = CAVUM_FIGURE_PRESENT, .value = value, .uncertainty = uncertainty};
  cavum_html_format_figure(text, shown, &figure, id);
  printf("%s %s, expected %s %s\n", text, shown, number, unit);
  ck_assert_str_eq(text, number);
  ck_assert_str_eq(shown, unit);
}

// Values of so many digits that none is rounded: two digits of the uncertainty, in units of the
// last.
START_TEST(figures_have_their_uncertainty_in_their_unit) {
  check_figure(CAVUM_FIGURE_FREQUENCY, 1300648807.1, 1.1, "1300.6488071(11)", "MHz");
  check_figure(CAVUM_FIGURE_R_OVER_Q_LINAC, 114.5642, 0.0013, "114.5642(13)", "\xce\xa9");
  // 4.26 mT/(MV/m) is 4.26e-9 T/(V/m).
  check_figure(CAVUM_FIGURE_BPK_OVER_EACC, 4.26e-9, 1.5e-11, "4.260(15)", "mT/(MV/m)");
  check_figure(CAVUM_FIGURE_SURFACE_RESISTANCE, 1.5e-8, 2.2e-9, "15.0(22)", "n\xce\xa9");
}
END_TEST

START_TEST(figures_that_have_no_number) {
  char text[96], unit[24];
  const cavum_figure absent = {.state = CAVUM_FIGURE_ABSENT},
                     unbounded = {.state = CAVUM_FIGURE_UNBOUNDED};
  cavum_html_format_figure(text, unit, &absent, CAVUM_FIGURE_EPK_OVER_EACC);
  ck_assert_str_eq(text, "");
  cavum_html_format_figure(text, unit, &unbounded, CAVUM_FIGURE_EPK_OVER_EACC);
  ck_assert_str_eq(text, "unbounded");
}
END_TEST

// Lines as the screen breaks them are no lines of a page; keys may break at their dots and keep
// their units, and each value of a wide table names its column.
START_TEST(texts_of_the_screen_flow) {
  static const char *const columns[] = {"shape", "#a.b_mm", "#c", "d", "#e"};
  static const char *const row[] = {"1", "2", "3", "4", "5"};
  cavum_html html;
  char *page = NULL;
  size_t size = 0;
  ck_assert_int_eq(cavum_html_create(&html, "title", NULL), CAVUM_OK);
  cavum_html_flowing(&html, "Cautions. Some\nthings.\n  One: is\n    long.\n  Two <3\n");
  cavum_html_begin_table(&html, "A table", 5, columns);
  cavum_html_row(&html, 5, row, columns);
  cavum_html_end_table(&html);
  ck_assert_int_eq(cavum_html_finish(&page, &size, &html, NULL), CAVUM_OK);
  ck_assert_ptr_nonnull(strstr(page,
                               "<p>Cautions. Some things.</p>\n<ul>\n<li>One: is long.</li>\n"
                               "<li>Two &lt;3</li>\n</ul>\n"));
  ck_assert_ptr_nonnull(strstr(page, "a.<wbr>b_mm"));
  ck_assert_ptr_nonnull(strstr(page, "data-label=\"a.b_mm\">2</td>"));
  free(page);
  cavum_html_clear(&html);
}
END_TEST

// What the screen writes in plain letters has its own on a page.
START_TEST(letters_of_a_page) {
  static const struct {
    const char *screen, *page;
  } texts[] = {{"0 +- 1.3e-5",
                "0 \xc2\xb1 1.3\xc3\x97"
                "10\xe2\x81\xbb\xe2\x81\xb5"},
               {"-2.5(3)e10",
                "\xe2\x88\x92"
                "2.5(3)\xc3\x97"
                "10\xc2\xb9\xe2\x81\xb0"},
               {"m2", "m\xc2\xb2"},
               {"m3", "m\xc2\xb3"},
               {"mm2x", "mm2x"},
               {"", ""},
               {"uohm", "\xc2\xb5\xce\xa9"},
               {"uW", "\xc2\xb5W"},
               {"V/uC",
                "V/\xc2\xb5"
                "C"},
               {"Mohm", "M\xce\xa9"}};
  for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
    char shown[96] = "of before";
    cavum_html_beautify(shown, sizeof shown, texts[i].screen);
    printf("%s: %s, expected %s\n", texts[i].screen, shown, texts[i].page);
    ck_assert_str_eq(shown, texts[i].page);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, letters_of_a_page);
  tcase_add_test(tests, texts_of_the_screen_flow);
  tcase_add_test(tests, figures_have_their_uncertainty_in_their_unit);
  tcase_add_test(tests, figures_that_have_no_number);
}

CAVUM_TEST_MAIN("report html", add_tests)
