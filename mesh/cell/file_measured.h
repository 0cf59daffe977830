// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/file_measured.h
 * Cells as they were built: contour.kind: measured.
 */
#ifndef CAVUM_CELL_FILE_MEASURED_H
#define CAVUM_CELL_FILE_MEASURED_H

#include "cavum/cell.h"
#include "survey/survey.h"
#include "yaml/reader.h"

/** What a measured cell was made of. Zero-initialise. */
typedef struct cavum_measured_cell {
  cavum_cell drawing; /**< Owned. */
  cavum_survey survey;
  double probe_uncertainty_m; /**< Standard; of all points alike, along the normals. */
} cavum_measured_cell;

/** Frees what a measured cell was made of and empties it. */
void cavum_measured_cell_clear(cavum_measured_cell *measured);

/**
 * Reads the section: the drawing, the points, and the fit. The cell takes the contour, and what it
 * does not state of its accelerating length from the drawing.
 * @param[out]    measured  Zeroed before; on failure some members may have been set.
 * @param[in,out] cell      Its path is set on success.
 * @param[in]     reader    The cell file.
 * @param[in]     contour   The section.
 * @retval CAVUM_ERR_INPUT     bad keys, a drawing or points that cannot be used.
 * @retval CAVUM_ERR_FILE      a file that cannot be read.
 * @retval CAVUM_ERR_GEOMETRY  a drawing without a contour, a gap of points, a wall that cannot be.
 * @retval CAVUM_ERR_LIBRARY   GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_measured_cell_read(cavum_measured_cell *measured, cavum_cell *cell,
                                      const cavum_yaml_reader *reader,
                                      const cavum_yaml_node *contour);

/**
 * Makes the text of a measured cell one of its own: its contour becomes the path that was found,
 * the rest stays. A text of keys that share lines is written anew.
 * @param[in,out] cell    Read, with its text.
 * @param[in]     reader  Of that text.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_measured_cell_write(cavum_cell *cell, const cavum_yaml_reader *reader);

#endif
