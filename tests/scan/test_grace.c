// SPDX-License-Identifier: GPL-3.0-or-later
// Which batches a worker that is told to stop finishes.
#include <stdio.h>

#include "scan/grace.h"
#include "support.h"

// Both sides of what a batch is left for, at times that are made up.
START_TEST(what_is_worth_waiting_for) {
  const struct {
    const char *what;
    cavum_grace batch;
    double asked_s[2];  // the first is when it is told
    bool over[2];
  } cases[] = {
      {"a batch that ends in a second", {10, 8, 0.0, 4.0, false, 0.0}, {4.1, 4.9}, {false, false}},
      {"one that would take a minute", {64, 4, 0.0, 4.0, false, 0.0}, {4.1, 4.2}, {true, true}},
      {"a shape that takes much longer than those before",
       {10, 9, 0.0, 4.5, false, 0.0},
       {4.6, 9.7},
       {false, true}},
      {"the first shape, which shows by itself that the batch takes long",
       {64, 0, 0.0, 0.0, false, 0.0},
       {0.01, 0.2},
       {false, true}},
      {"a batch of one shape", {1, 0, 0.0, 0.0, false, 0.0}, {4.0, 8.9}, {false, false}},
      {"the same, too long", {1, 0, 0.0, 0.0, false, 0.0}, {4.0, 9.1}, {false, true}},
      {"a clock that goes back", {10, 8, 0.0, 4.0, false, 0.0}, {4.1, 3.0}, {false, true}},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    cavum_grace batch = cases[i].batch;
    for (int k = 0; k < 2; k++) {
      bool over = cavum_grace_is_over(&batch, cases[i].asked_s[k]);
      printf("%s: at %g s %s\n", cases[i].what, cases[i].asked_s[k], over ? "left" : "goes on");
      ck_assert_int_eq(over, cases[i].over[k]);
    }
  }
}
END_TEST

static void add(TCase *tests) { tcase_add_test(tests, what_is_worth_waiting_for); }

CAVUM_TEST_MAIN("grace", add)
