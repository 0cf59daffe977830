// SPDX-License-Identifier: GPL-3.0-or-later
// Pieces of a loop are taken by whichever thread is free.
#include "base/threads.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>

#include "base/stop.h"

static _Thread_local int current;  // 0: one

int cavum_threads_set(int num_threads) {
  int before = cavum_threads_count();
  current = num_threads < CAVUM_THREADS_MOST ? num_threads : CAVUM_THREADS_MOST;
  return before;
}

int cavum_threads_count(void) { return current > 1 ? current : 1; }

// A loop under way.
typedef struct loop {
  cavum_threads_steps *steps;
  void *context;
  int64_t count, piece;
  _Atomic int64_t next;
  _Atomic int workers;
  atomic_bool ended;
} loop;

static void take_pieces(loop *l, int worker) {
  while (!atomic_load(&l->ended)) {
    if (worker == 0 && cavum_stop_asked()) {
      atomic_store(&l->ended, true);
      return;
    }
    int64_t from = atomic_fetch_add(&l->next, l->piece);
    if (from >= l->count) return;
    l->steps(l->context, from, from + l->piece < l->count ? from + l->piece : l->count, worker);
  }
}

static void *help(void *data) {
  loop *l = data;
  take_pieces(l, atomic_fetch_add(&l->workers, 1));
  return NULL;
}

void cavum_threads_run(cavum_threads_steps *steps, void *context, int64_t count, int64_t piece,
                       int workers) {
  loop l = {.steps = steps, .context = context, .count = count, .piece = piece, .workers = 1};
  pthread_t threads[CAVUM_THREADS_MOST];
  int started = 0, before;
  if (workers > CAVUM_THREADS_MOST) workers = CAVUM_THREADS_MOST;
  while (started < workers - 1 && (started + 1) * piece < count &&
         pthread_create(&threads[started], NULL, help, &l) == 0) {
    started++;
  }
  before = cavum_threads_set(1);
  take_pieces(&l, 0);
  cavum_threads_set(before);
  for (int i = 0; i < started; i++) pthread_join(threads[i], NULL);
}
