// SPDX-License-Identifier: GPL-3.0-or-later
// Slices of the spectrum. A slice knows the number of each of its modes among all modes of the
// class; slices that know a mode in common, or neighbours, make a run without a gap.
#include "eigen/modes_slices.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/modes_find.h"
#include "eigen/pencil_factorise.h"
#include "eigen/projection.h"

enum { CLASSES = CAVUM_BLOCK_TASKS_MOST };

// Modes of all classes that a shift is to find: few enough that the work on the basis of the
// iteration stays below that of its solves, many enough for the factorisation. Beyond those on its
// side a slice finds some of the next one.
enum { SLICE_MODES = 28, SLICE_OVERLAP = 3 };
// Modes behind those that are wanted.
enum { SLICE_GUARD = 2 };
// Slices, at most, over what is needed when all goes well.
enum { SLICES_FACTOR = 6, SLICES_LEAST = 20 };
// Relative distance of the k^2 of one mode from two slices, at most.
static const double SAME_MODE = 1e-6;
// How far beyond what is known the next shift goes, over half of a slice.
static const double REACH = 0.8;

typedef struct slice {
  double shift_per_m2;
  int64_t
      first[CLASSES];  // number of the first mode, from 0 at the lowest, the static one included
  int num_levels;
  cavum_modes modes[CLASSES][CAVUM_LEVELS_MOST];
} slice;

typedef struct slicing {
  const cavum_block_task *tasks;
  int count;
  cavum_condensed *condensed;
  const cavum_slices_request *request;
  slice *slices;  // by rising shift
  int num_slices, most;
} slicing;

static void clear_slice(slice *s) {
  for (int c = 0; c < CLASSES; c++) {
    for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&s->modes[c][l]);
  }
}

static int64_t end_of(const slice *s, int c) { return s->first[c] + s->modes[c][0].count; }

static double k2_of(const slice *s, int c, int64_t number) {
  return s->modes[c][0].k2_per_m2[number - s->first[c]];
}

static int64_t first_real(const slicing *s, int c) {
  return cavum_modes_has_static(s->tasks[c].pencil) ? 1 : 0;
}

// Highest (or lowest) k^2 up to which a slice knows all modes of all classes.
static double reach_above(const slicing *s, const slice *at) {
  double reach = HUGE_VAL;
  for (int c = 0; c < s->count; c++) {
    const cavum_modes *modes = &at->modes[c][0];
    reach = cavum_min(reach, modes->count > 0 ? modes->k2_per_m2[modes->count - 1] : -HUGE_VAL);
  }
  return reach;
}

static double reach_below(const slicing *s, const slice *at) {
  double reach = -HUGE_VAL;
  for (int c = 0; c < s->count; c++) {
    const cavum_modes *modes = &at->modes[c][0];
    if (at->first[c] <= first_real(s, c)) continue;
    reach = cavum_max(reach, modes->count > 0 ? modes->k2_per_m2[0] : HUGE_VAL);
  }
  return reach;
}

// Drops modes at the front: the static one.
static void drop_front(cavum_modes *modes, int count) {
  size_t rest = (size_t)(modes->count - count), size = (size_t)modes->num_unknowns;
  memmove(modes->k2_per_m2, modes->k2_per_m2 + count, rest * sizeof(double));
  memmove(modes->vector_error, modes->vector_error + count, rest * sizeof(double));
  memmove(modes->accuracy_factor, modes->accuracy_factor + count, rest * sizeof(double));
  memmove(modes->vectors, modes->vectors + (size_t)count * size, rest * size * sizeof(double));
  modes->count -= count;
}

