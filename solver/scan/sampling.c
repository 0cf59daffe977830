// SPDX-License-Identifier: GPL-3.0-or-later
// Grids, low-discrepancy sequences of GSL, and Latin hypercubes without a stored permutation.
//
// A worker takes batches in rising order, so the sequences of GSL, which only step forward, are
// stepped to the point wanted: a few nanoseconds a point and axis. A Latin hypercube needs one
// permutation of N an axis: a keyed Feistel network on the smallest even number of bits that holds
// N, applied until the result is below N ("cycle walking"), is a permutation of N that needs no
// memory, so a worker's size does not grow with the study.
#include "scan/sampling.h"

#include <gsl/gsl_rng.h>
#include <math.h>

#include "base/base.h"

// The Sobol sequence of GSL has 30 bits, that of Halton counts in an unsigned int.
static const int64_t LONGEST_SEQUENCE = (INT64_C(1) << 30) - 1;
enum { FEISTEL_ROUNDS = 6 };

static cavum_status count_grid(cavum_sampling *sampling, cavum_error *error) {
  double all = 1.0;
  for (int i = 0; i < sampling->num_axes; i++) all *= (double)sampling->axes[i].num_points;
  if (all > (double)CAVUM_SAMPLING_MOST_POINTS) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "sampling: the grid has %.15g shapes, the product of the points of all that "
                      "varies; a study has at most %lld",
                      all, (long long)CAVUM_SAMPLING_MOST_POINTS);
  }
  sampling->num_points = cavum_whole(all, 0);
  return CAVUM_OK;
}

static cavum_status start_sequence(cavum_sampling *sampling, cavum_error *error) {
  const gsl_qrng_type *type =
      sampling->kind == CAVUM_SAMPLING_SOBOL ? gsl_qrng_sobol : gsl_qrng_halton;
  if (sampling->num_points > LONGEST_SEQUENCE) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "sampling.points: the sequence has %lld points",
                      (long long)LONGEST_SEQUENCE);
  }
  if (!CAVUM_HOLDS((unsigned)sampling->num_axes <= type->max_dimension))
    return cavum_fail_internal(error, "more axes than a sequence has");
  sampling->sequence = gsl_qrng_alloc(type, (unsigned)sampling->num_axes);
  return sampling->sequence ? CAVUM_OK : cavum_fail_memory(error);
}

// Shifts and keys from a generator of GSL, so that they are the same everywhere.
static cavum_status draw(cavum_sampling *sampling, cavum_error *error) {
  gsl_rng *generator = gsl_rng_alloc(gsl_rng_mt19937);
  if (!generator) return cavum_fail_memory(error);
  gsl_rng_set(generator, (unsigned long)(sampling->seed & 0xffffffffU));
  for (int i = 0; i < sampling->num_axes; i++) {
    uint64_t high = gsl_rng_get(generator), low = gsl_rng_get(generator);
    sampling->keys[i] = high << 32 ^ low;
    sampling->shifts[i] = sampling->seed ? gsl_rng_uniform(generator) : 0.0;
  }
  gsl_rng_free(generator);
  return CAVUM_OK;
}

cavum_status cavum_sampling_prepare(cavum_sampling *sampling, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool sequence = sampling->kind == CAVUM_SAMPLING_SOBOL || sampling->kind == CAVUM_SAMPLING_HALTON;
  sampling->shifts = cavum_alloc(sampling->num_axes, sizeof *sampling->shifts);
  sampling->keys = cavum_alloc(sampling->num_axes, sizeof *sampling->keys);
  if (!sampling->shifts || !sampling->keys) return cavum_fail_memory(error);
  if (sampling->kind == CAVUM_SAMPLING_GRID) CAVUM_TRY(count_grid(sampling, error));
  if (sequence) CAVUM_TRY(start_sequence(sampling, error));
  if (sampling->num_points > CAVUM_SAMPLING_MOST_POINTS) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT,
                         "sampling.points: found %lld; a study has at most %lld shapes",
                         (long long)sampling->num_points, (long long)CAVUM_SAMPLING_MOST_POINTS));
  }
  CAVUM_TRY(draw(sampling, error));
done:
  return status;
}

void cavum_sampling_clear(cavum_sampling *sampling) {
  for (int i = 0; sampling->axes && i < sampling->num_axes; i++) free(sampling->axes[i].list);
  free(sampling->axes);
  free(sampling->shifts);
  free(sampling->keys);
  if (sampling->sequence) gsl_qrng_free(sampling->sequence);
  *sampling = (cavum_sampling){0};
}

