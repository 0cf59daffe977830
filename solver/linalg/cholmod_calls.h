// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/cholmod_calls.h
 * CHOLMOD through pointers (base/late.h): with it come OpenBLAS, METIS and the library of OpenMP,
 * which a program that does not solve need not wait for. Included by ordering.c alone.
 */
#ifndef CAVUM_LINALG_CHOLMOD_CALLS_H
#define CAVUM_LINALG_CHOLMOD_CALLS_H

#include <cholmod.h>

#include "base/late.h"

// clang-format off
/** The functions. */
#define CAVUM_CHOLMOD_FUNCTIONS(X) \
  X(cholmod_l_analyze_ordering) X(cholmod_l_camd) X(cholmod_l_finish) X(cholmod_l_metis) \
  X(cholmod_l_start)
// clang-format on

/** Where each of them is: pointers only. */
typedef struct cavum_cholmod_table {
  CAVUM_CHOLMOD_FUNCTIONS(CAVUM_LATE_MEMBER)
} cavum_cholmod_table;

/** Complete once cavum_cholmod_reach() gave CAVUM_OK, and never changed again. */
extern cavum_cholmod_table cavum_cholmod_calls;

/**
 * Makes sure that CHOLMOD can be called.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_LIBRARY  its library is missing on this machine or is another one.
 */
cavum_status cavum_cholmod_reach(cavum_error *error);

#ifndef CAVUM_CHOLMOD_TABLE_ONLY
#define cholmod_l_analyze_ordering (*cavum_cholmod_calls.cholmod_l_analyze_ordering)
#define cholmod_l_camd (*cavum_cholmod_calls.cholmod_l_camd)
#define cholmod_l_finish (*cavum_cholmod_calls.cholmod_l_finish)
#define cholmod_l_metis (*cavum_cholmod_calls.cholmod_l_metis)
#define cholmod_l_start (*cavum_cholmod_calls.cholmod_l_start)
#endif

#endif
