// SPDX-License-Identifier: GPL-3.0-or-later
// Conjugate gradients on the factorised pencil, all right-hand sides together.
#include "eigen/bordered.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"
#include "fem/apply.h"

// The factorisation is as good as one step where the shift is close to the mode; many modes in the
// way that are not known slow it down.
enum { STEPS_MOST = 40 };
// Over the accuracy. Conjugate gradients leave less than the ratio of the last step tells: of a
// spectrum as wide as the first step contracts, two steps leave an eighth of its square.
static const double LAST_PART = 2.0;
// Where a step leaves more than this, energy counts modes that were solved for already.
static const double CONTRACTION_MOST = 0.01;
// Over the accuracy where a step leaves more than that: what a slow iteration leaves are few modes,
// and derivatives see them by their energy, tens of times what the product of M counts.
static const double SLOW_PART = 0.1;
// What is left of a change beside what its contraction says: another shape contracts a little
// otherwise.
static const double NEAR_FACTOR = 2.0;
// A change, of the size of a solution, from which two solves should do for a start to be tried.
static const double FAR_CHANGE = 0.1;
// Part of the accuracy that one solve may leave for its start to serve again.
static const double KEEP_PART = 0.25;
// Part of a direction that others do not have, below which it is theirs but for rounding.
static const double DEPENDENT = 1e-8;

CAVUM_FAST static double dot(const double *restrict a, const double *restrict b,
                             cavum_index count) {
  enum { HALF = CAVUM_LANES / 2 };
  cavum_half_anywhere sums[4] = {{0}};
  cavum_index i = 0;
  for (; i + 4 * HALF <= count; i += 4 * HALF) {
    for (int k = 0; k < 4; k++) {
      sums[k] += *(const cavum_half_anywhere *)(a + i + k * HALF) *
                 *(const cavum_half_anywhere *)(b + i + k * HALF);
    }
  }
  double sum = 0.0;
  for (; i < count; i++) sum += a[i] * b[i];
  sums[0] = (sums[0] + sums[1]) + (sums[2] + sums[3]);
  for (int l = 0; l < HALF; l++) sum += sums[0][l];
  return sum;
}

CAVUM_FAST static void add(double *restrict to, double factor, const double *restrict from,
                           cavum_index count) {
  for (cavum_index i = 0; i < count; i++) to[i] += factor * from[i];
}

// to = from + factor * to
CAVUM_FAST static void turn_to(double *restrict to, double factor, const double *restrict from,
                               cavum_index count) {
  for (cavum_index i = 0; i < count; i++) to[i] = from[i] + factor * to[i];
}

// Vectors of one right-hand side: residual and direction with their products with M and K - shift
// M; that of the residual is what is left of b.
typedef struct side {
  double *z, *mz, *b, *r, *mr, *p, *mp, *kp, *ap, *map;  // mz: NULL where it is not asked for
  double square, first;                                  // r^T M r, now and at the start
  double turn;                                           // its last ratio, 1 before the first step
  bool done;
} side;

// A mode that is taken out.
typedef struct known_mode {
  const double *vector;
  double apart_per_m2;  // its k^2 less that of the problem
} known_mode;

typedef struct work {
  const cavum_bordered *problem;
  cavum_index n;
  double shift_per_m2, k2_per_m2;
  double *memory;     // owned: of all numbers
  int own;            // 1 where the mode of the problem is one of the pencil, else 0
  int num_modes;      // that are taken out: that one first
  known_mode *modes;  // owned, [num_modes]
  double *mx;         // M x of each
  double *ax;         // (K - k^2 M) x of each but that one
  double *parts;      // [count][num_modes]: x^T b of each right-hand side
  side sides[CAVUM_BORDERED_MOST];
  int count;
  double contraction;  // the largest of all sides, in the first step
  bool positive;       // no mode below is left in the space of z
} work;

