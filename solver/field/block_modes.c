// SPDX-License-Identifier: GPL-3.0-or-later
// Several modes at once: Rayleigh-Ritz in the space of the present vectors and their corrections by
// inverse iteration. Ritz values never fall below the k^2 they approximate, so the lowest of them
// are kept wherever the shift is.
#include "block_modes.h"

#include <cblas.h>
#include <string.h>

#include "base.h"
#include "step_rate.h"

// LAPACK's symmetric-definite eigensolver; the lengths of the character arguments come last.
void dsygv_(const int *type, const char *job, const char *triangle, const int *n, double *a,
            const int *lda, double *b, const int *ldb, double *w, double *work, const int *num_work,
            int *info, size_t job_length, size_t triangle_length);

enum { STEPS_MOST = 8 };
// A correction below this part of its vector is rounding.
static const double CORRECTION_LEAST = 1e-13;

// Vectors with their products, [2 count][size] each: the modes, then corrections to some of them.
typedef struct block {
  cavum_pencil *pencil;
  cavum_index size;
  int level, count, wanted, corrections;
  double *v, *mv, *av;  // x, M x and A x, A = K - shift M
  double *theta;        // [2 count] k^2 - shift
  double *scratch;      // [count][size]
  double *small;        // three square matrices of order 2 count and LAPACK's work space
  double *memory;
  double *error, *change;  // [count] of the vectors, relative; of k^2 in the step before
} block;

static cavum_status create(block *b, cavum_pencil *pencil, int count, int wanted, cavum_index size,
                           cavum_error *error) {
  int64_t vectors = 2 * (int64_t)count * size, order = 2 * (int64_t)count;
  int64_t small = 2 * order * order + 40 * order;
  *b = (block){.pencil = pencil, .size = size, .count = count, .wanted = wanted};
  b->memory = cavum_alloc(3 * vectors + vectors / 2 + small + 3 * order, sizeof *b->memory);
  if (!b->memory) return cavum_fail_memory(error);
  b->v = b->memory;
  b->mv = b->v + vectors;
  b->av = b->mv + vectors;
  b->scratch = b->av + vectors;
  b->small = b->scratch + vectors / 2;
  b->theta = b->small + small;
  b->error = b->theta + order;
  b->change = b->error + order;
  return CAVUM_OK;
}

static void apply_mass(double *y, const double *x, const cavum_pencil *pencil) {
  cavum_discretisation_apply_mass(y, pencil->discretisation, x);
  cavum_pencil_clear_essential(y, pencil);
}

static void rotate(block *b, double *vectors, const double *c, int order) {
  size_t used = (size_t)b->count * (size_t)b->size;
  cblas_dgemm(CblasColMajor, CblasNoTrans, CblasNoTrans, b->size, b->count, order, 1.0, vectors,
              b->size, c, order, 0.0, b->scratch, b->size);
  memcpy(vectors, b->scratch, used * sizeof *vectors);
}

// The lowest Ritz pairs of all vectors at hand become the modes.
static cavum_status take_ritz_pairs(block *b, cavum_error *error) {
  int order = b->count + b->corrections, one = 1, num_work = 40 * order, info;
  double *a = b->small, *m = a + order * order, *work = m + order * order;
  cblas_dgemm(CblasColMajor, CblasTrans, CblasNoTrans, order, order, b->size, 1.0, b->v, b->size,
              b->av, b->size, 0.0, a, order);
  cblas_dgemm(CblasColMajor, CblasTrans, CblasNoTrans, order, order, b->size, 1.0, b->v, b->size,
              b->mv, b->size, 0.0, m, order);
  dsygv_(&one, "V", "L", &order, a, &order, m, &order, b->theta, work, &num_work, &info, 1, 1);
  if (info != 0) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "the small eigenproblem failed with code %d", info);
  }
  rotate(b, b->v, a, order);
  rotate(b, b->mv, a, order);
  rotate(b, b->av, a, order);
  return CAVUM_OK;
}

// v = A^-1 M v, and its products.
static void step_all(block *b) {
  for (int i = 0; i < b->count; i++) {
    int64_t at = (int64_t)i * b->size;
    apply_mass(b->av + at, b->v + at, b->pencil);
    cavum_pencil_solve(b->v + at, b->pencil, b->level, b->av + at);
    apply_mass(b->mv + at, b->v + at, b->pencil);
  }
  b->corrections = 0;
}

// d = theta A^-1 M x - x of a mode, of unit norm; its A d is the residual, to a sign.
static void add_correction(block *b, int mode) {
  int64_t from = (int64_t)mode * b->size, to = (int64_t)(b->count + b->corrections) * b->size;
  double *d = b->v + to, *md = b->mv + to, *ad = b->av + to, theta = b->theta[mode];
  cavum_pencil_solve(d, b->pencil, b->level, b->mv + from);
  for (cavum_index i = 0; i < b->size; i++) {
    d[i] = theta * d[i] - b->v[from + i];
    ad[i] = theta * b->mv[from + i] - b->av[from + i];
  }
  apply_mass(md, d, b->pencil);
  double norm = sqrt(cblas_ddot(b->size, d, 1, md, 1));
  if (!(norm > CORRECTION_LEAST)) return;
  cblas_dscal(b->size, 1.0 / norm, d, 1);
  cblas_dscal(b->size, 1.0 / norm, md, 1);
  cblas_dscal(b->size, 1.0 / norm, ad, 1);
  b->corrections++;
}

