// SPDX-License-Identifier: GPL-3.0-or-later
// Several modes at once: Rayleigh-Ritz in the space of the present vectors and their corrections by
// inverse iteration. Ritz values never fall below the k^2 they approximate, so the lowest of them
// are kept wherever the shift is.
#include "eigen/block_modes.h"

#include <cblas.h>
#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/step_rate.h"
#include "linalg/small_eigen.h"
#include "linalg/tall_skinny.h"

enum { STEPS_MOST = 12, BASIS = 3 };
// Vectors that are parallel up to this, squared, count once: the products of a correction are known
// to fewer digits the smaller it was, and what is left of it beside another one to fewer still.
static const double PARALLEL = 1e-3;
// A correction below this part of its vector is rounding.
static const double CORRECTION_LEAST = 1e-13;

// Vectors of one class with their products, [3 count][size] each: the modes, then for some of them
// the direction in which the step before moved them, then corrections. With the directions the
// steps converge like those of conjugate gradients [Knyazev2001].
typedef struct block {
  cavum_pencil *pencil;
  cavum_index size;
  int level, first, count, wanted;  // first: 1 behind the static mode, which is exact
  int directions, corrections;
  bool settled;
  double *v, *mv, *av;  // x, M x and A x, A = K - shift M
  double *theta;        // [3 count] k^2 - shift
  double *small;        // two square matrices of order 3 count and work space for their problem
  double *energy;       // [3 count] of the vectors, x^T K x
  double *memory;
  // [count]: k^2; error of the vectors, relative; how far they moved in the last step and in the
  // one before; accuracy wanted
  double *k2, *error, *moved, *moved_before, *accuracy;
  int mode[CAVUM_TALL_SKINNY_MOST];  // of the corrections
} block;

static cavum_status create(block *b, const cavum_block_task *task, int level, cavum_error *error) {
  int first = cavum_modes_has_static(task->pencil) ? 1 : 0, count = task->guess->count + first;
  int64_t size = task->guess->num_unknowns, order = BASIS * (int64_t)count;
  int64_t vectors = order * size, small = 2 * order * order + cavum_small_eigen_work((int)order);
  *b = (block){.pencil = task->pencil, .size = (cavum_index)size, .level = level};
  b->first = first;
  b->count = count;
  b->wanted = first + task->wanted;
  b->memory =
      cavum_alloc_aligned(3 * vectors + small + 2 * order + 5 * (int64_t)count, sizeof *b->memory);
  if (!b->memory) return cavum_fail_memory(error);
  b->v = b->memory;
  b->mv = b->v + vectors;
  b->av = b->mv + vectors;
  b->small = b->av + vectors;
  b->theta = b->small + small;
  b->energy = b->theta + order;
  b->k2 = b->energy + order;
  b->error = b->k2 + count;
  b->moved = b->error + count;
  b->moved_before = b->moved + count;
  b->accuracy = b->moved_before + count;
  return CAVUM_OK;
}

// A column of small matrices for every vector; the first `known` of both rhs are the modes of the
// step before, whose products are k^2 - shift and one.
static void fill_small(const block *b, double *a, double *m, int order, int known) {
  size_t size = (size_t)b->size, from = (size_t)known * size;
  for (int i = 0; i < known; i++) {
    for (int k = 0; k < known; k++) a[k * order + i] = m[k * order + i] = 0.0;
    a[i * order + i] = b->theta[i];
    m[i * order + i] = 1.0;
  }
  // The lower triangle: rows of all from the first new one on.
  cavum_tall_skinny_product(a + known, order, b->v + from, order - known, b->av, order, b->size);
  cavum_tall_skinny_product(m + known, order, b->v + from, order - known, b->mv, order, b->size);
}

