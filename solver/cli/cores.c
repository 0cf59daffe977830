// SPDX-License-Identifier: GPL-3.0-or-later
// How many cores the linear algebra uses.
#include "cli/cores.h"

#include <dlfcn.h>
#include <sched.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

// The cores that the process was given; num_given is 0 when they were left alone.
static cpu_set_t given;
static int num_given = 0;

// Environment variables that set the number of threads of OpenMP and OpenBLAS.
static const char omp_variable[] = "OMP_NUM_THREADS";
static const char openblas_variable[] = "OPENBLAS_NUM_THREADS";

// Not with sanitizers: their run time is not ready before main().
#if !defined(__SANITIZE_ADDRESS__) && !defined(CAVUM_SANITIZED)

static bool sets(const char *entry, const char *variable) {
  size_t length = strlen(variable);
  return strncmp(entry, variable, length) == 0 && entry[length] == '=';
}

// Runs before the constructors of all libraries, so getenv() does not work yet.
static void begin_with_one_core(int argc, char **argv, char **environment) {
  (void)argc;
  (void)argv;
  cpu_set_t one;
  for (char **entry = environment; entry && *entry; entry++) {
    if (sets(*entry, omp_variable) || sets(*entry, openblas_variable)) return;
  }
  int here = sched_getcpu();
  if (here < 0 || here >= CPU_SETSIZE || sched_getaffinity(0, sizeof given, &given) != 0) return;
  CPU_ZERO(&one);
  CPU_SET((size_t)here, &one);
  if (sched_setaffinity(0, sizeof one, &one) == 0) num_given = CPU_COUNT(&given);
}

__attribute__((section(".preinit_array"),
               used)) static void (*const before_libraries)(int, char **,
                                                            char **) = begin_with_one_core;

#endif

void cavum_cores_restore(void) {
  if (num_given > 0) (void)sched_setaffinity(0, sizeof given, &given);
}

// The functions are looked up in whatever libraries are loaded: neither OpenMP nor OpenBLAS is one
// that this program itself is linked to.
static void call_with_integer(const char *name, int value) {
  union {
    void *object;
    void (*function)(int);
  } symbol = {.object = dlsym(RTLD_DEFAULT, name)};
  if (symbol.object) symbol.function(value);
}

void cavum_cores_use_one(void) {
  if (!getenv(omp_variable)) call_with_integer("omp_set_max_active_levels", 0);
  if (!getenv(openblas_variable)) call_with_integer("openblas_set_num_threads", 1);
}

int cavum_cores_count(void) {
  cpu_set_t set;
  if (sched_getaffinity(0, sizeof set, &set) != 0) return 1;
  int count = CPU_COUNT(&set);
  return count > 0 ? count : 1;
}
