// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file as_built.h
 * The cavity as it was built: a measured wall against its drawing, what its deviations do to the
 * figures, and how certain that is.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_AS_BUILT_H
#define CAVUM_AS_BUILT_H

#include <stddef.h>
#include <stdint.h>

#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Most draws. */
enum { CAVUM_AS_BUILT_DRAWS_MOST = 100000 };

/**
 * Choices, from cavum_as_built_choices_default(). Members are appended only; struct_size says which
 * of them the program knows.
 */
typedef struct cavum_as_built_choices {
  size_t struct_size; /**< Set by cavum_as_built_choices_default(). */
  int mode;           /**< Whose figures, from 0. */
  int num_draws;      /**< Walls that are drawn and solved, for figures without a derivative by the
                           wall and as a check of the others; 0: none; at most
                           CAVUM_AS_BUILT_DRAWS_MOST. */
  double section_m;   /**< Length of a section of the wall; 0: about a twentieth of it. */
  uint64_t seed;      /**< Of the draws. */
} cavum_as_built_choices;

/** What cavum_as_built_choices_default() calls; struct_size is sizeof(cavum_as_built_choices). */
CAVUM_API void cavum_as_built_choices_set_defaults(cavum_as_built_choices *choices,
                                                   size_t struct_size);

/** Defaults: the first mode, sections chosen, no draws. */
static inline cavum_as_built_choices cavum_as_built_choices_default(void) {
  cavum_as_built_choices choices;
  cavum_as_built_choices_set_defaults(&choices, sizeof choices);
  return choices;
}

/** A figure of the measured wall, in SI; standard uncertainties. NAN: there is none. */
typedef struct cavum_as_built_figure {
  bool exists;      /**< Of the measured wall. */
  bool unbounded;   /**< It does not exist as the field has no bound at an edge of that wall. */
  double value;     /**< Of the measured wall. */
  double numerical; /**< What the solver may be off by: the true value is within value +- this. */
  double drawn;     /**< Of the drawing. */
  double by_deviation;  /**< value - drawn as the deviations along the wall give it: mean of the
                             derivatives of the drawing and of the measured wall. */
  double by_noise;      /**< Uncertainty by the scatter of the points. */
  double by_probe;      /**< Change by one standard uncertainty of what all points share. */
  double uncertainty;   /**< Of value: both in quadrature. Of figures without a derivative by the
                             wall that of the draws, with their shift. */
  double sampled;       /**< Standard deviation of the figure in the draws. */
  double sampled_shift; /**< Mean of the draws less value: noise makes peaks higher. */
} cavum_as_built_figure;

/** A piece of the wall, and what its deviation does to the frequency. */
typedef struct cavum_as_built_section {
  double from_m, to_m;       /**< Along the wall of the drawing, counterclockwise. */
  double from_z_m, from_r_m; /**< Where it begins. */
  double to_z_m, to_r_m;     /**< Where it ends. */
  double deviation_m;        /**< Mean, outwards. */
  double change_hz;          /**< Of the frequency, by the deviation there alone. */
  double uncertainty_hz;     /**< Of it, by the scatter of the points, the probe and the shift of
                                  the best fit along the axis. */
} cavum_as_built_section;

/** Where a plane is that mirrors the measured wall, by the points beside it. */
typedef struct cavum_as_built_plane {
  double z_m;           /**< Of the drawing's; NAN: there is none, or the points do not tell. */
  double beyond_m;      /**< How far outside of the drawing's it lies; below 0: inside. */
  double uncertainty_m; /**< Standard. */
  bool is_elsewhere;    /**< beyond_m is more than five uncertainties: another length of cell, which
                             is solved with the drawing's plane. */
} cavum_as_built_plane;

/** A point that was left out. */
typedef struct cavum_as_built_outlier {
  double z_m, r_m;   /**< Of the point, where the best fit has put it. */
  double along_m;    /**< Of the wall of the drawing beside it. */
  double distance_m; /**< From the drawing, outwards, without the probe. */
} cavum_as_built_outlier;

