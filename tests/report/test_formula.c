// SPDX-License-Identifier: GPL-3.0-or-later
// Formulas in texts of reports, set as mathematics.
#include <stdlib.h>
#include <string.h>

#include "cavum/figures.h"
#include "report/formula.h"
#include "support.h"

// Owned by the caller.
static char *written(const char *text, bool bars) {
  char *bytes = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&bytes, &size);
  cavum_formula_write(out, text, bars);
  fclose(out);
  return bytes;
}

// The text with each formula as {its alternative}, tags left out; [what stays in one line].
static char *outlined(const char *text) {
  char *html = written(text, false), *plain = calloc(strlen(html) + 1, 1), *to = plain;
  for (const char *c = html; *c;) {
    if (strncmp(c, "<math aria-label=\"", 18) == 0) {
      const char *end = strchr(c + 18, '"');
      *to++ = '{';
      memcpy(to, c + 18, (size_t)(end - c - 18));
      to += end - c - 18;
      *to++ = '}';
      c = strstr(c, "</math>") + 7;
    } else if (strncmp(c, "<span class=\"whole\">", 20) == 0) {
      *to++ = '[';
      c += 20;
    } else if (strncmp(c, "</span>", 7) == 0) {
      *to++ = ']';
      c += 7;
    } else {
      *to++ = *c++;
    }
  }
  free(html);
  return plain;
}

static void check(const char *text, const char *expected) {
  char *found = outlined(text);
  printf("%s -> %s, expected %s\n", text, found, expected);
  ck_assert_str_eq(found, expected);
  free(found);
}

// What stays in the line of its number, of the unit before it, and of the word "in".
START_TEST(units_stay_with_their_numbers) {
#define NB "\xc2\xa0"
  check("at z = 1.250 mm, r = 51.280 mm", "at [{z = 1.250}" NB "mm], [{r = 51.280}" NB "mm]");
  check("D/k = 17.60(18) K, A = 1.1e-4 \xce\xa9 K.",
        "D/k = 17.60(18)" NB "K, A = 1.1e-4" NB "\xce\xa9" NB "K.");
  check("E_acc = 5 MV/m and more", "[{E_acc = 5}" NB "MV/m] and more");
  check("G" NB "270.85" NB "\xce\xa9, R/Q" NB "113" NB "\xce\xa9" NB "(linac)",
        "[{G}" NB "270.85" NB "\xce\xa9,] [{R/Q}" NB "113" NB "\xce\xa9" NB "(linac)]");
  check("fixed in mT/(MV/m)", "fixed in" NB "mT/(MV/m)");
  check("0.5 to 2.5: power", "0.5 to 2.5: power");
  check("5 modes in metal", "5 modes in metal");
#undef NB
}
END_TEST

START_TEST(formulas_are_found_in_texts) {
  check("V^2 / (omega U)", "{V\xc2\xb2 / (\xcf\x89 U)}");
  check("2 omega U / oint |H|^2 dS over metal",
        "{2 \xcf\x89 U / \xe2\x88\xae |H|\xc2\xb2 dS} over metal");
  check("largest mu0 |H| on metal over E_acc = V / L_acc",
        "largest {\xce\xbc\xe2\x82\x80 |H|} on metal over {E_acc = V / L_acc}");
  check("V over |int E_z(0,z) dz|", "{V} over {|\xe2\x88\xab E_z(0,z) dz|}");
  check("omega (R/Q linac) / 4", "{\xcf\x89 (R/Q linac) / 4}");
  check("k_cc = 2 (f_pi - f_0) / (f_pi + f_0) = 0.0101(2), with f_0 = 1.3 MHz",
        "{k_cc = 2 (f_\xcf\x80 - f_0) / (f_\xcf\x80 + f_0)} = 0.0101(2), with [{f_0 = "
        "1.3}\xc2\xa0"
        "MHz]");
  check("|int E_z(0,z) exp(j omega z / (beta c)) dz| over the axis",
        "{|\xe2\x88\xab E_z(0,z) exp(j \xcf\x89 z / (\xce\xb2 c)) dz|} over the axis");
  check("E_acc = sqrt(R/Q \xcf\x89U) / L_acc with R/Q",
        "{E_acc = \xe2\x88\x9a(R/Q \xcf\x89U) / L_acc} with {R/Q}");
  check("R_s without field, R_0 of R_0 + a E^2",
        "{R_s} without field, {R_0} of {R_0} + a {E\xc2\xb2}");
  check("T in K",
        "{T} in\xc2\xa0"
        "K");
  check("E_pk/E_acc", "{E_pk/E_acc}");
  check(
      "at z = \xe2\x88\x92"
      "27.5 mm, r = 3 mm",
      "at [{z = \xe2\x88\x92"
      "27.5}\xc2\xa0mm], [{r = 3}\xc2\xa0mm]");
  check("(beta lambda / 2)", "{(\xce\xb2 \xce\xbb / 2)}");
  check("0.17 \xc2\xb5\xce\xa9", "0.17\xc2\xa0\xc2\xb5\xce\xa9");
}
END_TEST

