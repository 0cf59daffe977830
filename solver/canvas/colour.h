// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/colour.h
 * Colour scales whose lightness runs straight from light (zero) to dark (largest).
 *
 * Made in OKLCh (B. Ottosson, "A perceptual color space for image processing", 2020: matrices and
 * cube root from there): equal steps of a value are equal steps of lightness, so that the scale
 * reads the same in grey, on paper and to eyes that do not tell red from green.
 */
#ifndef CAVUM_CANVAS_COLOUR_H
#define CAVUM_CANVAS_COLOUR_H

#include <stdint.h>

/** Scales in use. */
typedef enum cavum_colour_scale {
  CAVUM_COLOUR_EMBER, /**< Ivory, orange, dark red: electric fields. */
  CAVUM_COLOUR_LAKE   /**< Ivory, green, dark blue: magnetic fields. */
} cavum_colour_scale;

/** Colours 0xRRGGBB of indices 1 (zero) to 255 (one); index 0 repeats index 1. */
void cavum_colour_fill_palette(uint32_t palette[256], cavum_colour_scale scale);

/** OKLab lightness of 0xRRGGBB, 0 black to 1 white. */
double cavum_colour_lightness(uint32_t colour);

/** Contrast of two colours 0xRRGGBB, 1 to 21, by the Web Content Accessibility Guidelines 2.2. */
double cavum_colour_contrast(uint32_t first, uint32_t second);

#endif
