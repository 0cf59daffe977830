// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture.h
 * Pictures of results: PNG, SVG and PDF from the same drawing. These functions are in
 * libcavum_pictures; all others are in libcavum.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_PICTURE_H
#define CAVUM_PICTURE_H

#include <stddef.h>

#include "cavum/coldtest_compare.h"
#include "cavum/coldtest_report.h"
#include "cavum/solve.h"
#include "cavum/store.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What a picture shows. */
typedef enum cavum_picture_view {
  CAVUM_VIEW_SHEET,   /**< All views on one page. */
  CAVUM_VIEW_SECTION, /**< The cell to scale with its fields, electric field lines and peaks. */
  CAVUM_VIEW_AXIS,    /**< E_z on the axis. */
  CAVUM_VIEW_WALL,    /**< Surface fields along the wall. */
  CAVUM_VIEW_MESH,    /**< The elements of the mesh. */
  CAVUM_VIEW_QUALITY, /**< Cold test: Q0 against gradient with lines of constant dissipated power.
                       */
  CAVUM_VIEW_RESISTANCE, /**< Cold test: R_s against 1/T with its fit. */
  CAVUM_VIEW_BUDGET,     /**< Cold test: where the uncertainty of one reading comes from. */
  CAVUM_VIEW_SCATTER,    /**< Scan: one figure against another, coloured by a third. */
  CAVUM_VIEW_LOADED,     /**< Cold test: loaded Q against gradient. */
  CAVUM_VIEW_RADIATION,  /**< Cold test: dose rate against gradient. */
  CAVUM_VIEW_FIELD,      /**< Cold test: parts of R_s against magnetic field. */
  CAVUM_VIEW_FREQUENCY,  /**< Cold test: frequency against field and bath pressure. */
  CAVUM_VIEW_TRACES,     /**< Cold test: recorded decays with their fits. */
  CAVUM_VIEW_PLAN,       /**< Cold test: plans as a table in meter units, with their limits. */
  CAVUM_VIEW_SEARCH /**< Result of a search for the best shape: how far each solve was from it. */
} cavum_picture_view;

/** Which field a section shows in colours. */
typedef enum cavum_picture_field {
  CAVUM_PICTURE_BOTH,     /**< |E| above the axis, |H| below it. */
  CAVUM_PICTURE_ELECTRIC, /**< |E| in the half plane. */
  CAVUM_PICTURE_MAGNETIC  /**< |H| in the half plane. */
} cavum_picture_field;

/** Form of the file. */
typedef enum cavum_picture_format {
  CAVUM_PICTURE_PNG,
  CAVUM_PICTURE_SVG,
  CAVUM_PICTURE_PDF
} cavum_picture_format;

/** Choices of a picture. Members are appended only. */
typedef struct cavum_picture_options {
  size_t struct_size; /**< Set by cavum_picture_options_default(). */
  cavum_picture_format format;
  cavum_picture_view view;
  cavum_picture_field field; /**< Of the section. */
  int mode;                  /**< Of a result, from 0. */
  int reading; /**< Of a cold test: whose budget, from 0; -1: that of the largest gradient. */
  const char *x, *y, *colour; /**< Of a scan: keys of columns, borrowed; NULL: chosen. */
  int width_px;               /**< PNG: width in pixels, 200 to 16000. */
} cavum_picture_options;

/** What a picture is for: how wide it is and how large its letters are. */
typedef enum cavum_picture_size {
  CAVUM_SIZE_SCREEN,      /**< As wide as its content wants; a PNG of few pixels is laid out for
                               them. */
  CAVUM_SIZE_COLUMN,      /**< One column of a journal, 86 mm; numbers are 7.6 points high. */
  CAVUM_SIZE_TWO_COLUMNS, /**< Two columns, 178 mm; the same letters. */
  CAVUM_SIZE_SLIDE        /**< 16:9, 13.3 inches wide; all fits into it. */
} cavum_picture_size;

/** What several results over each other have in common. */
typedef enum cavum_picture_alignment {
  CAVUM_ALIGN_EQUATOR, /**< The largest radius of each stands at z = 0; a cell whose metal is nearer
                            to the first with z as in the cell files keeps its place to that. */
  CAVUM_ALIGN_Z        /**< z as in the cell files. */
} cavum_picture_alignment;

