// SPDX-License-Identifier: GPL-3.0-or-later
// Progress of a long solve. The solve says what it does when a degree begins, and one degree of a
// large mesh takes many seconds, so the first line is written by a timer.
#include "cli/solve_progress.h"

#include <errno.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/time.h>
#include <unistd.h>

enum { DELAY_MICROSECONDS = 500000 };
// What takes less is over before its estimate is read.
static const double ESTIMATE_FROM_S = 2.0;

static const char erase[] = "\r\033[K";

// What the signal handler needs; it runs only while the signal is not blocked.
static struct {
  bool on, due, shown;
  size_t length;
  size_t columns;  // of the terminal, 0: not known
  char line[200];
  struct sigaction before;
} state;

static void write_line(const char *text, size_t length) {
  ssize_t written = write(STDERR_FILENO, text, length);
  (void)written;  // a terminal that is gone needs no progress
}

static void show(void) {
  write_line(erase, sizeof erase - 1);
  write_line(state.line, state.length);
  state.shown = true;
}

static void begin_to_show(int signal) {
  (void)signal;
  int reason = errno;
  state.due = true;
  show();
  errno = reason;
}

static void block(int how) {
  sigset_t alarm;
  sigemptyset(&alarm);
  sigaddset(&alarm, SIGALRM);
  sigprocmask(how, &alarm, NULL);
}

// What is wider than the terminal would leave its upper rows when it is erased.
static void set_line(const char *text) {
  state.length = strnlen(text, sizeof state.line - 1);
  if (state.columns > 1 && state.length >= state.columns) state.length = state.columns - 1;
  memcpy(state.line, text, state.length);
}

void cavum_solve_progress_begin(void) {
  struct sigaction action = {.sa_handler = begin_to_show, .sa_flags = SA_RESTART};
  const struct itimerval once = {.it_value = {.tv_usec = DELAY_MICROSECONDS}};
  struct winsize size = {0};
  if (!isatty(STDERR_FILENO)) return;
  state.columns = ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 ? size.ws_col : 0;
  sigemptyset(&action.sa_mask);
  state.due = state.shown = false;
  set_line("making the mesh ...");
  if (sigaction(SIGALRM, &action, &state.before) != 0) return;
  state.on = setitimer(ITIMER_REAL, &once, NULL) == 0;
}

void cavum_solve_progress_tell(const cavum_solve_progress *progress, void *data) {
  char text[100];
  (void)data;
  if (!state.on) return;
  char about[32] = "";
  if (progress->work_s > ESTIMATE_FROM_S) {
    snprintf(about, sizeof about, ", about %.2g s", progress->work_s);
  }
  snprintf(text, sizeof text, "%d mode%s on %lld elements at degree %d, %lld unknowns%s ...",
           progress->num_modes, progress->num_modes == 1 ? "" : "s",
           (long long)progress->num_elements, progress->degree, (long long)progress->num_unknowns,
           about);
  cavum_solve_progress_say(text);
}

void cavum_solve_progress_say(const char *text) {
  if (!state.on) return;
  block(SIG_BLOCK);
  set_line(text);
  if (state.due) show();
  block(SIG_UNBLOCK);
}

void cavum_solve_progress_end(void) {
  const struct itimerval never = {.it_value = {0}};
  if (!state.on) return;
  setitimer(ITIMER_REAL, &never, NULL);
  sigaction(SIGALRM, &state.before, NULL);
  if (state.shown) write_line(erase, sizeof erase - 1);
  state.on = false;
}
