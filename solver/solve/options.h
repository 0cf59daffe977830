// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/options.h
 * Options of a program against those of this version of the library.
 */
#ifndef CAVUM_SOLVE_OPTIONS_H
#define CAVUM_SOLVE_OPTIONS_H

#include "cavum/solve.h"

/**
 * Options of a program as those of this version; NULL stands for the defaults.
 * @retval CAVUM_ERR_USAGE  a struct_size that no version had.
 */
cavum_status cavum_solve_options_take(cavum_solve_options *full, const cavum_solve_options *given,
                                      cavum_error *error);

#endif
