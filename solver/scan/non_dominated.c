// SPDX-License-Identifier: GPL-3.0-or-later
// Non-dominated points by divide and conquer [Kung1975]. Points are sorted by the first value, then
// by the second, and so on, and repeated ones are set aside. After that a point can only be beaten
// by one in front of it, and it is beaten as soon as that one is at most as large in the values
// behind the first: whether values tie needs no further thought.
#include "scan/non_dominated.h"

#include <gsl/gsl_statistics_double.h>
#include <string.h>

#include "base/base.h"

// So few points are compared with all others.
enum { FEW = 8 };

/** Points by their places in the sorted order; lists are sorted by the value before the last. */
typedef struct place_list {
  int32_t *places;
  int64_t count;
} place_list;

/** The sorted points. */
typedef struct sorted_points {
  int num_values;
  const double *values;  // as given, shape [.., num_values]
  int64_t *order;        // owned: which point stands at a place
  double *sorted;        // owned, shape [places, num_values]
  bool *beaten;          // owned, shape [places]
  double *scratch;       // owned, shape [places]: for medians
  int32_t *room;         // owned: lists on their way, one behind the other
  int64_t used;
} sorted_points;

static double value_of(const sorted_points *p, int32_t place, int which) {
  return p->sorted[(int64_t)place * p->num_values + which];
}

static int compare_values(const double *a, const double *b, int num_values) {
  for (int i = 0; i < num_values; i++) {
    if (a[i] != b[i]) return a[i] < b[i] ? -1 : 1;
  }
  return 0;
}

static int compare_places(const void *left, const void *right, void *data) {
  const sorted_points *p = data;
  return compare_values(p->values + *(const int64_t *)left * p->num_values,
                        p->values + *(const int64_t *)right * p->num_values, p->num_values);
}

// At most as large in all values from the first that is given.
static bool covers(const sorted_points *p, int32_t a, int32_t b, int first) {
  for (int i = first; i < p->num_values; i++) {
    if (value_of(p, a, i) > value_of(p, b, i)) return false;
  }
  return true;
}

static void strike_each(sorted_points *p, const place_list *by, const place_list *from, int first) {
  for (int64_t i = 0; i < from->count; i++) {
    int32_t place = from->places[i];
    for (int64_t k = 0; k < by->count && !p->beaten[place]; k++) {
      p->beaten[place] = covers(p, by->places[k], place, first);
    }
  }
}

// Two values left: both lists are sorted by the first of them, so the smallest second value on the
// way decides.
static void strike_by_sweep(sorted_points *p, const place_list *by, const place_list *from) {
  int last = p->num_values - 1;
  double smallest = INFINITY;
  int64_t k = 0;
  for (int64_t i = 0; i < from->count; i++) {
    int32_t place = from->places[i];
    double value = value_of(p, place, last - 1);
    for (; k < by->count && value_of(p, by->places[k], last - 1) <= value; k++) {
      smallest = cavum_min(smallest, value_of(p, by->places[k], last));
    }
    if (smallest <= value_of(p, place, last)) p->beaten[place] = true;
  }
}

static double median(const sorted_points *p, const place_list *a, const place_list *b, int which) {
  size_t count = 0;
  for (int64_t i = 0; i < a->count; i++) p->scratch[count++] = value_of(p, a->places[i], which);
  for (int64_t i = 0; i < b->count; i++) p->scratch[count++] = value_of(p, b->places[i], which);
  return gsl_stats_select(p->scratch, 1, count, count / 2);
}

typedef enum list_part { BELOW, NOT_ABOVE, NOT_BELOW, ABOVE } list_part;

static bool belongs(double value, double limit, list_part part) {
  switch (part) {
    case BELOW:
      return value < limit;
    case NOT_ABOVE:
      return value <= limit;
    case NOT_BELOW:
      return value >= limit;
    case ABOVE:
      return value > limit;
  }
  return false;
}

// The part of a list on one side of a value, in its order, without points that are beaten.
static place_list take_part(sorted_points *p, const place_list *from, int which, double limit,
                            list_part part) {
  place_list taken = {.places = p->room + p->used};
  for (int64_t i = 0; i < from->count; i++) {
    int32_t place = from->places[i];
    if (p->beaten[place] || !belongs(value_of(p, place, which), limit, part)) continue;
    taken.places[taken.count++] = place;
  }
  p->used += taken.count;
  return taken;
}

