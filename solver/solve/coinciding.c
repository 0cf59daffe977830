// SPDX-License-Identifier: GPL-3.0-or-later
// Modes that coincide within their uncertainties, by name.
#include "solve/coinciding.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"

// Numbers that a warning names; of more the rest is counted.
enum { NAMED_MOST = 12 };

static const cavum_figure *frequency(const cavum_problem *s, int m) {
  return &s->result->modes[m].figures[CAVUM_FIGURE_FREQUENCY];
}

static bool coincide(const cavum_problem *s, int a, int b) {
  const cavum_figure *f = frequency(s, a), *g = frequency(s, b);
  double both = f->uncertainty + g->uncertainty;
  return both < HUGE_VAL && fabs(g->value - f->value) <= both;
}

// The next mode of the same class, num_modes where there is none.
static int next_of_class(const cavum_problem *s, int m) {
  const cavum_solution_mode *modes = s->ladder.solution->modes;
  int next = m + 1;
  while (next < s->result->num_modes && modes[next].in_class != modes[m].in_class) next++;
  return next;
}

// Whether the last mode of a class coincides with one that nobody asked for. Frequencies are those
// of one degree, whose errors are about the same.
static bool coincides_with_more(const cavum_problem *s, int m) {
  const cavum_solution_mode *mode = &s->ladder.solution->modes[m];
  const cavum_modes *known = &s->ladder.solution->classes[mode->in_class].modes[0];
  const cavum_figure *f = frequency(s, m);
  if (mode->index + 1 >= known->count || !(f->uncertainty < HUGE_VAL)) return false;
  double ratio = sqrt(known->k2_per_m2[mode->index + 1] / known->k2_per_m2[mode->index]);
  return f->value * (ratio - 1.0) <= 2.0 * f->uncertainty;
}

static cavum_status warn(cavum_problem *s, const int *group, int count, bool more,
                         cavum_error *error) {
  char text[512];
  size_t used = (size_t)snprintf(text, sizeof text, count > 1 ? "modes %d" : "mode %d", group[0]);
  for (int i = 1; i < count && i < NAMED_MOST; i++) {
    bool last = i + 1 == count && !more;
    used += (size_t)snprintf(text + used, sizeof text - used, last ? " and %d" : ", %d", group[i]);
  }
  if (count > NAMED_MOST) {
    used += (size_t)snprintf(text + used, sizeof text - used, ", %d others", count - NAMED_MOST);
  }
  if (more) {
    used += (size_t)snprintf(text + used, sizeof text - used, " and one behind %s",
                             count > 1 ? "them" : "it");
  }
  snprintf(text + used, sizeof text - used,
           " coincide within the uncertainties of their frequencies (degenerate modes): their "
           "fields may be any mixture, and all figures but the frequency are those of the mixture");
  return cavum_problem_warn(s, text, error);
}

cavum_status cavum_coinciding_warn(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = s->result->num_modes, size = 0;
  int *group = cavum_alloc(count, sizeof *group);
  bool *seen = cavum_alloc(count, sizeof *seen);
  if (!group || !seen) CAVUM_TRY(cavum_fail_memory(error));
  for (int first = 0; first < count; first++) {
    int m = first, next;
    if (seen[first]) continue;
    for (size = 0;; m = next) {
      seen[m] = true;
      group[size++] = m + 1;
      next = next_of_class(s, m);
      if (next == count || !coincide(s, m, next)) break;
    }
    bool more = next == count && coincides_with_more(s, m);
    if (size > 1 || more) CAVUM_TRY(warn(s, group, size, more, error));
  }
done:
  free(group);
  free(seen);
  return status;
}
