// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_inputs.h
 * Reading what a study sets: what varies and how it is sampled, what is held, what follows.
 */
#ifndef CAVUM_SCAN_STUDY_INPUTS_H
#define CAVUM_SCAN_STUDY_INPUTS_H

#include "scan/study_reader.h"

/**
 * Reads the keys vary, sampling, table, hold and linked.
 * @param[in,out] r  The base cell is known, and there is room for CAVUM_STUDY_MOST_INPUTS inputs.
 * @retval CAVUM_ERR_INPUT   with file, line and column.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_study_read_inputs(cavum_study_reader *r);

#endif
