// SPDX-License-Identifier: GPL-3.0-or-later
// Colour scales: lightness runs straight, steps are alike, nothing is clipped.
#include "canvas/colour.h"
#include "canvas/ink.h"
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

// What eyes without one of three kinds of cones see: matrices on linear sRGB for full severity,
// from G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, IEEE Trans. Vis. Comput. Graph. 15 (2009)
// 1291, table 1 (not checked against the source; each row has the sum 1, so that greys stay what
// they are).
static const double DEFICIENCIES[3][3][3] = {{{0.152286, 1.052583, -0.204868},
                                              {0.114503, 0.786281, 0.099216},
                                              {-0.003882, -0.048116, 1.051998}},
                                             {{0.367322, 0.860646, -0.227968},
                                              {0.280085, 0.672501, 0.047413},
                                              {-0.011820, 0.042940, 0.968881}},
                                             {{1.255528, -0.076749, -0.178779},
                                              {-0.078411, 0.930809, 0.147602},
                                              {0.004733, 0.691367, 0.303900}}};

static double linear_of(uint32_t colour, int channel) {
  double value = (double)(colour >> (16 - 8 * channel) & 255) / 255.0;
  return value <= 0.04045 ? value / 12.92 : pow((value + 0.055) / 1.055, 2.4);
}

static uint32_t seen_by(const double matrix[3][3], uint32_t colour) {
  uint32_t seen = 0;
  for (int row = 0; row < 3; row++) {
    double linear = 0.0;
    for (int k = 0; k < 3; k++) linear += matrix[row][k] * linear_of(colour, k);
    linear = fmin(1.0, fmax(0.0, linear));
    double value = linear <= 0.0031308 ? 12.92 * linear : 1.055 * pow(linear, 1.0 / 2.4) - 0.055;
    seen = seen << 8 | (uint32_t)lround(255.0 * value);
  }
  return seen;
}

START_TEST(scales_are_read_without_telling_colours) {
  for (int d = 0; d < 3; d++) {
    for (int scale = 0; scale < 2; scale++) {
      uint32_t palette[256];
      cavum_colour_fill_palette(palette, (cavum_colour_scale)scale);
      double first = cavum_colour_lightness(seen_by(DEFICIENCIES[d], palette[1])), last = first;
      for (int i = 1; i + 16 < 256; i += 16) {
        last = cavum_colour_lightness(seen_by(DEFICIENCIES[d], palette[i + 16]));
        double step = cavum_colour_lightness(seen_by(DEFICIENCIES[d], palette[i])) - last;
        // Even steps would be 0.625 / 254 * 16 = 0.039 each: none is below a third of that.
        ck_assert_double_gt(step, 0.013);
      }
      printf("deficiency %d, scale %d: lightness %.3f to %.3f\n", d, scale, first, last);
      ck_assert_double_gt(first - last, 0.5);
    }
  }
}
END_TEST

// Texts 4.5 and lines 3 against the page, by the Web Content Accessibility Guidelines 2.2 (1.4.3
// and 1.4.11), on paper and on a dark page.
START_TEST(inks_are_seen) {
  static const struct {
    cavum_ink ink;
    double least;
  } inks[] = {{CAVUM_INK_TEXT, 4.5},  {CAVUM_INK_MUTED, 4.5},    {CAVUM_INK_FRAME, 3.0},
              {CAVUM_INK_METAL, 3.0}, {CAVUM_INK_ELECTRIC, 3.0}, {CAVUM_INK_MAGNETIC, 3.0},
              {CAVUM_INK_AXIS, 3.0},  {CAVUM_INK_FIRST, 4.5},    {CAVUM_INK_SECOND, 4.5},
              {CAVUM_INK_THIRD, 4.5}, {CAVUM_INK_FOURTH, 4.5}};
  for (int dark = 0; dark < 2; dark++) {
    uint32_t paper = cavum_ink_colour(CAVUM_INK_PAPER, dark);
    for (size_t i = 0; i < sizeof inks / sizeof inks[0]; i++) {
      double contrast = cavum_colour_contrast(cavum_ink_colour(inks[i].ink, dark), paper);
      printf("ink %d on %s: %.2f\n", inks[i].ink, dark ? "dark" : "white", contrast);
      ck_assert_double_ge(contrast, inks[i].least);
    }
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, scales_are_read_without_telling_colours);
  tcase_add_test(tests, inks_are_seen);
  tcase_add_test(tests, lightness_is_linear);
  tcase_add_test(tests, known_colours);
}

CAVUM_TEST_MAIN("colour", add)
