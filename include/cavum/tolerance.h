// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file tolerance.h
 * Tolerances of the dimensions of a cell, and what they make of its figures.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_TOLERANCE_H
#define CAVUM_TOLERANCE_H

#include <stdint.h>

#include "cavum/cell_key.h"
#include "cavum/geometry.h"
#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Most dimensions with a tolerance. */
enum { CAVUM_TOLERANCES_MOST = 16 };

/** How a dimension is distributed about its value. */
typedef enum cavum_tolerance_kind {
  CAVUM_TOLERANCE_NORMAL = 0, /**< The width is the standard deviation. */
  CAVUM_TOLERANCE_UNIFORM = 1 /**< Alike within value +- width. */
} cavum_tolerance_kind;

/** Tolerance of one dimension. */
typedef struct cavum_tolerance {
  /** Dotted key, the contour understood, as cavum_cell_set() has it. */
  char key[CAVUM_CELL_KEY_SIZE];
  cavum_tolerance_kind kind;
  double width; /**< Above 0, in the unit of the key. */
} cavum_tolerance;

/** Tolerances of a cell. Made by the library; members are appended only. */
typedef struct cavum_tolerances {
  int count;
  cavum_tolerance *list; /**< Owned, shape [count]. */
  double *correlation;   /**< Owned, shape [count, count]: 1 on the diagonal. */
} cavum_tolerances;

/** Frees tolerances and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_tolerances_destroy(cavum_tolerances **tolerances);

/**
 * Reads the section `tolerances` of a YAML text, of a cell file or a file beside it: for each
 * dimension {normal: S} or {uniform: W}; `correlations`, a list of {of: [A, B], coefficient: C} of
 * two dimensions of the same kind; `covariance`, {of: [A, B, ...], values: [[...], ...]} of normal
 * ones.
 *
 * @param[out] tolerances  Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  cell        Whose dimensions are meant.
 * @param[in]  text        UTF-8 text, shape [length].
 * @param[in]  length      Bytes of text.
 * @param[in]  name        File name for messages; NULL: "text".
 * @param[out] error       May be NULL; the message begins with file, line and column.
 * @retval CAVUM_ERR_INPUT     no such section, unknown keys or dimensions, one that is there twice,
 *                             also as that of a half, bad values, no covariance of anything.
 * @retval CAVUM_ERR_GEOMETRY  a path that cannot exist.
 * @retval CAVUM_ERR_USAGE     NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_tolerances_read_text(cavum_tolerances **tolerances,
                                                  const cavum_cell *cell, const char *text,
                                                  size_t length, const char *name,
                                                  cavum_error *error);

/**
 * Like cavum_tolerances_read_text() for a file.
 * @retval CAVUM_ERR_FILE      the file cannot be read.
 * @retval CAVUM_ERR_INPUT     as there, and so the rest.
 * @retval CAVUM_ERR_GEOMETRY
 * @retval CAVUM_ERR_USAGE
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_tolerances_read_file(cavum_tolerances **tolerances,
                                                  const cavum_cell *cell, const char *path,
                                                  cavum_error *error);

/** Choices of cavum_spread_make(). Members are appended only. */
typedef struct cavum_spread_options {
  size_t struct_size; /**< Set by cavum_spread_options_default(). */
  int mode;           /**< Whose figures, from 0. */
  int num_samples; /**< Shapes that are drawn and solved; 0: none. Default -1: 1000 when the linear
                      spread of a figure does not hold. */
  uint64_t seed;   /**< Of the draws; the same seed gives the same shapes. */
  int num_threads; /**< That solve drawn shapes, at most; the results do not depend on it. Default
                      0: one for each processor that the caller may run on. */
} cavum_spread_options;

/** What cavum_spread_options_default() calls; struct_size is sizeof(cavum_spread_options). */
CAVUM_API void cavum_spread_options_set_defaults(cavum_spread_options *options, size_t struct_size);

