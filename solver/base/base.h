// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/base.h
 * What every room may use: the two control-flow macros, errors, checked allocation.
 */
#ifndef CAVUM_BASE_BASE_H
#define CAVUM_BASE_BASE_H

#include <assert.h>
#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include "cavum/status.h"

/** Speed of light in m/s, exact. */
#define CAVUM_C_M_PER_S 299792458.0
/** CODATA 2018 magnetic constant in N/A^2. */
#define CAVUM_MU0 1.25663706212e-6
/** Electric constant in F/m, 1 / (mu0 c^2). */
#define CAVUM_EPS0 (1.0 / (CAVUM_MU0 * CAVUM_C_M_PER_S * CAVUM_C_M_PER_S))
/** pi. */
#define CAVUM_PI 3.14159265358979323846

/**
 * A precondition that only a programming mistake can break, for kernels that cannot fail. Debug
 * builds stop there; in release builds nobody's program is ended, and functions with a status check
 * before they call such kernels.
 *
 * CAVUM_HOLDS is the same for functions with a status: debug builds stop, release builds go on to
 * `if (!CAVUM_HOLDS(condition)) return cavum_fail_internal(error, "what is wrong");`
 */
#ifdef CAVUM_DEBUG
#define CAVUM_ASSERT(condition) assert(condition)
#define CAVUM_HOLDS(condition) (assert(condition), true)
#else
#define CAVUM_ASSERT(condition) ((void)sizeof((condition) ? 1 : 0))
#define CAVUM_HOLDS(condition) (condition)
#endif

/**
 * Marks what libcavum shows to libcavum_pictures and to nobody else: it has the version
 * CAVUM_PRIVATE_<release> (scripts/cmake/libraries.cmake), so that only the same release takes it.
 */
#define CAVUM_BETWEEN __attribute__((visibility("default")))

/** Runs an expression that gives a status; on failure jumps to `done` with `status` set. */
#define CAVUM_TRY(expression)          \
  do {                                 \
    status = (expression);             \
    if (status != CAVUM_OK) goto done; \
  } while (0)

/**
 * Writes an error.
 * @param[out] error   May be NULL.
 * @param[in]  status  Not CAVUM_OK.
 * @param[in]  format  printf format of the message: what is wrong and what was expected.
 */
void cavum_error_write(cavum_error *error, cavum_status status, const char *format, ...)
    __attribute__((cold, format(printf, 3, 4)));

/** The status itself, which need not be used. */
static inline cavum_status cavum_same_status(cavum_status status) { return status; }

/**
 * Writes an error where it arises; its value is the status. A macro, so that compilers and
 * analysers see in every source that this status is not CAVUM_OK. The status is evaluated twice;
 * the rest is that of cavum_error_write().
 */
#define cavum_fail(error, status, ...) \
  (cavum_error_write((error), (status), __VA_ARGS__), cavum_same_status(status))

/** A status that means another one to who called; the error that goes with it says the same. */
static inline cavum_status cavum_status_as(cavum_status status, cavum_status from, cavum_status to,
                                           cavum_error *error) {
  if (status != from) return status;
  if (error) error->status = to;
  return to;
}

/** CAVUM_ERR_INTERNAL: an invariant of the library does not hold. */
static inline cavum_status cavum_fail_internal(cavum_error *error, const char *what) {
  return cavum_fail(error, CAVUM_ERR_INTERNAL, "internal error, please report: %s (version %s)",
                    what, cavum_version());
}

/** CAVUM_ERR_USAGE: an argument of a function of the interface is NULL that must not be. */
static inline cavum_status cavum_fail_null(cavum_error *error, const char *function) {
  return cavum_fail(error, CAVUM_ERR_USAGE, "%s: an argument that must be given is NULL", function);
}

/** Writes the error of a failed allocation; its value is CAVUM_ERR_MEMORY. */
static inline cavum_status cavum_fail_memory(cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_MEMORY, "out of memory");
}

/**
 * Zeroed memory for count objects of a size; NULL when there is none, or count is negative or the
 * product overflows. A count of zero gives one byte, so that NULL always means failure.
 * Release with free().
 */
void *cavum_alloc(int64_t count, size_t size);

/**
 * Memory for count objects of a size on a 64-byte boundary, not zeroed; else like cavum_alloc().
 */
void *cavum_alloc_aligned(int64_t count, size_t size);

/** Grows an array to hold at least `wanted` objects (doubling); false when there is no memory. */
bool cavum_grow(void **array, int64_t *capacity, int64_t wanted, size_t size);

/** Copy of a string, or NULL when there is no memory; NULL gives an empty string. */
char *cavum_copy_text(const char *text);

/** printf into new memory; NULL when there is none. Release with free(). */
char *cavum_format_text(const char *format, ...) __attribute__((format(printf, 1, 2)));

/** Narrows to int for libraries that want one; false when it does not fit. */
bool cavum_to_int(int *out, int64_t value);

/** The whole number in a double of a file, which may hold anything; `otherwise` if it is none. */
int64_t cavum_whole(double value, int64_t otherwise);
/** The same for an int. */
int cavum_whole_int(double value, int otherwise);

/** Monotonic seconds. */
double cavum_seconds(void);

/** Larger and smaller of two numbers without the NaN rules of fmax and fmin. */
static inline double cavum_max(double a, double b) { return a > b ? a : b; }
/** Smaller of two numbers. */
static inline double cavum_min(double a, double b) { return a < b ? a : b; }

#endif
