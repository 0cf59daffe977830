// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/png_bytes.h
 * PNG files in memory; png_bytes.c is the only file that sees libpng.
 */
#ifndef CAVUM_CANVAS_PNG_BYTES_H
#define CAVUM_CANVAS_PNG_BYTES_H

#include "canvas/canvas.h"

/**
 * A PNG from 32-bit pixels 0x00RRGGBB in the machine's byte order.
 * @param[out] bytes        New memory, release with free(); untouched unless CAVUM_OK.
 * @param[out] size         Bytes.
 * @param[in]  pixels       Shape [height, stride / 4].
 * @param[in]  width        Pixels.
 * @param[in]  height       Pixels.
 * @param[in]  stride       Bytes from one row to the next.
 * @param[in]  pixels_per_m Resolution to store.
 * @param[out] error        May be NULL.
 */
cavum_status cavum_png_from_pixels(char **bytes, size_t *size, const unsigned char *pixels,
                                   int width, int height, int stride, double pixels_per_m,
                                   cavum_error *error);

/** A PNG from an image of palette indices; index 0 is transparent. */
cavum_status cavum_png_from_image(char **bytes, size_t *size, const cavum_image *image,
                                  cavum_error *error);

#endif
