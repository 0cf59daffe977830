// SPDX-License-Identifier: GPL-3.0-or-later
// The first program in C: the frequency of a cell file.
#include <cavum/cavum.h>
#include <stdio.h>

int main(int argc, char **argv) {
  cavum_error error;
  cavum_cell cell;
  cavum_result *result = NULL;
  if (argc != 2) return 2;
  cavum_cell_set_defaults(&cell);
  if (cavum_cell_read_file(&cell, argv[1], &error) != CAVUM_OK ||
      cavum_solve(&result, &cell, NULL, &error) != CAVUM_OK) {
    fprintf(stderr, "%s\n", error.message);
    return 1;
  }
  const cavum_mode_result *mode = cavum_result_mode(result, 0);
  printf("%.17g Hz\n", cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY).value);
#ifdef OUTSIDE_PICTURES
  cavum_picture_format format;
  if (cavum_picture_find_format(&format, "cell.svg", &error) != CAVUM_OK) return 1;
#endif
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  return 0;
}
