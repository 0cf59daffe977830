// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/file.h
 * The kinds of contours in a cell file, one source each.
 */
#ifndef CAVUM_CELL_FILE_H
#define CAVUM_CELL_FILE_H

#include "cavum/cell.h"
#include "cell/file_measured.h"
#include "yaml/reader.h"

/**
 * kind: two-ellipse. Reads left, right, left_end and right_end, and makes sure that they give a
 * contour.
 * @param[in] contour  The contour section.
 * @param[in] ends     The ends section, NULL when absent.
 */
cavum_status cavum_cell_file_read_two_ellipse(cavum_cell *cell, const cavum_yaml_reader *reader,
                                              const cavum_yaml_node *contour,
                                              const cavum_yaml_node *ends);

/** kind: path. Reads and checks the path. */
cavum_status cavum_cell_file_read_path(cavum_cell *cell, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *contour);

/** kind: mesh. Reads how the mesh file is to be read. */
cavum_status cavum_cell_file_read_mesh(cavum_cell *cell, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *contour);

/**
 * The cell that a text describes before what contour.moved does to it.
 * @param[out] base   Owned by the caller, with the text; untouched unless CAVUM_OK.
 * @param[in]  text   Of a cell file.
 * @param[out] error  May be NULL.
 * @return as cavum_cell_read_text().
 */
cavum_status cavum_cell_file_read_base(cavum_cell *base, const char *text, cavum_error *error);

/** cavum_cell_read_text() of a cell next to one that was read: a wall that is moved is not checked
 * again, which is most of the work. */
cavum_status cavum_cell_file_read_near(cavum_cell *cell, const char *text, cavum_error *error);

/**
 * cavum_cell_read_file() of a measured cell.
 * @param[out] cell      As there.
 * @param[out] measured  Zeroed before; what the cell was made of, empty unless CAVUM_OK.
 * @param[in]  path      Of the cell file.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_INPUT  another kind of contour; else as cavum_cell_read_file() and
 *                          cavum_measured_cell_read().
 */
cavum_status cavum_cell_file_read_as_built(cavum_cell *cell, cavum_measured_cell *measured,
                                           const char *path, cavum_error *error);

#endif
