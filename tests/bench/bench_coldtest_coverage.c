// SPDX-License-Identifier: GPL-3.0-or-later
// Coverage of every printed result of a cold test over 22 ways of measuring, against field,
// and of field emission: 10,000 draws each, or
// as many as the first argument says. Of Monte Carlo 500 tests each, or as many as the second says.
// A table; the exit status says whether all are as stated.
#include "coverage_emission.h"
#include "coverage_field.h"

int main(int argc, char **argv) {
  int64_t draws = argc > 1 ? atoll(argv[1]) : 10000;
  int64_t monte_carlo = argc > 2 ? atoll(argv[2]) : 500;
  int outside = 0;
  for (int i = 0; i < NUM_COVERAGE_CASES; i++) {
    outside += coverage_run(i, draws, false, true);
    outside += coverage_run(i, monte_carlo, true, true);
    fflush(stdout);
  }
  outside += field_coverage_run(draws, true);
  cavum_field_emission_options options = emission_options();
  outside += emission_coverage_run(draws, &options, true);
  printf("%d results outside\n", outside);
  return outside > 0 ? 1 : 0;
}
