// SPDX-License-Identifier: GPL-3.0-or-later
// Even and odd functions apart: tables of the first half of the points serve both halves.
#include "fem/line_sums.h"

#include "base/fast.h"

enum { HALF_MOST = (CAVUM_POINTS_MOST + 1) / 2 };

// The numbers of two corner functions to half their sum and half their difference, or the
// transpose.
CAVUM_FAST static void turn(cavum_lanes *restrict first, cavum_lanes *restrict second, int step,
                            int count, bool back) {
  for (int i = 0; i < count; i++, first += step, second += step) {
    cavum_lanes a = 0.5 * *first, b = 0.5 * *second;
    *first = back ? a - b : a + b;
    *second = back ? a + b : b - a;
  }
}

void cavum_line_turn(cavum_lanes *tensor, int n) {
  turn(tensor, tensor + 1, n, n, false);
  turn(tensor, tensor + n, 1, n, false);
}

void cavum_line_turn_back(cavum_lanes *tensor, int n) {
  turn(tensor, tensor + 1, n, n, true);
  turn(tensor, tensor + n, 1, n, true);
}

// A point of a line and its mirror image, from what its even and its odd functions make there.
static inline __attribute__((always_inline)) void store_both(cavum_lanes *point, cavum_lanes *image,
                                                             const cavum_sum *even,
                                                             const cavum_sum *odd,
                                                             const bool turned) {
  const cavum_sum sum = {even->low + odd->low, even->high + odd->high};
  const cavum_sum difference = {turned ? odd->low - even->low : even->low - odd->low,
                                turned ? odd->high - even->high : even->high - odd->high};
  cavum_sum_store(image, &difference);
  cavum_sum_store(point, &sum);  // the last one where the point is its own image
}

// A factor times x.
static inline __attribute__((always_inline)) cavum_sum begin(double factor, const cavum_lanes *x) {
  const cavum_half *halves = (const cavum_half *)x;
  return (cavum_sum){factor * halves[0], factor * halves[1]};
}

// The points c and c + 1 of a line and their images, or the point c alone.
static inline __attribute__((always_inline)) void reach_points(
    cavum_lanes *restrict out, const cavum_lanes *restrict in, const double *restrict t, int row,
    int c, int q, const cavum_lines *of, const int n, const bool turned, const bool two) {
  const int step_in = of->step_in, step_out = of->step_out;
  const double *t0 = t + c * row, *t1 = two ? t0 + row : t0;
  cavum_sum even0 = begin(t0[0], in), odd0 = begin(t0[1], in + step_in);
  cavum_sum even1 = begin(t1[0], in), odd1 = begin(t1[1], in + step_in);
  in += 2 * step_in;
  for (int k = 2; k < n; k += 2, in += 2 * step_in) {
    cavum_sum_add(&even0, t0[k], in);
    if (two) cavum_sum_add(&even1, t1[k], in);
    if (k + 1 == n) break;
    cavum_sum_add(&odd0, t0[k + 1], in + step_in);
    if (two) cavum_sum_add(&odd1, t1[k + 1], in + step_in);
  }
  store_both(out + c * step_out, out + (q - 1 - c) * step_out, &even0, &odd0, turned);
  if (two) {
    store_both(out + (c + 1) * step_out, out + (q - 2 - c) * step_out, &even1, &odd1, turned);
  }
}

static inline __attribute__((always_inline)) void to_points(cavum_lanes *restrict out,
                                                            const cavum_lanes *restrict in,
                                                            const double *restrict t, int row,
                                                            int q, const cavum_lines *of,
                                                            const bool turned, const int n) {
  for (int line = 0; line < of->count; line++, in += of->apart_in, out += of->apart_out) {
    int c = 0;
    for (; 2 * (c + 1) < q; c += 2) reach_points(out, in, t, row, c, q, of, n, turned, true);
    if (2 * c < q) reach_points(out, in, t, row, c, q, of, n, turned, false);
  }
}

// Sums and differences of what is at points and their images. The middle is its own image.
static inline __attribute__((always_inline)) void fold(cavum_lanes *restrict sum,
                                                       cavum_lanes *restrict difference,
                                                       const cavum_lanes *restrict in, int step,
                                                       int q) {
  const cavum_lanes *last = in + (q - 1) * step;
  int c = 0;
  for (; c < q / 2; c++, in += step, last -= step) {
    sum[c] = *in + *last;
    difference[c] = *in - *last;
  }
  if (q % 2 == 0) return;
  sum[c] = *in;
  difference[c] = (cavum_lanes){0};
}

