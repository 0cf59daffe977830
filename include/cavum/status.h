// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file status.h
 * Status codes and the error value that carries one clear message.
 *
 * Every function that can fail returns a cavum_status and takes, as its last
 * parameter, a `cavum_error *` (which may be NULL). The message is written once,
 * where the error arises; callers clean up and pass the code on.
 *
 * Everywhere in the interface: NULL for an argument that must be given is CAVUM_ERR_USAGE;
 * functions without a status then give a count of 0, NULL, the number 0 or NAN as they say, or an
 * empty text, as they do for a number that nothing has; functions that free accept NULL. A mistake
 * inside the library is CAVUM_ERR_INTERNAL, which is worth a report.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_STATUS_H
#define CAVUM_STATUS_H

#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

/** Marks a symbol as part of the public interface of libcavum. */
#ifndef CAVUM_API
#if defined(__GNUC__)
#define CAVUM_API __attribute__((visibility("default")))
#else
#define CAVUM_API
#endif
#endif

/** Version of the headers; cavum_version() is that of the library that runs. */
#define CAVUM_VERSION_MAJOR 0
/** Changes when functions or members are added; while MAJOR is 0, also when names or meanings do.
 */
#define CAVUM_VERSION_MINOR 2
/** Changes when nothing in the interface does. */
#define CAVUM_VERSION_PATCH 0

/** Rows: name, process exit status of the command line, text. */
#define CAVUM_STATUS_TABLE(X)                                   \
  X(OK, 0, "done")                                              \
  X(ERR_INPUT, 2, "bad input")                                  \
  X(ERR_USAGE, 2, "bad usage")                                  \
  X(ERR_FILE, 2, "file cannot be read or written")              \
  X(ERR_MEMORY, 1, "out of memory")                             \
  X(ERR_GEOMETRY, 2, "geometry cannot exist")                   \
  X(ERR_MESH, 1, "no valid mesh")                               \
  X(ERR_LIBRARY, 1, "a numerical library failed")               \
  X(ERR_NOT_CONVERGED, 1, "accuracy asked for was not reached") \
  X(ERR_INCOMPLETE, 1, "mode count and inertia disagree")       \
  X(ERR_RANGE, 2, "outside the range of validity")              \
  X(ERR_STOPPED, 3, "stopped before the end")                   \
  X(ERR_INTERNAL, 1, "internal error")

/** Result of a call; CAVUM_OK is zero. */
typedef enum cavum_status {
#define CAVUM_STATUS_ENUM(name, exit_status, text) CAVUM_##name,
  CAVUM_STATUS_TABLE(CAVUM_STATUS_ENUM)
#undef CAVUM_STATUS_ENUM
} cavum_status;

/** Longest message of a cavum_error, with its final zero. */
enum { CAVUM_MESSAGE_SIZE = 640 };

/** An error as a value: the code and one line that says what is wrong and what was expected. */
typedef struct cavum_error {
  cavum_status status;              /**< CAVUM_OK when nothing is wrong. */
  char message[CAVUM_MESSAGE_SIZE]; /**< One line, UTF-8, no final newline. */
} cavum_error;

/**
 * Whether to stop, asked as a solve or the mesher goes on, from its own thread: true ends it
 * with CAVUM_ERR_STOPPED. Longest work between two questions, as measured: 10 ms for one to five
 * modes of a cell, below 50 ms for a chain of ten cells and for a mesh file of 7,000 triangles. On
 * large mesh files one call of a library is longer: METIS orders 100,000 triangles in 2 s and a
 * million in 27 s; all else stays below 50 ms with 100,000 and below 0.4 s with a million.
 */
typedef bool cavum_stop_question(void *data);

/** How much a message of a log matters; numbers are fixed. */
typedef enum cavum_log_severity {
  CAVUM_LOG_PROGRESS = 0, /**< What is about to be done. */
  CAVUM_LOG_NOTE = 1,     /**< What was decided or read in place of the program. */
  CAVUM_LOG_WARNING = 2   /**< What makes a result less than it seems; results hold it as well. */
} cavum_log_severity;

/**
 * Receives the messages of one object, a solver for example, as they arise and from its own thread.
 * What fails is no message but an error.
 * @param[in] severity  One of the above.
 * @param[in] where     What it is about: "cell", "solve", "scan", "coldtest"; borrowed.
 * @param[in] message   One line, UTF-8, no final newline; borrowed.
 * @param[in] data      As it was given with the hook.
 */
typedef void cavum_log_hook(cavum_log_severity severity, const char *where, const char *message,
                            void *data);

/** Text of a status code, static, never NULL. */
CAVUM_API const char *cavum_status_text(cavum_status status);

/** Exit status that the command line gives for a code: 0, 1, 2, or 3 when stopped on request. */
CAVUM_API int cavum_status_exit(cavum_status status);

/**
 * Frees memory that the library handed out where "release with cavum_free()" is said: texts and
 * bytes. NULL is accepted. Where the program and the library share one C library, free() does the
 * same.
 */
CAVUM_API void cavum_free(void *memory);

/** Version of the library, for example "0.2.0"; static. */
CAVUM_API const char *cavum_version(void);

#ifdef __cplusplus
}
#endif
#endif