// Columns of the Cholesky factorisation of M-products one after the other; those that are parallel
// to the ones before are left out. Gives the number of the others.
static int choose_independent(int *kept, double *factor, const double *m, int order) {
  int count = 0;
  for (int c = 0; c < order; c++) {
    double pivot = m[c * order + c], *row = factor + (size_t)count * (size_t)order;
    for (int k = 0; k < count; k++) {
      const double *before = factor + (size_t)k * (size_t)order;
      double sum = m[kept[k] * order + c];
      for (int j = 0; j < k; j++) sum -= row[j] * before[j];
      row[k] = sum / before[k];
      pivot -= row[k] * row[k];
    }
    if (!(pivot > PARALLEL * m[c * order + c])) continue;
    row[count] = sqrt(pivot);
    kept[count++] = c;
  }
  return count;
}

// Lower triangles of the rows and columns that are kept, in place.
static void keep_only(double *matrix, const int *kept, int count, int order) {
  for (int j = 0; j < count; j++) {
    for (int i = j; i < count; i++) {
      matrix[j * count + i] = matrix[kept[j] * order + kept[i]];
    }
  }
}

// Eigenvectors of the kept columns as combinations of all, in place: [count][order].
static void spread_out(double *c, const int *kept, int count, int order, double *scratch) {
  memcpy(scratch, c, (size_t)count * (size_t)count * sizeof *c);
  memset(c, 0, (size_t)count * (size_t)order * sizeof *c);
  for (int j = 0; j < count; j++) {
    for (int i = 0; i < count; i++) c[j * order + kept[i]] = scratch[j * count + i];
  }
}

// Appends to the combinations of the modes those of their directions: what is not from the modes of
// the step before. Only of modes that were being corrected.
static int choose_directions(const block *b, double *c, int order) {
  int made = 0;
  for (int i = b->first; i < b->wanted && made < order - b->count; i++) {
    if (b->error[i] <= b->accuracy[i]) continue;
    const double *from = c + (size_t)i * (size_t)order;
    double *to = c + (size_t)(b->count + made) * (size_t)order;
    memset(to, 0, (size_t)b->count * sizeof *to);
    memcpy(to + b->count, from + b->count, (size_t)(order - b->count) * sizeof *to);
    double norm = cblas_dnrm2(order - b->count, to + b->count, 1);
    if (!(norm > CORRECTION_LEAST)) continue;
    cblas_dscal(order - b->count, 1.0 / norm, to + b->count, 1);
    made++;
  }
  return made;
}

static int count_negative(const double *values, int count) {
  int negative = 0;
  for (int i = 0; i < count; i++) negative += values[i] < 0.0;
  return negative;
}

// Scales a vector and its products to unit norm; false when its norm is not above a bound.
static bool normalise(block *b, size_t at, double least) {
  double norm = sqrt(cblas_ddot(b->size, b->v + at, 1, b->mv + at, 1));
  if (!(norm > least)) return false;
  cblas_dscal(b->size, 1.0 / norm, b->v + at, 1);
  cblas_dscal(b->size, 1.0 / norm, b->mv + at, 1);
  cblas_dscal(b->size, 1.0 / norm, b->av + at, 1);
  return true;
}

// Directions in which corrections cancelled hold little but rounding: they are dropped.
static void settle_directions(block *b) {
  size_t size = (size_t)b->size, bytes = size * sizeof *b->v;
  int made = 0;
  for (int k = 0; k < b->directions; k++) {
    size_t from = (size_t)(b->count + k) * size, to = (size_t)(b->count + made) * size;
    if (!normalise(b, from, sqrt(PARALLEL))) continue;
    if (made++ == k) continue;
    memcpy(b->v + to, b->v + from, bytes);
    memcpy(b->mv + to, b->mv + from, bytes);
    memcpy(b->av + to, b->av + from, bytes);
  }
  b->directions = made;
}

// Energies of all vectors at hand, from the diagonals of their products.
static void take_energies(block *b, const double *a, const double *m, int order) {
  for (int i = 0; i < order; i++) {
    double energy = a[i * order + i] + b->pencil->shift_per_m2 * m[i * order + i];
    b->energy[i] = cavum_max(energy, 0.0);
  }
}

