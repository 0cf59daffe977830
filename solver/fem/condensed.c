// SPDX-License-Identifier: GPL-3.0-or-later
// Elimination of element interiors, one element to a lane. No pivoting: inside one element
// K - shift M is positive definite unless the element is large against the wavelength of the shift;
// pivots that come out small or negative are watched for growth.
#include "fem/condensed.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"
#include "base/threads.h"
#include "fem/element_matrix.h"

enum { PANEL = 4 };
// Batches that a thread takes at a time.
enum { PIECE = 64 };
// A pivot that lost this part of its diagonal entry starts the watch; growth of a diagonal entry by
// the other factor costs as many digits and is refused.
static const double WATCH_BELOW = 1e-6, GROWTH_MOST = 1e7;

static void set_level(cavum_condensed_level *level, int degree, int highest) {
  level->degree = degree;
  level->stride = 4 * degree;
  for (int corners = 3; corners <= 4; corners++) {
    int kind = cavum_condensed_kind(corners), at = 0;
    level->interior[kind] =
        cavum_shape_count(corners, degree) - cavum_shape_count_skeleton(corners, degree);
    for (int k = 0; k < corners; k++) level->row[kind][at++] = k;
    for (int edge = 0; edge < corners; edge++) {
      for (int m = 0; m < degree - 1; m++) {
        level->row[kind][at++] = corners + edge * (highest - 1) + m;
      }
    }
  }
}

// Where every element is, for matrices that are worked out when they are needed.
static bool list_places(cavum_condensed *c) {
  const cavum_discretisation *d = c->discretisation;
  c->place = cavum_alloc(d->mesh->num_elements, sizeof *c->place);
  for (cavum_index b = 0; c->place && b < d->num_batches; b++) {
    for (int l = 0; l < d->batches[b].count; l++) {
      c->place[d->batches[b].element[l]] = b * CAVUM_LANES + l;
    }
  }
  return c->place;
}

cavum_status cavum_condensed_create(cavum_condensed *condensed, const cavum_discretisation *d,
                                    int num_levels, cavum_error *error) {
  int degree = d->reference->degree;
  int64_t count = 0, square;
  bool have = true;
  cavum_condensed c = {.discretisation = d, .num_levels = num_levels};
  if (!CAVUM_HOLDS(num_levels >= 1 && num_levels <= CAVUM_LEVELS_MOST && degree >= num_levels))
    return cavum_fail_internal(error, "degrees of one elimination");
  c.first_matrix = cavum_alloc(d->num_batches, sizeof *c.first_matrix);
  for (cavum_index b = 0; c.first_matrix && b < d->num_batches; b++) {
    c.first_matrix[b] = count;
    count += (int64_t)cavum_packed_count(cavum_shape_count(d->batches[b].num_corners, degree));
  }
  c.matrices = cavum_alloc_aligned(count, sizeof *c.matrices);
  for (int l = 0; l < num_levels; l++) {
    set_level(&c.levels[l], degree - l, degree);
    if (d->is_large) continue;
    square = (int64_t)c.levels[l].stride * c.levels[l].stride;
    c.levels[l].schur = cavum_alloc_aligned(d->mesh->num_elements * square, sizeof(double));
    have = have && c.levels[l].schur;
  }
  have = have && (!d->is_large || list_places(&c));
  *condensed = c;
  if (have && c.first_matrix && c.matrices) return CAVUM_OK;
  cavum_condensed_clear(condensed);
  return cavum_fail_memory(error);
}

void cavum_condensed_clear(cavum_condensed *condensed) {
  if (!condensed) return;
  free(condensed->first_matrix);
  free(condensed->place);
  free(condensed->matrices);
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) free(condensed->levels[l].schur);
  memset(condensed, 0, sizeof *condensed);
}

// One elimination under way.
typedef struct elimination {
  cavum_lanes *A;  // packed
  int all, count;  // rows; lanes in use
  bool watch, unsafe;
  int64_t num_negative;
} elimination;

static cavum_lanes *column_of(const elimination *x, int c) {
  return x->A + cavum_packed_column(x->all, c);
}

// Counts a column's pivots and, once something looked wrong, checks what its elimination does to
// the diagonal.
static void check_pivot(elimination *x, int c, const cavum_lanes *before) {
  const cavum_lanes *column = column_of(x, c);
  for (int l = 0; l < x->count; l++) {
    double pivot = column[c][l];
    if (pivot < 0.0) x->num_negative++;
    if (!(pivot > WATCH_BELOW * before[0][l])) x->watch = true;
    if (!(fabs(pivot) > 0.0)) x->unsafe = true;
  }
  if (!x->watch) return;
  for (int i = c + 1; i < x->all; i++) {
    const cavum_lanes *diagonal = &column_of(x, i)[i];
    for (int l = 0; l < x->count; l++) {
      double taken = fabs(column[i][l] * column[i][l] / column[c][l]);
      if (!(taken <= GROWTH_MOST * fabs((*diagonal)[l]))) x->unsafe = true;
    }
  }
}

