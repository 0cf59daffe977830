// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/level_lines.h
 * Lines r H_phi = const through single elements, on the polynomial of the element.
 */
#ifndef CAVUM_PICTURE_LEVEL_LINES_H
#define CAVUM_PICTURE_LEVEL_LINES_H

#include "picture/scene.h"

/** A point of a line. */
typedef struct cavum_level_point {
  double z_m, r_m;
  double e_v_per_m; /**< |E|. */
} cavum_level_point;

/** A piece of a line: that in one element. */
typedef struct cavum_level_piece {
  int level;            /**< r H_phi is (level + 1/2) steps. */
  int64_t first, count; /**< Its points. */
} cavum_level_piece;

/** Pieces as they are found. */
typedef struct cavum_level_lines {
  cavum_level_point *points; /**< Owned. */
  cavum_level_piece *pieces; /**< Owned. */
  int64_t num_points, num_pieces, room_points, room_pieces;
} cavum_level_lines;

/** How lines are followed. */
typedef struct cavum_level_options {
  double step_a;   /**< Of r H_phi from line to line; above 0. */
  int count;       /**< Lines between zero and the largest value of r H_phi. */
  double coarse_m; /**< Length of the pieces of an element between which lines are looked for. */
  double fine_m;   /**< How far a line may be from what is drawn. */
} cavum_level_options;

/**
 * Adds the lines through all elements.
 * @param[in,out] lines    Zero at the start; release with cavum_level_lines_clear().
 * @param[in]     scene    Its lattice caches weights.
 * @param[in]     options  How.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_level_lines_find(cavum_level_lines *lines, cavum_scene *scene,
                                    const cavum_level_options *options, cavum_error *error);

/** Frees what it owns. */
void cavum_level_lines_clear(cavum_level_lines *lines);

#endif
