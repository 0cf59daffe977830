// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_wanted.h
 * Reading what a study wants of its shapes: modes, figures, limits, aims.
 */
#ifndef CAVUM_SCAN_STUDY_WANTED_H
#define CAVUM_SCAN_STUDY_WANTED_H

#include "scan/study_reader.h"

/**
 * Reads the keys mode and modes.
 * @param[in,out] r  The base cell is known.
 * @retval CAVUM_ERR_INPUT   with file, line and column.
 */
cavum_status cavum_study_read_modes(cavum_study_reader *r);

/**
 * Reads the keys figures, derivatives, limits and aims.
 * @param[in,out] r  Base cell, inputs, modes and coupling are known.
 * @retval CAVUM_ERR_INPUT   with file, line and column.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_study_read_wanted(cavum_study_reader *r);

#endif
