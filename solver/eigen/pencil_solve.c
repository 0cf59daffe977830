// SPDX-License-Identifier: GPL-3.0-or-later
// Solves with a factorised pencil go down through the interiors and the skeleton and back up.
#include "eigen/pencil_solve.h"

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"
#include "base/threads.h"
#include "fem/condensed_solve.h"
#include "linalg/block_solve.h"

// Batches that a thread takes at a time.
enum { PIECE = 64 };

// The rows of one right-hand side, with the spare one behind them.
static double *rows_of(const cavum_pencil *p, int rhs) {
  return p->rows + (size_t)rhs * (size_t)p->levels[0].factor.num_places;
}

// Copies the skeleton part of a full vector into rows, or back.
CAVUM_FAST static void take_rows(double *rows, const cavum_pencil *p,
                                 const cavum_pencil_level *level, const double *full) {
  const cavum_skeleton *s = p->skeleton;
  int degree = p->discretisation->reference->degree;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    if (!s->exists[b]) continue;
    const double *from = full + cavum_skeleton_first_unknown(s, b, degree);
    double *to = rows + level->factor.row_of_block[b];
    for (int m = 0; m < level->block_size[b]; m++) to[m] = from[m];
  }
}

CAVUM_FAST static void put_rows(double *full, const cavum_pencil *p,
                                const cavum_pencil_level *level, const double *rows) {
  const cavum_skeleton *s = p->skeleton;
  int degree = p->discretisation->reference->degree;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    double *to = full + cavum_skeleton_first_unknown(s, b, degree);
    int all = cavum_skeleton_block_size(s, b, degree),
        used = s->exists[b] ? level->block_size[b] : 0;
    const double *from = rows + (s->exists[b] ? level->factor.row_of_block[b] : 0);
    for (int m = 0; m < all; m++) to[m] = m < used ? from[m] : 0.0;
  }
  cavum_index skeleton = p->discretisation->space.num_skeleton;
  for (int64_t i = skeleton; i < cavum_space_lanes(skeleton); i++) full[i] = 0.0;
}

// Sizes of a batch at a level.
typedef struct batch_size {
  int skeleton, interior, used;  // functions of the discretisation; interior ones of the level
} batch_size;

static batch_size size_of(const cavum_pencil *p, int level, const cavum_batch *batch) {
  int degree = p->discretisation->reference->degree, corners = batch->num_corners;
  int low = p->levels[level].degree, skeleton = cavum_shape_count_skeleton(corners, degree);
  return (batch_size){skeleton, cavum_shape_count(corners, degree) - skeleton,
                      cavum_shape_count(corners, low) - cavum_shape_count_skeleton(corners, low)};
}

// One half of a solve in the interiors of all batches.
typedef struct interiors {
  cavum_pencil *p;
  int level;
  const cavum_pencil_rhs *rhs;
  int count;
  cavum_lanes *border;  // of all batches, where several threads are at work; it is added after
} interiors;

// Work space of the interior functions of a batch, which are as many to a lane as the batches
// before it have.
static cavum_lanes *own_of(const interiors *s, const cavum_batch *batch) {
  cavum_index before = batch->first_interior - s->p->discretisation->batches[0].first_interior;
  return s->p->own + (size_t)(before / CAVUM_LANES) * (size_t)s->count;
}

CAVUM_FAST static void load_own(cavum_lanes *restrict own, const interiors *s,
                                const cavum_batch *batch, int used) {
  for (int r = 0; r < s->count; r++) {
    const double *from = s->rhs[r].b + batch->first_interior;
    for (int i = 0; i < used; i++, from += CAVUM_LANES) {
      own[i * s->count + r] = *(const cavum_lanes_anywhere *)from;
    }
  }
}

// What the interiors add to the rows of the skeleton.
CAVUM_FAST static void add_border(const interiors *s, const cavum_lanes *restrict border,
                                  const cavum_batch *batch, int skeleton) {
  const cavum_discretisation *d = s->p->discretisation;
  const cavum_index(*row)[CAVUM_LANES] = s->p->levels[s->level].row + batch->first_sign;
  for (int r = 0; r < s->count; r++) {
    double *rows = rows_of(s->p, r);
    for (int a = 0; a < skeleton; a++) {
      cavum_lanes value = border[a * s->count + r] * d->sign[batch->first_sign + a];
      for (int l = 0; l < CAVUM_LANES; l++) rows[row[a][l]] += value[l];
    }
  }
}

static void go_down_some(void *context, int64_t from, int64_t end, int worker) {
  const interiors *s = context;
  cavum_lanes border[CAVUM_RHS_MOST * 4 * CAVUM_DEGREE_MOST];
  (void)worker;
  for (int64_t at = from; at < end; at++) {
    const cavum_batch *batch = &s->p->discretisation->batches[at];
    batch_size size = size_of(s->p, s->level, batch);
    cavum_lanes *own = own_of(s, batch);
    cavum_lanes *to = s->border ? s->border + batch->first_sign * s->count : border;
    load_own(own, s, batch, size.used);
    cavum_condensed_forward(own, to, s->p->condensed, s->level, (cavum_index)at, s->count);
    if (!s->border) add_border(s, border, batch, size.skeleton);
  }
}

