// SPDX-License-Identifier: GPL-3.0-or-later
// Colour scales: lightness runs straight, steps are alike, nothing is clipped.
#include "canvas/colour.h"
#include "support.h"

static void check_scale(cavum_colour_scale scale) {
  uint32_t palette[256];
  cavum_colour_fill_palette(palette, scale);
  double first = cavum_colour_lightness(palette[1]), last = cavum_colour_lightness(palette[255]);
  double worst = 0.0;
  for (int i = 1; i < 256; i++) {
    double expected = first + (last - first) * (i - 1) / 254.0;
    worst = fmax(worst, fabs(cavum_colour_lightness(palette[i]) - expected));
  }
  // Each channel is rounded to 1/255, which moves OKLab lightness by up to about 1/255 as well; a
  // colour that had to be clipped would be off by more.
  CAVUM_CHECK_NEAR(worst, 0.0, 4e-3);
  // The ends as they were chosen: light paper, and dark enough for a range, with room for lines.
  CAVUM_CHECK_NEAR(first, 0.985, 4e-3);
  CAVUM_CHECK_NEAR(last, 0.36, 4e-3);
}

START_TEST(lightness_is_linear) {
  check_scale(CAVUM_COLOUR_EMBER);
  check_scale(CAVUM_COLOUR_LAKE);
}
END_TEST

START_TEST(known_colours) {
  // OKLab lightness of black and white by definition; of pure red 0.62796 (from the matrices of the
  // source named in colour.h, evaluated by hand with l = 0.4122214708 and so on).
  CAVUM_CHECK_NEAR(cavum_colour_lightness(0x000000), 0.0, 1e-12);
  CAVUM_CHECK_NEAR(cavum_colour_lightness(0xffffff), 1.0, 1e-6);
  CAVUM_CHECK_NEAR(cavum_colour_lightness(0xff0000), 0.62796, 1e-5);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, lightness_is_linear);
  tcase_add_test(tests, known_colours);
}

CAVUM_TEST_MAIN("colour", add)
