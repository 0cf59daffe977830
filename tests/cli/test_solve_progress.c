// SPDX-License-Identifier: GPL-3.0-or-later
// The line of progress: on a terminal after its delay, erased at the end; nothing in a pipe.
#include <check.h>
#include <pty.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "cli/solve_progress.h"
#include "support.h"

static const cavum_solve_progress small = {
    .num_elements = 12, .degree = 5, .num_unknowns = 321, .num_modes = 1};
static const cavum_solve_progress large = {
    .num_elements = 1200, .degree = 6, .num_unknowns = 43210, .num_modes = 3, .work_s = 12.34};

// What a child writes whose standard error is the terminal or the pipe behind `descriptor`.
static void read_all(char *text, size_t size, int descriptor, pid_t child) {
  size_t length = 0;
  ssize_t part = 0;
  int status = 0;
  // A terminal whose other end was closed gives an error instead of the end of the file.
  while (length < size - 1 && (part = read(descriptor, text + length, size - 1 - length)) > 0) {
    length += (size_t)part;
  }
  text[length] = '\0';
  close(descriptor);
  ck_assert_int_eq(waitpid(child, &status, 0), child);
  ck_assert(WIFEXITED(status) && WEXITSTATUS(status) == 0);
  for (const char *c = text; *c; c++) printf(*c >= ' ' ? "%c" : "<%02x>", *c);
  printf("\n");
}

// Half a second of work, in steps that the timer may interrupt.
static void wait_for_line(void) {
  for (int i = 0; i < 20; i++) usleep(50000);
}

static void solve_at_length(void) {
  cavum_solve_progress_begin();
  cavum_solve_progress_tell(&small, NULL);
  wait_for_line();
  cavum_solve_progress_tell(&large, NULL);
  cavum_solve_progress_end();
  cavum_solve_progress_tell(&large, NULL);  // after the end: nothing
}

static void solve_fast(void) {
  cavum_solve_progress_begin();
  cavum_solve_progress_tell(&small, NULL);
  cavum_solve_progress_end();
}

static void run_on_terminal(char *text, size_t size, void (*work)(void)) {
  int terminal = -1;
  pid_t child = forkpty(&terminal, NULL, NULL, NULL);
  ck_assert_int_ge(child, 0);
  if (child == 0) {
    work();
    _exit(0);
  }
  read_all(text, size, terminal, child);
}

START_TEST(a_long_solve_shows_one_line_and_erases_it) {
  char text[512];
  run_on_terminal(text, sizeof text, solve_at_length);
  ck_assert_str_eq(text,
                   "\r\033[K1 mode on 12 elements at degree 5, 321 unknowns ..."
                   "\r\033[K3 modes on 1200 elements at degree 6, 43210 unknowns, about 12 s ..."
                   "\r\033[K");
}
END_TEST

START_TEST(a_fast_solve_shows_nothing) {
  char text[512];
  run_on_terminal(text, sizeof text, solve_fast);
  ck_assert_str_eq(text, "");
}
END_TEST

START_TEST(a_pipe_gets_nothing) {
  char text[512];
  int ends[2];
  ck_assert_int_eq(pipe(ends), 0);
  pid_t child = fork();
  ck_assert_int_ge(child, 0);
  if (child == 0) {
    dup2(ends[1], STDERR_FILENO);
    close(ends[0]);
    close(ends[1]);
    solve_at_length();
    _exit(0);
  }
  close(ends[1]);
  read_all(text, sizeof text, ends[0], child);
  ck_assert_str_eq(text, "");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, a_long_solve_shows_one_line_and_erases_it);
  tcase_add_test(tests, a_fast_solve_shows_nothing);
  tcase_add_test(tests, a_pipe_gets_nothing);
}

CAVUM_TEST_MAIN("cli.solve_progress", add_tests)
