// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture.h
 * Pictures of results: PNG, SVG and PDF from the same drawing.
 */
#ifndef CAVUM_PICTURE_H
#define CAVUM_PICTURE_H

#include <stddef.h>

#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What a picture shows. */
typedef enum cavum_picture_view {
  CAVUM_VIEW_SHEET,   /**< Section, axis and wall of one mode on one page. */
  CAVUM_VIEW_SECTION, /**< The cell to scale with its fields, electric field lines and peaks. */
  CAVUM_VIEW_AXIS,    /**< E_z on the axis. */
  CAVUM_VIEW_WALL,    /**< Surface fields along the wall. */
  CAVUM_VIEW_MESH     /**< The elements of the mesh. */
} cavum_picture_view;

/** Which field a section shows in colours. */
typedef enum cavum_picture_field {
  CAVUM_PICTURE_BOTH,     /**< |E| above the axis, |H| below it. */
  CAVUM_PICTURE_ELECTRIC, /**< |E| in the half plane. */
  CAVUM_PICTURE_MAGNETIC  /**< |H| in the half plane. */
} cavum_picture_field;

/** Form of the file. */
typedef enum cavum_picture_format {
  CAVUM_PICTURE_PNG,
  CAVUM_PICTURE_SVG,
  CAVUM_PICTURE_PDF
} cavum_picture_format;

/** Choices of a picture. */
typedef struct cavum_picture_options {
  cavum_picture_format format;
  cavum_picture_view view;
  cavum_picture_field field; /**< Of the section. */
  int mode;                  /**< From 1. */
  int width_px;              /**< PNG: width in pixels, 200 to 16000. */
} cavum_picture_options;

/** A sheet of mode 1 as a PNG of 1600 pixels with both fields. */
CAVUM_API cavum_picture_options cavum_picture_options_default(void);

/**
 * Finds the format in the ending of a file name: .png, .svg or .pdf.
 * @param[out] format  Untouched unless CAVUM_OK.
 * @param[in]  path    File name.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  another ending.
 */
CAVUM_API cavum_status cavum_picture_find_format(cavum_picture_format *format, const char *path,
                                                 cavum_error *error);

/**
 * Draws a result.
 *
 * Fields are shown over the gradient E_acc where the mode has one, else at a stored energy of one
 * joule. Half models are drawn whole. The same result and options give the same bytes.
 *
 * @param[out] bytes    The finished file in new memory, release with free(); a zero byte follows.
 *                      Untouched unless CAVUM_OK.
 * @param[out] size     Bytes without that zero.
 * @param[in]  result   With field grids for the section and the mesh, profiles for axis and wall.
 * @param[in]  options  NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_INPUT    no such mode, or the result has no fields to draw.
 * @retval CAVUM_ERR_RANGE    a width out of range.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_draw_result(char **bytes, size_t *size,
                                                 const cavum_result *result,
                                                 const cavum_picture_options *options,
                                                 cavum_error *error);

/**
 * Writes bytes to a file through a temporary name and a rename.
 * @param[in]  path   File to write; replaced. "-" is standard output.
 * @param[in]  bytes  Shape [size].
 * @param[in]  size   Bytes.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE  cannot be written; an old file is left as it was.
 */
CAVUM_API cavum_status cavum_picture_write(const char *path, const char *bytes, size_t size,
                                           cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
