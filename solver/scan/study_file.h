// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_file.h
 * Reading what a study file says.
 */
#ifndef CAVUM_SCAN_STUDY_FILE_H
#define CAVUM_SCAN_STUDY_FILE_H

#include "scan/study.h"

/**
 * Reads the text of a study with its base cell and table; all but fingerprint and layout is set.
 * @param[in,out] study  path and text are set; on failure cavum_study_close() frees what was read.
 * @param[in]     cell   Base cell; NULL: the file that the study names.
 * @param[out]    error  May be NULL.
 */
cavum_status cavum_study_read(cavum_study *study, const cavum_cell *cell, cavum_error *error);

#endif
