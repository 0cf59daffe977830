// SPDX-License-Identifier: GPL-3.0-or-later
// The first program in C++: the frequency of a cell file.
#include <cavum/cavum.h>

#include <cstdio>
#include <memory>

int main(int argc, char **argv) {
  if (argc != 2) return 2;
  cavum_error error{};
  cavum_cell cell;
  cavum_result *solved = nullptr;
  cavum_cell_set_defaults(&cell);
  bool good = cavum_cell_read_file(&cell, argv[1], &error) == CAVUM_OK &&
              cavum_solve(&solved, &cell, nullptr, &error) == CAVUM_OK;
  auto destroy = [](cavum_result *result) { cavum_result_destroy(&result); };
  std::unique_ptr<cavum_result, decltype(destroy)> result(solved, destroy);
  if (good) {
    const cavum_mode_result *mode = cavum_result_mode(result.get(), 0);
    std::printf("%.17g Hz\n", cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY).value);
  } else {
    std::fprintf(stderr, "%s\n", error.message);
  }
  cavum_cell_clear(&cell);
  return good ? 0 : 1;
}
