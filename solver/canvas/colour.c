// SPDX-License-Identifier: GPL-3.0-or-later
// Colour scales computed in OKLCh.
#include "canvas/colour.h"

#include <math.h>
#include <stdbool.h>

#include "base/base.h"
#include "base/units.h"

// Lightness of zero and of one. The dark end leaves room for lines and letters on top of it.
static const double LIGHT_END = 0.985, DARK_END = 0.36;

static double to_gamma(double linear) {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * pow(linear, 1.0 / 2.4) - 0.055;
}

static double from_gamma(double value) {
  return value <= 0.04045 ? value / 12.92 : pow((value + 0.055) / 1.055, 2.4);
}

static uint32_t make_colour(double lightness, double chroma, double hue_degrees) {
  double hue_rad = cavum_from_unit(hue_degrees, CAVUM_UNIT_DEGREE);
  double a = chroma * cos(hue_rad), b = chroma * sin(hue_rad);
  double l = lightness + 0.3963377774 * a + 0.2158037573 * b;
  double m = lightness - 0.1055613458 * a - 0.0638541728 * b;
  double s = lightness - 0.0894841775 * a - 1.2914855480 * b;
  l = l * l * l;
  m = m * m * m;
  s = s * s * s;
  const double rgb[3] = {4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
                         -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
                         -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s};
  uint32_t colour = 0;
  for (int k = 0; k < 3; k++) {
    double value = to_gamma(cavum_max(0.0, cavum_min(1.0, rgb[k])));
    colour = colour << 8 | (uint32_t)lround(255.0 * value);
  }
  return colour;
}

// Smooth paths that stay inside what a screen shows: a path that is clipped at its edge shows a
// band where it touches.
void cavum_colour_fill_palette(uint32_t palette[256], cavum_colour_scale scale) {
  bool ember = scale == CAVUM_COLOUR_EMBER;
  for (int i = 1; i < 256; i++) {
    double t = (i - 1) / 254.0;
    double lightness = LIGHT_END + (DARK_END - LIGHT_END) * t;
    double chroma =
        ember ? 0.014 + 0.140 * sin(0.75 * CAVUM_PI * t) : 0.014 + 0.092 * sin(0.72 * CAVUM_PI * t);
    palette[i] = make_colour(lightness, chroma, ember ? 88.0 - 70.0 * t : 170.0 + 92.0 * t);
  }
  palette[0] = palette[1];
}

double cavum_colour_lightness(uint32_t colour) {
  double r = from_gamma((double)(colour >> 16 & 255) / 255.0);
  double g = from_gamma((double)(colour >> 8 & 255) / 255.0);
  double b = from_gamma((double)(colour & 255) / 255.0);
  double l = cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
  double m = cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
  double s = cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
  return 0.2104542553 * l + 0.7936177850 * m - 0.0040720468 * s;
}

// Relative luminance of sRGB (IEC 61966-2-1), as the guidelines define it.
static double luminance(uint32_t colour) {
  return 0.2126 * from_gamma((double)(colour >> 16 & 255) / 255.0) +
         0.7152 * from_gamma((double)(colour >> 8 & 255) / 255.0) +
         0.0722 * from_gamma((double)(colour & 255) / 255.0);
}

double cavum_colour_contrast(uint32_t first, uint32_t second) {
  double a = luminance(first), b = luminance(second);
  return (cavum_max(a, b) + 0.05) / (cavum_min(a, b) + 0.05);
}