// Strikes out of one list what points of another cover in the values from `first` on; at least two
// of them. Halves are divided at a median; what is on its two sides needs no look at this value any
// more.
static void strike(sorted_points *p, const place_list *by, const place_list *from, int first) {
  static const struct {
    list_part by, from;
    int step;
  } pairs[] = {{BELOW, BELOW, 0}, {ABOVE, ABOVE, 0}, {NOT_ABOVE, NOT_BELOW, 1}};
  if (by->count == 0 || from->count == 0) return;
  if (first == p->num_values - 2) {
    strike_by_sweep(p, by, from);
    return;
  }
  if (by->count <= FEW || from->count <= FEW) {
    strike_each(p, by, from, first);
    return;
  }
  double limit = median(p, by, from, first);
  for (int i = 0; i < 3; i++) {
    int64_t used = p->used;
    place_list some = take_part(p, by, first, limit, pairs[i].by);
    place_list others = take_part(p, from, first, limit, pairs[i].from);
    strike(p, &some, &others, first + pairs[i].step);
    p->used = used;
  }
}

// Joins two lists that are sorted by the value before the last, without points that are beaten.
static int64_t join(sorted_points *p, int32_t *places, int64_t num_left, int64_t split,
                    int64_t num_right) {
  int which = p->num_values - 2;
  int32_t *left = p->room, *right = places + split;
  int64_t i = 0, k = 0, count = 0;
  memcpy(left, places, (size_t)num_left * sizeof *left);
  while (i < num_left || k < num_right) {
    if (k < num_right && p->beaten[right[k]]) {
      k++;
      continue;
    }
    bool take_left = k == num_right ||
                     (i < num_left && value_of(p, left[i], which) <= value_of(p, right[k], which));
    places[count++] = take_left ? left[i++] : right[k++];
  }
  return count;
}

// Leaves the points that none of these beats at the front of `places`; how many there are.
static int64_t reduce(sorted_points *p, int32_t *places, int64_t count) {
  if (count <= 1) return count;
  int64_t split = count / 2;
  int64_t num_left = reduce(p, places, split);
  int64_t num_right = reduce(p, places + split, count - split);
  place_list by = {places, num_left}, from = {places + split, num_right};
  strike(p, &by, &from, 1);
  return join(p, places, num_left, split, num_right);
}

// Two values: sorted by the first, a point is beaten unless its second is smaller than all before.
static void sweep(sorted_points *p, int32_t count) {
  double smallest = INFINITY;
  for (int32_t place = 0; place < count; place++) {
    double value = p->num_values == 1 ? 0.0 : value_of(p, place, 1);
    p->beaten[place] = value >= smallest;
    smallest = cavum_min(smallest, value);
  }
}

// Sorts the points and copies one of each kind; returns how many kinds there are.
static int32_t sort(sorted_points *p, int32_t *kinds, int64_t count) {
  size_t size = (size_t)p->num_values * sizeof(double);
  int32_t last = -1;
  for (int64_t i = 0; i < count; i++) p->order[i] = i;
  qsort_r(p->order, (size_t)count, sizeof *p->order, compare_places, p);
  for (int64_t i = 0; i < count; i++) {
    const double *values = p->values + p->order[i] * p->num_values;
    if (last < 0 ||
        compare_values(p->sorted + (int64_t)last * p->num_values, values, p->num_values) != 0) {
      memcpy(p->sorted + (int64_t)++last * p->num_values, values, size);
    }
    kinds[i] = last;
  }
  return last + 1;
}

cavum_status cavum_non_dominated_mark(bool *marks, const double *values, int64_t count,
                                      int num_values, cavum_error *error) {
  if (count == 0) return CAVUM_OK;
  if (!marks || !values || num_values < 1) return cavum_fail_null(error, __func__);
  if (count > INT32_MAX) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "%lld non-dominated shapes: at most %d can be told",
                      (long long)count, INT32_MAX);
  }
  cavum_status status = CAVUM_OK;
  sorted_points p = {.num_values = num_values, .values = values};
  // Lists on their way: all points once for each value, and halves, quarters, ... of the last.
  int64_t room = num_values;
  int32_t *kinds = cavum_alloc(count, sizeof *kinds), *places = cavum_alloc(count, sizeof *places);
  p.order = cavum_alloc(count, sizeof *p.order);
  p.sorted = cavum_alloc(count * num_values, sizeof *p.sorted);
  p.beaten = cavum_alloc(count, sizeof *p.beaten);
  p.scratch = cavum_alloc(count, sizeof *p.scratch);
  p.room = cavum_alloc(count * room, sizeof *p.room);
  if (!kinds || !places || !p.order || !p.sorted || !p.beaten || !p.scratch || !p.room) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  int32_t num_kinds = sort(&p, kinds, count);
  for (int32_t i = 0; i < num_kinds; i++) places[i] = i;
  if (num_values <= 2) {
    sweep(&p, num_kinds);
  } else {
    reduce(&p, places, num_kinds);
  }
  for (int64_t i = 0; i < count; i++) marks[p.order[i]] = !p.beaten[kinds[i]];
done:
  free(kinds);
  free(places);
  free(p.order);
  free(p.sorted);
  free(p.beaten);
  free(p.scratch);
  free(p.room);
  return status;
}
