// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file msh/read.h
 * Reading MSH files.
 */
#ifndef CAVUM_MSH_READ_H
#define CAVUM_MSH_READ_H

#include "cavum/mesh.h"

/**
 * cavum_mesh_read_msh() for a file in memory; source->path only names it in messages.
 * @param[in] data  Shape [size].
 */
cavum_status cavum_msh_read_memory(cavum_mesh *mesh, cavum_mesh_notes *notes,
                                   const cavum_mesh_source *source, const char *data, size_t size,
                                   cavum_error *error);

#endif
