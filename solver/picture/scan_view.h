// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/scan_view.h
 * What the picture of a scan shows: one figure against another, coloured by a third.
 */
#ifndef CAVUM_PICTURE_SCAN_VIEW_H
#define CAVUM_PICTURE_SCAN_VIEW_H

#include "base/units.h"
#include "cavum/scan_store.h"
#include "picture/page.h"

/** One of the three quantities of the picture, in shown units. */
typedef struct cavum_scan_axis {
  const char *key;       /**< Borrowed from the file. */
  bool has_indices;      /**< What follows an underscore in the name stands lowered. */
  char label[224];       /**< For people, with the unit. */
  char name[192];        /**< Without the unit. */
  char unit[32];         /**< Shown unit, "" for pure numbers. */
  cavum_unit conversion; /**< From the stored value to the shown one. */
  bool is_figure;        /**< A figure of merit, not an input. */
  bool has_better;       /**< A figure or an aim of the study. */
  bool smaller;          /**< Where something is better: the smaller value is. */
  double low, high;      /**< Of the values. */
} cavum_scan_axis;

/** Shapes that are done and have all three quantities. */
typedef struct cavum_scan_view {
  const cavum_stored_scan *scan; /**< Borrowed. */
  int64_t num_rows;
  int64_t by_status[CAVUM_NUM_SHAPE_STATUSES];
  int num_points;
  cavum_scan_axis axis[3]; /**< x, y, colour. */
  double *value[3];        /**< Owned, shape [num_points], shown units. */
  double *shape;           /**< Owned: number of each shape. */
  int num_beyond;          /**< Points beyond the range of the colours, which the rarest leave. */
  int num_front;
  int *front;    /**< Owned: Pareto front, points that no other beats in x and y, and in the colour
                      where the study aims at all three; by rising x, where smaller is better. */
  bool in_three; /**< The front is one in all three: it is no line in x and y. */
  uint32_t palette[256];
} cavum_scan_view;

/** Bytes of that line. */
enum { CAVUM_SCAN_BEYOND_SIZE = 96 };

/** How many shapes have the colour of an end without being there; "": none. */
void cavum_scan_view_write_beyond(char text[CAVUM_SCAN_BEYOND_SIZE], const cavum_scan_view *view);

/**
 * Collects the points.
 * @param[out] view     Release with cavum_scan_view_clear(), also after a failure.
 * @param[in]  scan     Borrowed, must outlive the view.
 * @param[in]  options  Keys x, y, colour; NULL: chosen.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_INPUT  no such column, or no shape has all three.
 */
cavum_status cavum_scan_view_create(cavum_scan_view *view, const cavum_stored_scan *scan,
                                    const cavum_picture_options *options, cavum_error *error);

/** Opens the range of an axis on both sides where all values are one. */
void cavum_scan_axis_open(cavum_scan_axis *axis);

/** Frees what it owns. */
void cavum_scan_view_clear(cavum_scan_view *view);

/**
 * The part of a palette that stands out from a page: contrast of 3 to 1 or more. Palettes run from
 * light to dark, so that it is one end of them.
 * @param[out] chosen   Stretched over the same indices.
 * @param[in]  palette  Another array.
 * @param[in]  dark     The page is dark.
 */
void cavum_scan_view_stand_out(uint32_t chosen[256], const uint32_t palette[256], bool dark);

/** Palette index of a point, 1 to 255. */
int cavum_scan_view_colour(const cavum_scan_view *view, int point);

#endif
