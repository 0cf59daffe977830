// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/peak_region.h
 * The surface field near its peak from two degrees more, on the elements about the peak alone.
 *
 * E on the wall is a derivative and gains least from a degree, while its peak hangs on a few
 * elements at one bend of the wall. On a region of those elements and their neighbours a mode is
 * corrected: v of a higher degree with v = 0 where the region was cut out and
 *
 *     (K - k^2 M)(x + v, t) = 0   for all such t,
 *
 * x being the mode at the degree of the whole mesh. What x lacks on the rim of the region is of
 * short waves and dies out towards the peak. k^2 is that of the whole mesh, of twice the order.
 */
#ifndef CAVUM_SOLVE_PEAK_REGION_H
#define CAVUM_SOLVE_PEAK_REGION_H

#include "solve/solution.h"

/** Degrees that a region adds, and regions that carry one another on: the second begins where the
 * first ended. */
enum { CAVUM_PEAK_DEGREES = 2, CAVUM_PEAK_REGIONS = 2 };

/** A region, its matrices and the plan of their elimination; not movable once used. */
typedef struct cavum_peak_region {
  int64_t of_topology;      /**< Topology of the whole mesh; 0: nothing is kept. */
  int64_t topology;         /**< Number of the submesh's own. */
  cavum_unknown of_unknown; /**< That of the whole mesh. */
  int num_levels;           /**< Degrees that it is solved at. */
  cavum_index num_elements;
  cavum_index *element;         /**< Owned, [num_elements]: in the whole mesh, seeds first. */
  cavum_mesh submesh;           /**< cavum_submesh_create() of them. */
  cavum_mesh_boundary boundary; /**< Owned: the metal edges of the seeds. */
  cavum_reference reference;
  cavum_discretisation discretisation;
  cavum_condensed condensed;
  cavum_skeletons skeletons;
  cavum_pencil pencils[CAVUM_CLASSES];
} cavum_peak_region;

/** A mode of the whole mesh at one degree. */
typedef struct cavum_peak_source {
  cavum_view view;
  double eacc_v_per_m; /**< Its gradient at one joule. */
} cavum_peak_source;

/** A mode whose peak of E is wanted more accurately. */
typedef struct cavum_peak_task {
  cavum_peak_source now, before;     /**< At the degree of the whole mesh, and at one less. */
  int in_class;                      /**< Its symmetry class. */
  const cavum_wall_samples *samples; /**< Borrowed: of now.view, all conducting edges. */
} cavum_peak_task;

/** E_pk / E_acc on a region at one degree. */
typedef struct cavum_peak_step {
  cavum_peak electric; /**< Its value and gap have no unit. */
  double spread;       /**< cavum_surface_spread() against the degree before. */
} cavum_peak_step;

/** What a region says about one task. */
typedef struct cavum_peak_steps {
  cavum_peak_step step[CAVUM_PEAK_DEGREES]; /**< By rising degree. */
  /**
   * Spread between the last step and what the same region makes of the mode at one degree less on
   * the whole mesh: what a region cannot correct, that is its rim, the share of the energy that is
   * near the peak, the gradient.
   */
  double spread_of_whole;
} cavum_peak_steps;

/**
 * Corrects modes of a solution on one region that holds the peaks of all.
 *
 * @param[out]    steps   Shape [count], filled only when done.
 * @param[out]    done    False where a region would be no small part of the mesh, or cannot be
 *                        solved on.
 * @param[in,out] region  Zeroed, or used before, for this mesh or others.
 * @param[in]     topology  Number of the mesh's topology.
 * @param[in]     known   Degrees beyond that of the whole mesh that are known from another region;
 *                        0: none. The last of them is made again on this one, for the change of the
 *                        next.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_peak_region_refine(cavum_peak_steps *steps, bool *done,
                                      cavum_peak_region *region, int64_t topology,
                                      const cavum_peak_task *tasks, int count, int known,
                                      cavum_error *error);

/** Frees what it owns and empties it; NULL is accepted. */
void cavum_peak_region_clear(cavum_peak_region *region);

#endif
