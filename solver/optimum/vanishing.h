// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/vanishing.h
 * Pieces of a path that a search makes ever shorter.
 *
 * At length 0 a piece is gone and its neighbours meet. No shape beyond continues those before: as
 * the piece shrinks, derivatives of figures may grow without bound, and elements become ever
 * smaller. So a search keeps each piece at a least length: 1e-4 of the size of the cell (the
 * diagonal of the box around it), or a tenth of what the piece has in the base cell if that is
 * less.
 */
#ifndef CAVUM_OPTIMUM_VANISHING_H
#define CAVUM_OPTIMUM_VANISHING_H

#include "cavum/cell.h"
#include "cavum/optimum.h"

/** Bytes that hold what is said of a piece. */
enum { CAVUM_VANISHING_SIZE = 160 };

/**
 * Finds the piece of a path that is shortest beside its least length, if it is no longer than that.
 * @param[out] piece  Its key is "" where none is; the cell of the goal is left.
 * @param[in]  times  How many times the least length a piece has at most that is found: 1, as no
 *                    search goes on; more: as a search ends near to.
 * @retval CAVUM_ERR_MEMORY  and what cavum_cell_dimensions_list() says.
 */
cavum_status cavum_vanishing_find(cavum_optimum_piece *piece, const cavum_cell *cell,
                                  const cavum_cell *base, double times, cavum_error *error);

/** Says which one: "path[5] in the left half vanishes at z = 18.000 mm, r = 21.014 mm (30 um left,
 * least 30 um)"; "" of none. */
void cavum_vanishing_tell(char text[CAVUM_VANISHING_SIZE], const cavum_optimum_piece *piece);

#endif
