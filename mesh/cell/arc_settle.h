// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/arc_settle.h
 * Arcs of a path of which a number was changed.
 */
#ifndef CAVUM_CELL_ARC_SETTLE_H
#define CAVUM_CELL_ARC_SETTLE_H

#include "cavum/cell.h"

/**
 * Writes other centres into the text of a cell, so that arcs pass through their ends again.
 *
 * The centre is moved along the chord until both ends are equally far from it, which is the
 * shortest way; half axes of an ellipse keep their ratio. To first order this is what reading an
 * arc does that misses its ends by less than is refused, and so what derivatives by the numbers of
 * an arc are of: a centre or a half axis that was changed comes back in part. An arc that states
 * its angles, or that passes through its ends already, stays.
 *
 * @param[in,out] text   Owned by the caller; another one where something was written.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_INPUT   no YAML.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_arc_settle(char **text, cavum_error *error);

/** Bytes that hold the names of two arcs. */
enum { CAVUM_ARC_NAMES_SIZE = 64 };

/**
 * Names the arcs that a number of a path changes: those that begin or end there, and that whose
 * centre or half axis it is.
 *
 * @param[out] names  "path[4]", "path[4] and path[5]"; "" where there is none, also where the text
 *                    or the key cannot be understood.
 * @param[in]  text   Text of a cell file with a path.
 * @param[in]  key    Dotted key of the number, with or without `contour.`.
 * @retval CAVUM_ERR_INPUT   no YAML.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_arc_name_changed(char names[CAVUM_ARC_NAMES_SIZE], const char *text,
                                    const char *key, cavum_error *error);

#endif
