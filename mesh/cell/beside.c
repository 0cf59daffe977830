// SPDX-License-Identifier: GPL-3.0-or-later
// Paths that files name.
#include "cell/beside.h"

#include <string.h>

#include "base/base.h"

char *cavum_cell_path_beside(const char *file, const char *path) {
  const char *slash = strrchr(file, '/');
  if (path[0] == '/' || !slash) return cavum_copy_text(path);
  return cavum_format_text("%.*s%s", (int)(slash - file) + 1, file, path);
}