/** What a section shows along its wall: a density of cavum_wall_density as a band behind it. */
typedef enum cavum_picture_along_wall {
  CAVUM_ALONG_WALL_NOTHING,
  CAVUM_ALONG_WALL_FREQUENCY,       /**< Change of f by metal removed. */
  CAVUM_ALONG_WALL_PRESSURE,        /**< Radiation pressure. */
  CAVUM_ALONG_WALL_GEOMETRY_FACTOR, /**< Change of G by metal removed. */
  CAVUM_ALONG_WALL_R_OVER_Q         /**< Change of R/Q by metal removed. */
} cavum_picture_along_wall;

/** How a picture is laid out. Members are appended only. */
typedef struct cavum_picture_layout {
  size_t struct_size; /**< Set by cavum_picture_layout_default(). */
  cavum_picture_size size;
  cavum_picture_alignment align;
  int num_field_lines;      /**< Electric field lines between zero and the largest flux; 0: 14,
                                 below 0: none. At most 200. */
  double field_line_points; /**< Their width in points before the picture is scaled; 0: 0.65. */
  cavum_picture_along_wall along_wall; /**< Of the section of one result. */
} cavum_picture_layout;

/** What cavum_picture_layout_default() calls; struct_size is sizeof(cavum_picture_layout). */
CAVUM_API void cavum_picture_layout_set_defaults(cavum_picture_layout *layout, size_t struct_size);

/** For a screen, aligned at the equator. */
static inline cavum_picture_layout cavum_picture_layout_default(void) {
  cavum_picture_layout layout;
  cavum_picture_layout_set_defaults(&layout, sizeof layout);
  return layout;
}

/** Most results over each other. */
enum { CAVUM_PICTURE_FILES_MOST = 6 };

/** What cavum_picture_options_default() calls; struct_size is sizeof(cavum_picture_options). */
CAVUM_API void cavum_picture_options_set_defaults(cavum_picture_options *options,
                                                  size_t struct_size);

/** A sheet of the first mode as a PNG of 1600 pixels with both fields. */
static inline cavum_picture_options cavum_picture_options_default(void) {
  cavum_picture_options options;
  cavum_picture_options_set_defaults(&options, sizeof options);
  return options;
}

/**
 * Finds the format in the ending of a file name: .png, .svg or .pdf.
 * @param[out] format  Untouched unless CAVUM_OK.
 * @param[in]  path    File name.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  another ending.
 */
CAVUM_API cavum_status cavum_picture_find_format(cavum_picture_format *format, const char *path,
                                                 cavum_error *error);

