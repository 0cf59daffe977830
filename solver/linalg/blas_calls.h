// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/blas_calls.h
 * OpenBLAS through pointers (base/late.h): when it is loaded it starts threads, and a program that
 * does not solve need not wait for that.
 *
 * Instead of <cblas.h>. cavum_block_plan_create() calls cavum_blas_reach(): who has a
 * factorisation, or a pencil, may call what is listed here.
 */
#ifndef CAVUM_LINALG_BLAS_CALLS_H
#define CAVUM_LINALG_BLAS_CALLS_H

#include <cblas.h>
#include <stddef.h>

#include "base/late.h"

/**
 * The one routine of LAPACK that is used, which OpenBLAS has: the symmetric tridiagonal
 * eigenproblem. The length of the character argument comes last.
 */
void dsteqr_(const char *job, const int *n, double *diagonal, double *beside, double *vectors,
             const int *ldz, double *work, int *info, size_t job_length);

// clang-format off
/** The functions. */
#define CAVUM_BLAS_FUNCTIONS(X) \
  X(cblas_ddot) X(cblas_dgemm) X(cblas_dnrm2) X(cblas_dscal) X(cblas_sgemm) X(dsteqr_)
// clang-format on

/** Where each of them is: pointers only. */
typedef struct cavum_blas_table {
  CAVUM_BLAS_FUNCTIONS(CAVUM_LATE_MEMBER)
} cavum_blas_table;

/** Complete once cavum_blas_reach() (blas_calls_room.c) gave CAVUM_OK, and never changed again. */
extern cavum_blas_table cavum_blas_calls;

/** Loads OpenBLAS; for cavum_blas_reach() alone. */
cavum_status cavum_blas_open(cavum_error *error);

/**
 * Makes sure that OpenBLAS can be called, and has its work space where that is limited.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_LIBRARY  its library is missing on this machine or is another one.
 * @retval CAVUM_ERR_MEMORY   the process may not have as much address space as OpenBLAS takes.
 */
cavum_status cavum_blas_reach(cavum_error *error);

#ifndef CAVUM_BLAS_TABLE_ONLY
#define cblas_ddot (*cavum_blas_calls.cblas_ddot)
#define cblas_dgemm (*cavum_blas_calls.cblas_dgemm)
#define cblas_dnrm2 (*cavum_blas_calls.cblas_dnrm2)
#define cblas_dscal (*cavum_blas_calls.cblas_dscal)
#define cblas_sgemm (*cavum_blas_calls.cblas_sgemm)
#define dsteqr_ (*cavum_blas_calls.dsteqr_)
#endif

#endif
