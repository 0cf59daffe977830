// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file msh/build.h
 * From what a MSH file says to a mesh, step by step; each step in a file of its own.
 */
#ifndef CAVUM_MSH_BUILD_H
#define CAVUM_MSH_BUILD_H

#include "msh/raw.h"

/** A mesh being made; arrays are owned. */
typedef struct cavum_msh_build {
  cavum_msh_raw *raw;              /**< Borrowed; sorted and renumbered on the way. */
  const cavum_mesh_source *source; /**< Borrowed. */
  cavum_error *error;              /**< May be NULL. */
  cavum_mesh mesh;                 /**< The result. */
  cavum_mesh_notes notes;
  cavum_point *points; /**< Nodes in metres, shape [raw->num_nodes], in the order of their tags. */
  cavum_index *vertex; /**< Vertex at each node, or -1, shape [raw->num_nodes]. */
  cavum_index
      *region;        /**< Region of each face, -1: unknown, -2: dropped; shape [raw->num_faces]. */
  cavum_index *face;  /**< Face that each element of the mesh came from, shape [raw->num_faces]. */
  double size_m;      /**< Largest extent of the mesh. */
  double tolerance_m; /**< Distances below are rounding. */
} cavum_msh_build;

/**
 * Sorts nodes and faces by tag, checks that tags are unique and orders are one, replaces node tags
 * in raw->connectivity by node numbers, and finds points, vertices, size_m and tolerance_m.
 */
cavum_status cavum_msh_build_nodes(cavum_msh_build *build);

/**
 * The order of vertices and elements: that of the tags, or along a curve that fills the plane where
 * there are many. Sorts the faces and numbers the vertices in build->vertex, which has 2 at
 * corners.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_msh_build_order(cavum_index *num_vertices, cavum_msh_build *build);

/** Regions of the mesh and build->region; drops elements that the file lists twice. */
cavum_status cavum_msh_build_regions(cavum_msh_build *build);

/** Elements with positive Jacobians and their nodes, edges, and the check that edges fit. */
cavum_status cavum_msh_build_elements(cavum_msh_build *build);

/** Boundary kinds of the edges, and the note on what had to be decided. */
cavum_status cavum_msh_build_boundaries(cavum_msh_build *build);

/**
 * Checks how elements are joined at the outline: refuses nodes that it passes twice, and nodes
 * within straight edges of another part that are in no physical curve.
 * @param[in] open  Boundary edges that no physical curve has, shape [num_edges].
 */
cavum_status cavum_msh_build_joints(const cavum_msh_build *build, const bool *open);

/** How many parts the mesh has that share no edge. */
cavum_status cavum_msh_build_count_parts(cavum_index *parts, const cavum_msh_build *build);

/** Kinks of the metal wall, and the note on them. */
cavum_status cavum_msh_build_kinks(cavum_msh_build *build);

/** Writes an error `file: ...`. */
cavum_status cavum_msh_refuse(const cavum_msh_build *build, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
