// SPDX-License-Identifier: GPL-3.0-or-later
// Options of programs that were built with this or another version of the headers.
#include "solve/options.h"

#include "base/base.h"
#include "base/sized.h"

// Bytes in the first version of the interface.
enum { FIRST_SIZE = offsetof(cavum_solve_options, watcher_data) + sizeof(void *) };

static const cavum_sized SIZED = {.name = "solve options",
                                  .maker = "cavum_solve_options_default()",
                                  .first = FIRST_SIZE,
                                  .full = sizeof(cavum_solve_options)};

void cavum_solve_options_set_defaults(cavum_solve_options *options, size_t struct_size) {
  const cavum_solve_options defaults = {.use_symmetry = true};
  if (options) cavum_sized_give(options, struct_size, &defaults, &SIZED);
}

cavum_status cavum_solve_options_take(cavum_solve_options *full, const cavum_solve_options *given,
                                      cavum_error *error) {
  if (given) return cavum_sized_take(full, given, &SIZED, error);
  *full = cavum_solve_options_default();
  return CAVUM_OK;
}
