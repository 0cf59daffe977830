// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/key_words.h
 * Keys of dimensions as words, for axes of pictures.
 */
#ifndef CAVUM_FORMAT_KEY_WORDS_H
#define CAVUM_FORMAT_KEY_WORDS_H

#include <stddef.h>

/**
 * Words of a key without its section of the contour and without its unit: "iris radius" of
 * "contour.iris_radius_mm", "left iris ellipse, axial" of "left.iris_ellipse.axial_mm".
 * @param[out] words  Shape [size]; cut where they do not fit.
 * @param[in]  key    Dotted.
 */
void cavum_key_words(char *words, size_t size, const char *key);

#endif
