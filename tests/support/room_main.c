// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file room_main.c
 * The main function of a program with all tests of a room: `tests_ROOM NAME` runs test_NAME.c.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DECLARE(name) int cavum_tests_##name(void);
#define ROW(name) {#name, cavum_tests_##name},

// CAVUM_TESTS_LIST is a file with TESTS(NAME) for each test_NAME.c of the room.
#define TESTS DECLARE
#include CAVUM_TESTS_LIST
#undef TESTS

static const struct {
  const char *name;
  int (*run)(void);
} tests[] = {
#define TESTS ROW
#include CAVUM_TESTS_LIST
#undef TESTS
};

enum { NUM_TESTS = sizeof tests / sizeof *tests };

int main(int argc, char **argv) {
  for (int i = 0; argc == 2 && i < NUM_TESTS; i++) {
    if (strcmp(argv[1], tests[i].name) == 0) return tests[i].run();
  }
  fprintf(stderr, "Usage: %s NAME, where NAME is one of:", argv[0]);
  for (int i = 0; i < NUM_TESTS; i++) fprintf(stderr, " %s", tests[i].name);
  fputc('\n', stderr);
  return EXIT_FAILURE;
}
