// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_base.h
 * The base cell of a study or of a goal, and its coupling.
 */
#ifndef CAVUM_SCAN_STUDY_BASE_H
#define CAVUM_SCAN_STUDY_BASE_H

#include "scan/study_reader.h"

/** Words of the key `coupling`, for the table of a file; no word is the first, "no". */
extern const cavum_yaml_word cavum_study_coupling_words[];

/**
 * Reads the base cell and takes the title.
 * @param[in,out] r     The top level is known.
 * @param[in]     cell  The base cell; NULL: the file that the key `cell` names.
 * @retval CAVUM_ERR_INPUT   no such key; else as cavum_cell_read_file().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_study_read_base(cavum_study_reader *r, const cavum_cell *cell);

/**
 * Takes whether the coupling is wanted: what no shape could have is refused here, not row by row.
 * @param[in,out] r  The base cell is known.
 * @retval CAVUM_ERR_INPUT  a cell that has none.
 */
cavum_status cavum_study_read_coupling(cavum_study_reader *r);

#endif