// Mixes 64 bits; the finaliser of splitmix64 [Steele2014].
static uint64_t mix(uint64_t x) {
  x += UINT64_C(0x9e3779b97f4a7c15);
  x = (x ^ x >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
  x = (x ^ x >> 27) * UINT64_C(0x94d049bb133111eb);
  return x ^ x >> 31;
}

static uint64_t feistel(uint64_t x, int half_bits, uint64_t key) {
  uint64_t mask = (UINT64_C(1) << half_bits) - 1;
  uint64_t left = x >> half_bits, right = x & mask;
  for (uint64_t round = 0; round < FEISTEL_ROUNDS; round++) {
    uint64_t next = left ^ (mix(right ^ mix(key + round)) & mask);
    left = right;
    right = next;
  }
  return left << half_bits | right;
}

static uint64_t permuted(uint64_t index, uint64_t count, uint64_t key) {
  int half_bits = 1;
  while (half_bits < 31 && UINT64_C(1) << (2 * half_bits) < count) half_bits++;
  do {
    index = feistel(index, half_bits, key);
  } while (index >= count);
  return index;
}

// Place in its slice of the axis, in [0, 1).
static double jitter(uint64_t index, uint64_t key) {
  return (double)(mix(index ^ mix(~key)) >> 11) * 0x1p-53;
}

static double value_on(const cavum_axis *axis, double fraction) {
  if (!axis->list) return axis->low + fraction * (axis->high - axis->low);
  int64_t index = (int64_t)(fraction * (double)axis->num_points);
  return axis->list[index < axis->num_points ? index : axis->num_points - 1];
}

static void grid_point(double *values, const cavum_sampling *sampling, int64_t point) {
  for (int i = sampling->num_axes - 1; i >= 0; i--) {
    const cavum_axis *axis = &sampling->axes[i];
    int64_t step = point % axis->num_points;
    point /= axis->num_points;
    if (axis->list) {
      values[i] = axis->list[step];
    } else if (axis->num_points == 1) {
      values[i] = axis->low;
    } else {
      // Weighted from both ends, so that both are met exactly.
      double weight = (double)step / (double)(axis->num_points - 1);
      values[i] = (1.0 - weight) * axis->low + weight * axis->high;
    }
  }
}

// Steps to a point of the sequence of GSL, which leaves the origin out.
static void step_to(double *fractions, cavum_sampling *sampling, int64_t point) {
  if (point < sampling->next) {
    gsl_qrng_init(sampling->sequence);
    sampling->next = 0;
  }
  while (sampling->next <= point) {
    gsl_qrng_get(sampling->sequence, fractions);
    sampling->next++;
  }
}

// A digital shift: exclusive or of the binary digits. Other than a shift modulo 1 it keeps what
// makes a net of 2^k points, each dyadic box as full as any other [Owen2022].
static double shift_digits(double fraction, double shift) {
  uint64_t digits = (uint64_t)ldexp(fraction, 53) ^ (uint64_t)ldexp(shift, 53);
  return ldexp((double)digits, -53);
}

// The origin is the first point of the sequence of Sobol: without it, 2^k points are no net.
static void sobol_point(double *values, cavum_sampling *sampling, int64_t point) {
  for (int i = 0; i < sampling->num_axes; i++) values[i] = 0.0;
  if (point > 0) step_to(values, sampling, point - 1);
  for (int i = 0; i < sampling->num_axes; i++) {
    values[i] = value_on(&sampling->axes[i], shift_digits(values[i], sampling->shifts[i]));
  }
}

static void halton_point(double *values, cavum_sampling *sampling, int64_t point) {
  step_to(values, sampling, point);
  for (int i = 0; i < sampling->num_axes; i++) {
    double fraction = values[i] + sampling->shifts[i];
    values[i] = value_on(&sampling->axes[i], fraction - floor(fraction));
  }
}

void cavum_sampling_point(double *values, cavum_sampling *sampling, int64_t point) {
  CAVUM_ASSERT(point >= 0 && point < sampling->num_points);
  if (sampling->kind == CAVUM_SAMPLING_GRID) {
    grid_point(values, sampling, point);
    return;
  }
  if (sampling->kind == CAVUM_SAMPLING_SOBOL) {
    sobol_point(values, sampling, point);
    return;
  }
  if (sampling->sequence) {
    halton_point(values, sampling, point);
    return;
  }
  uint64_t count = (uint64_t)sampling->num_points;
  for (int i = 0; i < sampling->num_axes; i++) {
    uint64_t slice = permuted((uint64_t)point, count, sampling->keys[i]);
    double fraction = ((double)slice + jitter((uint64_t)point, sampling->keys[i])) / (double)count;
    values[i] = value_on(&sampling->axes[i], fraction);
  }
}
