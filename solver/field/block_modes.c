// SPDX-License-Identifier: GPL-3.0-or-later
// Several modes at once: Rayleigh-Ritz in the space of the present vectors and their corrections by
// inverse iteration. Ritz values never fall below the k^2 they approximate, so the lowest of them
// are kept wherever the shift is. A block that has modes below it would let one of them in that
// way: it is only iterated.
#include "block_modes.h"

#include <cblas.h>
#include <string.h>

#include "base.h"
#include "step_rate.h"
#include "thin.h"

// LAPACK's symmetric-definite eigensolver; the lengths of the character arguments come last.
void dsygv_(const int *type, const char *job, const char *triangle, const int *n, double *a,
            const int *lda, double *b, const int *ldb, double *w, double *work, const int *num_work,
            int *info, size_t job_length, size_t triangle_length);

enum { STEPS_MOST = 12, WORK_FACTOR = 40, BASIS = 3 };
// Vectors that are parallel up to this, squared, count once: the products of a correction are known
// to fewer digits the smaller it was, and what is left of it beside another one to fewer still.
static const double PARALLEL = 1e-3;
// A correction below this part of its vector is rounding.
static const double CORRECTION_LEAST = 1e-13;

// Vectors with their products, [3 count][size] each: the modes, then for some of them the direction
// in which the step before moved them, then corrections. With the directions the steps converge
// like those of conjugate gradients [Knyazev2001].
typedef struct block {
  cavum_pencil *pencil;
  cavum_index size;
  int level, first, count, wanted;  // first: 1 behind the static mode, which is exact
  bool all_below;                   // every mode below those of the block is in it
  int directions, corrections;
  double *v, *mv, *av;  // x, M x and A x, A = K - shift M
  double *theta;        // [3 count] k^2 - shift
  double *small;        // three square matrices of order 3 count and LAPACK's work space
  double *memory;
  double *error, *change;     // [count] of the vectors, relative; of k^2 in the step before
  double *accuracy, *factor;  // [count] wanted at this level; over that of other modes
  int *still;                 // [count] steps since k^2 stopped changing
} block;

static cavum_status create(block *b, cavum_pencil *pencil, int count, int wanted, cavum_index size,
                           cavum_error *error) {
  int64_t vectors = BASIS * (int64_t)count * size, order = BASIS * (int64_t)count;
  int64_t small = 3 * order * order + WORK_FACTOR * order;
  *b = (block){.pencil = pencil, .size = size, .count = count, .wanted = wanted};
  b->memory = cavum_alloc(3 * vectors + small + order + 4 * (int64_t)count, sizeof *b->memory);
  b->still = cavum_alloc(count, sizeof *b->still);
  if (!b->memory || !b->still) return cavum_fail_memory(error);
  b->v = b->memory;
  b->mv = b->v + vectors;
  b->av = b->mv + vectors;
  b->small = b->av + vectors;
  b->theta = b->small + small;
  b->error = b->theta + order;
  b->change = b->error + count;
  b->accuracy = b->change + count;
  b->factor = b->accuracy + count;
  return CAVUM_OK;
}

// A column of small matrices for every vector; the first `known` of both sides are the modes of the
// step before, whose products are k^2 - shift and one.
static void fill_small(const block *b, double *a, double *m, int order, int known) {
  size_t size = (size_t)b->size, from = (size_t)known * size;
  for (int i = 0; i < known; i++) {
    for (int k = 0; k < known; k++) a[k * order + i] = m[k * order + i] = 0.0;
    a[i * order + i] = b->theta[i];
    m[i * order + i] = 1.0;
  }
  // The lower triangle: rows of all from the first new one on.
  cavum_thin_product(a + known, order, b->v + from, order - known, b->av, order, b->size);
  cavum_thin_product(m + known, order, b->v + from, order - known, b->mv, order, b->size);
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

// The lowest Ritz pairs of all vectors at hand become the modes; `lost` when their span is too
// small, or so badly known that the pairs break the law of inertia.
static cavum_status take_ritz_pairs(block *b, bool *lost, bool modes_are_known,
                                    cavum_error *error) {
  int order = b->count + b->directions + b->corrections, one = 1, info, kept[CAVUM_THIN_MOST];
  int num_work = WORK_FACTOR * order;
  double *a = b->small, *m = a + order * order, *scratch = m + order * order;
  double *work = scratch + order * order;
  fill_small(b, a, m, order, modes_are_known ? b->count : 0);
  int count = choose_independent(kept, scratch, m, order);
  *lost = count < b->count;
  if (*lost) return CAVUM_OK;
  keep_only(a, kept, count, order);
  keep_only(m, kept, count, order);
  dsygv_(&one, "V", "L", &count, a, &count, m, &count, b->theta, work, &num_work, &info, 1, 1);
  if (info != 0) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "the small eigenproblem failed with code %d", info);
  }
  // By the law of inertia no more can be negative.
  *lost = count_negative(b->theta, count) > b->pencil->levels[b->level].num_negative;
  if (*lost) return CAVUM_OK;
  spread_out(a, kept, count, order, scratch);
  b->directions = modes_are_known ? choose_directions(b, a, order) : 0;
  cavum_thin_combine(b->v, b->size, order, b->count + b->directions, a, order);
  cavum_thin_combine(b->mv, b->size, order, b->count + b->directions, a, order);
  cavum_thin_combine(b->av, b->size, order, b->count + b->directions, a, order);
  settle_directions(b);
  return CAVUM_OK;
}

