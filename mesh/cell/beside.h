// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/beside.h
 * Paths that files name.
 */
#ifndef CAVUM_CELL_BESIDE_H
#define CAVUM_CELL_BESIDE_H

/** A path beside a file: a relative one counts from the folder of the file. Owned by the caller;
 * NULL without memory. */
char *cavum_cell_path_beside(const char *file, const char *path);

#endif