START_TEST(what_is_no_formula_stays) {
  check("gradient E_acc in MV/m", "gradient {E_acc} in\xc2\xa0MV/m");
  check("B_pk/E_acc in mT/(MV/m)", "{B_pk/E_acc} in\xc2\xa0mT/(MV/m)");
  check("at 25 V, in V, for U = 1 J", "at 25\xc2\xa0V, in\xc2\xa0V, for [{U = 1}\xc2\xa0J]");
  check("A table of <c> & d", "A table of &lt;{c}&gt; &amp; d");
  check("axial_mm.E_acc_limit r_over_q_linac_ohm", "axial_mm.E_acc_limit r_over_q_linac_ohm");
  check(
      "1.76(4)\xc3\x97"
      "10 is 95 % (k = 1) of Q_t = 2.3\xc3\x97"
      "10",
      "1.76(4)\xc3\x97"
      "10 is 95\xc2\xa0% {(k = 1)} of {Q_t} = 2.3\xc3\x97"
      "10");
  check("lines: c: limit", "lines: c: limit");
  check("G\xce\xa9, with R_s of the fit", "G\xce\xa9, with {R_s} of the fit");
  check("k\xce\xa9 and T\xce\xa9", "k\xce\xa9 and T\xce\xa9");
  check("sqrt(pi", "sqrt(pi");
  check("((((((((((", "((((((((((");
  check("", "");
}
END_TEST

// The form itself: what a bar stands under, what is raised and lowered.
START_TEST(formulas_are_mathml) {
  char *html = written("V^2 / (omega U)", true);
  ck_assert_ptr_nonnull(
      strstr(html,
             "<mfrac><msup><mi>V</mi><mn>2</mn></msup><mrow><mi>\xcf\x89</mi><mi>U</mi></mrow>"
             "</mfrac>"));
  free(html);
  html = written("V / U", false);
  ck_assert_ptr_null(strstr(html, "<mfrac>"));
  free(html);
  html = written("f_0 + E_acc", false);
  ck_assert_ptr_nonnull(strstr(html,
                               "<msub><mi>f</mi><mn>0</mn></msub><mo>+</mo>"
                               "<msub><mi>E</mi><mtext>acc</mtext></msub>"));
  free(html);
}
END_TEST

// A text as long as any, and one with more pieces than a formula may have.
START_TEST(long_texts_are_written_whole) {
  char text[4096];
  for (size_t i = 0; i + 1 < sizeof text; i++) text[i] = "(V "[i % 3];
  text[sizeof text - 1] = '\0';
  char *html = written(text, false);
  ck_assert_uint_ge(strlen(html), sizeof text - 1);
  free(html);
}
END_TEST

// No symbol of a definition is left as plain letters.
START_TEST(definitions_hold_no_bare_symbol) {
  static const char *const bare[] = {"_acc",  "omega U", "mu0",  "int ",
                                     "oint ", "^2",      " R_s", "V /"};
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    char *found = outlined(info.definition);
    bool inside = false;
    for (char *c = found; *c; c++) {
      if (*c == '{') inside = true;
      for (int k = 0; k < 8; k++) {
        ck_assert_msg(inside || strncmp(c, bare[k], strlen(bare[k])) != 0, "%s", found);
      }
      if (*c == '}') inside = false;
    }
    free(found);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, units_stay_with_their_numbers);
  tcase_add_test(tests, formulas_are_found_in_texts);
  tcase_add_test(tests, what_is_no_formula_stays);
  tcase_add_test(tests, formulas_are_mathml);
  tcase_add_test(tests, long_texts_are_written_whole);
  tcase_add_test(tests, definitions_hold_no_bare_symbol);
}

CAVUM_TEST_MAIN("report formula", add_tests)
