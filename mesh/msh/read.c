// SPDX-License-Identifier: GPL-3.0-or-later
// Reading a MSH file: the bytes, the parser, the steps that make a mesh of it.
#include "msh/read.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/open_file.h"
#include "base/stop.h"
#include "contour/mesh_source.h"
#include "msh/build.h"
#include "msh/parse.h"

static cavum_status build_mesh(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  status = cavum_msh_build_nodes(build);
  if (status == CAVUM_OK) status = cavum_msh_build_regions(build);
  if (status == CAVUM_OK) status = cavum_msh_build_elements(build);
  if (status == CAVUM_OK) status = cavum_stop_check(build->error);
  if (status == CAVUM_OK) status = cavum_msh_build_boundaries(build);
  if (status == CAVUM_OK) status = cavum_msh_build_kinks(build);
  if (status == CAVUM_OK) status = cavum_stop_check(build->error);
  return status;
}

static cavum_status check_source(const cavum_mesh_source *source, cavum_error *error) {
  if (source->unit_m > 0.0 && isfinite(source->unit_m)) {
    return cavum_mesh_source_check(source, "mesh source: ", error);
  }
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: unit of %g m; expected a positive length",
                    source->path, source->unit_m);
}

cavum_status cavum_msh_read_memory(cavum_mesh *mesh, cavum_mesh_notes *notes,
                                   const cavum_mesh_source *source, const char *data, size_t size,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_msh_raw raw = {0};
  cavum_msh_build build = {.raw = &raw, .source = source, .error = error};
  cavum_msh_cursor cursor = {.name = source->path, .data = data, .size = size, .error = error};
  CAVUM_TRY(check_source(source, error));
  cursor.c_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  if (!cursor.c_locale) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_msh_parse(&raw, &cursor));
  CAVUM_TRY(build_mesh(&build));
  *mesh = build.mesh;
  build.mesh = (cavum_mesh){0};
  if (notes) *notes = build.notes;
done:
  if (cursor.c_locale) freelocale(cursor.c_locale);
  cavum_mesh_clear(&build.mesh);
  cavum_msh_raw_clear(&raw);
  free(build.points);
  free(build.vertex);
  free(build.region);
  free(build.face);
  return status;
}

cavum_status cavum_mesh_read_msh_data(cavum_mesh *mesh, cavum_mesh_notes *notes,
                                      const cavum_mesh_source *source, const char *data,
                                      size_t size, cavum_error *error) {
  if (!mesh || !source || !data) return cavum_fail_null(error, __func__);
  char name[] = "mesh";
  cavum_mesh_source named = *source;
  if (!named.path || !*named.path) named.path = name;
  return cavum_msh_read_memory(mesh, notes, &named, data, size, error);
}

static cavum_status fail_file(const char *path, cavum_error *error) {
  return cavum_fail_to_read(error, path);
}

enum { PIECE = 1 << 21 };  // bytes between two questions whether to stop

// Reads what fstat promised; a file that shrinks meanwhile gives what is left of it.
static cavum_status load_file(char **data, size_t *size, const char *path, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *bytes = NULL;
  size_t used = 0;
  struct stat about;
  // Not to wait for a writer when the path is a pipe.
  int descriptor = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (descriptor < 0 || fstat(descriptor, &about) != 0) CAVUM_TRY(fail_file(path, error));
  if (S_ISDIR(about.st_mode)) {
    errno = EISDIR;
    CAVUM_TRY(fail_file(path, error));
  }
  if (!S_ISREG(about.st_mode)) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_FILE, "%s: not a regular file", path));
  }
  bytes = malloc((size_t)about.st_size + 1);
  if (!bytes) CAVUM_TRY(cavum_fail_memory(error));
  while (used < (size_t)about.st_size) {
    size_t left = (size_t)about.st_size - used;
    CAVUM_TRY(cavum_stop_check(error));
    ssize_t got = read(descriptor, bytes + used, left < PIECE ? left : PIECE);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) CAVUM_TRY(fail_file(path, error));
    if (got == 0) break;
    used += (size_t)got;
  }
  *data = bytes;
  *size = used;
  bytes = NULL;
done:
  free(bytes);
  if (descriptor >= 0) close(descriptor);
  return status;
}

cavum_status cavum_mesh_read_msh(cavum_mesh *mesh, cavum_mesh_notes *notes,
                                 const cavum_mesh_source *source, cavum_error *error) {
  if (!mesh || !source || !source->path) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  if (!*source->path)
    return cavum_fail(error, CAVUM_ERR_FILE, "expected the name of a file, found none");
  char *data = NULL;
  size_t size = 0;
  CAVUM_TRY(load_file(&data, &size, source->path, error));
  CAVUM_TRY(cavum_msh_read_memory(mesh, notes, source, data, size, error));
done:
  free(data);
  return status;
}
