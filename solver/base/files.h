// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/files.h
 * Lists of the files that something was read from.
 */
#ifndef CAVUM_BASE_FILES_H
#define CAVUM_BASE_FILES_H

#include "cavum/files.h"
#include "cavum/status.h"

/**
 * Adds the name of a file; NULL and "" are none.
 * @param[in,out] files  Zeroed before the first; unchanged unless CAVUM_OK.
 * @param[in]     path   Copied.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_files_add(cavum_files *files, const char *path, cavum_error *error);

/** Adds all names of another list, like cavum_files_add(); NULL has none. Some may have been added
 * before memory ran out. */
cavum_status cavum_files_add_all(cavum_files *files, const cavum_files *others, cavum_error *error);

/** Frees a list and empties it. */
void cavum_files_clear(cavum_files *files);

#endif
