// SPDX-License-Identifier: GPL-3.0-or-later
// One dimension of one cell for a frequency: the search of a held dimension without neighbours.
#include "cavum/tune.h"

#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/cell.h"
#include "cell/cell_key.h"
#include "scan/hold.h"

static const cavum_sized SIZED = {.name = "tune request",
                                  .maker = "cavum_tune_request_default()",
                                  .first = sizeof(cavum_tune_request),
                                  .full = sizeof(cavum_tune_request)};

void cavum_tune_request_set_defaults(cavum_tune_request *request, size_t struct_size) {
  const cavum_tune_request defaults = {.mode = 0};
  if (request) cavum_sized_give(request, struct_size, &defaults, &SIZED);
}

/** A tuning on its way. */
typedef struct tuning {
  cavum_solver *solver;
  cavum_tune_request request;
  cavum_cell_dial dial;
  cavum_hold_search search;
  cavum_hold range;
  cavum_result *result;    // owned: of the last solve that gave one
  cavum_status solved;     // of that solve
  cavum_error last_error;  // of the last that gave none
} tuning;

static cavum_status check(const cavum_cell *cell, const cavum_tune_request *request,
                          cavum_error *error) {
  if (!request->key) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "the tune request names no dimension");
  }
  if (!(request->frequency_hz > 0.0) || !isfinite(request->frequency_hz)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "tune to %g Hz: a frequency above 0 was expected",
                      request->frequency_hz);
  }
  if (request->mode < 0 || request->mode >= cell->num_modes) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "tune mode %d: the cell asks for %d mode%s",
                      request->mode + 1, cell->num_modes, cell->num_modes > 1 ? "s" : "");
  }
  bool chosen = request->low == 0.0 && request->high == 0.0;
  if (chosen || (request->low < request->high && isfinite(request->high - request->low))) {
    return CAVUM_OK;
  }
  return cavum_fail(error, CAVUM_ERR_USAGE, "tune from %g to %g: low below high was expected",
                    request->low, request->high);
}

static cavum_status start(tuning *t, const cavum_cell *cell, cavum_error *error) {
  const cavum_place *place = &t->dial.place;
  cavum_tune_request *r = &t->request;
  double base = place->base;
  if (r->low == 0.0 && r->high == 0.0) {
    r->low = cavum_max(place->low, cavum_min(0.5 * base, 2.0 * base));
    r->high = cavum_min(place->high, cavum_max(0.5 * base, 2.0 * base));
  }
  if (!(r->low < r->high) || r->low < place->low || r->high > place->high) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "tune %s from %g to %g: within %g to %g was expected",
                      place->name, r->low, r->high, place->low, place->high);
  }
  double value = cavum_min(cavum_max(base, r->low), r->high);
  double size = cavum_max(fabs(value), 1e-3 * (r->high - r->low));
  t->range = (cavum_hold){.frequency_hz = r->frequency_hz, .low = r->low, .high = r->high};
  // With nothing known: as if the whole cell grew with the dimension, f ~ 1 / size.
  t->search = (cavum_hold_search){.target_hz = r->frequency_hz,
                                  .tolerance_hz = cell->accuracy_frequency * r->frequency_hz,
                                  .low = r->low,
                                  .high = r->high,
                                  .value = value,
                                  .slope = -r->frequency_hz / size,
                                  .slope_uncertainty = 1.0,
                                  .most_solves = 2 * CAVUM_HOLD_MOST_SOLVES,
                                  .below = NAN,
                                  .above = NAN};
  return CAVUM_OK;
}

// What no other value of the dimension would mend.
static bool is_final(cavum_status status) {
  return status == CAVUM_ERR_MEMORY || status == CAVUM_ERR_STOPPED ||
         status == CAVUM_ERR_INTERNAL || status == CAVUM_ERR_USAGE || status == CAVUM_ERR_FILE;
}

static cavum_status try_value(tuning *t, cavum_error *error) {
  cavum_cell made;
  bool owned = false;
  cavum_error what = {0};
  cavum_result *found = NULL;
  cavum_status status = cavum_cell_dial_set(&made, &owned, &t->dial, t->search.value, &what);
  if (status == CAVUM_OK) {
    status = cavum_solver_solve(&found, t->solver, &made, &what);
    if (owned) cavum_cell_clear(&made);
  }
  if (is_final(status)) {
    if (error) *error = what;
    return status;
  }
  if (found && found->num_modes > t->request.mode) {
    cavum_result_destroy(&t->result);
    t->result = found;
    t->solved = status;
    t->last_error = what;
    const cavum_figure *f = &found->modes[t->request.mode].figures[CAVUM_FIGURE_FREQUENCY];
    cavum_hold_advance(&t->search, f->value, f->uncertainty);
    return CAVUM_OK;
  }
  cavum_result_destroy(&found);
  t->last_error = what;
  t->last_error.status = status == CAVUM_OK ? CAVUM_ERR_INCOMPLETE : status;
  cavum_hold_retreat(&t->search);
  return CAVUM_OK;
}

static cavum_status fail_tuning(const tuning *t, cavum_error *error) {
  const cavum_hold_search *s = &t->search;
  if (!t->result) {
    if (error) *error = t->last_error;
    return t->last_error.status;
  }
  return cavum_fail(error, CAVUM_ERR_RANGE,
                    "%s = %.9g gives %.9g MHz after %d solves, %.9g MHz was asked for (%g to %g "
                    "tried)",
                    t->dial.place.name, s->last_value, cavum_in_mhz(s->last_hz), s->num_solves,
                    cavum_in_mhz(s->target_hz), t->range.low, t->range.high);
}

static cavum_status search(tuning *t, cavum_error *error) {
  enum { MOST_BEHIND = 2 };  // once up, once down
  int num_behind = 0;
  while (!t->search.met && !t->search.lost) {
    cavum_status status = try_value(t, error);
    if (status != CAVUM_OK) return status;
    // Every solve is a full one.
    t->search.scouting = false;
    if (t->search.lost && num_behind < MOST_BEHIND) {
      num_behind += cavum_hold_go_behind(&t->search, &t->range);
      t->search.scouting = false;
    }
  }
  return t->search.met ? CAVUM_OK : fail_tuning(t, error);
}

cavum_status cavum_tune(cavum_result **result, cavum_cell *cell, cavum_solver *solver,
                        const cavum_tune_request *request, cavum_error *error) {
  if (!cell || !solver || !request) return cavum_fail_null(error, __func__);
  tuning t = {.solver = solver};
  cavum_cell full;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_sized_take(&t.request, request, &SIZED, error));
  CAVUM_TRY(cavum_sized_take(&full, cell, &cavum_cell_sized, error));
  CAVUM_TRY(check(&full, &t.request, error));
  CAVUM_TRY(cavum_cell_check(cell, error));
  CAVUM_TRY(cavum_cell_dial_open(&t.dial, &full, t.request.key, error));
  CAVUM_TRY(start(&t, &full, error));
  CAVUM_TRY(search(&t, error));
  CAVUM_TRY(cavum_cell_set(cell, t.request.key, t.search.last_value, error));
  if (t.solved != CAVUM_OK && error) *error = t.last_error;
  status = t.solved;
  if (result) {
    *result = t.result;
    t.result = NULL;
  }
done:
  cavum_result_destroy(&t.result);
  cavum_cell_dial_clear(&t.dial);
  return status;
}
