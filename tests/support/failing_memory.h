// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file failing_memory.h
 * Memory that runs out at a chosen allocation. The one test program that includes this has the
 * allocation functions of its whole process replaced, those of libraries too; while none is armed
 * they only count. The sanitizers' own functions stay underneath.
 *
 * Libraries that do not survive a failed allocation of their own are spared: ARPACK's C binding and
 * GSL write to NULL (dseupd_c, gsl_multifit_nlinear_covar) and GSL leaks. HDF5 1.10 reads what it
 * has freed (H5Pset_fapl_core, at its third allocation); it may be linked into the program, where
 * its callers cannot be told, so with own_only nothing fails but what solver/base/ allocates.
 */
#ifndef CAVUM_TEST_FAILING_MEMORY_H
#define CAVUM_TEST_FAILING_MEMORY_H

#include <dlfcn.h>
#include <errno.h>
#include <malloc.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

// Memory is asked for before clang's sanitizer is ready: nothing here is instrumented.
#ifdef __clang__
#pragma clang attribute push(__attribute__((no_sanitize("address"))), apply_to = function)
#endif

/**
 * State of the process: tests are of one thread. Compilers know what malloc() and free() do not
 * touch, so they must be told that these do.
 */
static volatile struct failing_memory {
  long until;      /**< Allocations until one fails; 0: none does. */
  bool all_then;   /**< All that follow fail too. */
  bool own_only;   /**< Only allocations by solver/base/ count and fail. */
  int inside;      /**< Depth of functions of solver/base/ that allocate. */
  bool failed;     /**< One did. */
  bool by_library; /**< It was of a library that is known to go on without. */
  long live; /**< Blocks allocated and not freed; nothing with sanitizers, which have functions
                of their own that allocate, and look for leaks themselves. */
} failing_memory;

/** The n-th allocation from now on, n = 1, 2, ..., fails, alone or with all that follow. */
static inline void failing_memory_arm(long n, bool all_then) {
  failing_memory.until = n;
  failing_memory.all_then = all_then;
  failing_memory.failed = false;
  failing_memory.by_library = false;
}

/** No allocation fails any more; true when one did. */
static inline bool failing_memory_disarm(void) {
  failing_memory.until = 0;
  return failing_memory.failed;
}

static inline bool failing_memory_spares(const void *caller) {
  static const char *const spared[] = {"/libarpack.", "/libgsl.", "/libhdf5"};
  Dl_info info;
  if (failing_memory.own_only) return failing_memory.inside == 0;
  if (!dladdr(caller, &info) || !info.dli_fname) return false;
  for (size_t i = 0; i < sizeof spared / sizeof spared[0]; i++) {
    if (strstr(info.dli_fname, spared[i])) return true;
  }
  return false;
}

// The C library reads files without a buffer, sorts in place and keeps a text in the longer block
// that it was written to; libcsv asks for less. What strdup() could not copy is its caller's.
static inline bool failing_memory_goes_on(const void *caller) {
  Dl_info info;
  if (!dladdr(caller, &info) || !info.dli_fname) return false;
  if (strstr(info.dli_fname, "/libcsv.")) return true;
  bool copies = info.dli_sname && strstr(info.dli_sname, "strdup");
  return strstr(info.dli_fname, "/libc.so") && !copies;
}

// Who is spared is asked where an allocation would fail, which then falls on the next one.
static inline bool failing_memory_refuses(const void *caller) {
  if (failing_memory.until == 0 || (failing_memory.own_only && failing_memory.inside == 0)) {
    return false;
  }
  if (failing_memory.until > 1) {
    failing_memory.until--;
    return false;
  }
  if (failing_memory_spares(caller)) return false;
  if (!failing_memory.all_then) failing_memory.until = 0;
  failing_memory.failed = true;
  failing_memory.by_library = failing_memory_goes_on(caller);
  errno = ENOMEM;
  return true;
}

#ifdef CAVUM_SANITIZED
enum { FAILING_MEMORY_COUNTS = 0 };
#else
enum { FAILING_MEMORY_COUNTS = 1 };
#endif

