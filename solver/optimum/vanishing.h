// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/vanishing.h
 * Pieces of a path that a search makes ever shorter.
 *
 * Where a piece vanishes its neighbours meet, and the shape beyond is no continuation of those
 * before: figures end there, their derivatives may grow without bound, and meshes become ever
 * finer. A search ends before, where a ten-thousandth of the size of the cell is left, or a tenth
 * of a piece that was shorter than ten times that in the base cell.
 */
#ifndef CAVUM_OPTIMUM_VANISHING_H
#define CAVUM_OPTIMUM_VANISHING_H

#include "cavum/cell.h"

/** Bytes that hold what is said of a piece. */
enum { CAVUM_VANISHING_SIZE = 112 };

/**
 * Says which piece of a path vanishes, the one of which the least is left: "a piece of the wall
 * vanishes at z = 18.000 mm, r = 21.014 mm (27 um left)"; "" where none does.
 * @param[in] times  How many times the least length a piece has that vanishes: 1, as no search goes
 *                   on; more: as it ends near to.
 */
void cavum_vanishing_tell(char text[CAVUM_VANISHING_SIZE], const cavum_cell *cell,
                          const cavum_cell *base, double times);

#endif
