// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/front_walk.h
 * The points of a front, each a search that started from its neighbour.
 *
 * A walk goes through all points, or through a segment of them as a part of a front that other
 * processes walk too. Segments begin by themselves, with all starts of the goal; gathered, they are
 * joined: the points at a seam start again from their neighbours beyond it, and what becomes better
 * is carried on.
 */
#ifndef CAVUM_OPTIMUM_FRONT_WALK_H
#define CAVUM_OPTIMUM_FRONT_WALK_H

#include "optimum/parts.h"

/** Points of a front. Zero-initialise but for the goal. */
typedef struct cavum_front_walk {
  cavum_goal *goal; /**< Borrowed; its limits are those of the last point. */
  cavum_optimum_solving solving;
  int num_points;
  int first, end;     /**< Points that are walked: first <= point < end. */
  int part_solves;    /**< Of the parts that were gathered. */
  bool stopped;       /**< The program asked to stop before the walk had ended. */
  cavum_search *best; /**< Owned, shape [num_points]: here is NULL where nothing was found. */
  int *num_solves;    /**< Owned, likewise. */
  int *segment;       /**< Owned, likewise: which part walked it, from 0. */
  double (*factor)[CAVUM_GOAL_MOST_QUANTITIES]; /**< Owned, likewise: of peaks, as the search left
                                                     them. */
} cavum_front_walk;

/** Prepares a walk through all points; release with cavum_front_walk_clear(), also after a
 * failure. */
cavum_status cavum_front_walk_open(cavum_front_walk *w, const cavum_solve_options *options,
                                   cavum_error *error);

/** Walks from the loose end to the tight one and back. */
cavum_status cavum_front_walk_run(cavum_front_walk *w, cavum_error *error);

/** Walks the segment of a part and keeps it; one that is kept already is not walked again. */
cavum_status cavum_front_walk_run_part(cavum_front_walk *w, const cavum_parts *parts,
                                       cavum_error *error);

/**
 * Takes the segments of all parts and joins them.
 * @retval CAVUM_ERR_NOT_CONVERGED  parts are missing.
 */
cavum_status cavum_front_walk_gather(cavum_front_walk *w, const cavum_parts *parts,
                                     cavum_error *error);

/** Ends every point with better solves, cavum_search_polish(); no point starts from another after
 * that. */
cavum_status cavum_front_walk_polish(cavum_front_walk *w, cavum_error *error);

/** Whether a point is one: its first-order conditions are met within the limits. */
bool cavum_front_walk_found(const cavum_front_walk *w, int point);

/** Whether another part walked a neighbour of a point. */
bool cavum_front_walk_is_at_seam(const cavum_front_walk *w, int point);

/** The limits of a point: the second figure goes through its range with each value of the first. */
void cavum_front_find_limits(double limit[CAVUM_FRONT_MOST_AXES], const cavum_goal *goal,
                             int point);

/** Makes them the limits of the goal. */
void cavum_front_set_limits(cavum_goal *goal, int point);

/** Frees what it owns. */
void cavum_front_walk_clear(cavum_front_walk *w);

#endif