/** A measured wall and what it does. Made by the library; members are appended only. */
typedef struct cavum_as_built {
  char *title;                /**< Owned; may be empty. */
  int mode;                   /**< From 0. */
  char label[16];             /**< Of the mode. */
  int64_t num_points;         /**< In the file. */
  int64_t num_used;           /**< That the wall was fitted to. */
  int64_t num_outliers;       /**< Far from the fit and from their neighbours: left out. */
  int64_t num_beyond;         /**< Beyond the ends of the wall: left out. */
  double stated_scatter_m;    /**< Of a point along the normal, as the file has it. */
  double found_scatter_m;     /**< About the fit. */
  double scatter_m;           /**< What is carried. */
  double probe_uncertainty_m; /**< Of all points alike. */
  double motion[5]; /**< Best fit: shifts along x, y and z in m, tilts about x and y in rad. */
  cavum_as_built_figure figures[CAVUM_FIGURES_ROOM]; /**< By cavum_figure_id. */
  int num_draws;                                     /**< Walls that were drawn and solved. */
  int num_sections;
  cavum_as_built_section *sections; /**< Owned, shape [num_sections]. */
  cavum_index num_places;           /**< Along the wall, shape [num_places] each; owned. */
  double *along_m;                  /**< From the first end of the wall of the drawing. */
  double *z_m, *r_m;                /**< Of the drawing. */
  double *deviation_m;              /**< Of the measured wall, outwards. */
  double *deviation_uncertainty_m;  /**< By the scatter of the points. */
  double *slope_hz_per_m2;          /**< Change of the frequency by metre of wall and metre that it
                                         is moved outwards: kHz per mm and um times 1e-6. */
  double *change_hz_per_m;          /**< deviation_m times slope_hz_per_m2. */
  bool accuracy_reached;            /**< In both solves, what the cell file asks for. */
  double shift_uncertainty_m;       /**< Of the best fit's shift along the axis, standard; 0: none
                                         was fitted. */
  cavum_as_built_plane planes[2];   /**< At the left and at the right end. */
  cavum_as_built_outlier *outliers; /**< Owned, shape [num_outliers], along the wall. */
} cavum_as_built;

/** Frees a result and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_as_built_destroy(cavum_as_built **built);

/**
 * Solves a measured wall and its drawing, and carries the deviation and its uncertainties into the
 * figures.
 *
 * With the density d f / d n along the wall [Slater1950], and those of G and R/Q by adjoint fields,
 *
 *     u^2(f) = s^2 sum_i (int (d f / d n) (d n / d y_i) dS)^2 + (u_probe int (d f / d n) dS)^2,
 *
 * y_i the distances of the points, s their scatter, n the wall that the smoothing splines and the
 * best fit make of them; figures that are products of f, G, R/Q and the surface resistance follow.
 * Peaks have no such density, nor has G at corners between walls, or R/Q where metal meets the
 * axis: they get an uncertainty from draws alone. A draw is a wall that the same points would have
 * given with another noise and another error of the probe.
 *
 * Noise makes peaks higher. A draw has the noise of the points and its own: where a peak is the
 * most of many places, the draws are higher than the measured wall by sqrt(2) - 1 of what that is
 * too high. The uncertainty of such figures has their shift over sqrt(2) - 1 in quadrature.
 * Draws bend as smoothing may have hidden, the penalty being the probability of walls [Wahba1983].
 *
 * A section's uncertainty has the shift of the best fit, which deviations pull along: by a
 * jackknife over twentieths of the wall [Efron1982].
 *
 * @param[out] built    Owned by the caller; untouched unless CAVUM_OK, or the best that there is,
 *                      with accuracy_reached false, and CAVUM_ERR_NOT_CONVERGED.
 * @param[in]  path     A cell file with contour.kind: measured.
 * @param[in]  choices  NULL: defaults.
 * @param[in]  options  Of each solve; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE     NULL for what must be given, a mode that the cell does not ask for,
 *                             choices or options that never saw their defaults.
 * @retval CAVUM_ERR_FILE      a file that cannot be read.
 * @retval CAVUM_ERR_INPUT     another kind of contour, bad keys, points that cannot be used.
 * @retval CAVUM_ERR_RANGE     a choice out of range; else as cavum_solve(), and so the rest.
 * @retval CAVUM_ERR_GEOMETRY
 * @retval CAVUM_ERR_MESH
 * @retval CAVUM_ERR_NOT_CONVERGED
 * @retval CAVUM_ERR_INCOMPLETE
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_STOPPED
 * @retval CAVUM_ERR_INTERNAL
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_as_built_run(cavum_as_built **built, const char *path,
                                          const cavum_as_built_choices *choices,
                                          const cavum_solve_options *options, cavum_error *error);

/**
 * As JSON text, keys as documented in REFERENCE.md.
 * @param[out] text   Owned by the caller, release with cavum_free(); ends with a newline.
 * @param[in]  built  Of cavum_as_built_run().
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_as_built_to_json(char **text, const cavum_as_built *built,
                                                    cavum_error *error);

/**
 * Writes it as HDF5, which cavum draw takes.
 * @param[in]  path   File name.
 * @param[in]  built  Of cavum_as_built_run().
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE    NULL for what must be given.
 * @retval CAVUM_ERR_FILE     unwritable folder, full disk; an old file is left as it was.
 * @retval CAVUM_ERR_LIBRARY  HDF5 refused, most often for want of memory.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_as_built(const char *path, const cavum_as_built *built,
                                                  cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
