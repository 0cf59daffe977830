// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/solve_progress.h
 * Progress of a long solve: one line on a terminal, none in a pipe.
 *
 * The line appears half a second after the begin, whatever the solve is doing then, and is replaced
 * at each degree. One at a time in a process: the line belongs to the terminal.
 */
#ifndef CAVUM_CLI_SOLVE_PROGRESS_H
#define CAVUM_CLI_SOLVE_PROGRESS_H

#include "cavum/solve.h"

/** Begins, if standard error is a terminal; else the other two do nothing. */
void cavum_solve_progress_begin(void);

/** A cavum_solve_watcher without data. */
void cavum_solve_progress_tell(const cavum_solve_progress *progress, void *data);

/** Another line in its place, of what consists of many solves. */
void cavum_solve_progress_say(const char *text);

/** Erases the line. */
void cavum_solve_progress_end(void);

#endif
