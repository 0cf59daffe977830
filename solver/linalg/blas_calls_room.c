// SPDX-License-Identifier: GPL-3.0-or-later
// Address space for OpenBLAS, which tries for ever to map its work space when there is none: 128 MB
// for each of its threads when it is loaded, and as much for each thread that is in it at once.
// Where a process may have all it likes, nothing is done but to ask for the two limits.
#include <sched.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/resource.h>

#include "base/alone.h"
#include "base/base.h"
#include "base/threads.h"
#include "linalg/blas_calls.h"

// For one thread: the 128 MB, and what is needed until they are mapped.
enum { FIRST_THREAD_MB = 160 };
// The libraries that are loaded with it, and CHOLMOD's.
enum { LIBRARIES_MB = 64 };
// For each further one: the 128 MB and its stack.
enum { NEXT_THREAD_MB = 136 };
// A product of this order, and smaller ones not everywhere, takes the work space.
enum { ORDER = 128 };

static bool is_limited(int resource) {
  struct rlimit limit;
  return getrlimit((__rlimit_resource_t)resource, &limit) == 0 && limit.rlim_cur != RLIM_INFINITY;
}

// Threads that OpenBLAS is going to have, where it is told so; else one for each core.
static int64_t count_threads(void) {
  static const char *const names[] = {"OPENBLAS_NUM_THREADS", "GOTO_NUM_THREADS",
                                      "OMP_NUM_THREADS"};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
    const char *text = getenv(names[i]);
    long count = text ? strtol(text, NULL, 10) : 0;
    if (count > 0) return count;
  }
  cpu_set_t cores;
  return sched_getaffinity(0, sizeof cores, &cores) == 0 ? CPU_COUNT(&cores) : 1;
}

static cavum_status check_room(int64_t megabytes, cavum_error *error) {
  size_t bytes = (size_t)megabytes << 20;
  void *space = mmap(NULL, bytes, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
  if (space != MAP_FAILED) {
    munmap(space, bytes);
    return CAVUM_OK;
  }
  return cavum_fail(error, CAVUM_ERR_MEMORY,
                    "out of memory: less than %lld MB of address space left%s",
                    (long long)megabytes,
                    megabytes < FIRST_THREAD_MB + LIBRARIES_MB + NEXT_THREAD_MB
                        ? ""
                        : "; one thread and OPENBLAS_NUM_THREADS=1 need less");
}

// Has OpenBLAS map its work space while there is room for it.
static cavum_status take_work_space(cavum_error *error) {
  double *zeros = cavum_alloc(3 * ORDER, ORDER * sizeof *zeros);
  if (!zeros) return cavum_fail_memory(error);
  cblas_dgemm(CblasColMajor, CblasNoTrans, CblasNoTrans, ORDER, ORDER, ORDER, 1.0, zeros, ORDER,
              zeros + ORDER * ORDER, ORDER, 0.0, zeros + 2 * ORDER * ORDER, ORDER);
  free(zeros);
  return CAVUM_OK;
}

static cavum_status reach_within_limit(int64_t num_callers, cavum_error *error) {
  cavum_alone_enter(CAVUM_ALONE_LOADER);
  // Its own threads are there once it is loaded.
  bool is_loaded = &cblas_dgemm != NULL;  // its place in the table
  int64_t megabytes = FIRST_THREAD_MB + (int64_t)NEXT_THREAD_MB * (num_callers - 1);
  if (!is_loaded) megabytes += LIBRARIES_MB + NEXT_THREAD_MB * (count_threads() - 1);
  cavum_status status = check_room(megabytes, error);
  if (status == CAVUM_OK) status = cavum_blas_open(error);
  if (status == CAVUM_OK) status = take_work_space(error);
  cavum_alone_leave(CAVUM_ALONE_LOADER);
  return status;
}

cavum_status cavum_blas_reach(cavum_error *error) {
  // The work space stays: a thread that had room keeps it.
  static _Thread_local int has_room_for;
  int num_callers = cavum_threads_count();
  if (has_room_for >= num_callers || (!is_limited(RLIMIT_AS) && !is_limited(RLIMIT_DATA))) {
    return cavum_blas_open(error);
  }
  cavum_status status = reach_within_limit(num_callers, error);
  if (status == CAVUM_OK) has_room_for = num_callers;
  return status;
}
