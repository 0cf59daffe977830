// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file lapack.h
 * The one routine of LAPACK that is used; OpenBLAS has it.
 */
#ifndef CAVUM_LAPACK_H
#define CAVUM_LAPACK_H

#include <stddef.h>

/** The symmetric-definite eigenproblem; the lengths of the character arguments come last. */
void dsygv_(const int *type, const char *job, const char *triangle, const int *n, double *a,
            const int *lda, double *b, const int *ldb, double *w, double *work, const int *num_work,
            int *info, size_t job_length, size_t triangle_length);

#endif