// Takes modes out of a vector, by M.
static void take_out(const work *w, double *vector) {
  for (int i = 0; i < w->num_modes; i++) {
    add(vector, -dot(w->mx + (int64_t)i * w->n, vector, w->n), w->modes[i].vector, w->n);
  }
}

// The modes that have to be taken out: that of the problem, and those between it and the shift.
static void list_modes(work *w) {
  const cavum_modes *modes = w->problem->modes;
  double low = cavum_min(w->k2_per_m2, w->shift_per_m2);
  double high = cavum_max(w->k2_per_m2, w->shift_per_m2);
  if (w->own) w->modes[w->num_modes++] = (known_mode){.vector = w->problem->vector};
  for (int i = 0; i < modes->count; i++) {
    double k2 = modes->k2_per_m2[i];
    if (i == w->problem->index || k2 < low || k2 > high) continue;
    w->modes[w->num_modes++] = (known_mode){modes->vectors + (int64_t)i * w->n, k2 - w->k2_per_m2};
  }
}

static void clear_work(work *w) {
  free(w->modes);
  free(w->memory);
}

// What the known modes leave of their equation: nothing, were they known exactly.
static void apply_to_modes(work *w) {
  const cavum_pencil *p = w->problem->pencil;
  for (int i = w->own; i < w->num_modes; i++) {
    double *ax = w->ax + (int64_t)(i - w->own) * w->n;
    cavum_discretisation_apply_stiffness(ax, p->discretisation, w->modes[i].vector);
    cavum_pencil_clear_essential(ax, p);
    add(ax, -w->k2_per_m2, w->mx + (int64_t)i * w->n, w->n);
  }
}

// Whether the mode of the problem is the only one below the shift, or none is. Others that are
// taken out are not known well enough for what is left of b to go with the residual.
static bool is_positive(const work *w) {
  int below = w->own && w->k2_per_m2 < w->shift_per_m2 ? 1 : 0;
  return w->num_modes == w->own &&
         w->problem->pencil->levels[w->problem->level].num_negative == below;
}

// Seven vectors a side, or fewer: the first of them; without right-hand sides that may be
// overwritten the first is room for one.
static cavum_status prepare(work *w, const cavum_bordered *problem, double *const *z,
                            double *const *b, int count, int vectors, cavum_error *error) {
  const cavum_pencil *p = problem->pencil;
  *w = (work){0};
  cavum_status status = cavum_pencil_reach_level(problem->pencil, problem->level, error);
  if (status != CAVUM_OK) return status;
  *w = (work){.problem = problem,
              .n = p->discretisation->space.num_unknowns,
              .count = count,
              .k2_per_m2 = problem->k2_per_m2,
              .own = problem->vector ? 1 : 0};
  w->shift_per_m2 = p->factor_owner ? p->factor_owner->shift_per_m2 : p->shift_per_m2;
  w->modes = cavum_alloc(problem->modes->count + w->own, sizeof *w->modes);
  if (!w->modes) return cavum_fail_memory(error);
  list_modes(w);
  w->positive = is_positive(w);
  int num_products = 2 * w->num_modes - w->own;
  int64_t in_vectors = (int64_t)w->n * (num_products + vectors * (int64_t)count);
  w->memory = cavum_alloc_aligned(in_vectors + count * (int64_t)w->num_modes, sizeof *w->memory);
  if (!w->memory) return cavum_fail_memory(error);
  w->parts = w->memory + in_vectors;
  w->mx = w->memory;
  w->ax = w->mx + (int64_t)w->num_modes * w->n;
  for (int i = 0; i < w->num_modes; i++) {
    cavum_pencil_apply_mass(w->mx + (int64_t)i * w->n, p, w->modes[i].vector);
  }
  apply_to_modes(w);
  double *next = w->mx + (int64_t)num_products * w->n;
  for (int j = 0; j < count; j++) {
    side *s = &w->sides[j];
    double **own[] = {b ? &s->r : &s->b, &s->mr, &s->p, &s->mp, &s->kp, &s->ap, &s->map};
    for (int k = 0; k < vectors; k++, next += w->n) *own[k] = next;
    s->z = z[j];
    if (b) s->b = b[j];
  }
  return CAVUM_OK;
}