// How far the modes move by combinations [order] of all vectors, at most and relative in energy: by
// what is not from the modes of the step before.
static void measure_moves(block *b, const double *c, int order) {
  for (int i = b->first; i < b->wanted; i++) {
    const double *from = c + (size_t)i * (size_t)order;
    double k2 = b->theta[i] + b->pencil->shift_per_m2, sum = 0.0;
    for (int k = b->count; k < order; k++) sum += fabs(from[k]) * sqrt(b->energy[k]);
    b->moved[i] = sum / sqrt(k2);
  }
}

// The lowest Ritz pairs of all vectors at hand become the modes; `lost` when their span is too
// small, or so badly known that the pairs break the law of inertia.
static cavum_status take_ritz_pairs(block *b, bool *lost, bool modes_are_known,
                                    cavum_error *error) {
  int order = b->count + b->directions + b->corrections, kept[CAVUM_TALL_SKINNY_MOST];
  double *a = b->small, *m = a + order * order, *scratch = m + order * order;
  fill_small(b, a, m, order, modes_are_known ? b->count : 0);
  take_energies(b, a, m, order);
  int count = choose_independent(kept, scratch, m, order);
  *lost = count < b->count;
  if (*lost) return CAVUM_OK;
  keep_only(a, kept, count, order);
  keep_only(m, kept, count, order);
  if (!cavum_small_eigen(a, m, b->theta, count, scratch)) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "the small eigenproblem has no solution");
  }
  // By the law of inertia no more can be negative.
  *lost = count_negative(b->theta, count) > b->pencil->levels[b->level].num_negative;
  if (*lost) return CAVUM_OK;
  spread_out(a, kept, count, order, scratch);
  if (modes_are_known) measure_moves(b, a, order);
  b->directions = modes_are_known ? choose_directions(b, a, order) : 0;
  cavum_tall_skinny_combine(b->v, b->size, order, b->count + b->directions, a, order);
  cavum_tall_skinny_combine(b->mv, b->size, order, b->count + b->directions, a, order);
  cavum_tall_skinny_combine(b->av, b->size, order, b->count + b->directions, a, order);
  settle_directions(b);
  return CAVUM_OK;
}

// Right-hand rhs under way.
typedef struct queue {
  int count;
  cavum_pencil_rhs rhs[2 * CAVUM_TALL_SKINNY_MOST];
} queue;

static void add_rhs(queue *q, const cavum_pencil *pencil, double *y, const double *b) {
  q->rhs[q->count++] = (cavum_pencil_rhs){pencil, y, b};
}

// A first step: v = A^-1 M v of all modes; M v is at hand and becomes A v.
static void queue_all(queue *q, block *b) {
  memcpy(b->av, b->mv, (size_t)b->count * (size_t)b->size * sizeof *b->av);
  for (int i = 0; i < b->count; i++) {
    size_t at = (size_t)i * (size_t)b->size;
    add_rhs(q, b->pencil, b->v + at, b->av + at);
  }
}

static void finish_all(block *b) {
  for (int i = 0; i < b->count; i++) {
    size_t at = (size_t)i * (size_t)b->size;
    cavum_pencil_apply_mass(b->mv + at, b->pencil, b->v + at);
    (void)normalise(b, at, 0.0);
  }
}

// Corrections of the modes that are not accurate yet: A^-1 M x, for now.
static void queue_corrections(queue *q, block *b) {
  size_t size = (size_t)b->size;
  b->corrections = 0;
  for (int i = b->first; i < b->wanted; i++) {
    if (b->error[i] <= b->accuracy[i]) continue;
    size_t at = (size_t)(b->count + b->directions + b->corrections) * size;
    b->mode[b->corrections++] = i;
    add_rhs(q, b->pencil, b->v + at, b->mv + (size_t)i * size);
  }
}

