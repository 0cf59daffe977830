// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesh.h
 * Meshes of curved triangles and quadrilaterals: made from a contour, or read from a MSH file.
 *
 * Reference elements and local numbering (counterclockwise in the (z, r) plane):
 *
 *     quadrilateral, -1 <= xi, eta <= 1: corners 0 (-1,-1), 1 (1,-1), 2 (1,1), 3 (-1,1);
 *     triangle, xi, eta >= 0, xi + eta <= 1: corners 0 (0,0), 1 (1,0), 2 (0,1).
 *
 * Local edge k runs from corner k to corner k + 1 (the last back to corner 0). A position along a
 * local edge is s in [-1, 1], from corner k to corner k + 1.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_MESH_H
#define CAVUM_MESH_H

#include "cavum/cell.h"
#include "cavum/contour.h"

#ifdef __cplusplus
extern "C" {
#endif

/** An edge of a mesh, shared by one or two elements. */
typedef struct cavum_edge {
  cavum_index vertex[2];   /**< Ends; the edge runs from vertex[0] to vertex[1]. */
  cavum_boundary boundary; /**< NONE inside the domain. */
  cavum_index curve;       /**< Index into mesh->curves, or -1: straight, or shaped by nodes. */
  double t[2];             /**< Curve parameter at vertex[0] and vertex[1] when curve >= 0. */
  cavum_index element[2];  /**< Elements at the edge; the second is -1 on the boundary. */
  signed char local[2];    /**< Local edge number in each of them. */
} cavum_edge;

/** An element. Its local edge k is edge[k], run backwards when reversed[k] is 1. */
typedef struct cavum_element {
  int num_corners;         /**< 3 or 4. */
  cavum_index vertex[4];   /**< Corners. */
  cavum_index edge[4];     /**< Edges. */
  signed char reversed[4]; /**< 1: the edge runs from corner k + 1 to corner k. */
  cavum_index region;      /**< Index into mesh->regions. */
  cavum_index first_node;  /**< Into mesh->nodes when mesh->node_order > 0. */
} cavum_element;

/**
 * A mesh. With node_order = 0 the shape of an element follows from its edges by transfinite
 * (Gordon-Hall) blending of the exact curves, and all elements are quadrilaterals. With
 * node_order = g > 0 (MSH files) every element is a Lagrange element of order g with its own nodes
 * on the equispaced lattice, lexicographic: node (i, j), i along xi, has index j (g + 1) + i in a
 * quadrilateral and j (2 g + 3 - j) / 2 + i, i + j <= g, in a triangle.
 */
typedef struct cavum_mesh {
  cavum_index num_vertices;
  cavum_point *vertices; /**< Owned, shape [num_vertices]. */
  cavum_index num_edges;
  cavum_edge *edges; /**< Owned, shape [num_edges]. */
  cavum_index num_elements;
  cavum_element *elements; /**< Owned, shape [num_elements]. */
  cavum_index num_curves;
  cavum_curve *curves; /**< Owned copy of the contour's curves, shape [num_curves]. */
  int node_order;      /**< 0: blended exact curves; g: nodes of order g. */
  cavum_index num_nodes;
  cavum_point
      *nodes; /**< Owned, shape [num_nodes], element by element; NULL when node_order = 0. */
  cavum_index num_regions;
  cavum_region *regions; /**< Owned, shape [num_regions], never empty; names may be "". */
} cavum_mesh;

/** Frees all that a mesh owns and empties it; NULL is accepted. */
CAVUM_API void cavum_mesh_clear(cavum_mesh *mesh);

/** The z of the CAVUM_BOUNDARY_SYMMETRY edges of a half model's mesh; 0 when there are none. */
CAVUM_API double cavum_mesh_mirror_plane_m(const cavum_mesh *mesh);

/** Quality of a mesh. */
typedef struct cavum_mesh_quality {
  double
      smallest_scaled_jacobian; /**< Over elements: min det J over max det J, or <= 0 if folded. */
  cavum_index worst_element;    /**< Where that is. */
  double smallest_angle_rad, largest_angle_rad; /**< Over all corners of all elements. */
} cavum_mesh_quality;

/** Jacobians at a dense set of points, and corner angles. */
CAVUM_API cavum_mesh_quality cavum_mesh_measure_quality(const cavum_mesh *mesh);

/** Choices of the mesher; lengths in metres. Members are appended only. */
typedef struct cavum_mesh_options {
  size_t struct_size;      /**< Set by cavum_mesh_options_default(). */
  double largest_size_m;   /**< Upper limit of the element size; 0: chosen from the contour. */
  double largest_turn_rad; /**< Largest turn of a curved edge; 0: pi / 4. */
  int corner_layers;   /**< Geometric layers at a right-angled re-entrant corner, more at stronger
                            ones; -1: 4. */
  int junction_layers; /**< Geometric layers where curvature jumps; -1: 1. */
  double refinement;   /**< All sizes are divided by this; 0: 1. */
  cavum_stop_question *stop; /**< Whether to stop; NULL: nobody is asked. */
  void *stop_data;           /**< Handed on to it. */
} cavum_mesh_options;

/** What cavum_mesh_options_default() calls; struct_size is sizeof(cavum_mesh_options). */
CAVUM_API void cavum_mesh_options_set_defaults(cavum_mesh_options *options, size_t struct_size);

/** The mesher's own choices. */
static inline cavum_mesh_options cavum_mesh_options_default(void) {
  cavum_mesh_options options;
  cavum_mesh_options_set_defaults(&options, sizeof options);
  return options;
}

/**
 * Meshes a contour with few, large quadrilaterals whose edges lie on the exact curves.
 *
 * Corners stand on every junction of the contour; sizes follow curvature, narrow gaps and sharp
 * corners; the same contour and options always give the same mesh.
 *
 * @param[out] mesh     Owned by the caller (cavum_mesh_clear()); untouched unless CAVUM_OK.
 * @param[in]  contour  Closed, inside on the left, free of crossings.
 * @param[in]  options  NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MESH     no mesh with positive Jacobians was found.
 * @retval CAVUM_ERR_STOPPED  options->stop said so.
 * @retval CAVUM_ERR_USAGE    no mesh or contour, or options that never saw their defaults or are
 * out of range, more elements than the limit among them.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_mesh_from_contour(cavum_mesh *mesh, const cavum_contour *contour,
                                               const cavum_mesh_options *options,
                                               cavum_error *error);

/** What a MSH file left open and the reader decided; each is one line for the user, may be empty.
 */
typedef struct cavum_mesh_notes {
  char boundaries[256];    /**< How boundaries were decided when the file does not say. */
  char kinks[256];         /**< Straight-sided curved wall: the largest kink and what it costs. */
  double largest_kink_rad; /**< Largest turn between neighbouring wall edges below a real corner. */
} cavum_mesh_notes;

/**
 * Reads a MSH file, version 2.2 or 4.1, ASCII or binary, order 1 to 10, triangles and
 * quadrilaterals, complete or serendipity, mixed.
 *
 * @param[out] mesh    Owned by the caller; untouched unless CAVUM_OK.
 * @param[out] notes   May be NULL.
 * @param[in]  source  File, unit, axis, regions, boundary names.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE   cannot be read.
 * @retval CAVUM_ERR_INPUT  truncated, inconsistent or unsupported; inverted elements; points below
 *                          the axis; names that the source does not know.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_mesh_read_msh(cavum_mesh *mesh, cavum_mesh_notes *notes,
                                           const cavum_mesh_source *source, cavum_error *error);

/**
 * Like cavum_mesh_read_msh() for a MSH file in memory.
 *
 * @param[out] mesh    Owned by the caller (cavum_mesh_clear()); untouched unless CAVUM_OK.
 * @param[out] notes   May be NULL.
 * @param[in]  source  Unit, axis, regions, boundary names; its path names the data in messages, may
 * be NULL.
 * @param[in]  data    What the file would hold, shape [size].
 * @param[in]  size    Bytes.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  no place, source or data.
 * @retval CAVUM_ERR_INPUT  as cavum_mesh_read_msh().
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_mesh_read_msh_data(cavum_mesh *mesh, cavum_mesh_notes *notes,
                                                const cavum_mesh_source *source, const char *data,
                                                size_t size, cavum_error *error);

/**
 * Writes a MSH 4.1 file with nodes of the given order, physical names for boundaries and regions.
 *
 * z becomes x and r becomes y: read it back with axis x. Written to a temporary name and renamed,
 * so that a reader never sees half a file. A mesh with nodes written at its own order and in metres
 * reads back to the bit.
 *
 * @param[in]  mesh    Any mesh.
 * @param[in]  path    File to write; replaced.
 * @param[in]  order   1 to 10; 0: the mesh's own node_order, or 6 for blended meshes.
 * @param[in]  unit_m  Length of one file unit in metres, for example 1e-3.
 * @param[in]  binary  True: binary file.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE  cannot be written; an old file is left as it was.
 * @retval CAVUM_ERR_RANGE  an order beyond 10, or a unit that is no length.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_mesh_write_msh(const cavum_mesh *mesh, const char *path, int order,
                                            double unit_m, bool binary, cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