// y = T b of all sides that are not done.
static int list_solves(cavum_pencil_rhs *rhs, work *w, bool first) {
  int count = 0;
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    if (s->done) continue;
    rhs[count++] =
        (cavum_pencil_rhs){w->problem->pencil, first ? s->r : s->ap, first ? s->b : s->mp};
  }
  return count;
}

static void solve_all(work *w, bool first) {
  cavum_pencil_rhs rhs[CAVUM_BORDERED_MOST];
  int count = list_solves(rhs, w, first);
  if (count > 0) cavum_pencil_solve_many(w->problem->pencil, w->problem->level, rhs, count);
}

static void list_parts(const work *w, const side *s, const double *b) {
  double *parts = w->parts + (s - w->sides) * w->num_modes;
  for (int i = 0; i < w->num_modes; i++) parts[i] = dot(w->modes[i].vector, b, w->n);
}

// Along the known modes z has what is left of their equation there: with modes that are known to an
// iteration's accuracy, what the rest of z has to do with it belongs to it.
static void settle_modes(const work *w, side *s) {
  const double *parts = w->parts + (s - w->sides) * w->num_modes;
  for (int i = w->own; i < w->num_modes; i++) {
    double left = parts[i] - dot(w->ax + (int64_t)(i - w->own) * w->n, s->z, w->n);
    add(s->z, left / w->modes[i].apart_per_m2, w->modes[i].vector, w->n);
    if (s->mz) add(s->mz, left / w->modes[i].apart_per_m2, w->mx + (int64_t)i * w->n, w->n);
  }
}

// z of the known modes, with what is left of b.
static void take_modes(work *w, side *s) {
  const double *parts = w->parts + (s - w->sides) * w->num_modes;
  memset(s->z, 0, (size_t)w->n * sizeof *s->z);
  cavum_pencil_clear_essential(s->b, w->problem->pencil);
  list_parts(w, s, s->b);
  settle_modes(w, s);
  if (w->own) add(s->b, -parts[0], w->mx, w->n);
  for (int i = w->own; i < w->num_modes; i++) {
    add(s->b, -parts[i] / w->modes[i].apart_per_m2, w->ax + (int64_t)(i - w->own) * w->n, w->n);
  }
}

// The residual of the rest, which starts at z = 0.
static void start(work *w) {
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    if (s->mz) memset(s->mz, 0, (size_t)w->n * sizeof *s->mz);
    take_modes(w, s);
  }
  solve_all(w, true);
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    take_out(w, s->r);
    cavum_pencil_apply_mass(s->mr, w->problem->pencil, s->r);
    memcpy(s->p, s->r, (size_t)w->n * sizeof *s->p);
    memcpy(s->mp, s->mr, (size_t)w->n * sizeof *s->mp);
    memcpy(s->kp, s->b, (size_t)w->n * sizeof *s->kp);
    s->first = s->square = dot(s->r, s->mr, w->n);
    s->turn = 1.0;
    s->done = !(s->square > 0.0);
  }
}

static double accuracy_of(const work *w) {
  return w->problem->accuracy * (w->contraction < CONTRACTION_MOST ? 1.0 : SLOW_PART);
}

// The next step is expected to fall by the ratio of the last one. Whether what is left then is that
// part of the accuracy.
static bool falls_below(const work *w, const side *s, double part) {
  double least = part * accuracy_of(w);
  return s->square * s->turn <= least * least * s->first;
}

static void move(const work *w, side *s, double length) {
  add(s->z, length, s->p, w->n);
  if (s->mz) add(s->mz, length, s->mp, w->n);
}