// d = theta A^-1 M x - x, of unit norm; A d is the residual of x, to a sign. Those that are nothing
// but rounding are left out.
static void finish_corrections(block *b) {
  size_t size = (size_t)b->size;
  int queued = b->corrections, first = b->count + b->directions;
  b->corrections = 0;
  for (int k = 0; k < queued; k++) {
    size_t to = (size_t)(first + b->corrections) * size, mode = (size_t)b->mode[k] * size;
    const double *solved = b->v + (size_t)(first + k) * size;
    const double *x = b->v + mode, *mx = b->mv + mode, *ax = b->av + mode;
    double *d = b->v + to, *md = b->mv + to, *ad = b->av + to, theta = b->theta[b->mode[k]];
    for (size_t i = 0; i < size; i++) {
      d[i] = theta * solved[i] - x[i];
      ad[i] = theta * mx[i] - ax[i];
    }
    cavum_pencil_apply_mass(md, b->pencil, d);
    b->corrections += normalise(b, to, CORRECTION_LEAST);
  }
}

// Errors after a first step, which has shown no more than how k^2 changed. It leaves of a mode that
// is beyond the block, and so farther from the shift than the last one by that factor at least,
// what the ratio of the distances says.
static void assess_first(block *b) {
  double beyond = CAVUM_CLOSE_BEHIND * fabs(b->theta[b->wanted - 1]);
  for (int i = b->first; i < b->wanted; i++) {
    double k2 = b->theta[i] + b->pencil->shift_per_m2, rate = fabs(b->theta[i]) / beyond;
    double inherited = b->error[i] * cavum_max(1.0, rate / CAVUM_STEP_RATE_FIRST);
    b->moved[i] = cavum_step_moved(fabs(k2 / b->k2[i] - 1.0));
    b->error[i] =
        cavum_step_error_from_below(b->moved[i], b->theta[i], b->pencil->shift_per_m2, inherited);
  }
}

// Errors of the modes that were corrected: a part of how far they moved.
static void assess(block *b) {
  for (int k = b->first; k < b->wanted; k++) {
    if (b->error[k] <= b->accuracy[k]) continue;
    b->error[k] = cavum_step_error_left(b->moved[k], b->moved_before[k]);
  }
}

static void finish_assessment(block *b) {
  b->settled = true;
  for (int i = b->first; i < b->wanted; i++) {
    b->settled = b->settled && b->error[i] <= b->accuracy[i];
    b->moved_before[i] = b->moved[i];
  }
  for (int i = 0; i < b->count; i++) b->k2[i] = b->theta[i] + b->pencil->shift_per_m2;
}

// One step of all blocks that have not settled. Blocks share factors, so all right-hand sides are
// solved for together.
static cavum_status step(block *blocks, int count, bool first, bool *lost, cavum_error *error) {
  queue q = {0};
  for (int c = 0; c < count; c++) {
    block *b = &blocks[c];
    if (b->settled) continue;
    if (first) queue_all(&q, b);
    if (!first) queue_corrections(&q, b);
  }
  cavum_pencil_solve_many(blocks[0].pencil, blocks[0].level, q.rhs, q.count);
  for (int c = 0; c < count && !*lost; c++) {
    block *b = &blocks[c];
    if (b->settled) continue;
    if (first) finish_all(b);
    if (!first) finish_corrections(b);
    cavum_status status = take_ritz_pairs(b, lost, !first, error);
    if (status != CAVUM_OK) return status;
    if (*lost) continue;
    if (first) assess_first(b);
    if (!first) assess(b);
    finish_assessment(b);
  }
  return CAVUM_OK;
}

// The static mode, a constant: ones at the vertices.
static void fill_static(block *b) {
  memset(b->v, 0, (size_t)b->size * sizeof *b->v);
  for (cavum_index i = 0; i < b->pencil->discretisation->mesh->num_vertices; i++) b->v[i] = 1.0;
}

// Puts the guesses, and before them the static mode, into a block.
static void start(block *b, const cavum_block_task *task) {
  const cavum_modes *guess = task->guess;
  int first = b->first;
  size_t size = (size_t)b->size, own = (size_t)guess->count;
  if (first) fill_static(b);
  memcpy(b->v + (size_t)first * size, guess->vectors, own * size * sizeof *b->v);
  memcpy(b->k2 + first, guess->k2_per_m2, own * sizeof *b->k2);
  memcpy(b->error + first, guess->vector_error, own * sizeof *b->error);
  for (int i = first; i < b->wanted; i++) {
    double factor = task->by_factors ? guess->accuracy_factor[i - first] : 1.0;
    b->accuracy[i] = cavum_max(task->accuracy * factor, CAVUM_STEP_ACCURACY_LEAST);
  }
  for (int i = 0; i < b->count; i++) {
    size_t at = (size_t)i * size;
    cavum_pencil_apply_mass(b->mv + at, b->pencil, b->v + at);
  }
}