/**
 * Draws a result.
 *
 * Fields are shown over the gradient E_acc where the mode has one, else at a stored energy of one
 * joule. Half models are drawn whole. The same result and options give the same bytes.
 *
 * @param[out] bytes    The finished file in new memory, release with cavum_free(); a zero byte
 * follows. Untouched unless CAVUM_OK.
 * @param[out] size     Bytes without that zero.
 * @param[in]  result   With field grids for the section and the mesh, profiles for axis and wall.
 * @param[in]  options  NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT    no such mode, or the result has no fields to draw.
 * @retval CAVUM_ERR_RANGE    a width out of range.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_draw_result(char **bytes, size_t *size,
                                                 const cavum_result *result,
                                                 const cavum_picture_options *options,
                                                 cavum_error *error);

/**
 * Draws two results over each other: outlines, E_z on the axis, surface fields.
 * @param[out] bytes    The finished file, as of cavum_picture_draw_result().
 * @param[out] size     Bytes.
 * @param[in]  results  The two, borrowed.
 * @param[in]  names    Short names for the key.
 * @param[in]  modes    Mode of each, from 0.
 * @param[in]  options  Format and width are used; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT    no such mode, no fields, or only one has a gradient.
 * @retval CAVUM_ERR_RANGE    a width out of range.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_compare_results(char **bytes, size_t *size,
                                                     const cavum_result *const results[2],
                                                     const char *const names[2], const int modes[2],
                                                     const cavum_picture_options *options,
                                                     cavum_error *error);

/**
 * Draws any file of ours: a result, a cold test, a scan.
 * @param[out] bytes    The finished file, as of cavum_picture_draw_result().
 * @param[out] size     Bytes.
 * @param[in]  path     File to read.
 * @param[in]  options  NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_FILE     cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT    no file of ours, damaged, or without what is to be drawn.
 * @retval CAVUM_ERR_USAGE    a view that this kind of file does not have.
 * @retval CAVUM_ERR_RANGE    a width out of range.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_draw_file(char **bytes, size_t *size, const char *path,
                                               const cavum_picture_options *options,
                                               cavum_error *error);

/**
 * Draws files of ours, laid out as wanted: one of any kind as cavum_picture_draw_file() does, or
 * results over each other (outlines, E_z on the axis, surface fields; mode and format are used).
 * @param[out] bytes    The finished file, as of cavum_picture_draw_result().
 * @param[out] size     Bytes.
 * @param[in]  count    1 to CAVUM_PICTURE_FILES_MOST.
 * @param[in]  paths    Files to read, shape [count].
 * @param[in]  options  NULL: defaults.
 * @param[in]  layout   NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_FILE     cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT    no file of ours, damaged, or without what is to be drawn; only some of
 *                            several results have a gradient.
 * @retval CAVUM_ERR_USAGE    a view that this kind of file does not have; several files that are
 * not all results.
 * @retval CAVUM_ERR_RANGE    a number out of range.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_draw_files(char **bytes, size_t *size, int count,
                                                const char *const *paths,
                                                const cavum_picture_options *options,
                                                const cavum_picture_layout *layout,
                                                cavum_error *error);

/**
 * Draws a cold test that is in memory; the same picture as that of its file.
 * @param[out] bytes    The finished file, as of cavum_picture_draw_result().
 * @param[out] size     Bytes.
 * @param[in]  report   With readings or plans.
 * @param[in]  options  NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_INPUT    nothing to draw for this view.
 * @retval CAVUM_ERR_USAGE    a view that a cold test does not have.
 * @retval CAVUM_ERR_RANGE    a width out of range.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_draw_coldtest(char **bytes, size_t *size,
                                                   const cavum_coldtest_report *report,
                                                   const cavum_picture_options *options,
                                                   cavum_error *error);

/**
 * The report of a result: one HTML file that needs no network, for screens (light and dark), paper
 * and screen readers. Inputs, definitions beside the numbers, uncertainties, convergence, pictures
 * as vector graphics, plots to hover and zoom (when the library was built with them), provenance.
 *
 * @param[out] bytes   UTF-8 in new memory, release with cavum_free(); a zero byte follows.
 * Untouched unless CAVUM_OK.
 * @param[out] size    Bytes without that zero.
 * @param[in]  result  A result; modes without field grid are reported without pictures.
 * @param[in]  origin  What the result file says about its origin; NULL: left out.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_report_result(char **bytes, size_t *size,
                                                   const cavum_result *result,
                                                   const cavum_stored_origin *origin,
                                                   cavum_error *error);

/**
 * The report of a cold test that is in memory; the same page as that of its file.
 * @param[out] bytes   The page, as of cavum_picture_report_result().
 * @param[out] size    Bytes.
 * @param[in]  report  With readings or plans.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_report_coldtest(char **bytes, size_t *size,
                                                     const cavum_coldtest_report *report,
                                                     cavum_error *error);

/**
 * The report of any file of ours: a result, a cold test, a scan.
 * @param[out] bytes  The page, as of cavum_picture_report_result().
 * @param[out] size   Bytes.
 * @param[in]  path   File to read.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE     cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT    no file of ours, or damaged.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_report_file(char **bytes, size_t *size, const char *path,
                                                 cavum_error *error);

/**
 * Draws several cold tests over each other: Q0 against gradient, and ratios to the first.
 * @param[out] bytes       The finished file, as of cavum_picture_draw_result().
 * @param[out] size        Bytes.
 * @param[in]  comparison  Of these tests.
 * @param[in]  count       Number of tests.
 * @param[in]  reports     The tests, borrowed, shape [count].
 * @param[in]  options     Format and width are used; NULL: defaults.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_USAGE    NULL for what must be given.
 * @retval CAVUM_ERR_RANGE    a number of tests that were not compared, a choice out of range.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_draw_comparison(char **bytes, size_t *size,
                                                     const cavum_coldtest_comparison *comparison,
                                                     int count,
                                                     const cavum_coldtest_report *const *reports,
                                                     const cavum_picture_options *options,
                                                     cavum_error *error);

/**
 * The same tests as a report: what changed, curves, ratios, inputs; errors as above.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_picture_report_comparison(char **bytes, size_t *size,
                                                       const cavum_coldtest_comparison *comparison,
                                                       int count,
                                                       const cavum_coldtest_report *const *reports,
                                                       cavum_error *error);

/**
 * Writes bytes to a file through a temporary name and a rename.
 * @param[in]  path   File to write; replaced. "-" is standard output.
 * @param[in]  bytes  Shape [size].
 * @param[in]  size   Bytes.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE  cannot be written; an old file is left as it was.
 */
CAVUM_API cavum_status cavum_picture_write(const char *path, const char *bytes, size_t size,
                                           cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
