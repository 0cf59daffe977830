// SPDX-License-Identifier: GPL-3.0-or-later
// Elimination orders by CHOLMOD's interface to CAMD (minimum degree with constraints) and METIS.
#include "linalg/ordering.h"

#include <string.h>

#include "base/base.h"
#include "linalg/blas_calls.h"
#include "linalg/cholmod_calls.h"

static cavum_status library_error(const cholmod_common *common, cavum_error *error) {
  if (common->status == CHOLMOD_OUT_OF_MEMORY) return cavum_fail_memory(error);
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "the ordering failed in CHOLMOD with status %d",
                    common->status);
}

static cholmod_sparse as_cholmod(const cavum_graph *graph) {
  return (cholmod_sparse){.nrow = (size_t)graph->num_rows,
                          .ncol = (size_t)graph->num_rows,
                          .nzmax = (size_t)graph->column_start[graph->num_rows],
                          .p = graph->column_start,
                          .i = graph->row,
                          .stype = -1,
                          .itype = CHOLMOD_LONG,
                          .xtype = CHOLMOD_PATTERN,
                          .dtype = CHOLMOD_DOUBLE,
                          .sorted = 1,
                          .packed = 1};
}

// Work space of the postorder, all of one block.
typedef struct tree_work {
  int64_t *block;                                          // owned
  int64_t *found, *parent, *post, *count, *first, *level;  // [num_rows] each
} tree_work;

static cavum_status tree_work_create(tree_work *w, int64_t n, cavum_error *error) {
  int64_t *block = cavum_alloc(6 * n, sizeof *block);
  if (!block) return cavum_fail_memory(error);
  *w = (tree_work){block,         block,         block + n,    block + 2 * n,
                   block + 3 * n, block + 4 * n, block + 5 * n};
  return CAVUM_OK;
}

// CHOLMOD ready to be called; cholmod_l_finish() at the end.
static cavum_status start(cholmod_common *common, cavum_error *error) {
  // OpenBLAS before CHOLMOD, which brings it: glibc loses the list of what a library needs when one
  // is opened that came with another.
  cavum_status status = cavum_blas_reach(error);
  if (status == CAVUM_OK) status = cavum_cholmod_reach(error);
  if (status != CAVUM_OK) return status;
  cholmod_l_start(common);
  common->print = 0;
  common->error_handler = NULL;
  return CAVUM_OK;
}

// The order in w->found, postordered.
static cavum_status postorder(int64_t *order, tree_work *w, cholmod_sparse *matrix,
                              cholmod_common *common, cavum_error *error) {
  if (!cholmod_l_analyze_ordering(matrix, CHOLMOD_GIVEN, w->found, NULL, 0, w->parent, w->post,
                                  w->count, w->first, w->level, common)) {
    return library_error(common, error);
  }
  for (size_t k = 0; k < matrix->nrow; k++) order[k] = w->found[w->post[k]];
  return CAVUM_OK;
}

cavum_status cavum_ordering_find(int64_t *order, const cavum_graph *graph, const bool *last,
                                 cavum_error *error) {
  cholmod_common common;
  cholmod_sparse matrix = as_cholmod(graph);
  tree_work w;
  cavum_status status = start(&common, error);
  if (status != CAVUM_OK) return status;
  status = tree_work_create(&w, graph->num_rows, error);
  if (status == CAVUM_OK) {
    for (int64_t i = 0; i < graph->num_rows; i++) w.level[i] = last[i];
    bool found = cholmod_l_camd(&matrix, NULL, 0, w.level, w.found, &common) != 0;
    status = found ? postorder(order, &w, &matrix, &common, error) : library_error(&common, error);
    free(w.block);
  }
  cholmod_l_finish(&common);
  return status;
}

cavum_status cavum_ordering_dissect(int64_t *order, const cavum_graph *graph, cavum_error *error) {
  cholmod_common common;
  cholmod_sparse matrix = as_cholmod(graph);
  cavum_status status = start(&common, error);
  if (status != CAVUM_OK) return status;
  if (!cholmod_l_metis(&matrix, NULL, 0, false, order, &common)) {
    status = library_error(&common, error);
  }
  cholmod_l_finish(&common);
  return status;
}
