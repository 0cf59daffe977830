// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/arc_settle.h
 * Arcs of a path of which an end was moved.
 */
#ifndef CAVUM_CELL_ARC_SETTLE_H
#define CAVUM_CELL_ARC_SETTLE_H

#include "cavum/cell.h"

/** Whether a number, by its full dotted key, was set: its arc is then left as it is. */
typedef bool cavum_arc_is_set(const char *key, const void *data);

/**
 * Writes other centres into the text of a cell, so that arcs pass through their ends again.
 *
 * The centre is moved along the chord until both ends are equally far from it, which is the
 * shortest way; half axes of an ellipse keep their ratio. To first order this is what reading an
 * arc does that misses its ends by less than is refused. An arc that states its angles, that passes
 * through its ends already, or whose own centre or half axes were set, stays.
 *
 * @param[in,out] text    Owned by the caller; another one where something was written.
 * @param[in]     is_set  Tells the numbers that were set.
 * @param[in]     data    For `is_set`.
 * @param[out]    error   May be NULL.
 * @retval CAVUM_ERR_INPUT   no YAML.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_arc_settle(char **text, cavum_arc_is_set *is_set, const void *data,
                              cavum_error *error);

#endif