/** Defaults: mode 0, samples where they are needed, seed 0. */
static inline cavum_spread_options cavum_spread_options_default(void) {
  cavum_spread_options options;
  cavum_spread_options_set_defaults(&options, sizeof options);
  return options;
}

/** Spread of one figure, in its SI unit. */
typedef struct cavum_figure_spread {
  cavum_figure_state state;            /**< PRESENT where the figure is. */
  double value;                        /**< Of the cell as it stands. */
  bool has_linear;                     /**< All derivatives are there. */
  const char *reason;                  /**< Why they are not; static, else NULL. */
  double deviation;                    /**< Linear: standard deviation. */
  double slope[CAVUM_TOLERANCES_MOST]; /**< Per unit of each dimension. A peak that stands at two
                                          mirrored places changes by one half by the mean of what
                                          the two do: half of what it changes by both halves. */
  double share[CAVUM_TOLERANCES_MOST]; /**< Of each dimension in the variance; the sum is 1. Of
                                          correlated ones each has its part of what they do
                                          together, which may be below 0. Of a sampled spread
                                          the sum is 1 with share_together. */
  bool is_curved;   /**< The linear spread does not hold: over a tenth of the deviation comes from
                       what is not linear, or shapes end within the tolerances. */
  double departure; /**< Root mean square of what is not linear over the deviation; NAN: unknown. */
  double sampled_mean, sampled_deviation; /**< Of the samples; NAN without. */
  double sampled_low, sampled_high;       /**< Between which 95 % of them are. */
  bool has_shares;                        /**< The shares are known. */
  bool
      has_sampled_shares; /**< They are those of the samples, as the linear spread does not hold. */
  double share_together;  /**< Then: what no dimension makes by itself; else 0. */
} cavum_figure_spread;

/** Spread of the figures of a mode. Made by the library; members are appended only. */
typedef struct cavum_spread {
  int num_dimensions;
  cavum_cell_key_info *dimensions; /**< Owned, shape [num_dimensions]. */
  cavum_tolerance *tolerances;     /**< Owned, shape [num_dimensions]. */
  double *covariance;              /**< Owned, shape [num_dimensions, num_dimensions]. */
  cavum_figure_spread figures[CAVUM_FIGURES_ROOM]; /**< By cavum_figure_id. */
  int num_pilot;   /**< Shapes that were drawn to see whether the linear spread holds. */
  int num_samples; /**< Shapes that were drawn for sampled spreads. */
  int num_failed;  /**< Of all of them: no shape, or no solution. */
  char label[16];  /**< Of the mode. */
  /** Figures of the shape, by cavum_geometry_id; sampled where the linear spread does not hold. */
  cavum_figure_spread shape[CAVUM_GEOMETRY_ROOM];
  int samples_degree;   /**< Of the solves of drawn shapes; 0: not known. */
  double samples_error; /**< Largest part of the spread of a figure that this degree leaves out, as
                           a few shapes say; 0 where it is the degree of the cell, or was asked
                           for. */
  /** Of the num_samples: shapes that there are, in which a figure is not, as a peak that has no
   * bound; by cavum_figure_id. */
  int num_missing[CAVUM_FIGURES_ROOM];
} cavum_spread;