// No mode below the shift may be missing: there is one for every negative pivot.
static bool is_complete(const block *b) {
  return count_negative(b->theta, b->count) == b->pencil->levels[b->level].num_negative;
}

static cavum_status keep(cavum_modes *modes, const block *b, const cavum_modes *guess,
                         cavum_error *error) {
  size_t first = (size_t)b->first, size = (size_t)b->size;
  cavum_status status = cavum_modes_allocate(modes, guess->count, b->size, error);
  if (status != CAVUM_OK) return status;
  cavum_modes_copy_numbers(modes, guess, 0, guess->count);
  memcpy(modes->k2_per_m2, b->k2 + first, (size_t)guess->count * sizeof *b->k2);
  memcpy(modes->vector_error, b->error + first, (size_t)guess->count * sizeof *b->error);
  memcpy(modes->vectors, b->v + first * size, (size_t)guess->count * size * sizeof *b->v);
  return CAVUM_OK;
}

static cavum_status keep_products(double **mx, const block *b, int wanted, cavum_error *error) {
  size_t count = (size_t)wanted * (size_t)b->size;
  *mx = cavum_alloc((int64_t)count, sizeof **mx);
  if (!*mx) return cavum_fail_memory(error);
  memcpy(*mx, b->mv + (size_t)b->first * (size_t)b->size, count * sizeof **mx);
  return CAVUM_OK;
}

static cavum_status iterate(block *blocks, int count, bool *settled, cavum_error *error) {
  bool lost = false, all = false;
  for (int i = 0; i < STEPS_MOST && !all && !lost; i++) {
    cavum_status status = cavum_stop_check(error);
    if (status == CAVUM_OK) status = step(blocks, count, i == 0, &lost, error);
    if (status != CAVUM_OK) return status;
    all = true;
    for (int c = 0; c < count; c++) all = all && blocks[c].settled;
  }
  for (int c = 0; c < count && !lost; c++) all = all && is_complete(&blocks[c]);
  *settled = all && !lost;
  return CAVUM_OK;
}

cavum_status cavum_block_modes_improve(bool *settled, double **mx, const cavum_block_task *tasks,
                                       int count, int level, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  block blocks[CAVUM_BLOCK_TASKS_MOST] = {{0}};
  *settled = false;
  if (!CAVUM_HOLDS(count >= 1 && count <= CAVUM_BLOCK_TASKS_MOST))
    return cavum_fail_internal(error, "classes of modes");
  for (int c = 0; c < count; c++) {
    if (!CAVUM_HOLDS(tasks[c].wanted <= tasks[c].guess->count)) {
      return cavum_fail_internal(error, "more modes are wanted than there are guesses");
    }
  }
  for (int c = 0; c < count; c++) {
    if (BASIS * (tasks[c].guess->count + 1) > CAVUM_TALL_SKINNY_MOST) return CAVUM_OK;
  }
  for (int c = 0; c < count; c++) {
    CAVUM_TRY(create(&blocks[c], &tasks[c], level, error));
    start(&blocks[c], &tasks[c]);
  }
  CAVUM_TRY(iterate(blocks, count, settled, error));
  for (int c = 0; c < count && *settled; c++) {
    CAVUM_TRY(keep(&tasks[c].modes[level], &blocks[c], tasks[c].guess, error));
    if (mx) CAVUM_TRY(keep_products(&mx[c], &blocks[c], tasks[c].wanted, error));
  }
done:
  if (status != CAVUM_OK) *settled = false;
  for (int c = 0; c < count; c++) free(blocks[c].memory);
  return status;
}
