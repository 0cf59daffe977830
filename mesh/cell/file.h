// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/file.h
 * The three kinds of contours in a cell file, one source each.
 */
#ifndef CAVUM_CELL_FILE_H
#define CAVUM_CELL_FILE_H

#include "cavum/cell.h"
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

#endif
