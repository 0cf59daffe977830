// SPDX-License-Identifier: GPL-3.0-or-later
// Conjugate gradients on the factorised pencil, all right-hand sides together.
#include "eigen/bordered.h"

#include <string.h>

#include "base/base.h"
#include "eigen/pencil_solve.h"
#include "fem/apply.h"

// The factorisation is as good as one step where the shift is close to the mode; many modes in the
// way that are not known slow it down.
enum { STEPS_MOST = 40 };

static double dot(const double *a, const double *b, cavum_index count) {
  double sum = 0.0;
  for (cavum_index i = 0; i < count; i++) sum += a[i] * b[i];
  return sum;
}

static void add(double *to, double factor, const double *from, cavum_index count) {
  for (cavum_index i = 0; i < count; i++) to[i] += factor * from[i];
}

// Vectors of one right-hand side: residual and direction with their products with M.
typedef struct side {
  double *z, *b, *r, *mr, *p, *mp, *ap, *map;
  double square, first;  // r^T M r, now and at the start
  bool done;
} side;

typedef struct work {
  const cavum_bordered *problem;
  cavum_index n;
  double shift_per_m2, k2_per_m2;
  double *memory;        // owned
  int num_modes;         // that are taken out: the one of the problem first
  const double **modes;  // owned, [num_modes]
  double *apart_per_m2;  // owned: their k^2 less that of the problem
  double *mx;            // M x of each
  side sides[CAVUM_BORDERED_MOST];
  int count;
} work;

// Takes modes out of a vector, by M.
static void take_out(const work *w, double *vector) {
  for (int i = 0; i < w->num_modes; i++) {
    add(vector, -dot(w->mx + (int64_t)i * w->n, vector, w->n), w->modes[i], w->n);
  }
}

// The modes that have to be taken out: that of the problem, and those between it and the shift.
static void list_modes(work *w) {
  const cavum_modes *modes = w->problem->modes;
  double low = cavum_min(w->k2_per_m2, w->shift_per_m2);
  double high = cavum_max(w->k2_per_m2, w->shift_per_m2);
  w->modes[w->num_modes++] = w->problem->vector;
  for (int i = 0; i < modes->count; i++) {
    double k2 = modes->k2_per_m2[i];
    if (i == w->problem->index || k2 < low || k2 > high) continue;
    w->apart_per_m2[w->num_modes] = k2 - w->k2_per_m2;
    w->modes[w->num_modes++] = modes->vectors + (int64_t)i * w->n;
  }
}

static cavum_status prepare(work *w, const cavum_bordered *problem, double *const *z,
                            double *const *b, int count, cavum_error *error) {
  const cavum_pencil *p = problem->pencil;
  *w = (work){.problem = problem, .n = problem->modes->num_unknowns, .count = count};
  w->shift_per_m2 = p->factor_owner ? p->factor_owner->shift_per_m2 : p->shift_per_m2;
  w->k2_per_m2 = problem->modes->k2_per_m2[problem->index];
  w->modes = cavum_alloc(problem->modes->count, sizeof *w->modes);
  w->apart_per_m2 = cavum_alloc(problem->modes->count, sizeof *w->apart_per_m2);
  if (!w->modes || !w->apart_per_m2) return cavum_fail_memory(error);
  list_modes(w);
  w->memory = cavum_alloc((int64_t)w->n * (w->num_modes + 6 * (int64_t)count), sizeof *w->memory);
  if (!w->memory) return cavum_fail_memory(error);
  w->mx = w->memory;
  for (int i = 0; i < w->num_modes; i++) {
    cavum_pencil_apply_mass(w->mx + (int64_t)i * w->n, p, w->modes[i]);
  }
  double *next = w->mx + (int64_t)w->num_modes * w->n;
  for (int j = 0; j < count; j++) {
    side *s = &w->sides[j];
    double **own[] = {&s->r, &s->mr, &s->p, &s->mp, &s->ap, &s->map};
    for (int k = 0; k < 6; k++, next += w->n) *own[k] = next;
    s->z = z[j];
    s->b = b[j];
  }
  return CAVUM_OK;
}

// y = T b of all sides that are not done.
static void solve_all(work *w, bool first) {
  cavum_pencil_rhs rhs[CAVUM_BORDERED_MOST];
  int count = 0;
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    if (s->done) continue;
    rhs[count++] =
        (cavum_pencil_rhs){w->problem->pencil, first ? s->r : s->ap, first ? s->b : s->mp};
  }
  if (count > 0) cavum_pencil_solve_many(w->problem->pencil, w->problem->level, rhs, count);
}

// z of the known modes, and the residual of the rest, which starts at z = 0.
static void start(work *w) {
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    memset(s->z, 0, (size_t)w->n * sizeof *s->z);
    cavum_pencil_clear_essential(s->b, w->problem->pencil);
    for (int i = 0; i < w->num_modes; i++) {
      double part = dot(w->modes[i], s->b, w->n);
      if (i > 0) add(s->z, part / w->apart_per_m2[i], w->modes[i], w->n);
      add(s->b, -part, w->mx + (int64_t)i * w->n, w->n);
    }
  }
  solve_all(w, true);
  for (int j = 0; j < w->count; j++) {
    side *s = &w->sides[j];
    take_out(w, s->r);
    cavum_pencil_apply_mass(s->mr, w->problem->pencil, s->r);
    memcpy(s->p, s->r, (size_t)w->n * sizeof *s->p);
    memcpy(s->mp, s->mr, (size_t)w->n * sizeof *s->mp);
    s->first = s->square = dot(s->r, s->mr, w->n);
    s->done = !(s->square > 0.0);
  }
}

// One step; false where the problem is not positive.
static bool step(work *w, side *s) {
  double factor = w->k2_per_m2 - w->shift_per_m2, least = w->problem->accuracy;
  for (cavum_index i = 0; i < w->n; i++) s->ap[i] = s->p[i] - factor * s->ap[i];
  take_out(w, s->ap);
  double curvature = dot(s->mp, s->ap, w->n);
  if (!(curvature > 0.0)) return false;
  cavum_pencil_apply_mass(s->map, w->problem->pencil, s->ap);
  double length = s->square / curvature;
  add(s->z, length, s->p, w->n);
  add(s->r, -length, s->ap, w->n);
  add(s->mr, -length, s->map, w->n);
  double square = dot(s->r, s->mr, w->n), turn = square / s->square;
  s->square = square;
  s->done = !(square > least * least * s->first);
  for (cavum_index i = 0; i < w->n; i++) {
    s->p[i] = s->r[i] + turn * s->p[i];
    s->mp[i] = s->mr[i] + turn * s->mp[i];
  }
  return true;
}

static bool iterate(work *w) {
  for (int i = 0; i < STEPS_MOST; i++) {
    bool all = true;
    solve_all(w, false);
    for (int j = 0; j < w->count; j++) {
      side *s = &w->sides[j];
      if (!s->done && !step(w, s)) return false;
      all = all && s->done;
    }
    if (all) return true;
  }
  return false;
}

cavum_status cavum_bordered_solve(double *const *z, bool *solved, const cavum_bordered *problem,
                                  double *const *b, int count, cavum_error *error) {
  work w;
  CAVUM_ASSERT(count >= 1 && count <= CAVUM_BORDERED_MOST);
  cavum_status status = prepare(&w, problem, z, b, count, error);
  if (status == CAVUM_OK) {
    start(&w);
    *solved = iterate(&w);
  }
  free(w.modes);
  free(w.apart_per_m2);
  free(w.memory);
  return status;
}