// Turns to the next direction, with its products.
static void turn_all(const work *w, side *s, double length, double factor) {
  double behind = w->k2_per_m2 - w->shift_per_m2;
  add(s->b, -length, s->kp, w->n);
  add(s->b, length * behind, s->mp, w->n);
  turn_to(s->p, factor, s->r, w->n);
  turn_to(s->mp, factor, s->mr, w->n);
  turn_to(s->kp, factor, s->b, w->n);
}

// One step; false where the problem is not positive.
static bool step(work *w, side *s) {
  turn_to(s->ap, w->shift_per_m2 - w->k2_per_m2, s->p, w->n);
  double curvature = dot(s->mp, s->ap, w->n);
  if (!(curvature > 0.0)) return false;
  double length = s->square / curvature;
  move(w, s, length);
  s->done = falls_below(w, s, 1.0);
  if (s->done) return true;
  take_out(w, s->ap);
  cavum_pencil_apply_mass(s->map, w->problem->pencil, s->ap);
  add(s->r, -length, s->ap, w->n);
  add(s->mr, -length, s->map, w->n);
  double square = dot(s->r, s->mr, w->n), least = accuracy_of(w);
  if (s->turn == 1.0) w->contraction = cavum_max(w->contraction, sqrt(square / s->square));
  s->turn = cavum_min(square / s->square, 1.0);
  turn_all(w, s, length, square / s->square);
  s->square = square;
  s->done = !(square > least * least * s->first);
  return true;
}

// Coefficients of the directions that least energy asks for: those of each side in a row. Cholesky
// [GolubVanLoan2013, 4.2]; a direction that depends on those before it counts for nothing.
static void solve_small(double right[][CAVUM_BORDERED_MOST], double matrix[][CAVUM_BORDERED_MOST],
                        int count) {
  for (int j = 0; j < count; j++) {
    for (int i = j; i < count; i++) {
      double sum = matrix[i][j], whole = matrix[j][j];
      for (int k = 0; k < j; k++) sum -= matrix[i][k] * matrix[j][k];
      if (i > j) matrix[i][j] = sum / matrix[j][j];
      if (i == j) matrix[j][j] = sum > DEPENDENT * whole ? sqrt(sum) : HUGE_VAL;
    }
  }
  for (int row = 0; row < count; row++) {
    double *x = right[row];
    for (int i = 0; i < count; i++) {
      for (int k = 0; k < i; k++) x[i] -= matrix[i][k] * x[k];
      x[i] /= matrix[i][i];
    }
    for (int i = count - 1; i >= 0; i--) {
      for (int k = i + 1; k < count; k++) x[i] -= matrix[k][i] * x[k];
      x[i] /= matrix[i][i];
    }
  }
}

// The last step of all sides to the least energy in the span of their directions, which needs no
// solve: what is left of them are mostly the same few modes.
static void step_together(work *w) {
  double energy[CAVUM_BORDERED_MOST][CAVUM_BORDERED_MOST];
  double along[CAVUM_BORDERED_MOST][CAVUM_BORDERED_MOST];
  double behind = w->k2_per_m2 - w->shift_per_m2;
  side *sides[CAVUM_BORDERED_MOST];
  int count = 0;
  for (int j = 0; j < w->count; j++) {
    if (!w->sides[j].done) sides[count++] = &w->sides[j];
  }
  for (int i = 0; i < count; i++) {
    const double *p = sides[i]->p;
    for (int j = 0; j < count; j++) along[j][i] = dot(p, sides[j]->b, w->n);
    for (int j = 0; j <= i; j++) {
      energy[i][j] = dot(p, sides[j]->kp, w->n) - behind * dot(p, sides[j]->mp, w->n);
    }
  }
  solve_small(along, energy, count);
  for (int j = 0; j < count; j++) {
    sides[j]->done = true;
    for (int i = 0; i < count; i++) {
      add(sides[j]->z, along[j][i], sides[i]->p, w->n);
      if (sides[j]->mz) add(sides[j]->mz, along[j][i], sides[i]->mp, w->n);
    }
  }
}