/** Frees a spread and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_spread_destroy(cavum_spread **spread);

/**
 * What tolerances make of the figures of a mode: linear, J C J^T with the exact derivatives J and
 * the covariance C of the dimensions (JCGM 100, 5.1 and 5.2), which costs one solve; a few drawn
 * shapes tell whether that holds; where it does not, or samples are asked for, the figures of drawn
 * shapes (JCGM 101).
 *
 * Correlated dimensions of uniform tolerance are drawn by a normal copula with the correlation
 * 2 sin(pi c / 6), which gives them c.
 *
 * @param[out] spread   Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  cell     Read or filled in; not changed.
 * @param[in]  tolerances  Of its dimensions.
 * @param[in]  choices  NULL: defaults.
 * @param[in]  options  Of each solve; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_INPUT     a bad cell, a mesh file, no such dimension, one by which no figure
 * has a derivative, no covariance of anything.
 * @retval CAVUM_ERR_USAGE     NULL for what must be given, members out of range, a mode that the
 * cell does not ask for.
 * @retval CAVUM_ERR_GEOMETRY  as cavum_solve(), and so the rest.
 * @retval CAVUM_ERR_FILE
 * @retval CAVUM_ERR_RANGE
 * @retval CAVUM_ERR_MESH
 * @retval CAVUM_ERR_NOT_CONVERGED
 * @retval CAVUM_ERR_INCOMPLETE
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_STOPPED
 * @retval CAVUM_ERR_INTERNAL
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_spread_make(cavum_spread **spread, const cavum_cell *cell,
                                         const cavum_tolerances *tolerances,
                                         const cavum_spread_options *choices,
                                         const cavum_solve_options *options, cavum_error *error);

/**
 * The reverse: widths that keep two standard deviations of a figure within a band.
 * @param[out] alone   Shape [num_dimensions]: of each dimension if it alone has a tolerance;
 * infinite for one that does nothing.
 * @param[out] shared  Shape [num_dimensions]: if all that do something make equal parts of the
 * variance, each by itself. Correlations that widen the spread count; those that narrow it do not.
 * @param[out] factor  By which the tolerances as they stand, correlations included, may grow.
 * @param[in]  spread  What cavum_spread_make() found.
 * @param[in]  figure  Which.
 * @param[in]  band    Above 0, to either side, in the SI unit of the figure.
 * @return false, with everything untouched, where the figure has no linear spread or an argument is
 * missing.
 */
CAVUM_API bool cavum_spread_allow(double *alone, double *shared, double *factor,
                                  const cavum_spread *spread, cavum_figure_id figure, double band);

/** A figure that is to stay within a band. */
typedef struct cavum_spread_band {
  cavum_figure_id figure;
  double band; /**< Above 0, to either side, in the SI unit of the figure. */
} cavum_spread_band;

/** Most bands of a file. */
enum { CAVUM_SPREAD_BANDS_MOST = 16 };

/**
 * Writes a spread as HDF5, with the tolerances that keep figures within bands.
 * @param[in]  path       File name.
 * @param[in]  spread     Of cavum_spread_make().
 * @param[in]  title      Of the cell; NULL: none.
 * @param[in]  bands      Shape [num_bands]; may be NULL without any.
 * @param[in]  num_bands  At most CAVUM_SPREAD_BANDS_MOST.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_USAGE    NULL for what must be given, too many bands, one of no figure or that
 * is not above 0.
 * @retval CAVUM_ERR_FILE     unwritable folder, full disk; an old file is left as it was.
 * @retval CAVUM_ERR_LIBRARY  HDF5 refused, most often for want of memory.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_spread(const char *path, const cavum_spread *spread,
                                                const char *title, const cavum_spread_band *bands,
                                                int num_bands, cavum_error *error);

/**
 * Like cavum_store_spread_to_json(), with the tolerances that keep figures within bands.
 * @param[out] text       Owned by the caller, release with cavum_free(); ends with a newline.
 * @param[in]  spread     Of cavum_spread_make().
 * @param[in]  bands      Shape [num_bands]; may be NULL without any.
 * @param[in]  num_bands  How many.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given, a band of no figure or that is not above 0.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_spread_bands_to_json(char **text, const cavum_spread *spread,
                                                        const cavum_spread_band *bands,
                                                        int num_bands, cavum_error *error);

/**
 * A spread as JSON text, keys as in REFERENCE.md (Tolerances).
 * @param[out] text    Owned by the caller, release with cavum_free(); ends with a newline.
 * @param[in]  spread  Of cavum_spread_make().
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_spread_to_json(char **text, const cavum_spread *spread,
                                                  cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