// Sums are taken in the order of the batches, however many threads there are.
static void go_down(interiors *s, int workers) {
  const cavum_discretisation *d = s->p->discretisation;
  if (workers > 1) {
    const cavum_batch *last = &d->batches[d->num_batches - 1];
    int64_t count = last->first_sign + size_of(s->p, s->level, last).skeleton;
    s->border = cavum_alloc_aligned(count * s->count, sizeof *s->border);
  }
  cavum_threads_run(go_down_some, s, d->num_batches, PIECE, s->border ? workers : 1);
  for (cavum_index b = 0; s->border && b < d->num_batches; b++) {
    const cavum_batch *batch = &d->batches[b];
    add_border(s, s->border + batch->first_sign * s->count, batch,
               size_of(s->p, s->level, batch).skeleton);
  }
  free(s->border);
  s->border = NULL;
}

CAVUM_FAST static void load_border(cavum_lanes *restrict border, const interiors *s,
                                   const cavum_batch *batch, int skeleton) {
  const cavum_discretisation *d = s->p->discretisation;
  const cavum_index(*row)[CAVUM_LANES] = s->p->levels[s->level].row + batch->first_sign;
  for (int r = 0; r < s->count; r++) {
    const double *rows = rows_of(s->p, r);
    for (int a = 0; a < skeleton; a++) {
      cavum_lanes *value = &border[a * s->count + r];
      for (int l = 0; l < CAVUM_LANES; l++) (*value)[l] = rows[row[a][l]];
    }
  }
  // Later: numbers that were just stored one by one cannot be loaded together at once.
  for (int a = 0; a < skeleton; a++) {
    for (int r = 0; r < s->count; r++) border[a * s->count + r] *= d->sign[batch->first_sign + a];
  }
}

CAVUM_FAST static void store_own(const interiors *s, const cavum_lanes *restrict own,
                                 const cavum_batch *batch, const batch_size *size) {
  for (int r = 0; r < s->count; r++) {
    double *to = s->rhs[r].y + batch->first_interior;
    for (int i = 0; i < size->interior; i++, to += CAVUM_LANES) {
      cavum_lanes value = {0};
      if (i < size->used) value = own[i * s->count + r];
      for (int l = batch->count; l < CAVUM_LANES; l++) value[l] = 0.0;
      *(cavum_lanes_anywhere *)to = value;
    }
  }
}

static void go_up_some(void *context, int64_t from, int64_t end, int worker) {
  const interiors *s = context;
  cavum_lanes border[CAVUM_RHS_MOST * 4 * CAVUM_DEGREE_MOST];
  (void)worker;
  for (int64_t at = from; at < end; at++) {
    const cavum_batch *batch = &s->p->discretisation->batches[at];
    batch_size size = size_of(s->p, s->level, batch);
    cavum_lanes *own = own_of(s, batch);
    load_border(border, s, batch, size.skeleton);
    cavum_condensed_backward(own, border, s->p->condensed, s->level, (cavum_index)at, s->count);
    store_own(s, own, batch, &size);
  }
}

static void go_up(interiors *s, int workers) {
  for (int r = 0; r < s->count; r++) rows_of(s->p, r)[s->p->levels[s->level].factor.num_rows] = 0.0;
  cavum_threads_run(go_up_some, s, s->p->discretisation->num_batches, PIECE, workers);
}

void cavum_pencil_solve_many(cavum_pencil *pencil, int level, const cavum_pencil_rhs *rhs,
                             int count) {
  cavum_pencil *p =
      pencil->factor_owner ? pencil->factor_owner : pencil;  // whose factors and work space serve
  cavum_pencil_level *own = &p->levels[level];
  int workers = p->discretisation->num_batches > PIECE ? cavum_threads_count() : 1;
  for (int done = 0; done < count; done += CAVUM_RHS_MOST) {
    if (done > 0 && cavum_stop_asked()) return;  // who called finds out by asking too
    const cavum_pencil_rhs *now = rhs + done;
    int together = count - done < CAVUM_RHS_MOST ? count - done : CAVUM_RHS_MOST;
    cavum_index closed[CAVUM_RHS_MOST];
    for (int r = 0; r < together; r++) {
      CAVUM_ASSERT(now[r].pencil == p || now[r].pencil->factor_owner == p);
      closed[r] = cavum_pencil_num_closed(now[r].pencil, level);
      take_rows(rows_of(p, r), p, own, now[r].b);
    }
    interiors all = {.p = p, .level = level, .rhs = now, .count = together};
    go_down(&all, workers);
    cavum_block_factor_solve(p->rows, &own->factor, closed, together,
                             p->levels[0].factor.num_places);
    go_up(&all, workers);
    for (int r = 0; r < together; r++) put_rows(now[r].y, p, own, rows_of(p, r));
  }
}

void cavum_pencil_solve(double *y, cavum_pencil *pencil, int level, const double *b) {
  const cavum_pencil_rhs rhs = {pencil, y, b};
  cavum_pencil_solve_many(pencil, level, &rhs, 1);
}