// How much k^2 changed tells the error of the vectors. True when all that are wanted are accurate.
static bool assess(block *b, const double *k2_before, double accuracy) {
  bool all = true;
  for (int i = 0; i < b->wanted; i++) {
    double k2 = b->theta[i] + b->pencil->shift_per_m2;
    double change = fabs(k2 / k2_before[i] - 1.0);
    double rate = cavum_step_rate(change, b->change[i], CAVUM_STEP_RATE_MOST);
    b->error[i] = rate * sqrt(cavum_max(change, CAVUM_STEP_ROUNDING));
    b->change[i] = change;
    if (getenv("DBG"))
      fprintf(stderr, "level %d mode %d k2 %.6f change %.1e error %.1e corr %d\n", b->level, i, k2,
              change, b->error[i], b->corrections);
    if (change < CAVUM_STEP_ROUNDING_CHANGE) b->error[i] = cavum_min(b->error[i], accuracy);
    all = all && b->error[i] <= accuracy;
  }
  return all;
}

static cavum_status iterate(block *b, bool *settled, double *k2, double accuracy,
                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < b->count; i++) b->change[i] = 1.0;
  *settled = false;
  for (int step = 0; step < STEPS_MOST && !*settled; step++) {
    if (step == 0) {
      step_all(b);
    } else {
      b->corrections = 0;
      for (int i = 0; i < b->wanted; i++) {
        if (b->error[i] > accuracy) add_correction(b, i);
      }
    }
    CAVUM_TRY(take_ritz_pairs(b, error));
    *settled = assess(b, k2, accuracy);
    for (int i = 0; i < b->count; i++) k2[i] = b->theta[i] + b->pencil->shift_per_m2;
  }
done:
  return status;
}

// The modes of the block and, behind them, those of a lower level that it has left out.
static cavum_status keep(cavum_modes *modes, const block *b, const double *k2, int first,
                         const cavum_modes *lower, int all, cavum_error *error) {
  cavum_status status = cavum_modes_allocate(modes, all, b->size, error);
  if (status != CAVUM_OK) return status;
  int own = b->count - first;
  size_t size = (size_t)b->size;
  memcpy(modes->k2_per_m2, k2 + first, (size_t)own * sizeof *k2);
  memcpy(modes->vector_error, b->error + first, (size_t)own * sizeof *k2);
  memcpy(modes->vectors, b->v + (size_t)first * size, (size_t)own * size * sizeof *b->v);
  for (int m = own; m < all; m++) {
    modes->k2_per_m2[m] = lower->k2_per_m2[m];
    modes->vector_error[m] = lower->vector_error[m];
    memcpy(modes->vectors + (size_t)m * size, lower->vectors + (size_t)m * size,
           size * sizeof *b->v);
  }
  return CAVUM_OK;
}

// Puts the guesses, and before them the static mode, a constant, into a block at its level.
static void start(block *b, double *k2, const cavum_modes *guess, int first) {
  const cavum_discretisation *d = b->pencil->discretisation;
  size_t size = (size_t)b->size;
  memset(b->v, 0, (size_t)first * size * sizeof *b->v);
  for (cavum_index i = 0; first && i < d->mesh->num_vertices; i++) b->v[i] = 1.0;
  k2[0] = 0.0;
  memcpy(b->v + (size_t)first * size, guess->vectors,
         (size_t)(b->count - first) * size * sizeof *b->v);
  memcpy(k2 + first, guess->k2_per_m2, (size_t)(b->count - first) * sizeof *k2);
  for (int i = 0; i < b->count; i++) {
    cavum_space_truncate(b->v + (size_t)i * size, &d->space, b->pencil->levels[b->level].degree);
  }
}

// The lowest level that has room for a block.
static int lowest_level(const cavum_pencil *pencil, int count) {
  int level = pencil->num_levels - 1;
  while (level > 0 && pencil->levels[level].num_rows < 2 * count) level--;
  return level;
}

cavum_status cavum_block_modes_improve(cavum_modes *modes, bool *settled, cavum_pencil *pencil,
                                       const cavum_modes *guess, int wanted, double accuracy,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes found[CAVUM_LEVELS_MOST] = {{0}};
  block b = {0};
  int first = cavum_modes_has_static(pencil) ? 1 : 0, count = guess->count + first;
  int lowest = lowest_level(pencil, count);
  double *k2 = cavum_alloc(count, sizeof *k2);
  *settled = true;
  if (!k2) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(create(&b, pencil, count, wanted + first, guess->num_unknowns, error));
  // What a guess lacks is found where it costs least; the levels above add what is theirs.
  for (int l = lowest; l >= 0 && *settled; l--) {
    b.level = l;
    b.count = l == lowest ? count : b.wanted;
    start(&b, k2, l == lowest ? guess : &found[l + 1], first);
    double enough = l == lowest || l == 0 ? accuracy : CAVUM_ACCURACY_BELOW * accuracy;
    CAVUM_TRY(iterate(&b, settled, k2, enough, error));
    CAVUM_TRY(keep(&found[l], &b, k2, first, &found[lowest], guess->count, error));
  }
  for (int l = 0; l <= lowest && *settled; l++) {
    modes[l] = found[l];
    found[l] = (cavum_modes){0};
  }
done:
  if (status != CAVUM_OK) *settled = false;
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&found[l]);
  free(b.memory);
  free(k2);
  return status;
}