// Sums k to k + 3 of a line, or `count` of them: over what is even and over what is odd in turn.
static inline __attribute__((always_inline)) void reach_sums(cavum_lanes *restrict out,
                                                             const cavum_lanes *restrict even,
                                                             const cavum_lanes *restrict odd,
                                                             const double *restrict t, int row,
                                                             int half, int step, const int count) {
  cavum_sum s0 = begin(t[0], even), s1 = begin(t[count > 1 ? 1 : 0], odd), s2 = s0, s3 = s1;
  if (count > 2) s2 = begin(t[2], even);
  if (count > 3) s3 = begin(t[3], odd);
  t += row;
  for (int c = 1; c < half; c++, t += row) {
    cavum_sum_add(&s0, t[0], &even[c]);
    if (count > 1) cavum_sum_add(&s1, t[1], &odd[c]);
    if (count > 2) cavum_sum_add(&s2, t[2], &even[c]);
    if (count > 3) cavum_sum_add(&s3, t[3], &odd[c]);
  }
  cavum_sum_store(out, &s0);
  if (count > 1) cavum_sum_store(out + step, &s1);
  if (count > 2) cavum_sum_store(out + 2 * step, &s2);
  if (count > 3) cavum_sum_store(out + 3 * step, &s3);
}

static inline __attribute__((always_inline)) void from_points(
    cavum_lanes *restrict out, const cavum_lanes *restrict in, const double *restrict t, int row,
    int q, const cavum_lines *of, bool turned, const int half, const int n) {
  cavum_lanes folded[2][HALF_MOST];
  const cavum_lanes *even = folded[turned ? 1 : 0], *odd = folded[turned ? 0 : 1];
  int step = of->step_out;
  for (int line = 0; line < of->count; line++, in += of->apart_in, out += of->apart_out) {
    cavum_lanes *to = out;
    int k = 0;
    fold(folded[0], folded[1], in, of->step_in, q);
    for (; k + 3 < n; k += 4, to += 4 * step) {
      reach_sums(to, even, odd, t + k, row, half, step, 4);
    }
    for (; k + 1 < n; k += 2, to += 2 * step) {
      reach_sums(to, even, odd, t + k, row, half, step, 2);
    }
    if (k < n) reach_sums(to, even, odd, t + k, row, half, step, 1);
  }
}

// Numbers of functions that most cells are solved with are compiled for.
CAVUM_FAST static void values_to_points(cavum_lanes *out, const cavum_lanes *in, const double *t,
                                        int row, int q, const cavum_lines *lines, int n) {
  const cavum_lines of = *lines;
  if (n == 6) {
    to_points(out, in, t, row, q, &of, false, 6);
  } else if (n == 7) {
    to_points(out, in, t, row, q, &of, false, 7);
  } else if (n == 8) {
    to_points(out, in, t, row, q, &of, false, 8);
  } else if (n == 9) {
    to_points(out, in, t, row, q, &of, false, 9);
  } else {
    to_points(out, in, t, row, q, &of, false, n);
  }
}

CAVUM_FAST static void derivatives_to_points(cavum_lanes *out, const cavum_lanes *in,
                                             const double *t, int row, int q,
                                             const cavum_lines *lines, int n) {
  const cavum_lines of = *lines;
  if (n == 6) {
    to_points(out, in, t, row, q, &of, true, 6);
  } else if (n == 7) {
    to_points(out, in, t, row, q, &of, true, 7);
  } else if (n == 8) {
    to_points(out, in, t, row, q, &of, true, 8);
  } else if (n == 9) {
    to_points(out, in, t, row, q, &of, true, 9);
  } else {
    to_points(out, in, t, row, q, &of, true, n);
  }
}

// So are they on the way back, with the usual rule.
CAVUM_FAST static void all_from_points(cavum_lanes *out, const cavum_lanes *in, const double *t,
                                       int row, int q, const cavum_lines *lines, bool turned,
                                       int n) {
  const cavum_lines of = *lines;
  int half = (q + 1) / 2, usual = q == n + CAVUM_EXTRA_POINTS ? n : 0;
  if (usual == 6) {
    from_points(out, in, t, row, q, &of, turned, 4, 6);
  } else if (usual == 7) {
    from_points(out, in, t, row, q, &of, turned, 4, 7);
  } else if (usual == 8) {
    from_points(out, in, t, row, q, &of, turned, 5, 8);
  } else if (usual == 9) {
    from_points(out, in, t, row, q, &of, turned, 5, 9);
  } else {
    from_points(out, in, t, row, q, &of, turned, half, n);
  }
}

void cavum_line_to_points(cavum_lanes *out, const cavum_lanes *in, const cavum_lines *lines,
                          const cavum_reference *reference, int n, cavum_line_part part) {
  int row = reference->n, q = reference->q;
  if (part == CAVUM_LINE_VALUE) {
    values_to_points(out, in, reference->line_value, row, q, lines, n);
  } else {
    derivatives_to_points(out, in, reference->line_derivative, row, q, lines, n);
  }
}

void cavum_line_from_points(cavum_lanes *out, const cavum_lanes *in, const cavum_lines *lines,
                            const cavum_reference *reference, int n, cavum_line_part part) {
  bool turned = part == CAVUM_LINE_DERIVATIVE;
  all_from_points(out, in, turned ? reference->line_derivative : reference->line_value,
                  reference->n, reference->q, lines, turned, n);
}
