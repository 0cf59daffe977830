// SPDX-License-Identifier: GPL-3.0-or-later
// Sparse factorisation by CHOLMOD: supernodal Cholesky for definite matrices, simplicial LDL^T for
// indefinite ones. Analyses are made on first use and kept.
#include <cholmod.h>
#include <string.h>

#include "base.h"
#include "sparse_factor.h"

// Quotient graphs above this many rows are ordered by nested dissection (METIS), which pays for
// itself in fill only on large meshes.
enum { NESTED_DISSECTION_FROM = 20000 };

struct cavum_sparse_factor {
  cholmod_common common;
  cholmod_sparse matrix;
  const int64_t *order;
  cholmod_factor *cholesky, *ldl, *active; // active is one of the two, or NULL
  cholmod_dense *x, *y, *e;                // solution and workspace of the solver, kept
};

static cholmod_sparse as_cholmod(const cavum_sparse_pattern *pattern, double *values) {
  return (cholmod_sparse){.nrow = (size_t)pattern->num_rows,
                          .ncol = (size_t)pattern->num_rows,
                          .nzmax = (size_t)pattern->column_start[pattern->num_rows],
                          .p = pattern->column_start,
                          .i = pattern->row,
                          .x = values,
                          .stype = -1,
                          .itype = CHOLMOD_LONG,
                          .xtype = values ? CHOLMOD_REAL : CHOLMOD_PATTERN,
                          .dtype = CHOLMOD_DOUBLE,
                          .sorted = 1,
                          .packed = 1};
}

static void start(cholmod_common *common) {
  cholmod_l_start(common);
  common->print = 0;
  common->error_handler = NULL;
}

static cavum_status library_error(const cholmod_common *common, const char *what,
                                  cavum_error *error) {
  if (common->status == CHOLMOD_OUT_OF_MEMORY) return cavum_fail_memory(error);
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "%s failed in CHOLMOD with status %d", what,
                    common->status);
}

cavum_status cavum_sparse_order(int64_t *order, const cavum_sparse_pattern *pattern,
                                cavum_error *error) {
  cholmod_common common;
  start(&common);
  cholmod_sparse matrix = as_cholmod(pattern, NULL);
  common.nmethods = 1;
  bool large = pattern->num_rows > NESTED_DISSECTION_FROM;
  common.method[0].ordering = large ? CHOLMOD_METIS : CHOLMOD_AMD;
  common.postorder = 1;
  common.supernodal = CHOLMOD_SIMPLICIAL;
  cholmod_factor *factor = cholmod_l_analyze(&matrix, &common);
  cavum_status status = CAVUM_OK;
  if (factor) {
    memcpy(order, factor->Perm, (size_t)pattern->num_rows * sizeof *order);
  } else {
    status = library_error(&common, "the ordering", error);
  }
  cholmod_l_free_factor(&factor, &common);
  cholmod_l_finish(&common);
  return status;
}

cavum_status cavum_sparse_factor_create(cavum_sparse_factor **factor,
                                        const cavum_sparse_pattern *pattern, const int64_t *order,
                                        cavum_error *error) {
  cavum_sparse_factor *f = cavum_alloc(1, sizeof *f);
  if (!f) return cavum_fail_memory(error);
  start(&f->common);
  f->matrix = as_cholmod(pattern, NULL);
  f->order = order;
  *factor = f;
  return CAVUM_OK;
}

void cavum_sparse_factor_destroy(cavum_sparse_factor **factor) {
  if (!factor || !*factor) return;
  cavum_sparse_factor *f = *factor;
  cholmod_l_free_factor(&f->cholesky, &f->common);
  cholmod_l_free_factor(&f->ldl, &f->common);
  cholmod_l_free_dense(&f->x, &f->common);
  cholmod_l_free_dense(&f->y, &f->common);
  cholmod_l_free_dense(&f->e, &f->common);
  cholmod_l_finish(&f->common);
  free(f);
  *factor = NULL;
}

static cavum_status analyse(cholmod_factor **out, cavum_sparse_factor *f, int supernodal,
                            cavum_error *error) {
  f->common.nmethods = 1;
  f->common.method[0].ordering = CHOLMOD_GIVEN;
  f->common.postorder = 1;
  f->common.supernodal = supernodal;
  // CHOLMOD takes the order without const but does not write to it.
  SuiteSparse_long *order = (SuiteSparse_long *)(uintptr_t)f->order;
  *out = cholmod_l_analyze_p(&f->matrix, order, NULL, 0, &f->common);
  return *out ? CAVUM_OK : library_error(&f->common, "the symbolic analysis", error);
}

static cavum_status factorise(cavum_sparse_factor *f, cholmod_factor *into, double *values,
                              cavum_error *error) {
  f->matrix.x = values;
  f->matrix.xtype = CHOLMOD_REAL;
  f->active = NULL;
  cholmod_l_factorize(&f->matrix, into, &f->common);
  if (f->common.status < CHOLMOD_OK) return library_error(&f->common, "the factorisation", error);
  f->active = into;
  return CAVUM_OK;
}

cavum_status cavum_sparse_factor_cholesky(cavum_definiteness *definiteness,
                                          cavum_sparse_factor *f, double *values,
                                          cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (!f->cholesky) CAVUM_TRY(analyse(&f->cholesky, f, CHOLMOD_SUPERNODAL, error));
  f->common.final_ll = 1;
  f->common.quick_return_if_not_posdef = 1;
  CAVUM_TRY(factorise(f, f->cholesky, values, error));
  *definiteness = f->common.status == CHOLMOD_NOT_POSDEF ? CAVUM_INDEFINITE : CAVUM_DEFINITE;
  if (*definiteness == CAVUM_INDEFINITE) f->active = NULL;
done:
  return status;
}

static int64_t count_negative_pivots(const cholmod_factor *factor) {
  const int64_t *start_of = factor->p;
  const double *x = factor->x;
  int64_t count = 0;
  for (size_t column = 0; column < factor->n; column++) count += x[start_of[column]] < 0.0;
  return count;
}

cavum_status cavum_sparse_factor_ldl(int64_t *num_negative, cavum_sparse_factor *f, double *values,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (!f->ldl) CAVUM_TRY(analyse(&f->ldl, f, CHOLMOD_SIMPLICIAL, error));
  f->common.final_ll = 0;
  CAVUM_TRY(factorise(f, f->ldl, values, error));
  if (f->common.status == CHOLMOD_NOT_POSDEF) {
    f->active = NULL;
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "a pivot of the indefinite factorisation is zero");
  }
  *num_negative = count_negative_pivots(f->ldl);
done:
  return status;
}

cavum_status cavum_sparse_factor_solve(double *x, cavum_sparse_factor *f, cavum_error *error) {
  CAVUM_ASSERT(f->active);
  size_t n = f->matrix.nrow;
  cholmod_dense b = {.nrow = n, .ncol = 1, .nzmax = n, .d = n, .x = x, .xtype = CHOLMOD_REAL,
                     .dtype = CHOLMOD_DOUBLE};
  if (!cholmod_l_solve2(CHOLMOD_A, f->active, &b, NULL, &f->x, NULL, &f->y, &f->e, &f->common)) {
    return library_error(&f->common, "the solve", error);
  }
  memcpy(x, f->x->x, n * sizeof *x);
  return CAVUM_OK;
}
