// SPDX-License-Identifier: GPL-3.0-or-later
// Elimination orders by CHOLMOD's interface to AMD and METIS.
#include <cholmod.h>
#include <string.h>

#include "base.h"
#include "ordering.h"

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

cavum_status cavum_ordering_find(int64_t *order, const cavum_graph *graph, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cholmod_common common;
  cholmod_sparse matrix = as_cholmod(graph);
  cholmod_l_start(&common);
  common.print = 0;
  common.error_handler = NULL;
  common.nmethods = 1;
  bool large = graph->num_rows > NESTED_DISSECTION_FROM;
  common.method[0].ordering = large ? CHOLMOD_METIS : CHOLMOD_AMD;
  common.postorder = 1;
  common.supernodal = CHOLMOD_SIMPLICIAL;
  cholmod_factor *factor = cholmod_l_analyze(&matrix, &common);
  if (factor) {
    memcpy(order, factor->Perm, (size_t)graph->num_rows * sizeof *order);
  } else {
    status = library_error(&common, error);
  }
  cholmod_l_free_factor(&factor, &common);
  cholmod_l_finish(&common);
  return status;
}
