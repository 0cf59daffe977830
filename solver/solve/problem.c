// SPDX-License-Identifier: GPL-3.0-or-later
// What the result of a problem gathers on the way.
#include "solve/problem.h"

#include <string.h>

#include "base/base.h"

cavum_status cavum_problem_keep_steps(cavum_problem *s, cavum_error *error) {
  cavum_result *r = s->result;
  int count = r->num_steps + s->ladder.num_steps;
  if (!cavum_grow((void **)&r->steps, &s->steps_capacity, count, sizeof *r->steps)) {
    return cavum_fail_memory(error);
  }
  memcpy(r->steps + r->num_steps, s->ladder.steps, (size_t)s->ladder.num_steps * sizeof *r->steps);
  r->num_steps = count;
  return CAVUM_OK;
}

cavum_status cavum_problem_warn(cavum_problem *s, const char *text, cavum_error *error) {
  cavum_result *r = s->result;
  if (!text[0]) return CAVUM_OK;
  char *copy = cavum_copy_text(text);
  if (!copy || !cavum_grow((void **)&r->warnings, &s->warnings_capacity, r->num_warnings + 1,
                           sizeof *r->warnings)) {
    free(copy);
    return cavum_fail_memory(error);
  }
  r->warnings[r->num_warnings++] = copy;
  return CAVUM_OK;
}
