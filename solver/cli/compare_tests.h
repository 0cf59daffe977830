// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/compare_tests.h
 * `cavum compare` of test files: several cold tests of one cell.
 */
#ifndef CAVUM_CLI_COMPARE_TESTS_H
#define CAVUM_CLI_COMPARE_TESTS_H

#include <stdbool.h>

#include "cavum/picture.h"

/** Most tests of one comparison. */
enum { CAVUM_COMPARE_TESTS_MOST = 16 };

/** What was asked for; all borrowed. */
typedef struct cavum_compare_tests_arguments {
  int num_paths;
  const char *paths[CAVUM_COMPARE_TESTS_MOST];
  const char *output_path, *json_path, *csv_path;
  bool overwrite, quiet;
  cavum_picture_options options;
} cavum_compare_tests_arguments;

/** True for the name of a test file: one that ends in .yaml or .yml. */
bool cavum_compare_is_test(const char *path);

/** Runs it; the exit status. */
int cavum_compare_tests(const cavum_compare_tests_arguments *arguments);

#endif
