// SPDX-License-Identifier: GPL-3.0-or-later
// Order statistics of the tails of a large sample: values go to equal bins, the few bins that hold
// a tail are gathered and sorted.
#include "coldtest/sample.h"

#include "base/base.h"

enum { NUM_BINS = 4096 };

void cavum_sample_moments(double *mean, double *deviation, const double *values, int64_t count) {
  // Deviations from the first value keep the digits of a narrow sample.
  double origin = values[0], sum = 0.0, squares = 0.0;
  for (int64_t i = 0; i < count; i++) {
    double difference = values[i] - origin;
    sum += difference;
    squares += difference * difference;
  }
  double average = sum / (double)count;
  *mean = origin + average;
  double spread = squares - sum * average;
  *deviation = sqrt(cavum_max(spread, 0.0) / (double)(count - 1));
}

/** A sample in equal bins. */
typedef struct histogram {
  const double *values;
  int64_t count;
  double low, per_unit;  // Bin of a value: (value - low) per_unit.
  int64_t bins[NUM_BINS];
} histogram;

static int bin_of(const histogram *h, double value) {
  return (int)((value - h->low) * h->per_unit);
}

static void fill(histogram *h, const double *values, int64_t count) {
  double low = values[0], high = values[0];
  for (int64_t i = 1; i < count; i++) {
    low = cavum_min(low, values[i]);
    high = cavum_max(high, values[i]);
  }
  h->values = values;
  h->count = count;
  h->low = low;
  h->per_unit = high > low ? (NUM_BINS * (1.0 - 1e-12)) / (high - low) : 0.0;
  for (int i = 0; i < NUM_BINS; i++) h->bins[i] = 0;
  for (int64_t i = 0; i < count; i++) h->bins[bin_of(h, values[i])]++;
}

static int compare(const void *left, const void *right) {
  double a = *(const double *)left, b = *(const double *)right;
  return (a > b) - (a < b);
}

// Values of ranks [first, last] (from 0), sorted, into new memory.
static double *ranks(const histogram *h, int64_t first, int64_t last) {
  int64_t below = 0, inside = 0;
  int from = 0;
  while (below + h->bins[from] <= first) below += h->bins[from++];
  int to = from;
  inside = h->bins[from];
  while (below + inside <= last) inside += h->bins[++to];
  double *gathered = cavum_alloc(inside, sizeof *gathered);
  if (!gathered) return NULL;
  int64_t taken = 0;
  for (int64_t i = 0; i < h->count; i++) {
    int bin = bin_of(h, h->values[i]);
    if (bin >= from && bin <= to) gathered[taken++] = h->values[i];
  }
  qsort(gathered, (size_t)taken, sizeof *gathered, compare);
  for (int64_t i = first; i <= last; i++) gathered[i - first] = gathered[i - below];
  return gathered;
}

static cavum_status set_median(cavum_sample_intervals *out, const histogram *h,
                               cavum_error *error) {
  int64_t middle = (h->count - 1) / 2, other = h->count / 2;
  double *centre = ranks(h, middle, other);
  if (!centre) return cavum_fail_memory(error);
  out->median = 0.5 * (centre[0] + centre[other - middle]);
  free(centre);
  return CAVUM_OK;
}

cavum_status cavum_sample_make_intervals(cavum_sample_intervals *intervals, const double *values,
                                         int64_t count, double coverage, bool full,
                                         cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_sample_intervals out = {0};
  double *left = NULL, *right = NULL;
  histogram *h = cavum_alloc(1, sizeof *h);
  if (!h) return cavum_fail_memory(error);
  fill(h, values, count);
  int64_t inside = (int64_t)(coverage * (double)count + 0.5);
  inside = inside < 1 ? 1 : inside > count - 1 ? count - 1 : inside;
  int64_t outside = count - inside, side = outside / 2;
  int64_t tail = full ? outside : side + 1;
  left = ranks(h, 0, tail - 1);
  right = ranks(h, count - tail, count - 1);
  if (!left || !right) {
    status = cavum_fail_memory(error);
    goto done;
  }
  out.symmetric_low = left[side < tail ? side : tail - 1];
  int64_t upper = side + inside < count ? side + inside : count - 1;
  out.symmetric_high = right[upper - (count - tail)];
  if (full) {
    // Shortest of the intervals from rank r to rank r + inside.
    int64_t best = 0;
    for (int64_t r = 1; r < outside; r++) {
      if (right[r] - left[r] < right[best] - left[best]) best = r;
    }
    out.low = left[best];
    out.high = right[best];
    CAVUM_TRY(set_median(&out, h, error));
  }
  *intervals = out;
done:
  free(left);
  free(right);
  free(h);
  return status;
}
