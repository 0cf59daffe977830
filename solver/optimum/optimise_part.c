// SPDX-License-Identifier: GPL-3.0-or-later
// One part of a search: starts, or a segment of a front.
#include "base/base.h"
#include "cavum/optimum.h"
#include "optimum/front_walk.h"
#include "optimum/many_starts.h"
#include "optimum/search_watch.h"
#include "scan/claim.h"
#include "scan/record_writer.h"

static cavum_status run_starts(cavum_goal *goal, const cavum_parts *parts,
                               const cavum_solve_options *options, cavum_error *error) {
  cavum_optimum_solving *solving = cavum_alloc(1, sizeof *solving);
  if (!solving) return cavum_fail_memory(error);
  cavum_status status = cavum_optimum_solving_open(solving, goal, options, error);
  if (status == CAVUM_OK) {
    status = cavum_many_starts_run_part(parts, goal, solving, options, error);
  }
  cavum_optimum_solving_clear(solving);
  free(solving);
  return status;
}

static cavum_status run_segment(cavum_goal *goal, const cavum_parts *parts,
                                const cavum_solve_options *options, cavum_error *error) {
  cavum_front_walk w = {.goal = goal};
  cavum_status status = cavum_front_walk_open(&w, options, error);
  if (status == CAVUM_OK) status = cavum_front_walk_run_part(&w, parts, error);
  cavum_front_walk_clear(&w);
  return status;
}

cavum_status cavum_optimise_part(cavum_goal *goal, const char *output, int64_t part,
                                 int64_t num_parts, const cavum_solve_options *options,
                                 cavum_error *error) {
  if (!goal || !output) return cavum_fail_null(error, __func__);
  if (part < 0 || part >= num_parts || num_parts > CAVUM_OPTIMISE_MOST_PARTS) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "part %lld of %lld: expected 0 to the number of parts less 1, of at most %d",
                      (long long)part, (long long)num_parts, CAVUM_OPTIMISE_MOST_PARTS);
  }
  const cavum_division division = {part + 1, num_parts};
  cavum_parts parts = {0};
  cavum_search_watch watch = {.watcher = NULL};
  int claim = -1;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_records_make_folder(output, division, error));
  CAVUM_TRY(cavum_scan_claim_take(&claim, output, division, error));
  CAVUM_TRY(cavum_parts_open(&parts, goal, output, division, error));
  cavum_search_watch_open(&watch, goal);
  CAVUM_TRY(goal->num_axes > 0 ? run_segment(goal, &parts, options, error)
                               : run_starts(goal, &parts, options, error));
done:
  cavum_search_watch_close(&watch, goal);
  cavum_parts_clear(&parts);
  cavum_scan_claim_drop(claim);
  return status;
}
