// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/cell_digest.h
 * One number for all that a solve takes from a cell.
 */
#ifndef CAVUM_CELL_CELL_DIGEST_H
#define CAVUM_CELL_CELL_DIGEST_H

#include "cavum/cell_text.h"

/** cavum_cell_digest() of a full cell. */
uint64_t cavum_cell_digest_full(const cavum_cell *cell);

/** The same of a path alone. */
uint64_t cavum_path_digest(const cavum_contour *path);

#endif
