// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/file_contour.h
 * The sections of a cell file that describe the shape: contour and ends.
 */
#ifndef CAVUM_CELL_FILE_CONTOUR_H
#define CAVUM_CELL_FILE_CONTOUR_H

#include "cavum/cell.h"
#include "yaml/fields.h"

/**
 * Reads the contour of any kind, and the ends of a two-ellipse cell, into the cell, and makes sure
 * that they give a contour.
 *
 * @param[in,out] cell     kind, left, right, left_end, right_end, path and mesh are set; owned
 * parts are released by cavum_cell_clear() in any case.
 * @param[in]     reader   The file.
 * @param[in]     contour  The contour section.
 * @param[in]     ends     The ends section, NULL when absent.
 */
cavum_status cavum_cell_file_read_shape(cavum_cell *cell, const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *contour,
                                        const cavum_yaml_node *ends);

/** kind: two-ellipse, with its ends. */
cavum_status cavum_cell_file_read_two_ellipse(cavum_cell *cell, const cavum_yaml_reader *reader,
                                              const cavum_yaml_node *contour,
                                              const cavum_yaml_node *ends);

/** kind: path. */
cavum_status cavum_cell_file_read_path(cavum_cell *cell, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *contour);

/** kind: mesh. */
cavum_status cavum_cell_file_read_mesh(cavum_cell *cell, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *contour);

/** Puts the place of a node in front of a message about the shape and fails with it. */
cavum_status cavum_cell_file_fail_shape(const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *node, cavum_status status,
                                        const cavum_error *what);

#endif
