// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/half.h
 * Half cells, and two of them joined at the iris, between conducting plates: as they are measured
 * before they are welded into cells.
 *
 * A plate at the equator is what the mirror image behind it would be. Of two equal halves joined at
 * the iris the 0 mode has E_r = 0 in the iris plane, as behind a plate, and the pi mode H_phi = 0:
 * a half with one of both there has the frequencies of the pair. A half between two plates has that
 * of the 0 mode.
 */
#ifndef CAVUM_STEPS_HALF_H
#define CAVUM_STEPS_HALF_H

#include "steps/chain.h"

/** The two modes of a pair. */
typedef enum cavum_pair_mode {
  CAVUM_PAIR_ZERO,
  CAVUM_PAIR_PI,
  CAVUM_NUM_PAIR_MODES
} cavum_pair_mode;

/**
 * The half of a shape, with planes at its ends.
 * @param[out] half   Owned by the caller (cavum_cell_clear()); untouched unless CAVUM_OK.
 * @param[in]  shape  A path whose irises are at its ends.
 * @param[in]  side   Which half.
 * @param[in]  mode   What is in the iris plane.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  an equator or an iris that is no plane across the cell.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_shape_take_half(cavum_cell *half, const cavum_cell *shape, cavum_half_side side,
                                   cavum_pair_mode mode, cavum_error *error);

#endif
