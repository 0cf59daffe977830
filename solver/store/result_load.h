// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/result_load.h
 * A result file as pictures need it.
 */
#ifndef CAVUM_STORE_RESULT_LOAD_H
#define CAVUM_STORE_RESULT_LOAD_H

#include "base/base.h"
#include "cavum/solve.h"

/**
 * cavum_store_read_result() without derivatives, which pictures do not need: there may be thousands
 * of numbers.
 */
CAVUM_BETWEEN cavum_status cavum_store_read_fields(cavum_result **result, const char *path,
                                                   cavum_error *error);

#endif
