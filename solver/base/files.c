// SPDX-License-Identifier: GPL-3.0-or-later
// Lists of files. They are short: each name that is added makes the array anew.
#include "base/files.h"

#include "base/base.h"

cavum_status cavum_files_add(cavum_files *files, const char *path, cavum_error *error) {
  if (!path || !path[0]) return CAVUM_OK;
  char *copy = cavum_copy_text(path);
  char **paths = cavum_alloc(files->num_paths + 1, sizeof *paths);
  if (!copy || !paths) {
    free(copy);
    free(paths);
    return cavum_fail_memory(error);
  }
  for (int i = 0; i < files->num_paths; i++) paths[i] = files->paths[i];
  paths[files->num_paths] = copy;
  free(files->paths);
  files->paths = paths;
  files->num_paths++;
  return CAVUM_OK;
}

cavum_status cavum_files_add_all(cavum_files *files, const cavum_files *others,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; others && i < others->num_paths && status == CAVUM_OK; i++) {
    status = cavum_files_add(files, others->paths[i], error);
  }
  return status;
}

void cavum_files_clear(cavum_files *files) {
  for (int i = 0; i < files->num_paths; i++) free(files->paths[i]);
  free(files->paths);
  *files = (cavum_files){0};
}
