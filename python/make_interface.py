# SPDX-License-Identifier: GPL-3.0-or-later
"""Compiles the C interface for Python, from the library's own headers: there is no second list of it.

Where the library is: CAVUM_BUILD names a folder that CMake has built it in; without it, pkg-config
finds an installed one.
"""
import os
import re
import shlex
import subprocess
import sys
import tempfile

import cffi

HERE = os.path.dirname(os.path.abspath(__file__))
HEADERS = '#include "cavum/cavum.h"\n'
# Standard headers add nothing that cffi does not know, and what compilers put there it cannot read.
STANDARD_HEADERS = ("stdbool.h", "stddef.h", "stdint.h", "math.h")

# What the library calls back. A look at Python costs microseconds and a solve asks at every step, so
# Python is asked only when this much time has passed. And a warm solve in one call: what Python touches between
# two solves has left the processor's caches, so that its cost is how much it touches.
TYPES = """
typedef struct python_watch { double next_s, interval_s; void *self; bool raised; } python_watch;
typedef struct python_solving {
  cavum_solver *solver;
  python_watch *watch;
  bool busy;  /* A thread solves: another is refused. */
  cavum_error error;
} python_solving;
typedef struct python_failure {
  cavum_result *result;  /* The best there is; taken by who sets it to NULL. */
  cavum_status status;
  bool was_busy;
  cavum_error error;
} python_failure;
"""
ADDED = TYPES + """
bool cavum_watch_asks(void *data);
cavum_result *python_solve(python_solving *with, const cavum_cell *cell);
python_failure *python_last_failure(void);
bool python_forget(python_solving *with);
void python_free_result(cavum_result *result);
cavum_figure python_figure(const cavum_result *result, int mode, cavum_figure_id figure);
extern "Python" bool python_asked_to_stop(void *self);
extern "Python" void python_hears(cavum_log_severity severity, const char *where,
                                  const char *message, void *data);
"""
SOURCE = HEADERS + TYPES + """
#include <time.h>
#ifdef CLOCK_MONOTONIC_COARSE
#define ROUGH_CLOCK CLOCK_MONOTONIC_COARSE
#else
#define ROUGH_CLOCK CLOCK_MONOTONIC
#endif
static bool python_asked_to_stop(void *self);
static bool cavum_watch_asks(void *data) {
  python_watch *watch = data;
  struct timespec now;
  clock_gettime(ROUGH_CLOCK, &now);
  double now_s = (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
  if (watch->next_s == 0.0) watch->next_s = now_s + watch->interval_s;
  if (now_s < watch->next_s) return false;
  watch->next_s = now_s + watch->interval_s;
  return python_asked_to_stop(watch->self);
}
static bool begin(python_solving *with) { return !__atomic_exchange_n(&with->busy, true, __ATOMIC_ACQUIRE); }
static void end(python_solving *with) { __atomic_store_n(&with->busy, false, __ATOMIC_RELEASE); }
static bool python_forget(python_solving *with) {
  if (!begin(with)) return false;
  cavum_solver_forget(with->solver);
  end(with);
  return true;
}
static _Thread_local python_failure failure;
static python_failure *python_last_failure(void) { return &failure; }
static void keep_failure(cavum_result *result, cavum_status status, const cavum_error *error, bool was_busy) {
  cavum_result_destroy(&failure.result);
  failure.result = result;
  failure.status = status;
  failure.was_busy = was_busy;
  if (error) failure.error = *error;
}
/* The result; NULL: not all is well, and what came is the last failure of this thread. */
static cavum_result *python_solve(python_solving *with, const cavum_cell *cell) {
  if (!begin(with)) {
    keep_failure(NULL, CAVUM_ERR_USAGE, NULL, true);
    return NULL;
  }
  cavum_result *result = NULL;
  with->watch->next_s = 0.0;
  with->error.message[0] = '\\0';
  cavum_status status = cavum_solver_solve(&result, with->solver, cell, &with->error);
  if (status != CAVUM_OK || with->watch->raised) {
    keep_failure(result, status, &with->error, false);
    result = NULL;
  }
  end(with);
  return result;
}
static void python_free_result(cavum_result *result) {
  cavum_result_destroy(&result);
}
static cavum_figure python_figure(const cavum_result *result, int mode, cavum_figure_id figure) {
  return cavum_mode_figure(cavum_result_mode(result, mode), figure);
}
"""


def find_build(named):
    """A folder as it was named where pip was called, which has gone to the folder of this file since; or in the tree."""
    places = [os.path.abspath(os.path.join(base, named)) for base in (os.environ.get("PWD", "."), ".", os.path.join(HERE, ".."))]
    return next((place for place in places if os.path.isdir(place)), places[0])


def refuse_without_shared(build, names):
    """A linker takes a static library where there is no shared one, without a word and without what that one needs."""
    for name in names:
        if not any(os.path.exists(os.path.join(build, f"lib{name}{ending}")) for ending in (".so", ".dylib")):
            sys.exit(f"CAVUM_BUILD={build}: the shared library lib{name}.so is not there; build all targets first: cmake --build")


def library_settings():
    """Keywords for the compiler and the linker."""
    build = os.environ.get("CAVUM_BUILD")
    if build:
        build = find_build(build)
        refuse_without_shared(build, ("cavum", "cavum_pictures"))
        return {"include_dirs": [os.path.join(HERE, "..", "include")], "library_dirs": [build],
                # A package looks for the library where the system has it.
                "runtime_library_dirs": [] if "CAVUM_NO_RPATH" in os.environ else [build], "libraries": ["cavum_pictures", "cavum"]}
    command = [os.environ.get("PKG_CONFIG", "pkg-config"), "--cflags", "--libs", "cavum-pictures", "cavum"]
    words = shlex.split(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    settings = {"include_dirs": [], "library_dirs": [], "libraries": []}
    places = {"-I": "include_dirs", "-L": "library_dirs", "-l": "libraries"}
    for word in words:
        if word[:2] in places:
            settings[places[word[:2]]].append(word[2:])
    settings["runtime_library_dirs"] = list(settings["library_dirs"])
    return settings


def without_bodies(text):
    """Functions that are written in the headers, as what they are: declarations."""
    out, place = [], 0
    for found in re.finditer(r"static inline ([^;{]*)\{", text):
        if found.start() < place:
            continue
        depth, end = 1, found.end()
        while depth:
            depth += {"{": 1, "}": -1}.get(text[end], 0)
            end += 1
        out.append(text[place:found.start()] + found.group(1).strip() + ";")
        place = end
    return "".join(out) + text[place:]


def declarations(include_dirs):
    """All that the public headers declare, as cffi reads it."""
    with tempfile.TemporaryDirectory() as folder:
        for name in STANDARD_HEADERS:
            with open(os.path.join(folder, name), "w", encoding="utf-8"):
                pass
        command = [os.environ.get("CC", "cc"), "-E", "-P", "-x", "c", "-nostdinc", "-I", folder,
                   "-DCAVUM_API=", "-"]
        for place in include_dirs or ["/usr/include"]:
            command += ["-I", place]
        text = subprocess.run(command, check=True, capture_output=True, text=True, input=HEADERS).stdout
    return without_bodies(text)


settings = library_settings()
ffi = cffi.FFI()
ffi.cdef(declarations(settings["include_dirs"]))
ffi.cdef(ADDED)
ffi.set_source("cavum._interface", SOURCE, extra_compile_args=["-std=c17", "-O1", "-D_GNU_SOURCE"], **settings)

if __name__ == "__main__":
    ffi.compile(verbose=True)
