// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/file_moved.h
 * contour.moved: what was done to the shape that the rest of the file describes, one after the
 * other. Its numbers and those of the shape before stay numbers of the file.
 */
#ifndef CAVUM_CELL_FILE_MOVED_H
#define CAVUM_CELL_FILE_MOVED_H

#include "cavum/cell.h"
#include "contour/axial_length.h"
#include "contour/wall_depth.h"
#include "yaml/fields.h"
#include "yaml/reader.h"

/** What an entry does. */
typedef enum cavum_move_kind {
  CAVUM_MOVE_WALL,    /**< All metal along its normals, out of the cell. */
  CAVUM_MOVE_LONGER,  /**< Lengths along the axis scaled. */
  CAVUM_MOVE_SHRINK,  /**< All lengths scaled. */
  CAVUM_MOVE_STRAIGHT /**< A straight piece gained or lost at equator or iris. */
} cavum_move_kind;

/** One entry of the list. */
typedef struct cavum_cell_move {
  cavum_move_kind kind;
  double amount_m;         /**< WALL; LONGER: of the whole; STRAIGHT: of each side. */
  cavum_depth_shape depth; /**< WALL. */
  double contraction[2];   /**< SHRINK: along and across the axis. */
  cavum_wall_place place;  /**< STRAIGHT. */
  bool states_part; /**< iris_share or axial_contraction stands in the file, and stays where the
                         other number of the entry changes. */
} cavum_cell_move;

/** A place of a profile as a file has it. */
typedef struct cavum_profile_place {
  double z_m, share; /**< What `share` is in the file is up to the table of its keys. */
} cavum_profile_place;

/** Scales a shape that is a path; an accelerating length that is there goes along z. */
void cavum_cell_scale_path(cavum_cell *cell, double along_z, double along_r);

/**
 * Moves a shape that is a path; an accelerating length that is there goes along with lengths along
 * the axis.
 * @param[in,out] cell   Some member may have been changed unless CAVUM_OK.
 * @param[in]     move   What is done.
 * @param[in]     check  False: a moved wall is known to be a contour.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  a move that cannot be; the message has the place.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_take_move(cavum_cell *cell, const cavum_cell_move *move, bool check,
                                  cavum_error *error);

/**
 * Reads a profile along the wall: 2 to CAVUM_PROFILE_MOST places in the order of z.
 * @param[out] depth   Its places and shares; the rest stays.
 * @param[in]  table   Keys of a place, offsets in a cavum_profile_place.
 * @param[in]  reader  The file.
 * @param[in]  list    The places.
 * @param[in]  path    Name of the list for messages.
 * @retval CAVUM_ERR_INPUT  bad keys, too few or too many places, or z that does not rise.
 */
cavum_status cavum_cell_file_read_profile(cavum_depth_shape *depth, cavum_yaml_table table,
                                          const cavum_yaml_reader *reader,
                                          const cavum_yaml_node *list, const char *path);

/**
 * Reads the list, where there is one, and makes the cell the path that it leads to.
 * @param[in,out] cell     Read so far, of kind two-ellipse or path. An accelerating length that the
 *                         file does not state is that of the halves, moved as well.
 * @param[in]     reader   The cell file.
 * @param[in]     contour  Its section.
 * @param[in]     check    As of cavum_cell_take_move().
 * @retval CAVUM_ERR_INPUT     bad keys.
 * @retval CAVUM_ERR_GEOMETRY  a move that cannot be.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_file_read_moved(cavum_cell *cell, const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *contour, bool check);

/**
 * The list as it stands in a file.
 * @param[out] moves   Owned by the caller, free(); untouched unless CAVUM_OK.
 * @param[out] count   How many.
 * @param[in]  reader  The cell file.
 * @param[in]  list    contour.moved.
 * @retval CAVUM_ERR_INPUT   bad keys.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_file_list_moves(cavum_cell_move **moves, int *count,
                                        const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *list);

/** Makes a two-ellipse cell the path that a list of moves begins with; a path stays. */
cavum_status cavum_cell_open_for_moves(cavum_cell *cell, cavum_error *error);

/**
 * A list as one line, "[{offset_mm: 0.1}, {contraction: 0.00143}]".
 * @param[out] text   Owned by the caller, free(); untouched unless CAVUM_OK.
 * @param[in]  moves  Shape [count].
 * @param[in]  count  1 or more.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_moves_to_text(char **text, const cavum_cell_move *moves, int count,
                                      cavum_error *error);

#endif