// v = A^-1 M v of all modes, and its products; M v is at hand.
static void step_all(block *b) {
  size_t used = (size_t)b->count * (size_t)b->size;
  memcpy(b->av, b->mv, used * sizeof *b->av);
  cavum_pencil_solve(b->v, b->pencil, b->level, b->av, b->count);
  for (int i = 0; i < b->count; i++) {
    size_t at = (size_t)i * (size_t)b->size;
    cavum_pencil_apply_mass(b->mv + at, b->pencil, b->v + at);
    (void)normalise(b, at, 0.0);
  }
  b->directions = b->corrections = 0;
}

// From A^-1 M x and M x in the place of a correction to the correction, which goes to the end of
// those that are ready.
static void finish_correction(block *b, int mode, int place) {
  size_t size = (size_t)b->size, to = (size_t)(b->count + b->directions + b->corrections) * size;
  const double *solved = b->v + (size_t)place * size;
  const double *x = b->v + (size_t)mode * size, *mx = b->mv + (size_t)mode * size;
  const double *ax = b->av + (size_t)mode * size;
  double *d = b->v + to, *md = b->mv + to, *ad = b->av + to, theta = b->theta[mode];
  for (size_t i = 0; i < size; i++) {
    d[i] = theta * solved[i] - x[i];
    ad[i] = theta * mx[i] - ax[i];
  }
  cavum_pencil_apply_mass(md, b->pencil, d);
  b->corrections += normalise(b, to, CORRECTION_LEAST);
}

// d = theta A^-1 M x - x of the modes that are not accurate yet, of unit norm; A d is the residual
// of x, to a sign.
static void add_corrections(block *b) {
  size_t size = (size_t)b->size;
  int mode[CAVUM_SIDES_MOST];
  b->corrections = 0;
  for (int next = b->first; next < b->wanted;) {
    int count = 0, at = b->count + b->directions + b->corrections;
    for (; next < b->wanted && count < CAVUM_SIDES_MOST; next++) {
      if (b->error[next] <= b->accuracy[next]) continue;
      memcpy(b->av + (size_t)(at + count) * size, b->mv + (size_t)next * size,
             size * sizeof *b->av);
      mode[count++] = next;
    }
    cavum_pencil_solve(b->v + (size_t)at * size, b->pencil, b->level, b->av + (size_t)at * size,
                       count);
    for (int k = 0; k < count; k++) finish_correction(b, mode[k], at + k);
  }
}

// How much k^2 changed tells the error of the vectors. True when all that are wanted are accurate.
static bool assess(block *b, const double *k2_before, bool from_below) {
  bool all = true;
  for (int i = b->first; i < b->wanted; i++) {
    double k2 = b->theta[i] + b->pencil->shift_per_m2;
    double change = fabs(k2 / k2_before[i] - 1.0);
    // A vector that was not corrected in this step is what it was.
    if (b->change[i] < 1.0 && b->error[i] <= b->accuracy[i]) continue;
    double left =
        from_below && b->change[i] >= 1.0
            ? cavum_step_error_from_below(change, b->theta[i], b->pencil->shift_per_m2, b->error[i])
            : cavum_step_error_left(change, b->change[i]);
    b->still[i] = change < CAVUM_STEP_ROUNDING_CHANGE ? b->still[i] + 1 : 0;
    b->error[i] = cavum_min(left, cavum_step_error_still(b->still[i]));
    b->change[i] = change;
    all = all && b->error[i] <= b->accuracy[i];
  }
  return all;
}

static cavum_status iterate(block *b, bool *settled, double *k2, bool from_below,
                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < b->count; i++) b->change[i] = 1.0, b->still[i] = 0;
  *settled = false;
  for (int step = 0; step < STEPS_MOST && !*settled; step++) {
    bool lost, correct = step > 0 && b->all_below;
    if (correct) add_corrections(b);
    if (!correct) step_all(b);
    CAVUM_TRY(take_ritz_pairs(b, &lost, correct, error));
    if (lost) return CAVUM_OK;
    *settled = assess(b, k2, from_below);
    for (int i = 0; i < b->count; i++) k2[i] = b->theta[i] + b->pencil->shift_per_m2;
  }
