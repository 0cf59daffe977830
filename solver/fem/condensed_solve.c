// SPDX-License-Identifier: GPL-3.0-or-later
// The two halves of a solve in element interiors, one element to a lane, for all right-hand sides.
#include "fem/condensed_solve.h"

#include "base/fast.h"

// Where the panels of a batch are, and the sizes at a level.
typedef struct panels {
  const cavum_lanes *A;
  int all, own, interior, skeleton;
} panels;

static panels panels_of(const cavum_condensed *c, int level, cavum_index b) {
  int corners = c->discretisation->batches[b].num_corners;
  int degree = c->discretisation->reference->degree, all = cavum_shape_count(corners, degree);
  int skeleton = cavum_shape_count_skeleton(corners, degree);
  return (panels){c->matrices + c->first_matrix[b], all,
                  c->levels[level].interior[cavum_condensed_kind(corners)], all - skeleton,
                  skeleton};
}

// Two columns of the forward half, or one, for all right-hand sides.
static inline __attribute__((always_inline)) void forward_step(cavum_lanes *restrict own,
                                                               cavum_lanes *restrict border,
                                                               const panels *p, int c, bool two,
                                                               const int count) {
  const cavum_lanes *p0 = p->A + cavum_packed_column(p->all, c);
  const cavum_lanes *p1 = two ? p->A + cavum_packed_column(p->all, c + 1) : p0;
  cavum_lanes x0[CAVUM_RHS_MOST], x1[CAVUM_RHS_MOST];
  for (int r = 0; r < count; r++) {
    x0[r] = own[c * count + r];
    x1[r] = (cavum_lanes){0};
    if (two) own[(c + 1) * count + r] = x1[r] = own[(c + 1) * count + r] - p0[c + 1] * x0[r];
  }
  for (int i = c + 2; i < p->own; i++) {
    for (int r = 0; r < count; r++) own[i * count + r] -= p0[i] * x0[r] + p1[i] * x1[r];
  }
  p0 += p->interior;
  p1 += p->interior;
  for (int a = 0; a < p->skeleton; a++) {
    for (int r = 0; r < count; r++) border[a * count + r] -= p0[a] * x0[r] + p1[a] * x1[r];
  }
}

static inline __attribute__((always_inline)) void forward(cavum_lanes *restrict own,
                                                          cavum_lanes *restrict border,
                                                          const panels *p, const int count) {
  for (int a = 0; a < p->skeleton * count; a++) border[a] = (cavum_lanes){0};
  int c = 0;
  for (; c + 1 < p->own; c += 2) forward_step(own, border, p, c, true, count);
  if (c < p->own) forward_step(own, border, p, c, false, count);
  for (c = 0; c < p->own; c++) {
    cavum_lanes inverse = 1.0 / p->A[cavum_packed_column(p->all, c) + (size_t)c];
    for (int r = 0; r < count; r++) own[c * count + r] *= inverse;
  }
}

// One column of the backward half, for one half of the lanes.
static inline __attribute__((always_inline)) void backward_step(
    cavum_half *restrict own, const cavum_half *restrict border, const cavum_half *restrict column,
    const cavum_half *restrict below, int c, int num_own, int skeleton, const int count) {
  cavum_half s0[CAVUM_RHS_MOST] = {{0}}, s1[CAVUM_RHS_MOST] = {{0}};
  int i = c + 1, a = 0;
  for (; i + 1 < num_own; i += 2) {
    for (int r = 0; r < count; r++) {
      s0[r] += column[2 * i] * own[2 * (i * count + r)];
      s1[r] += column[2 * (i + 1)] * own[2 * ((i + 1) * count + r)];
    }
  }
  for (int r = 0; i < num_own && r < count; r++) s0[r] += column[2 * i] * own[2 * (i * count + r)];
  for (; a + 1 < skeleton; a += 2) {
    for (int r = 0; r < count; r++) {
      s0[r] += below[2 * a] * border[2 * (a * count + r)];
      s1[r] += below[2 * (a + 1)] * border[2 * ((a + 1) * count + r)];
    }
  }
  for (int r = 0; a < skeleton && r < count; r++) {
    s0[r] += below[2 * a] * border[2 * (a * count + r)];
  }
  for (int r = 0; r < count; r++) own[2 * (c * count + r)] -= s0[r] + s1[r];
}

static inline __attribute__((always_inline)) void backward(cavum_lanes *restrict own,
                                                           const cavum_lanes *restrict border,
                                                           const panels *p, const int count) {
  for (int c = p->own - 1; c >= 0; c--) {
    const cavum_lanes *column = p->A + cavum_packed_column(p->all, c);
    const cavum_lanes *below = column + p->interior;
    for (int h = 0; h < 2; h++) {
      backward_step((cavum_half *)own + h, (const cavum_half *)border + h,
                    (const cavum_half *)column + h, (const cavum_half *)below + h, c, p->own,
                    p->skeleton, count);
    }
  }
}

CAVUM_FAST static void forward_of_count(cavum_lanes *restrict own, cavum_lanes *restrict border,
                                        const panels *p, int count) {
  CAVUM_FOR_RHS(forward, count, own, border, p);
}

CAVUM_FAST static void backward_of_count(cavum_lanes *restrict own,
                                         const cavum_lanes *restrict border, const panels *p,
                                         int count) {
  CAVUM_FOR_RHS(backward, count, own, border, p);
}

void cavum_condensed_forward(cavum_lanes *restrict own, cavum_lanes *restrict border,
                             const cavum_condensed *condensed, int level, cavum_index batch,
                             int count) {
  panels p = panels_of(condensed, level, batch);
  forward_of_count(own, border, &p, count);
}

void cavum_condensed_backward(cavum_lanes *restrict own, const cavum_lanes *restrict border,
                              const cavum_condensed *condensed, int level, cavum_index batch,
                              int count) {
  panels p = panels_of(condensed, level, batch);
  backward_of_count(own, border, &p, count);
}
