// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file files.h
 * The files that something was read from, so that a program does not write over them.
 */
#ifndef CAVUM_FILES_H
#define CAVUM_FILES_H

#ifdef __cplusplus
extern "C" {
#endif

/** Names of files. */
typedef struct cavum_files {
  int num_paths;
  char **paths; /**< Owned by what was read, each of them too, shape [num_paths]. */
} cavum_files;

#ifdef __cplusplus
}
#endif
#endif
