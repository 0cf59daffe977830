// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/scene.h
 * What pictures of one mode need: the outline of the whole cell and units for its fields.
 */
#ifndef CAVUM_PICTURE_SCENE_H
#define CAVUM_PICTURE_SCENE_H

#include "cavum/solve.h"
#include "picture/lattice.h"

/** A closed line of the outline, counterclockwise; a half model's is already the whole cell's. */
typedef struct cavum_scene_loop {
  int num_points;
  double *z_m, *r_m;       /**< Owned. */
  unsigned char *boundary; /**< Owned: cavum_boundary of the piece from each point to the next. */
} cavum_scene_loop;

/** One mode, ready to draw. */
typedef struct cavum_scene {
  const cavum_result *result;    /**< Borrowed. */
  const cavum_mode_result *mode; /**< Borrowed. */
  int mode_number;               /**< From 1. */
  cavum_lattice lattice;
  int64_t *first_point; /**< Owned: first lattice point of each element, shape [num_elements]. */
  int num_loops;
  cavum_scene_loop *loops; /**< Owned. */
  double z_low_m, z_high_m, r_high_m;
  double mirror_m;             /**< The plane about which a half model is mirrored. */
  bool per_gradient;           /**< Fields are shown over E_acc; else at a stored energy of 1 J. */
  double e_factor, h_factor;   /**< From V/m and A/m at 1 J to what is shown. */
  double e_largest, h_largest; /**< Of the colour scales, in shown units. */
  bool e_goes_on, h_goes_on;   /**< The field is larger than that near a sharp corner. */
  bool e_goes_on_inside;       /**< Or near an edge inside the cell, of a dielectric. */
  int num_corners;             /**< Sharp corners, at which E is unbounded. */
  cavum_point *corners;        /**< Owned; the first is that of the figure. */
} cavum_scene;

/** Whether E at the wall is larger than any number near a sharp corner of metal. */
static inline bool cavum_scene_e_goes_on_at_wall(const cavum_scene *scene) {
  return scene->e_goes_on && !scene->e_goes_on_inside;
}

/** Names of the shown fields, as mark-up. */
const char *cavum_scene_e_label(const cavum_scene *scene);
/** The same for the magnetic field. */
const char *cavum_scene_h_label(const cavum_scene *scene);

/** Where the mark of a peak stands. */
typedef struct cavum_mark_places {
  int count;             /**< 0 without a peak, 1, or the sharp corners of an unbounded one. */
  const cavum_point *at; /**< Borrowed from the scene or the figure. */
  bool unbounded;
} cavum_mark_places;

/** The places of a peak field of the scene's mode. */
cavum_mark_places cavum_scene_peak_places(const cavum_scene *scene, const cavum_figure *peak);

/** Number of a mode for people, from 1, of its index; 0 where there can be none. */
static inline int cavum_mode_number(int index) { return index < INT32_MAX ? index + 1 : 0; }

/**
 * Collects a scene.
 * @param[out] scene   Release with cavum_scene_clear(), also after a failure.
 * @param[in]  result  Borrowed, must outlive the scene.
 * @param[in]  number  Mode, from 1.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT   no such mode, or no field grid in the result.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_scene_create(cavum_scene *scene, const cavum_result *result, int number,
                                cavum_error *error);

/** Frees what a scene owns. */
void cavum_scene_clear(cavum_scene *scene);

#endif
