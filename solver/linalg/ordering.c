// SPDX-License-Identifier: GPL-3.0-or-later
// Elimination orders by CHOLMOD's interface to CAMD (minimum degree with constraints) and METIS.
#include "linalg/ordering.h"

#include <string.h>

#include "base/base.h"
#include "linalg/blas_calls.h"
#include "linalg/cholmod_calls.h"

// Graphs of blocks above this many rows are ordered by nested dissection, which pays for itself in
// fill only on large meshes.
enum { NESTED_DISSECTION_FROM = 20000 };

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

// Work space of the ordering, all of one block.
typedef struct ordering_work {
  int64_t *found, *parent, *post, *count, *first, *level, *member;  // [num_rows] each
} ordering_work;

// Moves marked rows to the end of an order, otherwise kept.
static void move_to_end(int64_t *order, ordering_work *w, int64_t count) {
  int64_t at = 0;
  memcpy(w->post, order, (size_t)count * sizeof *order);
  for (int pass = 0; pass < 2; pass++) {
    for (int64_t k = 0; k < count; k++) {
      if (w->member[w->post[k]] == pass) order[at++] = w->post[k];
    }
  }
}

static bool find(ordering_work *w, cholmod_sparse *matrix, cholmod_common *common) {
  int64_t rows = (int64_t)matrix->nrow;
  if (rows > NESTED_DISSECTION_FROM) {
    if (!cholmod_l_metis(matrix, NULL, 0, true, w->found, common)) return false;
    move_to_end(w->found, w, rows);
  } else if (!cholmod_l_camd(matrix, NULL, 0, w->member, w->found, common)) {
    return false;
  }
  // Only for the postorder of the elimination tree.
  return cholmod_l_analyze_ordering(matrix, CHOLMOD_GIVEN, w->found, NULL, 0, w->parent, w->post,
                                    w->count, w->first, w->level, common);
}

cavum_status cavum_ordering_find(int64_t *order, const cavum_graph *graph, const bool *last,
                                 cavum_error *error) {
  cholmod_common common;
  // OpenBLAS before CHOLMOD, which brings it: glibc loses the list of what a library needs when one
  // is opened that came with another.
  cavum_status status = cavum_blas_reach(error);
  if (status == CAVUM_OK) status = cavum_cholmod_reach(error);
  if (status != CAVUM_OK) return status;
  cholmod_sparse matrix = as_cholmod(graph);
  int64_t n = graph->num_rows, *block = cavum_alloc(7 * n, sizeof *block);
  if (!block) return cavum_fail_memory(error);
  ordering_work w = {block,         block + n,     block + 2 * n, block + 3 * n,
                     block + 4 * n, block + 5 * n, block + 6 * n};
  for (int64_t i = 0; i < n; i++) w.member[i] = last[i];
  cholmod_l_start(&common);
  common.print = 0;
  common.error_handler = NULL;
  if (find(&w, &matrix, &common)) {
    for (int64_t k = 0; k < n; k++) order[k] = w.found[w.post[k]];
  } else {
    status = library_error(&common, error);
  }
  cholmod_l_finish(&common);
  free(block);
  return status;
}
