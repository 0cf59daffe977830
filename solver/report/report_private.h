// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/report_private.h
 * What the files of this room share: reports of each kind of file, and a mode in a report.
 */
#ifndef CAVUM_REPORT_REPORT_PRIVATE_H
#define CAVUM_REPORT_REPORT_PRIVATE_H

#include "cavum/optimum.h"
#include "picture/draw.h"
#include "picture/scan_view.h"
#include "report/html.h"
#include "store/coldtest_load.h"

/** Most of the section and of the mesh of a cell, and of the plot of a scan, in points: letters are
 * as high on paper as those of curves are, nearly, and the picture takes a third of a page at the
 * most. */
#define CAVUM_REPORT_SECTION_HEIGHT 320.0

/** Limits of pictures and curves, so that a page of many modes stays small. */
typedef struct cavum_report_limits {
  double image_scale; /**< Pixels a point of images. */
  double tolerance;   /**< Of lines, in points. */
  int num_colours;    /**< Of field maps. */
  int num_lines;      /**< Electric field lines. */
  int points;         /**< Most points of one curve. */
  int pictures;       /**< Modes that get pictures and curves at all. */
  bool stills;        /**< Still pictures of curves, for paper. */
} cavum_report_limits;

/** Limits for so many modes. */
cavum_report_limits cavum_report_choose_limits(int num_modes);

/** One mode: its figures with definitions, its section, its curves. */
cavum_status cavum_report_write_mode(cavum_html *html, const cavum_result *result, int number,
                                     const cavum_report_limits *limits, cavum_error *error);

/** What each dimension does to the figures of a mode, counted from 0; nothing without derivatives.
 */
void cavum_report_write_derivatives(cavum_html *html, const cavum_result *result, int mode);

/** What each dimension does to k_cc; nothing without its derivatives. */
void cavum_report_write_coupling_derivatives(cavum_html *html, const cavum_result *result);

/** The search for the best shape that led to a cell: dimensions, limits, starts, path. Figures are
 * those of the result, but for a search with tolerances. */
cavum_status cavum_report_write_search(cavum_html *html, const cavum_optimum *optimum,
                                       const cavum_result *result, cavum_error *error);

enum { CAVUM_REPORT_NAME_SIZE = 256 };

/** A figure that is required, sought or limited, as the trade writes it, with the unit of its key:
 * "B_pk / E_acc in mT/(MV/m)"; the key where its unit is another than that shown elsewhere. */
void cavum_report_name_requirement(char name[CAVUM_REPORT_NAME_SIZE],
                                   const cavum_requirement *requirement);

/** A dimension in words, "equator ellipse, axial", on request with its unit behind " in ". */
void cavum_report_name_dimension(char name[CAVUM_REPORT_NAME_SIZE], const char *key, bool unit);

/** The report of a result, as cavum_picture_report_result(), with the search that led to it; NULL:
 * none. */
cavum_status cavum_report_result(char **bytes, size_t *size, const cavum_result *result,
                                 const cavum_stored_origin *origin, const cavum_optimum *optimum,
                                 cavum_error *error);

/** The report of a cold test that was read. */
cavum_status cavum_report_coldtest(char **bytes, size_t *size, const cavum_stored_coldtest *test,
                                   cavum_error *error);

/** The report of a cold-test file; like cavum_picture_report_file(). */
cavum_status cavum_report_coldtest_file(char **bytes, size_t *size, const char *path,
                                        cavum_error *error);

/**
 * Columns of inputs, as many as hovering names: those that the file says the study set.
 */
int cavum_report_find_inputs(int inputs[CAVUM_HTML_DIMENSIONS], const cavum_stored_scan *scan);

/** Tables of the non-dominated shapes: in the two figures of the plot, and in all aims of the
 * study. */
cavum_status cavum_report_write_fronts(cavum_html *html, const cavum_scan_view *view,
                                       cavum_error *error);

/** The report of a scan's result file; like cavum_picture_report_file(). */
cavum_status cavum_report_scan_file(char **bytes, size_t *size, const char *path,
                                    cavum_error *error);

/** The report of a measured wall; like cavum_picture_report_file(). */
cavum_status cavum_report_as_built_file(char **bytes, size_t *size, const char *path,
                                        cavum_error *error);

/** The report of a chain of steps; like cavum_picture_report_file(). */
cavum_status cavum_report_steps_file(char **bytes, size_t *size, const char *path,
                                     cavum_error *error);

/** The report of a spread by tolerances; like cavum_picture_report_file(). */
cavum_status cavum_report_spread_file(char **bytes, size_t *size, const char *path,
                                      cavum_error *error);

#endif
