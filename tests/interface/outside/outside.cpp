// SPDX-License-Identifier: GPL-3.0-or-later
// The first program in C++: the frequency of a cell file. A callback that throws: the exception stays
// in it, the solve stops, and the program throws again.
#include <cavum/cavum.h>

#include <cstdio>
#include <cstring>
#include <exception>
#include <memory>
#include <stdexcept>

namespace {

// What callbacks of one solve share.
struct watch {
  std::exception_ptr thrown;
};

// Asked again and again during a solve; this one cannot answer.
bool is_to_stop(void *data) {
  auto *w = static_cast<watch *>(data);
  try {
    throw std::runtime_error("no clock to look at");
  } catch (...) {
    w->thrown = std::current_exception();
    return true;
  }
}

// True when what a callback threw comes out of here, with its text.
bool passes_on_exceptions(const cavum_cell &cell) {
  watch w;
  cavum_error error{};
  cavum_result *none = nullptr;
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = is_to_stop;
  options.stop_data = &w;
  if (cavum_solve(&none, &cell, &options, &error) != CAVUM_ERR_STOPPED || none) return false;
  try {
    std::rethrow_exception(w.thrown);
  } catch (const std::runtime_error &thrown) {
    return std::strcmp(thrown.what(), "no clock to look at") == 0;
  }
}

}  // namespace

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
    good = passes_on_exceptions(cell);
    std::printf("%.17g Hz\n", cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY).value);
  } else {
    std::fprintf(stderr, "%s\n", error.message);
  }
  cavum_cell_clear(&cell);
  return good ? 0 : 1;
}
