// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/lapack.h
 * The one routine of LAPACK that is used; OpenBLAS has it.
 */
#ifndef CAVUM_LINALG_LAPACK_H
#define CAVUM_LINALG_LAPACK_H

#include <stddef.h>

/** The symmetric tridiagonal eigenproblem; the length of the character argument comes last. */
void dsteqr_(const char *job, const int *n, double *diagonal, double *beside, double *vectors,
             const int *ldz, double *work, int *info, size_t job_length);

#endif
