// SPDX-License-Identifier: GPL-3.0-or-later
// A program that draws, linked with both shared libraries: a result as a picture, its file as a
// report, a study with expressions. What the libraries open when they first need it is opened here.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"

static int failures;

static void check(bool good, const char *what, const cavum_error *error) {
  if (good) return;
  printf("FAILED: %s: %s\n", what, error->message);
  failures++;
}

// argv: a cell file, a study file, a folder to write to.
int main(int argc, char **argv) {
  if (argc != 4) return 2;
  char stored[512], report[512], *bytes = NULL;
  size_t size = 0;
  snprintf(stored, sizeof stored, "%s/pictures.hdf", argv[3]);
  snprintf(report, sizeof report, "%s/pictures.html", argv[3]);
  cavum_error error = {CAVUM_OK, ""};
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_study *study = NULL;
  cavum_picture_options options = cavum_picture_options_default();
  cavum_solve_options solving = cavum_solve_options_default();
  solving.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  cavum_cell_set_defaults(&cell);
  check(cavum_cell_read_file(&cell, argv[1], &error) == CAVUM_OK, "cell", &error);
  check(cavum_solve(&result, &cell, &solving, &error) == CAVUM_OK, "solve", &error);
  check(cavum_store_write_result(stored, result, &cell, &solving, &error) == CAVUM_OK, "write",
        &error);
  check(cavum_picture_draw_file(&bytes, &size, stored, &options, &error) == CAVUM_OK, "picture",
        &error);
  check(bytes && size > 8 && memcmp(bytes, "\x89PNG\r\n\x1a\n", 8) == 0, "a PNG file", &error);
  free(bytes);
  bytes = NULL;
  check(cavum_picture_report_file(&bytes, &size, stored, &error) == CAVUM_OK, "report", &error);
  check(bytes && size > 15 && memcmp(bytes, "<!", 2) == 0, "a web page", &error);
  check(bytes && cavum_picture_write(report, bytes, size, &error) == CAVUM_OK, "page", &error);
  free(bytes);
  check(cavum_study_open(&study, argv[2], &error) == CAVUM_OK, "study", &error);
  if (study) {
    double values[64];
    check(cavum_study_num_inputs(study) <= 64 &&
              cavum_study_sample(values, study, 1, &error) == CAVUM_OK,
          "a shape of the study", &error);
    printf("%s = %.9g\n", cavum_study_input_name(study, 0), values[0]);
  }
  cavum_study_close(&study);
  remove(stored);
  remove(report);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  printf("%s\n", failures ? "failed" : "done");
  return failures ? 1 : 0;
}