static bool iterate(work *w) {
  for (int i = 0; i < STEPS_MOST; i++) {
    bool all = true, close = true;
    solve_all(w, false);
    for (int j = 0; j < w->count; j++) {
      side *s = &w->sides[j];
      if (!s->done && !step(w, s)) return false;
      all = all && s->done;
      close = close && (s->done || falls_below(w, s, LAST_PART));
    }
    close = close && w->positive && w->contraction < CONTRACTION_MOST;
    if (!all && close) step_together(w);
    if (all || close) return true;
  }
  return false;
}

cavum_status cavum_bordered_solve(double *const *z, cavum_bordered_start *start_of_others,
                                  bool *solved, const cavum_bordered *problem, double *const *b,
                                  int count, cavum_error *error) {
  work w;
  CAVUM_ASSERT(count >= 1 && count <= CAVUM_BORDERED_MOST);
  cavum_status status = prepare(&w, problem, z, b, count, 7, error);
  if (status == CAVUM_OK) {
    for (int j = 0; j < count && start_of_others->mz; j++) w.sides[j].mz = start_of_others->mz[j];
    start(&w);
    *solved = iterate(&w);
    for (int j = 0; j < count; j++) settle_modes(&w, &w.sides[j]);
    start_of_others->contraction = w.contraction;
    start_of_others->contraction_m2 = w.contraction / fabs(w.k2_per_m2 - w.shift_per_m2);
  }
  clear_work(&w);
  return status;
}

// (a - b) . (c - d)
CAVUM_FAST static double dot_of_changes(const double *restrict a, const double *restrict b,
                                        const double *restrict c, const double *restrict d,
                                        cavum_index count) {
  enum { HALF = CAVUM_LANES / 2 };
  cavum_half_anywhere sums[2] = {{0}};
  cavum_index i = 0;
  for (; i + 2 * HALF <= count; i += 2 * HALF) {
    for (int k = 0; k < 2; k++) {
      cavum_index at = i + k * HALF;
      sums[k] += (*(const cavum_half_anywhere *)(a + at) - *(const cavum_half_anywhere *)(b + at)) *
                 (*(const cavum_half_anywhere *)(c + at) - *(const cavum_half_anywhere *)(d + at));
    }
  }
  double sum = 0.0;
  for (; i < count; i++) sum += (a[i] - b[i]) * (c[i] - d[i]);
  sums[0] += sums[1];
  for (int l = 0; l < HALF; l++) sum += sums[0][l];
  return sum;
}

// How far a solution has come in the last step, of its own size: by M, and by the products with M,
// which belong to another shape. Its own is made.
static double measure_side(const work *w, int j, double *const *mz,
                           const cavum_bordered_near *near) {
  const double *z = w->sides[j].z, *product = mz[j], *before = near->mz[j];
  cavum_pencil_apply_mass(mz[j], w->problem->pencil, z);
  double size = dot(z, product, w->n);
  if (!(size > 0.0)) return HUGE_VAL;  // a solution of zero is not near any
  double change = dot_of_changes(z, near->z[j], product, before, w->n) / size;
  double of_products = dot_of_changes(product, before, product, before, w->n);
  return sqrt(cavum_max(change, of_products / dot(product, product, w->n)));
}

// The most of all sides but one that is known.
static double measure_sides(const work *w, int known, double of_known, double *const *mz,
                            const cavum_bordered_near *near) {
  double most = of_known;
  for (int j = 0; j < w->count; j++) {
    if (j != known) most = cavum_max(most, measure_side(w, j, mz, near));
  }
  return most;
}