// Modes of one class about the shift, numbered by the inertia there.
static cavum_status find_class(const slicing *s, slice *to, int c, int wanted, cavum_error *error) {
  cavum_pencil *pencil = s->tasks[c].pencil;
  cavum_modes *modes = &to->modes[c][0];
  cavum_status status =
      cavum_modes_find_around(modes, pencil, wanted, NULL, s->request->tolerance, error);
  if (status != CAVUM_OK) return status;
  int64_t below = pencil->levels[0].num_negative;
  for (int m = 0; m < modes->count; m++) below -= modes->k2_per_m2[m] < pencil->shift_per_m2;
  to->first[c] = below;
  if (below < 0) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "a slice of the spectrum has a mode twice");
  }
  if (below < first_real(s, c)) {
    drop_front(modes, (int)(first_real(s, c) - below));
    to->first[c] = first_real(s, c);
  }
  return CAVUM_OK;
}

// The same modes at the lower levels, as far as these carry them.
static cavum_status fill_levels(const slicing *s, slice *to, cavum_error *error) {
  to->num_levels = s->tasks[0].pencil->num_levels;
  for (int c = 0; c < s->count; c++) {
    const cavum_block_task task = {
        .pencil = s->tasks[c].pencil, .accuracy = s->tasks[c].accuracy, .modes = to->modes[c]};
    if (task.modes[0].count == 0) continue;
    cavum_status status = cavum_projection_fill_class(&task, error);
    if (status != CAVUM_OK) return status;
    for (int l = 1; l < to->num_levels; l++) {
      if (to->modes[c][l].count < to->modes[c][0].count) to->num_levels = l;
    }
  }
  return CAVUM_OK;
}

static cavum_status make_slice(const slicing *s, slice *to, double shift_per_m2,
                               cavum_error *error) {
  int each = SLICE_MODES / s->count + SLICE_OVERLAP;
  for (int c = 0; c < s->count; c++) {
    cavum_status status =
        cavum_pencil_factorise(s->tasks[c].pencil, s->condensed, shift_per_m2, error);
    if (status == CAVUM_OK) status = find_class(s, to, c, each, error);
    if (status != CAVUM_OK) return status;
  }
  to->shift_per_m2 = s->tasks[0].pencil->shift_per_m2;
  return fill_levels(s, to, error);
}

static cavum_status add_slice(slicing *s, double shift_per_m2, cavum_error *error) {
  slice made = {0};
  if (s->num_slices >= s->most) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "slices of the spectrum do not fit together");
  }
  cavum_status status = cavum_stop_check(error);
  if (status == CAVUM_OK) status = make_slice(s, &made, shift_per_m2, error);
  if (status != CAVUM_OK) {
    clear_slice(&made);
    return status;
  }
  int at = s->num_slices++;
  for (; at > 0 && s->slices[at - 1].shift_per_m2 > made.shift_per_m2; at--) {
    s->slices[at] = s->slices[at - 1];
  }
  s->slices[at] = made;
  return CAVUM_OK;
}

// Whether no mode is between two slices and those that both know are the same.
static bool fit_together(const slicing *s, const slice *low, const slice *high) {
  for (int c = 0; c < s->count; c++) {
    int64_t from = high->first[c], end = end_of(low, c), end_high = end_of(high, c);
    if (from > end) return false;
    if (from < low->first[c]) from = low->first[c];
    for (int64_t i = from; i < end && i < end_high; i++) {
      if (fabs(k2_of(low, c, i) / k2_of(high, c, i) - 1.0) > SAME_MODE) return false;
    }
    bool apart = from == end && end > low->first[c] && end_high > from;
    // Only neighbours: one that was missed would show as the same mode under two numbers.
    if (apart && k2_of(high, c, from) / k2_of(low, c, end - 1) - 1.0 < SAME_MODE) return false;
  }
  return true;
}

static bool is_within(const slicing *s, double k2_per_m2, double radius_per_m) {
  return cavum_modes_distance(k2_per_m2, s->request->near_per_m2) <= radius_per_m;
}

// Modes of all classes within a distance of the k that was asked for, each once.
static int64_t count_within(const slicing *s, double radius_per_m) {
  int64_t count = 0;
  for (int c = 0; c < s->count; c++) {
    int64_t next = 0;
    for (int i = 0; i < s->num_slices; i++) {
      const slice *at = &s->slices[i];
      for (int64_t n = at->first[c] > next ? at->first[c] : next; n < end_of(at, c); n++) {
        count += is_within(s, k2_of(at, c, n), radius_per_m);
        next = n + 1;
      }
    }
  }
  return count;
}

