# SPDX-License-Identifier: GPL-3.0-or-later
"""Compiles the C interface for Python, from the library's own headers: there is no second list of it."""
import os
import re
import subprocess
import tempfile

import cffi
from library_place import library_settings

HERE = os.path.dirname(os.path.abspath(__file__))
HEADERS = '#include "cavum/cavum.h"\n'
# Standard headers add nothing that cffi does not know, and what compilers put there it cannot read.
STANDARD_HEADERS = ("stdbool.h", "stddef.h", "stdint.h", "math.h")

# What a Watch is to C: it is also asked from core/.
with open(os.path.join(HERE, "core", "watch.h"), encoding="utf-8") as file:
    WATCH = "".join(line for line in file if not line.startswith("#"))
ADDED = WATCH + """
bool cavum_watch_asks(void *data);
extern "Python" bool python_asked_to_stop(void *self);
extern "Python" void python_hears(cavum_log_severity severity, const char *where,
                                  const char *message, void *data);
"""
SOURCE = HEADERS + WATCH + """
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
  if (watch->next_s == 0.0) watch->next_s = now_s + (watch->at_once ? 0.0 : watch->interval_s);
  if (now_s < watch->next_s) return false;
  watch->next_s = now_s + watch->interval_s;
  return python_asked_to_stop(watch->self);
}
"""


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