// The side whose coefficients changed the most, of their own size.
static int find_farthest(const work *w, const cavum_bordered_near *near) {
  int farthest = 0;
  double most = -1.0;
  for (int j = 0; j < w->count; j++) {
    const double *z = w->sides[j].z;
    double change = dot_of_changes(z, near->z[j], z, near->z[j], w->n) / dot(z, z, w->n);
    if (!(change > most)) continue;
    most = change;
    farthest = j;
  }
  return farthest;
}

// to = a + factor_b * b + factor_c * c
CAVUM_FAST static void combine(double *restrict to, const double *restrict a, double factor_b,
                               const double *restrict b, double factor_c, const double *restrict c,
                               cavum_index count) {
  for (cavum_index i = 0; i < count; i++) to[i] = a[i] + factor_b * b[i] + factor_c * c[i];
}

// to = factor * (a - b)
CAVUM_FAST static void turn_to_change(double *restrict to, double factor, const double *restrict a,
                                      const double *restrict b, cavum_index count) {
  for (cavum_index i = 0; i < count; i++) to[i] = factor * (a[i] - b[i]);
}

// One solve from solutions whose products with M, times a sign, are known: what it is of.
static void begin_from(work *w, const double *const *b, double *const *mz, double sign) {
  double behind = sign * (w->k2_per_m2 - w->shift_per_m2);
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    list_parts(w, s, b[j]);
    double along = w->own ? -w->parts[j * w->num_modes] : 0.0;
    combine(s->b, b[j], behind, mz[j], along, w->own ? w->mx : b[j], w->n);
    s->r = s->z;
  }
}

static void end_from(work *w) {
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    take_out(w, s->z);
    settle_modes(w, s);
  }
}

// How far the solutions come in one solve more: what is left of b is (k^2 - shift) M times the last
// change. Of all sides that one is measured by M whose part along its last change is the largest:
// they contract alike, and a product with M costs half as much as a solve. The products of z with M
// stay those of before.
static double solve_again(work *w, double *const *mz, double *const *mz_before) {
  double behind = w->k2_per_m2 - w->shift_per_m2, most = 0.0, of_most = 1.0;
  int far = 0;
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    turn_to_change(s->b, behind, mz[j], mz_before[j], w->n);
    for (int k = 0; k < w->num_modes; k++) {
      add(s->b, -dot(w->modes[k].vector, s->b, w->n), w->mx + (int64_t)k * w->n, w->n);
    }
    s->r = s->p;
  }
  solve_all(w, true);
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    take_out(w, s->r);
    double size = dot(s->z, mz[j], w->n), along = fabs(dot(s->r, s->b, w->n)) / size;
    add(s->z, 1.0, s->r, w->n);
    if (!(along > most)) continue;
    most = along;
    of_most = size;
    far = j;
  }
  side *s = &w->sides[far];
  cavum_pencil_apply_mass(s->mr, w->problem->pencil, s->r);
  return sqrt(dot(s->r, s->mr, w->n) / of_most);
}

// After the first solve.
static bool reach_from(work *w, double *const *mz, double *contraction, bool *kept,
                       const cavum_bordered_near *near) {
  double accuracy = w->problem->accuracy;
  int known = near->may_keep ? find_farthest(w, near) : -1;
  double first = known >= 0 ? measure_side(w, known, mz, near) : 0.0;
  *kept = known >= 0 && NEAR_FACTOR * *contraction * first <= KEEP_PART * accuracy;
  if (*kept) return true;
  first = measure_sides(w, known, first, mz, near);
  if (NEAR_FACTOR * *contraction * first <= accuracy) return true;
  if (!(*contraction * *contraction * first <= accuracy)) return false;
  double second = solve_again(w, mz, near->mz);
  for (int j = 0; j < w->count && !near->products_behind; j++) {
    cavum_pencil_apply_mass(mz[j], w->problem->pencil, w->sides[j].z);
  }
  *contraction = cavum_max(*contraction, second / first);
  return NEAR_FACTOR * *contraction * second <= accuracy;
}

