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

// Columns of the forward half that pass over the rows together.
enum { COLUMNS = 4 };

// What one, two or four columns take from rows of others, for all right-hand sides: two at a time.
static inline __attribute__((always_inline)) void subtract_columns(
    cavum_lanes *restrict rows, const cavum_lanes *const *column, int num_rows,
    cavum_lanes (*x)[CAVUM_RHS_MOST], const int width, const int count) {
  for (int i = 0; i < num_rows; i++) {
    for (int r = 0; r < count; r++) {
      cavum_lanes rest = rows[i * count + r], sum = column[0][i] * x[0][r];
      if (width > 1) sum += column[1][i] * x[1][r];
      rest -= sum;
      if (width > 2) rest -= column[2][i] * x[2][r] + column[3][i] * x[3][r];
      rows[i * count + r] = rest;
    }
  }
}

static inline __attribute__((always_inline)) void forward_step(cavum_lanes *restrict own,
                                                               cavum_lanes *restrict border,
                                                               const panels *p, int c,
                                                               const int width, const int count) {
  const cavum_lanes *column[COLUMNS], *in_own[COLUMNS], *in_border[COLUMNS];
  cavum_lanes x[COLUMNS][CAVUM_RHS_MOST];
  int next = c + width;
  for (int k = 0; k < width; k++) {
    column[k] = p->A + cavum_packed_column(p->all, c + k);
    in_own[k] = column[k] + next;
    in_border[k] = column[k] + p->interior;
    for (int r = 0; r < count; r++) {
      cavum_lanes value = own[(c + k) * count + r];
      if (k > 1) value -= column[0][c + k] * x[0][r] + column[1][c + k] * x[1][r];
      if (k % 2) value -= column[k - 1][c + k] * x[k - 1][r];
      own[(c + k) * count + r] = x[k][r] = value;
    }
  }
  subtract_columns(own + next * count, in_own, p->own - next, x, width, count);
  subtract_columns(border, in_border, p->skeleton, x, width, count);
}

static inline __attribute__((always_inline)) void forward(cavum_lanes *restrict own,
                                                          cavum_lanes *restrict border,
                                                          const panels *p, const int count) {
  for (int a = 0; a < p->skeleton * count; a++) border[a] = (cavum_lanes){0};
  int c = 0;
  for (; c + COLUMNS <= p->own; c += COLUMNS) forward_step(own, border, p, c, COLUMNS, count);
  for (; c + 1 < p->own; c += 2) forward_step(own, border, p, c, 2, count);
  if (c < p->own) forward_step(own, border, p, c, 1, count);
  for (c = 0; c < p->own; c++) {
    cavum_lanes inverse = 1.0 / p->A[cavum_packed_column(p->all, c) + (size_t)c];
    for (int r = 0; r < count; r++) own[c * count + r] *= inverse;
  }
}

// Adds the products of a column with so many rows, one half of the lanes; rows take turns in two
// sums.
static inline __attribute__((always_inline)) void add_rows(cavum_half *restrict s0,
                                                           cavum_half *restrict s1,
                                                           const cavum_lanes *restrict column,
                                                           const cavum_lanes *restrict rows,
                                                           int num_rows, int h, const int count) {
  const cavum_half *c = (const cavum_half *)column + h, *x = (const cavum_half *)rows + h;
  int i = 0;
  for (; i + 1 < num_rows; i += 2, c += 4) {
    for (int r = 0; r < count; r++) {
      s0[r] += c[0] * x[2 * (i * count + r)];
      s1[r] += c[2] * x[2 * ((i + 1) * count + r)];
    }
  }
  for (int r = 0; i < num_rows && r < count; r++) s0[r] += c[0] * x[2 * (i * count + r)];
}

// Of whole lanes.
static inline __attribute__((always_inline)) void add_rows_wide(cavum_lanes *restrict s0,
                                                                cavum_lanes *restrict s1,
                                                                const cavum_lanes *restrict column,
                                                                const cavum_lanes *restrict rows,
                                                                int num_rows, const int count) {
  int i = 0;
  for (; i + 1 < num_rows; i += 2, column += 2) {
    for (int r = 0; r < count; r++) {
      s0[r] += column[0] * rows[i * count + r];
      s1[r] += column[1] * rows[(i + 1) * count + r];
    }
  }
  for (int r = 0; i < num_rows && r < count; r++) s0[r] += column[0] * rows[i * count + r];
}

static inline __attribute__((always_inline)) void backward_step(cavum_lanes *restrict own,
                                                                const cavum_lanes *restrict border,
                                                                const cavum_lanes *restrict column,
                                                                const panels *p, int c,
                                                                const int count) {
  const cavum_lanes *later = own + (c + 1) * count;
  for (int h = 0; h < 2; h++) {
    cavum_half s0[CAVUM_RHS_MOST], s1[CAVUM_RHS_MOST];
    for (int r = 0; r < count; r++) s0[r] = s1[r] = (cavum_half){0};
    add_rows(s0, s1, column + c + 1, later, p->own - c - 1, h, count);
    add_rows(s0, s1, column + p->interior, border, p->skeleton, h, count);
    cavum_half *to = (cavum_half *)(own + c * count) + h;
    for (int r = 0; r < count; r++) to[2 * r] -= s0[r] + s1[r];
  }
}

static inline __attribute__((always_inline)) void backward_step_wide(
    cavum_lanes *restrict own, const cavum_lanes *restrict border,
    const cavum_lanes *restrict column, const panels *p, int c, const int count) {
  const cavum_lanes *later = own + (c + 1) * count;
  cavum_lanes s0[CAVUM_RHS_MOST], s1[CAVUM_RHS_MOST];
  for (int r = 0; r < count; r++) s0[r] = s1[r] = (cavum_lanes){0};
  add_rows_wide(s0, s1, column + c + 1, later, p->own - c - 1, count);
  add_rows_wide(s0, s1, column + p->interior, border, p->skeleton, count);
  for (int r = 0; r < count; r++) own[c * count + r] -= s0[r] + s1[r];
}

static inline __attribute__((always_inline)) void backward(cavum_lanes *restrict own,
                                                           const cavum_lanes *restrict border,
                                                           const panels *p, const bool wide,
                                                           const int count) {
  for (int c = p->own - 1; c >= 0; c--) {
    const cavum_lanes *column = p->A + cavum_packed_column(p->all, c);
    if (wide) {
      backward_step_wide(own, border, column, p, c, count);
    } else {
      backward_step(own, border, column, p, c, count);
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
  CAVUM_FOR_RHS(backward, count, own, border, p, false);
}

CAVUM_WIDE static void backward_of_count_wide(cavum_lanes *restrict own,
                                              const cavum_lanes *restrict border, const panels *p,
                                              int count) {
  CAVUM_FOR_RHS(backward, count, own, border, p, true);
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
  if (cavum_is_wide()) {
    backward_of_count_wide(own, border, &p, count);
  } else {
    backward_of_count(own, border, &p, count);
  }
}
