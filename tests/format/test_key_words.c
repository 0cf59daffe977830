// SPDX-License-Identifier: GPL-3.0-or-later
// Keys as words. Expected texts are written by hand.
#include <check.h>
#include <string.h>

#include "format/key_words.h"
#include "support.h"

static const struct {
  const char *key, *words;
} cases[] = {{"contour.iris_radius_mm", "iris radius"},
             {"iris_ellipse.axial_mm", "iris ellipse, axial"},
             {"contour.left.iris_ellipse.axial_mm", "left iris ellipse, axial"},
             {"right.half_length_mm", "right half length"},
             {"path[4].arc_to.r_mm", "path[4], arc to, r"},
             {"wall.conductivity_S_per_m", "wall, conductivity"},
             {"beta", "beta"},
             {"", ""}};

START_TEST(words_of_keys) {
  char words[64], few[8];
  cavum_key_words(words, sizeof words, cases[_i].key);
  ck_assert_str_eq(words, cases[_i].words);
  cavum_key_words(few, sizeof few, cases[_i].key);
  ck_assert(strncmp(few, cases[_i].words, sizeof few - 1) == 0 && strlen(few) < sizeof few);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, words_of_keys, 0, sizeof cases / sizeof *cases);
}

CAVUM_TEST_MAIN("key_words", add)