// How far below and above the k that was asked for all modes of all classes are known, 1/m.
static double known_below(const slicing *s) {
  double reach = reach_below(s, &s->slices[0]);
  return reach > 0.0 ? sqrt(s->request->near_per_m2) - sqrt(reach) : HUGE_VAL;
}

static double known_above(const slicing *s) {
  const slice *high = &s->slices[s->num_slices - 1];
  double reach = cavum_max(reach_above(s, high), high->shift_per_m2);
  return sqrt(reach) - sqrt(s->request->near_per_m2);
}

// Half of a slice in k^2 about a place, from the modes that a slice there found.
static double half_slice(const slicing *s, const slice *at) {
  int64_t found = 0;
  double low = HUGE_VAL, high = -HUGE_VAL;
  for (int c = 0; c < s->count; c++) {
    const cavum_modes *modes = &at->modes[c][0];
    found += modes->count;
    if (modes->count == 0) continue;
    low = cavum_min(low, modes->k2_per_m2[0]);
    high = cavum_max(high, modes->k2_per_m2[modes->count - 1]);
  }
  double density =
      found > 1 && high > low ? (double)(found - 1) / (high - low) : s->request->modes_per_k2_m2;
  return 0.5 * SLICE_MODES / density;
}

// Where the next slice goes; false when all that is wanted is known.
static bool choose_shift(const slicing *s, double *shift_per_m2) {
  const slice *low = &s->slices[0], *high = &s->slices[s->num_slices - 1];
  for (int i = 0; i + 1 < s->num_slices; i++) {
    const slice *a = &s->slices[i], *b = &s->slices[i + 1];
    if (fit_together(s, a, b)) continue;
    double from = cavum_max(a->shift_per_m2, reach_above(s, a));
    double to = cavum_min(b->shift_per_m2, reach_below(s, b));
    bool between = from < to && to < HUGE_VAL;
    *shift_per_m2 = between ? 0.5 * (from + to) : 0.5 * (a->shift_per_m2 + b->shift_per_m2);
    return true;
  }
  double radius = cavum_min(known_below(s), known_above(s));
  if (count_within(s, radius) >= s->request->wanted) return false;
  if (known_below(s) < known_above(s)) {
    double below = cavum_min(reach_below(s, low), low->shift_per_m2);
    double step = REACH * half_slice(s, low);
    *shift_per_m2 = below - step > 0.0 ? below - step : 0.5 * below;
  } else {
    double above = cavum_max(reach_above(s, high), high->shift_per_m2);
    *shift_per_m2 = above + REACH * half_slice(s, high);
  }
  return true;
}

// Distance from the k that was asked for up to which modes are kept, 1/m, so that those that are
// wanted and a few behind are among them.
static double keep_radius(const slicing *s) {
  double low = 0.0, high = cavum_min(known_below(s), known_above(s));
  int64_t wanted = s->request->wanted + SLICE_GUARD;
  for (int i = 0; i < 100; i++) {
    double middle = 0.5 * (low + high);
    bool enough = count_within(s, middle) >= wanted;
    *(enough ? &high : &low) = middle;
  }
  return high;
}

// The first number that the higher of two slices gives: in the widest gap of those that both know,
// since vectors of different slices are as orthogonal as the iteration left them.
static int64_t choose_seam(const slice *low, const slice *high, int c) {
  int64_t from = high->first[c], end = end_of(low, c), seam = end;
  double widest = 0.0;
  for (int64_t n = from > low->first[c] + 1 ? from : low->first[c] + 1; n <= end; n++) {
    if (n >= end_of(high, c)) break;
    double gap = k2_of(high, c, n) - k2_of(low, c, n - 1);
    if (gap > widest) {
      widest = gap;
      seam = n;
    }
  }
  return seam;
}