// Columns j .. j + width with the columns before already applied: L below, D on the diagonal.
CAVUM_FAST static void factorise_panel(cavum_lanes *restrict A, int all, int c, int j,
                                       bool divide) {
  cavum_lanes *column = A + cavum_packed_column(all, c);
  if (!divide) {
    for (int b = j; b < c; b++) {
      const cavum_lanes *before = A + cavum_packed_column(all, b);
      cavum_lanes factor = before[c] * before[b];  // L(c,b) D(b)
      for (int i = c; i < all; i++) column[i] -= before[i] * factor;
    }
    return;
  }
  cavum_lanes inverse = 1.0 / column[c];
  for (int i = c + 1; i < all; i++) column[i] *= inverse;
}

// Columns from `from` on minus their share of four pivots, two columns at a time.
CAVUM_FAST static void update_rest(cavum_lanes *restrict A, int all, int j, int from) {
  const cavum_lanes *p0 = A + cavum_packed_column(all, j);
  const cavum_lanes *p1 = A + cavum_packed_column(all, j + 1);
  const cavum_lanes *p2 = A + cavum_packed_column(all, j + 2);
  const cavum_lanes *p3 = A + cavum_packed_column(all, j + 3);
  cavum_lanes d0 = p0[j], d1 = p1[j + 1], d2 = p2[j + 2], d3 = p3[j + 3];
  int c = from;
  for (; c + 1 < all; c += 2) {
    cavum_lanes *restrict x = A + cavum_packed_column(all, c);
    cavum_lanes *restrict y = A + cavum_packed_column(all, c + 1);
    cavum_lanes x0 = p0[c] * d0, x1 = p1[c] * d1, x2 = p2[c] * d2, x3 = p3[c] * d3;
    cavum_lanes y0 = p0[c + 1] * d0, y1 = p1[c + 1] * d1, y2 = p2[c + 1] * d2, y3 = p3[c + 1] * d3;
    x[c] -= p0[c] * x0 + p1[c] * x1 + p2[c] * x2 + p3[c] * x3;
    for (int i = c + 1; i < all; i++) {
      cavum_lanes l0 = p0[i], l1 = p1[i], l2 = p2[i], l3 = p3[i];
      x[i] -= l0 * x0 + l1 * x1 + l2 * x2 + l3 * x3;
      y[i] -= l0 * y0 + l1 * y1 + l2 * y2 + l3 * y3;
    }
  }
  if (c < all) {
    cavum_lanes *x = A + cavum_packed_column(all, c);
    x[c] -= p0[c] * p0[c] * d0 + p1[c] * p1[c] * d1 + p2[c] * p2[c] * d2 + p3[c] * p3[c] * d3;
  }
}

// The same for a panel of fewer columns.
CAVUM_FAST static void update_rest_narrow(cavum_lanes *restrict A, int all, int j, int width,
                                          int from) {
  for (int b = j; b < j + width; b++) {
    const cavum_lanes *p = A + cavum_packed_column(all, b);
    for (int c = from; c < all; c++) {
      cavum_lanes *restrict x = A + cavum_packed_column(all, c);
      cavum_lanes factor = p[c] * p[b];
      for (int i = c; i < all; i++) x[i] -= p[i] * factor;
    }
  }
}

static void eliminate_columns(elimination *x, int from, int end) {
  for (int j = from; j < end; j += PANEL) {
    int width = end - j < PANEL ? end - j : PANEL;
    for (int c = j; c < j + width; c++) {
      cavum_lanes before = column_of(x, c)[c];
      factorise_panel(x->A, x->all, c, j, false);
      check_pivot(x, c, &before);
      factorise_panel(x->A, x->all, c, j, true);
    }
    if (width == PANEL) {
      update_rest(x->A, x->all, j, j + width);
    } else {
      update_rest_narrow(x->A, x->all, j, width, j + width);
    }
  }
}

// Condensed matrices of one level, each to its element.
static void store_level(const cavum_condensed_level *level, const cavum_discretisation *d,
                        const cavum_batch *batch, const elimination *x) {
  int kind = cavum_condensed_kind(batch->num_corners),
      skeleton = batch->num_corners * level->degree;
  int interior = x->all - batch->num_corners * d->reference->degree;
  const cavum_lanes *sign = d->sign + batch->first_sign;
  double *to[CAVUM_LANES];
  size_t square = (size_t)level->stride * (size_t)level->stride;
  for (int l = 0; l < batch->count; l++) to[l] = level->schur + (size_t)batch->element[l] * square;
  for (int b = 0; b < skeleton; b++) {
    int row_b = level->row[kind][b];
    const cavum_lanes *column = column_of(x, interior + row_b) + interior;
    for (int a = b; a < skeleton; a++) {
      int row_a = level->row[kind][a];  // rises with a
      cavum_lanes value = column[row_a] * sign[row_a] * sign[row_b];
      size_t at = (size_t)b * (size_t)level->stride + (size_t)a;
      size_t across = (size_t)a * (size_t)level->stride + (size_t)b;
      for (int l = 0; l < batch->count; l++) to[l][at] = to[l][across] = value[l];
    }
  }
}