done:
  return status;
}

// The modes of the block and, behind them, those of a lower level that it has left out.
static cavum_status keep(cavum_modes *modes, const block *b, const double *k2,
                         const cavum_modes *lower, int all, cavum_error *error) {
  int first = b->first;
  cavum_status status = cavum_modes_allocate(modes, all, b->size, error);
  if (status != CAVUM_OK) return status;
  int own = b->count - first;
  size_t size = (size_t)b->size;
  memcpy(modes->k2_per_m2, k2 + first, (size_t)own * sizeof *k2);
  memcpy(modes->vector_error, b->error + first, (size_t)own * sizeof *k2);
  memcpy(modes->accuracy_factor, b->factor + first, (size_t)own * sizeof *k2);
  memcpy(modes->vectors, b->v + (size_t)first * size, (size_t)own * size * sizeof *b->v);
  if (own < all) cavum_modes_copy(modes, lower, own, all - own);
  return CAVUM_OK;
}

// Puts the guesses, and before them the static mode, a constant, into a block at its level.
static void start(block *b, double *k2, const cavum_modes *guess) {
  int first = b->first;
  const cavum_discretisation *d = b->pencil->discretisation;
  size_t size = (size_t)b->size;
  for (cavum_index i = 0; first && i < d->mesh->num_vertices; i++) b->v[i] = 1.0;
  memcpy(b->v + (size_t)first * size, guess->vectors,
         (size_t)(b->count - first) * size * sizeof *b->v);
  memcpy(k2 + first, guess->k2_per_m2, (size_t)(b->count - first) * sizeof *k2);
  memcpy(b->factor + first, guess->accuracy_factor, (size_t)(b->count - first) * sizeof *k2);
  for (int i = 0; i < b->count; i++) {
    double *x = b->v + (size_t)i * size;
    cavum_space_truncate(x, &d->space, b->pencil->levels[b->level].degree);
    cavum_pencil_apply_mass(b->mv + (size_t)i * size, b->pencil, x);
  }
}

static void set_accuracy(block *b, double accuracy) {
  for (int i = 0; i < b->count; i++) {
    b->accuracy[i] = cavum_max(accuracy * b->factor[i], CAVUM_STEP_ACCURACY_LEAST);
  }
}

// The lowest level that has room for a block.
static int lowest_level(const cavum_pencil *pencil, int count) {
  int level = pencil->num_levels - 1;
  while (level > 0 && pencil->levels[level].num_rows < 2 * count) level--;
  return level;
}

cavum_status cavum_block_modes_improve(cavum_modes *modes, bool *settled, cavum_pencil *pencil,
                                       const cavum_modes *guess, int wanted, bool all_below,
                                       double accuracy, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes found[CAVUM_LEVELS_MOST] = {{0}};
  block b = {0};
  int first = cavum_modes_has_static(pencil) ? 1 : 0, count = guess->count + first;
  int lowest = lowest_level(pencil, count);
  if (BASIS * count > CAVUM_THIN_MOST) {
    *settled = false;
    return CAVUM_OK;
  }
  double *k2 = cavum_alloc(count, sizeof *k2);
  *settled = true;
  if (!k2) CAVUM_TRY(cavum_fail_memory(error));
  if (wanted > guess->count) wanted = guess->count;
  CAVUM_TRY(create(&b, pencil, count, wanted + first, guess->num_unknowns, error));
  b.first = first;
  b.all_below = all_below;
  // What a guess lacks is found where it costs least; the levels above add what is theirs.
  for (int l = lowest; l >= 0 && *settled; l--) {
    b.level = l;
    // Above the lowest level the vectors and their products are those of the level below.
    b.count = l == lowest ? count : b.wanted;
    if (l == lowest) start(&b, k2, guess);
    set_accuracy(&b, l == lowest || l == 0 ? accuracy : CAVUM_ACCURACY_BETWEEN * accuracy);
    CAVUM_TRY(iterate(&b, settled, k2, l < lowest, error));
    CAVUM_TRY(keep(&found[l], &b, k2, &found[lowest], guess->count, error));
  }
  for (int l = 0; l <= lowest && *settled; l++) {
    modes[l] = found[l];
    found[l] = (cavum_modes){0};
  }
done:
  if (status != CAVUM_OK) *settled = false;
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&found[l]);
  free(b.memory);
  free(b.still);
  free(k2);
  return status;
}