// Copies the modes [from, to) of a slice to the end of those of a class.
static void append(cavum_modes *to, const cavum_modes *from, int begin, int end) {
  size_t size = (size_t)to->num_unknowns, count = (size_t)(end - begin);
  for (int m = begin; m < end; m++) {
    int at = to->count + m - begin;
    to->k2_per_m2[at] = from->k2_per_m2[m];
    to->vector_error[at] = from->vector_error[m];
    to->accuracy_factor[at] = from->accuracy_factor[m];
  }
  memcpy(to->vectors + (size_t)to->count * size, from->vectors + (size_t)begin * size,
         count * size * sizeof(double));
  to->count += end - begin;
}

// Which modes of a slice are kept: from its seam with the one before to that with the next, within
// the radius.
static void choose_part(const slicing *s, int i, int c, double radius, int *begin, int *end) {
  const slice *at = &s->slices[i];
  int64_t from = at->first[c], to = end_of(at, c);
  if (i > 0) from = choose_seam(&s->slices[i - 1], at, c);
  if (i + 1 < s->num_slices) to = choose_seam(at, &s->slices[i + 1], c);
  if (from < at->first[c]) from = at->first[c];
  while (from < to && !is_within(s, k2_of(at, c, from), radius)) from++;
  while (to > from && !is_within(s, k2_of(at, c, to - 1), radius)) to--;
  *begin = (int)(from - at->first[c]);
  *end = (int)(to - at->first[c]);
}

// All slices into the modes of the tasks; they are freed on the way.
static cavum_status assemble(slicing *s, cavum_error *error) {
  double radius = keep_radius(s);
  int num_levels = CAVUM_LEVELS_MOST;
  for (int i = 0; i < s->num_slices; i++) {
    if (s->slices[i].num_levels < num_levels) num_levels = s->slices[i].num_levels;
  }
  for (int c = 0; c < s->count; c++) {
    int total = 0, begin, end;
    for (int i = 0; i < s->num_slices; i++) {
      choose_part(s, i, c, radius, &begin, &end);
      total += end - begin;
    }
    for (int l = 0; l < num_levels; l++) {
      cavum_modes *to = &s->tasks[c].modes[l];
      cavum_index size = s->tasks[c].pencil->discretisation->space.num_unknowns;
      cavum_status status = cavum_modes_allocate(to, total, size, error);
      if (status != CAVUM_OK) return status;
      to->count = 0;
      for (int i = 0; i < s->num_slices; i++) {
        choose_part(s, i, c, radius, &begin, &end);
        append(to, &s->slices[i].modes[c][l], begin, end);
        if (l > 0) cavum_modes_clear(&s->slices[i].modes[c][l]);
      }
    }
  }
  return CAVUM_OK;
}

cavum_status cavum_modes_find_in_slices(const cavum_block_task *tasks, int count,
                                        cavum_condensed *condensed,
                                        const cavum_slices_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  slicing s = {.tasks = tasks, .count = count, .condensed = condensed, .request = request};
  if (!CAVUM_HOLDS(count >= 1 && count <= CLASSES && request->modes_per_k2_m2 > 0.0)) {
    return cavum_fail_internal(error, "classes of modes in slices");
  }
  s.most = SLICES_LEAST + SLICES_FACTOR * request->wanted / SLICE_MODES;
  s.slices = cavum_alloc(s.most, sizeof *s.slices);
  if (!s.slices) CAVUM_TRY(cavum_fail_memory(error));
  double shift = request->near_per_m2;
  if (!(shift > 0.0)) shift = 0.5 * SLICE_MODES / request->modes_per_k2_m2;
  do {
    CAVUM_TRY(add_slice(&s, shift, error));
  } while (choose_shift(&s, &shift));
  CAVUM_TRY(assemble(&s, error));
done:
  for (int c = 0; status != CAVUM_OK && c < count; c++) {
    for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&tasks[c].modes[l]);
  }
  for (int i = 0; i < s.num_slices; i++) clear_slice(&s.slices[i]);
  free(s.slices);
  return status;
}