// What one thread sums up, and its work space.
typedef struct tally {
  int64_t num_negative[CAVUM_LEVELS_MOST];
  bool unsafe;
  cavum_lanes *scratch;
} tally;

static void eliminate_batch(const cavum_condensed *c, cavum_index b, tally *sum) {
  const cavum_discretisation *d = c->discretisation;
  const cavum_batch *batch = &d->batches[b];
  int kind = cavum_condensed_kind(batch->num_corners), done = 0;
  elimination x = {.A = c->matrices + c->first_matrix[b],
                   .all = cavum_shape_count(batch->num_corners, d->reference->degree),
                   .count = batch->count};
  cavum_element_matrices(x.A, d, b, c->shift_per_m2, sum->scratch);
  for (int l = c->num_levels - 1; l >= 0; l--) {
    eliminate_columns(&x, done, c->levels[l].interior[kind]);
    done = c->levels[l].interior[kind];
    sum->num_negative[l] += x.num_negative;
    if (c->levels[l].schur) store_level(&c->levels[l], d, batch, &x);
  }
  sum->unsafe = sum->unsafe || x.unsafe;
}

// An elimination of all batches under way.
typedef struct batches_to_eliminate {
  const cavum_condensed *condensed;
  tally *of_worker;
} batches_to_eliminate;

static void eliminate_some(void *context, int64_t from, int64_t end, int worker) {
  const batches_to_eliminate *all = context;
  tally mine = all->of_worker[worker];
  for (int64_t b = from; b < end; b++) {
    eliminate_batch(all->condensed, (cavum_index)b, &mine);
  }
  all->of_worker[worker] = mine;
}

cavum_status cavum_condensed_eliminate(cavum_condensed *condensed, double shift_per_m2,
                                       cavum_error *error) {
  const cavum_discretisation *d = condensed->discretisation;
  tally of_worker[CAVUM_THREADS_MOST] = {0};
  batches_to_eliminate all = {condensed, of_worker};
  int workers = cavum_threads_count();
  int64_t size = cavum_element_matrix_scratch(d->reference);
  if (condensed->eliminated && condensed->shift_per_m2 == shift_per_m2) return CAVUM_OK;
  cavum_lanes *scratch = cavum_alloc_aligned(workers * size, sizeof *scratch);
  if (!scratch) return cavum_fail_memory(error);
  for (int w = 0; w < workers; w++) of_worker[w].scratch = scratch + w * size;
  condensed->shift_per_m2 = shift_per_m2;
  condensed->eliminated = true;
  condensed->generation++;
  condensed->unsafe = false;
  for (int l = 0; l < condensed->num_levels; l++) condensed->levels[l].num_negative = 0;
  cavum_threads_run(eliminate_some, &all, d->num_batches, PIECE, workers);
  for (int w = 0; w < workers; w++) {
    condensed->unsafe = condensed->unsafe || of_worker[w].unsafe;
    for (int l = 0; l < condensed->num_levels; l++) {
      condensed->levels[l].num_negative += of_worker[w].num_negative[l];
    }
  }
  free(scratch);
  cavum_status status = cavum_stop_check(error);
  if (status != CAVUM_OK) condensed->eliminated = false;
  return status;
}

void cavum_condensed_take(double *restrict schur, const cavum_condensed *c, int level,
                          cavum_index element) {
  const cavum_discretisation *d = c->discretisation;
  cavum_index b = c->place[element] / CAVUM_LANES;
  int lane = c->place[element] % CAVUM_LANES, corners = d->batches[b].num_corners;
  const cavum_condensed_level *own = &c->levels[level];
  int kind = cavum_condensed_kind(corners), skeleton = corners * own->degree;
  int all = cavum_shape_count(corners, d->reference->degree);
  int interior = all - corners * d->reference->degree;
  const cavum_lanes *A = c->matrices + c->first_matrix[b],
                    *sign = d->sign + d->batches[b].first_sign;
  double row[4 * CAVUM_DEGREE_MOST];
  for (int j = 0; j < skeleton; j++) {
    int row_j = own->row[kind][j];
    const cavum_lanes *column = A + cavum_packed_column(all, interior + row_j) + interior;
    for (int i = j; i < skeleton; i++) schur[j * own->stride + i] = column[own->row[kind][i]][lane];
  }
  // Interior functions above the degree of the level were eliminated after it.
  for (int e = own->interior[kind]; e < interior; e++) {
    const cavum_lanes *column = A + cavum_packed_column(all, e);
    double pivot = column[e][lane];
    for (int i = 0; i < skeleton; i++) row[i] = column[interior + own->row[kind][i]][lane];
    for (int j = 0; j < skeleton; j++) {
      double factor = row[j] * pivot;
      for (int i = j; i < skeleton; i++) schur[j * own->stride + i] += row[i] * factor;
    }
  }
  for (int j = 0; j < skeleton; j++) {
    double sign_j = sign[own->row[kind][j]][lane];
    for (int i = j; i < skeleton; i++) {
      double value = schur[j * own->stride + i] * sign_j * sign[own->row[kind][i]][lane];
      schur[j * own->stride + i] = schur[i * own->stride + j] = value;
    }
  }
}