static inline void *failing_memory_keep(void *block) {
  if (FAILING_MEMORY_COUNTS && block) failing_memory.live++;
  return block;
}

static inline void failing_memory_drop(const void *block) {
  if (FAILING_MEMORY_COUNTS && block) failing_memory.live--;
}

// What is underneath: the sanitizer's functions, else those of the C library.
#ifdef CAVUM_SANITIZED
#define FAILING_MEMORY_UNDER(name) __interceptor_##name
#else
#define FAILING_MEMORY_UNDER(name) __libc_##name
#endif
void *FAILING_MEMORY_UNDER(malloc)(size_t size);
void *FAILING_MEMORY_UNDER(calloc)(size_t count, size_t size);
void *FAILING_MEMORY_UNDER(realloc)(void *block, size_t size);
void *FAILING_MEMORY_UNDER(memalign)(size_t alignment, size_t size);
void FAILING_MEMORY_UNDER(free)(void *block);

#pragma GCC visibility push(default)  // libraries find these too

void *malloc(size_t size) {
  return failing_memory_refuses(__builtin_return_address(0))
             ? NULL
             : failing_memory_keep(FAILING_MEMORY_UNDER(malloc)(size));
}

void *calloc(size_t count, size_t size) {
  if (failing_memory_refuses(__builtin_return_address(0))) return NULL;
  return failing_memory_keep(FAILING_MEMORY_UNDER(calloc)(count, size));
}

// A block that gets smaller stays where it is: libraries that cut so keep the longer block where
// that fails, once for each text.
void *realloc(void *block, size_t size) {
  bool shrinks = block && size > 0 && size <= malloc_usable_size(block);
  if (!shrinks && failing_memory_refuses(__builtin_return_address(0))) return NULL;
  void *moved = FAILING_MEMORY_UNDER(realloc)(block, size);
  if (!moved && size == 0) failing_memory_drop(block);
  return block ? moved : failing_memory_keep(moved);
}

void *memalign(size_t alignment, size_t size) {
  if (failing_memory_refuses(__builtin_return_address(0))) return NULL;
  return failing_memory_keep(FAILING_MEMORY_UNDER(memalign)(alignment, size));
}

void *aligned_alloc(size_t alignment, size_t size) {
  if (failing_memory_refuses(__builtin_return_address(0))) return NULL;
  return failing_memory_keep(FAILING_MEMORY_UNDER(memalign)(alignment, size));
}

int posix_memalign(void **block, size_t alignment, size_t size) {
  if (failing_memory_refuses(__builtin_return_address(0))) return ENOMEM;
  void *made = failing_memory_keep(FAILING_MEMORY_UNDER(memalign)(alignment, size));
  if (!made) return ENOMEM;
  *block = made;
  return 0;
}

void free(void *block) {
  failing_memory_drop(block);
  FAILING_MEMORY_UNDER(free)(block);
}

#pragma GCC visibility pop

// The functions of solver/base/ that allocate, wrapped by the linker (tests/CMakeLists.txt).
void *__real_cavum_alloc(int64_t count, size_t size);
bool __real_cavum_grow(void **array, int64_t *capacity, int64_t wanted, size_t size);
char *__real_cavum_copy_text(const char *text);
char *__real_cavum_temporary_name(const char *path);

void *__wrap_cavum_alloc(int64_t count, size_t size) {
  failing_memory.inside++;
  void *block = __real_cavum_alloc(count, size);
  failing_memory.inside--;
  return block;
}

bool __wrap_cavum_grow(void **array, int64_t *capacity, int64_t wanted, size_t size) {
  failing_memory.inside++;
  bool grown = __real_cavum_grow(array, capacity, wanted, size);
  failing_memory.inside--;
  return grown;
}

char *__wrap_cavum_copy_text(const char *text) {
  failing_memory.inside++;
  char *copy = __real_cavum_copy_text(text);
  failing_memory.inside--;
  return copy;
}

char *__wrap_cavum_temporary_name(const char *path) {
  failing_memory.inside++;
  char *name = __real_cavum_temporary_name(path);
  failing_memory.inside--;
  return name;
}

#ifdef __clang__
#pragma clang attribute pop
#endif

#endif
