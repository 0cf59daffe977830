// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/mesh_boundary.h
 * The boundary of a mesh as the figures need it: ordered lists of the conducting and axis edges,
 * their shapes, and the corners.
 */
#ifndef CAVUM_FIGURES_MESH_BOUNDARY_H
#define CAVUM_FIGURES_MESH_BOUNDARY_H

#include "figures/corner.h"

/** A boundary edge as one element sees it. */
typedef struct cavum_boundary_edge {
  cavum_index element;
  int local_edge;
} cavum_boundary_edge;

/** Positions on every conducting edge at which its shape is kept: both ends and a Gauss rule. */
enum { CAVUM_WALL_RULE = 22, CAVUM_WALL_SAMPLES = CAVUM_WALL_RULE + 2 };

/** Shape of a conducting edge at CAVUM_WALL_SAMPLES positions s, rising from -1 to 1. */
typedef struct cavum_wall_shape {
  double z_m[CAVUM_WALL_SAMPLES], r_m[CAVUM_WALL_SAMPLES];
  double log_r[CAVUM_WALL_SAMPLES]; /**< Of r in m; 0 on the axis. */
  double z_s[CAVUM_WALL_SAMPLES], r_s[CAVUM_WALL_SAMPLES], length_s[CAVUM_WALL_SAMPLES];
  double largest_r_m; /**< Of its two ends. */
  bool meets_axis;    /**< One of these is on the axis or close to it. */
} cavum_wall_shape;

/** The conducting edges (tangential E = 0) and the axis edges of a mesh. */
typedef struct cavum_mesh_boundary {
  double sample[CAVUM_WALL_SAMPLES]; /**< The positions s. */
  double weight[CAVUM_WALL_SAMPLES]; /**< Weights of the Gauss rule, 0 at the ends. */
  cavum_wall_shape *shape;           /**< Owned, [num_conducting]. */
  cavum_index num_metal, num_conducting, num_axis, num_corners;
  cavum_boundary_edge *conducting; /**< Owned: the metal edges, those of a wall counterclockwise one
                             behind the other; after them the lossless planes. */
  cavum_boundary_edge *axis;       /**< Owned, by rising z. */
  cavum_boundary_corner *corners;  /**< Owned: all corners of the boundary, by vertex. */
  bool is_empty_and_closed; /**< Vacuum; all of the outline but axis and mirror plane conducts. */
  bool has_mirror_plane;    /**< Some edges are CAVUM_BOUNDARY_SYMMETRY. */
  bool meets_axis_squarely; /**< Conducting edges do where they meet it. */
  double longest_s;         /**< The largest length_s, m. */
  double inner_exponent;    /**< cavum_corner_inner_exponent(). */
} cavum_mesh_boundary;

/** Collects them for a mesh. */
cavum_status cavum_mesh_boundary_create(cavum_mesh_boundary *boundary, const cavum_mesh *mesh,
                                        cavum_error *error);

/** Brings the lists up to date after positions changed; the topology is that of before. */
cavum_status cavum_mesh_boundary_refresh(cavum_mesh_boundary *boundary, const cavum_mesh *mesh,
                                         cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_mesh_boundary_clear(cavum_mesh_boundary *boundary);

#endif
