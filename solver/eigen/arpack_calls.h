// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/arpack_calls.h
 * ARPACK through pointers (base/late.h): with it come OpenBLAS and the library of Fortran, which a
 * program that does not solve need not wait for. Included by lanczos.c alone.
 */
#ifndef CAVUM_EIGEN_ARPACK_CALLS_H
#define CAVUM_EIGEN_ARPACK_CALLS_H

#include <arpack.h>

#include "base/late.h"

// clang-format off
/** The functions. */
#define CAVUM_ARPACK_FUNCTIONS(X) \
  X(dsaupd_c) X(dseupd_c)
// clang-format on

/** Where each of them is: pointers only. */
typedef struct cavum_arpack_table {
  CAVUM_ARPACK_FUNCTIONS(CAVUM_LATE_MEMBER)
} cavum_arpack_table;

/** Complete once cavum_arpack_reach() gave CAVUM_OK, and never changed again. */
extern cavum_arpack_table cavum_arpack_calls;

/**
 * Makes sure that ARPACK can be called.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_LIBRARY  its library is missing on this machine or is another one.
 */
cavum_status cavum_arpack_reach(cavum_error *error);

#ifndef CAVUM_ARPACK_TABLE_ONLY
#define dsaupd_c (*cavum_arpack_calls.dsaupd_c)
#define dseupd_c (*cavum_arpack_calls.dseupd_c)
#endif

#endif
