// SPDX-License-Identifier: GPL-3.0-or-later
// Solves with a factorised pencil go down through the interiors and the skeleton and back up.
#include "eigen/pencil_solve.h"

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"
#include "fem/condensed_solve.h"
#include "linalg/block_solve.h"

// The rows of one right-hand side, with the spare one at their end.
static double *rows_of(const cavum_pencil *p, int rhs) {
  return p->rows + (size_t)rhs * ((size_t)p->levels[0].factor.num_rows + 1);
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

CAVUM_FAST static void go_down(cavum_pencil *p, int level, const cavum_pencil_rhs *rhs, int count) {
  const cavum_discretisation *d = p->discretisation;
  cavum_lanes border[CAVUM_RHS_MOST * 4 * CAVUM_DEGREE_MOST], *own = p->own;
  for (cavum_index at = 0; at < d->num_batches && !cavum_stop_asked_at(at); at++) {
    const cavum_batch *batch = &d->batches[at];
    batch_size size = size_of(p, level, batch);
    for (int r = 0; r < count; r++) {
      const double *from = rhs[r].b + batch->first_interior;
      for (int i = 0; i < size.used; i++, from += CAVUM_LANES) {
        own[i * count + r] = *(const cavum_lanes_anywhere *)from;
      }
    }
    cavum_condensed_forward(own, border, p->condensed, level, at, count);
    const cavum_index(*row)[CAVUM_LANES] = p->levels[level].row + batch->first_sign;
    for (int r = 0; r < count; r++) {
      double *rows = rows_of(p, r);
      for (int a = 0; a < size.skeleton; a++) {
        cavum_lanes value = border[a * count + r] * d->sign[batch->first_sign + a];
        for (int l = 0; l < CAVUM_LANES; l++) rows[row[a][l]] += value[l];
      }
    }
    own += size.interior * count;
  }
}

CAVUM_FAST static void go_up(cavum_pencil *p, int level, const cavum_pencil_rhs *rhs, int count) {
  const cavum_discretisation *d = p->discretisation;
  cavum_lanes border[CAVUM_RHS_MOST * 4 * CAVUM_DEGREE_MOST], *own = p->own;
  for (int r = 0; r < count; r++) rows_of(p, r)[p->levels[level].factor.num_rows] = 0.0;
  for (cavum_index at = 0; at < d->num_batches && !cavum_stop_asked_at(at); at++) {
    const cavum_batch *batch = &d->batches[at];
    batch_size size = size_of(p, level, batch);
    const cavum_index(*row)[CAVUM_LANES] = p->levels[level].row + batch->first_sign;
    for (int r = 0; r < count; r++) {
      const double *rows = rows_of(p, r);
      for (int a = 0; a < size.skeleton; a++) {
        cavum_lanes *value = &border[a * count + r];
        for (int l = 0; l < CAVUM_LANES; l++) (*value)[l] = rows[row[a][l]];
        *value *= d->sign[batch->first_sign + a];
      }
    }
    cavum_condensed_backward(own, border, p->condensed, level, at, count);
    for (int r = 0; r < count; r++) {
      double *to = rhs[r].y + batch->first_interior;
      for (int i = 0; i < size.interior; i++, to += CAVUM_LANES) {
        cavum_lanes value = {0};
        if (i < size.used) value = own[i * count + r];
        for (int l = batch->count; l < CAVUM_LANES; l++) value[l] = 0.0;
        *(cavum_lanes_anywhere *)to = value;
      }
    }
    own += size.interior * count;
  }
}

void cavum_pencil_solve_many(cavum_pencil *pencil, int level, const cavum_pencil_rhs *rhs,
                             int count) {
  cavum_pencil *p =
      pencil->factor_owner ? pencil->factor_owner : pencil;  // whose factors and work space serve
  cavum_pencil_level *own = &p->levels[level];
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
    go_down(p, level, now, together);
    cavum_block_factor_solve(p->rows, &own->factor, closed, together,
                             p->levels[0].factor.num_rows + 1);
    go_up(p, level, now, together);
    for (int r = 0; r < together; r++) put_rows(now[r].y, p, own, rows_of(p, r));
  }
}

void cavum_pencil_solve(double *y, cavum_pencil *pencil, int level, const double *b) {
  const cavum_pencil_rhs rhs = {pencil, y, b};
  cavum_pencil_solve_many(pencil, level, &rhs, 1);
}
