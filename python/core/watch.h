// SPDX-License-Identifier: GPL-3.0-or-later
// What the library asks as it works, and when Python is asked next: a look at Python costs
// microseconds and a solve asks at every step. Read by cffi too (make_interface.py).
#ifndef CAVUM_PYTHON_WATCH_H
#define CAVUM_PYTHON_WATCH_H

typedef struct python_watch {
  double next_s;     /* Python is asked from this time on; 0: at the first question, or an interval
                        after it. */
  double interval_s; /* Between two looks at Python. */
  void *self;        /* Handle of the Watch. */
  bool at_once;      /* A function of the user is asked at the first question. */
  bool raised;       /* A function of the user raised an exception. */
} python_watch;

#endif