static double distance_of_shift(const work *w) { return fabs(w->k2_per_m2 - w->shift_per_m2); }

// Whether two solves may do: as many take it from nothing.
static bool is_near(const work *w, const cavum_bordered_near *near) {
  double contraction = near->contraction_m2 * distance_of_shift(w);
  return contraction * contraction * FAR_CHANGE <= w->problem->accuracy;
}

static cavum_status begin_task(work *w, cavum_bordered_task *task, cavum_error *error) {
  CAVUM_ASSERT(task->count <= CAVUM_BORDERED_MOST);
  task->solved = false;
  if (task->count == 0) return CAVUM_OK;
  cavum_status status =
      prepare(w, task->problem, task->z, NULL, task->count, task->near ? 3 : 1, error);
  if (status != CAVUM_OK) return status;
  double *const *mz = task->near ? task->near->mz : task->start->mz;
  if (!task->near || is_near(w, task->near)) {
    begin_from(w, task->b, mz, !task->near && task->start->opposite ? -1.0 : 1.0);
  } else {
    w->count = 0;
  }
  return CAVUM_OK;
}

static void solve_together(work *w, int num_tasks) {
  cavum_pencil_rhs rhs[CAVUM_BORDERED_TASKS * CAVUM_BORDERED_MOST];
  const cavum_bordered *problem = NULL;
  int count = 0;
  for (int t = 0; t < num_tasks; t++) {
    if (w[t].count == 0) continue;
    CAVUM_ASSERT(!problem || problem->level == w[t].problem->level);
    problem = w[t].problem;
    count += list_solves(rhs + count, &w[t], true);
  }
  if (count > 0) cavum_pencil_solve_many(problem->pencil, problem->level, rhs, count);
}

static void end_task(work *w, cavum_bordered_task *task) {
  cavum_bordered_start *start = task->start;
  if (w->count > 0) end_from(w);
  if (task->count == 0 || !task->near) return;
  double apart = distance_of_shift(w), contraction = task->near->contraction_m2 * apart;
  start->kept = false;
  if (w->count > 0) {
    task->solved = reach_from(w, start->mz, &contraction, &start->kept, task->near);
  }
  start->contraction = contraction;
  start->contraction_m2 = contraction / apart;
}

cavum_status cavum_bordered_solve_tasks(cavum_bordered_task *tasks, int num_tasks,
                                        cavum_error *error) {
  work w[CAVUM_BORDERED_TASKS];
  cavum_status status = CAVUM_OK;
  CAVUM_ASSERT(num_tasks <= CAVUM_BORDERED_TASKS);
  for (int t = 0; t < num_tasks; t++) w[t] = (work){0};
  for (int t = 0; t < num_tasks; t++) CAVUM_TRY(begin_task(&w[t], &tasks[t], error));
  solve_together(w, num_tasks);
  for (int t = 0; t < num_tasks; t++) end_task(&w[t], &tasks[t]);
done:
  for (int t = 0; t < num_tasks; t++) clear_work(&w[t]);
  return status;
}

cavum_status cavum_bordered_solve_near(double *const *z, cavum_bordered_start *start_of_others,
                                       bool *solved, const cavum_bordered *problem,
                                       const cavum_bordered_near *near, const double *const *b,
                                       int count, cavum_error *error) {
  cavum_bordered_task task = {problem, z, b, count, start_of_others, near, false};
  cavum_status status = cavum_bordered_solve_tasks(&task, 1, error);
  *solved = task.solved;
  return status;
}

cavum_status cavum_bordered_correct(double *const *z, const cavum_bordered *problem,
                                    const cavum_bordered_start *start_of_others,
                                    const double *const *b, int count, cavum_error *error) {
  cavum_bordered_start start = *start_of_others;
  cavum_bordered_task task = {problem, z, b, count, &start, NULL, false};
  return cavum_bordered_solve_tasks(&task, 1, error);
}
