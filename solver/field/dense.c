// SPDX-License-Identifier: GPL-3.0-or-later
// Static condensation of one element matrix.
#include "dense.h"

#include <cblas.h>
#include <string.h>

#include "base.h"
#include "fast.h"

void dpotrf_(const char *uplo, const int *n, double *a, const int *lda, int *info);
void dsytrf_(const char *uplo, const int *n, double *a, const int *lda, int *ipiv, double *work,
             const int *lwork, int *info);
void dsytrs_(const char *uplo, const int *n, const int *nrhs, const double *a, const int *lda,
             const int *ipiv, double *b, const int *ldb, int *info);

static void copy_block(double *to, const double *from, int rows, int columns, int from_stride) {
  for (int c = 0; c < columns; c++) {
    memcpy(to + c * rows, from + c * from_stride, (size_t)rows * sizeof *to);
  }
}

// Negative eigenvalues of D in a Bunch-Kaufman factor: a 2 x 2 pivot has one of each sign.
static int count_negative(const double *factor, const int *pivots, int n) {
  int count = 0;
  for (int k = 0; k < n; k++) {
    if (pivots[k] < 0) {
      count++;
      k++;
    } else if (factor[k * n + k] < 0.0) {
      count++;
    }
  }
  return count;
}

static bool condense_ldl(double *factor, int *pivots, double *coupling, int *negative, double *A,
                         int ns, int ni, double *work) {
  int n = ns + ni, info = 0, work_size = 64 * ni;
  copy_block(factor, A + ns * n + ns, ni, ni, n);
  copy_block(coupling, A + ns, ni, ns, n);
  dsytrf_("L", &ni, factor, &ni, pivots, work, &work_size, &info);
  if (info != 0) return false;
  dsytrs_("L", &ni, &ns, factor, &ni, pivots, coupling, &ni, &info);
  // S = A_ss - A_si coupling; A_is is still in A.
  cblas_dgemm(CblasColMajor, CblasTrans, CblasNoTrans, ns, ns, ni, -1.0, A + ns, n, coupling, ni,
              1.0, A, n);
  *negative = count_negative(factor, pivots, ni);
  return true;
}

bool cavum_dense_condense(double *factor, int *pivots, double *coupling, cavum_interior_kind *kind,
                          int *negative, double *A, int ns, int ni, double *work) {
  int n = ns + ni, info = 0;
  *kind = CAVUM_INTERIOR_CHOLESKY;
  *negative = 0;
  if (ni == 0) return true;
  copy_block(factor, A + ns * n + ns, ni, ni, n);
  dpotrf_("L", &ni, factor, &ni, &info);
  if (info != 0) {
    *kind = CAVUM_INTERIOR_LDL;
    return condense_ldl(factor, pivots, coupling, negative, A, ns, ni, work);
  }
  copy_block(coupling, A + ns, ni, ns, n);
  cblas_dtrsm(CblasColMajor, CblasLeft, CblasLower, CblasNoTrans, CblasNonUnit, ni, ns, 1.0, factor,
              ni, coupling, ni);
  cblas_dsyrk(CblasColMajor, CblasLower, CblasTrans, ns, ni, -1.0, coupling, ni, 1.0, A, n);
  return true;
}

// bs -= coupling^T bi and bi -= coupling xs: the interior's share of the skeleton and back.
CAVUM_FAST static void subtract_to_skeleton(double *restrict bs, const double *restrict bi,
                                            const double *restrict coupling, int ns, int ni) {
  for (int c = 0; c < ns; c++) {
    double sum = 0.0;
    for (int k = 0; k < ni; k++) sum += coupling[c * ni + k] * bi[k];
    bs[c] -= sum;
  }
}

CAVUM_FAST static void subtract_to_interior(double *restrict bi, const double *restrict xs,
                                            const double *restrict coupling, int ns, int ni) {
  for (int c = 0; c < ns; c++) {
    for (int k = 0; k < ni; k++) bi[k] -= coupling[c * ni + k] * xs[c];
  }
}

void cavum_dense_reduce(double *bs, double *bi, const double *factor, const int *pivots,
                        const double *coupling, cavum_interior_kind kind, int ns, int ni) {
  if (ni == 0) return;
  if (kind == CAVUM_INTERIOR_CHOLESKY) {
    cblas_dtrsv(CblasColMajor, CblasLower, CblasNoTrans, CblasNonUnit, ni, factor, ni, bi, 1);
    subtract_to_skeleton(bs, bi, coupling, ns, ni);
  } else {
    int info, one = 1;
    subtract_to_skeleton(bs, bi, coupling, ns, ni);
    dsytrs_("L", &ni, &one, factor, &ni, pivots, bi, &ni, &info);
  }
}

void cavum_dense_expand(double *bi, const double *xs, const double *factor, const double *coupling,
                        cavum_interior_kind kind, int ns, int ni) {
  if (ni == 0) return;
  subtract_to_interior(bi, xs, coupling, ns, ni);
  if (kind == CAVUM_INTERIOR_CHOLESKY) {
    cblas_dtrsv(CblasColMajor, CblasLower, CblasTrans, CblasNonUnit, ni, factor, ni, bi, 1);
  }
}
