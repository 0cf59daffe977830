// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/place.h
 * Places in a cell that a dotted name of the cell file stands for.
 *
 * A dimension of a two-ellipse cell, a tube, the particle speed and the wall are set in the cell as
 * it was read, which costs nothing. Every other number of the file is set by writing it into the
 * text and reading that again.
 */
#ifndef CAVUM_CELL_PLACE_H
#define CAVUM_CELL_PLACE_H

#include "base/nearest_word.h"
#include "cavum/cell.h"
#include "yaml/fields.h"
#include "yaml/reader.h"

/** How a number gets into the cell. */
typedef enum cavum_place_kind {
  CAVUM_PLACE_HALVES, /**< Both halves of a two-ellipse cell, where they do not say otherwise. */
  CAVUM_PLACE_LEFT,   /**< The left half alone. */
  CAVUM_PLACE_RIGHT,  /**< The right half alone. */
  CAVUM_PLACE_CELL,   /**< A member of the cell. */
  CAVUM_PLACE_TEXT    /**< The text of the cell file. */
} cavum_place_kind;

/** Longest dotted name with its final zero. */
enum { CAVUM_PLACE_NAME_SIZE = 96 };

/** One place. */
typedef struct cavum_place {
  char name[CAVUM_PLACE_NAME_SIZE]; /**< Full dotted name. */
  cavum_place_kind kind;
  size_t offset;                  /**< Of the double in cavum_half_cell (halves) or cavum_cell. */
  cavum_unit unit;                /**< Of the file; SI for TEXT that cavum_place_find() gave. */
  double low, high;               /**< Range in the unit of the file. */
  bool set_left, set_right;       /**< HALVES: which half follows. */
  size_t text_start, text_length; /**< TEXT: bytes of the number. */
  size_t twin_start, twin_length; /**< TEXT: of the same number at the other end of a path, whose
                                       last point is its start; length 0: there is none. */
  double base;                    /**< Value in the base cell, in the unit of the file. */
} cavum_place;

/** A base cell and the tree of its text, for looking up names. */
typedef struct cavum_place_finder {
  const cavum_cell *cell;   /**< Borrowed: as read, with its text. */
  cavum_yaml_reader reader; /**< Owned: its text as a tree. */
} cavum_place_finder;

/**
 * Prepares to look up names.
 * @param[out] finder  Release with cavum_place_finder_clear().
 * @param[in]  cell    Borrowed: as read.
 * @param[in]  name    File name for messages.
 * @param[out] error   May be NULL.
 */
cavum_status cavum_place_finder_open(cavum_place_finder *finder, const cavum_cell *cell,
                                     const char *name, cavum_error *error);

/** Frees what a finder owns. */
void cavum_place_finder_clear(cavum_place_finder *finder);

/**
 * The last point of contour.path in a text, of whatever piece it is the end: with the key of its
 * form, or without one the last of spline_through. NULL where there is none: a cubic has it in its
 * coefficients too.
 */
const cavum_yaml_node *cavum_place_last_point(const cavum_yaml_reader *reader);

/**
 * Looks up a dotted name. `contour.` may be left out, so `right.iris_radius_mm` will do; entries of
 * a list are counted from 1: `contour.path[3].line_to.z_mm`. The start of a path and its last point
 * are one place.
 *
 * @param[out] place   Untouched unless CAVUM_OK.
 * @param[in]  finder  Open finder.
 * @param[in]  name    Dotted name.
 * @param[out] error   May be NULL; the message has no file position.
 * @retval CAVUM_ERR_INPUT  no number of this name in such a cell.
 */
cavum_status cavum_place_find(cavum_place *place, const cavum_place_finder *finder,
                              const char *name, cavum_error *error);

/**
 * The place of a number in the text of the cell file, whether or not the cell has a member for it.
 *
 * @param[out] place   Untouched unless CAVUM_OK.
 * @param[in]  finder  Open finder.
 * @param[in]  name    Full dotted name, as of a place that was found.
 * @param[out] error   May be NULL; the message has no file position.
 * @retval CAVUM_ERR_INPUT  the text has no number of this name.
 */
cavum_status cavum_place_find_in_text(cavum_place *place, const cavum_place_finder *finder,
                                      const char *name, cavum_error *error);

/** Offers the dimensions of a half, without the word contour, for a name that is none. */
void cavum_place_offer_nearest(cavum_nearest *nearest, const cavum_place_finder *finder,
                               const char *name);

/** What places are set in. */
typedef struct cavum_place_base {
  const cavum_cell *cell; /**< Borrowed: as read. */
  const char *path;       /**< Borrowed: name of its file, for relative mesh paths and messages. */
  bool left_tube_follows, right_tube_follows; /**< Tube as wide as its iris: it stays so. */
} cavum_place_base;

/** The base of a finder's cell. */
cavum_place_base cavum_place_make_base(const cavum_place_finder *finder, const char *path);

/** Gives place `index` of `data`. */
typedef const cavum_place *cavum_place_of(const void *data, int index);

/** True when one name stands for a dimension of both halves and the other for the same of one. */
bool cavum_place_is_half_of(const cavum_place *half, const cavum_place *both);

/**
 * Sets places in a cell that came from the base cell.
 *
 * Without TEXT places the result borrows everything from `base`; with them it owns everything.
 *
 * @param[out] cell    Untouched unless CAVUM_OK.
 * @param[out] owned   True when the cell must be cleared by the caller.
 * @param[in]  base    Cell as read.
 * @param[in]  count   Number of places.
 * @param[in]  place   Gives them.
 * @param[in]  data    For `place`.
 * @param[in]  values  Shape [count], in units of the file.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT  out of range.
 */
cavum_status cavum_place_apply(cavum_cell *cell, bool *owned, const cavum_place_base *base,
                               int count, cavum_place_of *place, const void *data,
                               const double *values, cavum_error *error);

#endif
