// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell.h
 * A cell as its file describes it, and the way from the file to the exact contour.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_CELL_H
#define CAVUM_CELL_H

#include <stddef.h>

#include "cavum/contour.h"
#include "cavum/files.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Dimensions of one half of a two-ellipse cell, each 1e-12 to 1000 m. */
typedef struct cavum_half_cell {
  double half_length_m;                     /**< Equator plane to iris plane. */
  double iris_radius_m;                     /**< Smallest radius, at the iris plane. */
  double equator_radius_m;                  /**< Largest radius, at the equator plane. */
  double equator_axial_m, equator_radial_m; /**< Half axes of the equator ellipse. */
  double iris_axial_m, iris_radial_m;       /**< Half axes of the iris ellipse. */
} cavum_half_cell;

/** What closes a two-ellipse cell at one side. */
typedef enum cavum_end_kind {
  CAVUM_END_UNSTATED = 0, /**< Not said: no cell is solved so. */
  CAVUM_END_METAL = 1,    /**< A metal plate in the iris plane. */
  CAVUM_END_ELECTRIC = 2, /**< Tangential E = 0 in the iris plane. */
  CAVUM_END_MAGNETIC = 3, /**< Tangential H = 0 in the iris plane. */
  CAVUM_END_TUBE = 4      /**< A tube whose far end is closed by tube_close. */
} cavum_end_kind;

/** One end of a two-ellipse cell. */
typedef struct cavum_end {
  cavum_end_kind kind;
  double tube_length_m;      /**< Tube only, from the iris plane. */
  double tube_radius_m;      /**< Tube only; a cell file that says none means the iris radius. */
  cavum_boundary tube_close; /**< Tube only: METAL, ELECTRIC or MAGNETIC. */
} cavum_end;

/** Where the outline comes from. */
typedef enum cavum_contour_kind {
  CAVUM_CONTOUR_UNSTATED = 0, /**< Not said: no cell is solved so. */
  CAVUM_CONTOUR_TWO_ELLIPSE = 1,
  CAVUM_CONTOUR_PATH = 2,
  CAVUM_CONTOUR_MESH_FILE = 3 /**< A MSH file, or what one would hold in memory. */
} cavum_contour_kind;

/** A material region of a mesh file. */
typedef struct cavum_region {
  char *name;   /**< Owned: name of a physical surface. */
  double eps_r; /**< Relative permittivity, >= 1 not required, > 0. */
  double mu_r;  /**< Relative permeability, > 0. */
} cavum_region;

/** A physical curve of a mesh file under another name than the standard one. */
typedef struct cavum_boundary_name_map {
  char *name; /**< Owned: name of a physical curve in the file. */
  cavum_boundary boundary;
} cavum_boundary_name_map;

/** How to read a mesh file. */
typedef struct cavum_mesh_source {
  char *path;    /**< Owned; relative paths are taken from the folder of the cell file. */
  double unit_m; /**< Length of one file unit in metres. */
  char axis;     /**< 'x', 'y' or 'z': which file coordinate runs along the axis. */
  cavum_index num_regions;
  cavum_region *regions; /**< Owned, shape [num_regions]. */
  cavum_index num_boundaries;
  cavum_boundary_name_map *boundaries; /**< Owned, shape [num_boundaries]. */
} cavum_mesh_source;

/** What the wall is made of. */
typedef enum cavum_wall_kind {
  CAVUM_WALL_NONE = 0,       /**< Not stated: loss figures are absent. */
  CAVUM_WALL_RESISTANCE = 1, /**< A surface resistance is given. */
  CAVUM_WALL_METAL = 2,      /**< Normal metal, classical skin effect. */
  CAVUM_WALL_NIOBIUM = 3     /**< BCS fit plus residual. */
} cavum_wall_kind;

/** The wall of a cell file. */
typedef struct cavum_wall {
  cavum_wall_kind kind;
  double surface_resistance_ohm; /**< RESISTANCE, 1e-15 to 1000. */
  double conductivity_s_per_m;   /**< METAL, 1 to 1e+15. */
  double temperature_k;          /**< NIOBIUM, 0.001 to 9.25; the formula has a range of its own. */
  double residual_resistance_ohm; /**< NIOBIUM, 0 to 1. */
} cavum_wall;

/**
 * A cell, all lengths in metres: read from a file, or filled in after cavum_cell_set_defaults().
 *
 * What is 0 or NULL is not stated. Members are appended only, and struct_size says which of them
 * the program knows, so that a program runs with later versions of the library too. Every solve
 * checks the cell as cavum_cell_check() does.
 *
 * What is owned is freed by cavum_cell_clear() as free() does: a program that fills a cell in takes
 * it from malloc() or strdup(), or sets the pointers and their counts to 0 before that. A solve
 * changes and keeps none of it.
 */
typedef struct cavum_cell {
  size_t struct_size; /**< Set by cavum_cell_set_defaults() and by what reads cells. */
  char *title;        /**< Owned; not NULL in a cell that was read, may be empty. */
  char *text;         /**< Owned: the file as read, UTF-8, zero-terminated; may be NULL. */
  double beta;        /**< Particle speed over c, 1e-06 to 1. */
  double accelerating_length_m; /**< 1e-12 to 1000; 0: not stated, chosen. */
  cavum_contour_kind kind;
  cavum_half_cell left, right;   /**< TWO_ELLIPSE. */
  cavum_end left_end, right_end; /**< TWO_ELLIPSE. */
  cavum_contour path;            /**< PATH: owned curves, closed, inside on the left. */
  cavum_mesh_source mesh;        /**< MESH_FILE. */
  int num_modes;                 /**< Modes wanted, 1 to 1000. */
  double near_hz;            /**< 0: the lowest modes; else those nearest to this frequency, 1 to
                                1e+15. */
  double accuracy_frequency; /**< Relative accuracy wanted of the frequency, 1e-13 to 0.1. */
  double
      accuracy_other_figures; /**< Relative accuracy wanted of every other figure, 1e-12 to 0.5. */
  cavum_wall wall;
  char note[256];    /**< One line to tell, as of a key with a former name; "": none. */
  char *mesh_data;   /**< MESH_FILE, owned: what the mesh file would hold, shape [mesh_size]; NULL:
                          the file of mesh.path is read. With data that path names them in
                          messages and may be NULL or empty. */
  size_t mesh_size;  /**< Bytes of mesh_data. */
  cavum_files files; /**< Owned: all files that the cell was read from: its own, unless it came from
                          a text, that of its mesh, those of a measured wall. */
} cavum_cell;

/**
 * What cavum_cell_set_defaults() calls.
 * @param[out] cell         As many of its bytes as struct_size says are set.
 * @param[in]  struct_size  sizeof(cavum_cell) where the program is compiled.
 */
CAVUM_API void cavum_cell_set_defaults_sized(cavum_cell *cell, size_t struct_size);

/**
 * A cell with the defaults of a cell file: beta 1, one mode, accuracy 1e-6 and 1e-4, no wall. Kind,
 * dimensions and ends are not stated.
 */
static inline void cavum_cell_set_defaults(cavum_cell *cell) {
  cavum_cell_set_defaults_sized(cell, sizeof(cavum_cell));
}

/** Frees all that a cell owns and sets the defaults; NULL is accepted. */
CAVUM_API void cavum_cell_clear(cavum_cell *cell);

/** What cavum_cell_read_file() calls; struct_size is sizeof(cavum_cell) of the program. */
CAVUM_API cavum_status cavum_cell_read_file_sized(cavum_cell *cell, size_t struct_size,
                                                  const char *path, cavum_error *error);

/** What cavum_cell_read_text() calls; struct_size is sizeof(cavum_cell) of the program. */
CAVUM_API cavum_status cavum_cell_read_text_sized(cavum_cell *cell, size_t struct_size,
                                                  const char *text, size_t length, const char *name,
                                                  cavum_error *error);

/**
 * Reads a cell file (YAML; REFERENCE.md lists the keys).
 *
 * Every error is one line `file:line:column: what is wrong, what was expected`. Dimensions that
 * no wall can have are refused here too, so a cell that was read has a contour.
 *
 * @param[out] cell  Filled on success (release with cavum_cell_clear()); untouched otherwise.
 * @param[in]  path  File name.
 * @param[out] error May be NULL.
 * @retval CAVUM_OK
 * @retval CAVUM_ERR_USAGE  NULL for what must be given, or a cell with a mesh in it for a program
 *                          whose header knows none.
 * @retval CAVUM_ERR_FILE      the file cannot be read.
 * @retval CAVUM_ERR_INPUT     syntax, unknown key, missing key, bad value.
 * @retval CAVUM_ERR_GEOMETRY  no common tangent, overlapping ellipses, a contour that crosses
 * itself.
 * @retval CAVUM_ERR_MEMORY
 */
static inline cavum_status cavum_cell_read_file(cavum_cell *cell, const char *path,
                                                cavum_error *error) {
  return cavum_cell_read_file_sized(cell, sizeof(cavum_cell), path, error);
}

/**
 * Like cavum_cell_read_file() for text in memory.
 * @param[out] cell    As above.
 * @param[in]  text    UTF-8 text, shape [length].
 * @param[in]  length  Bytes of text.
 * @param[in]  name    File name for messages and for relative mesh paths; NULL: "text".
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  as above.
 */
static inline cavum_status cavum_cell_read_text(cavum_cell *cell, const char *text, size_t length,
                                                const char *name, cavum_error *error) {
  return cavum_cell_read_text_sized(cell, sizeof(cavum_cell), text, length, name, error);
}

/**
 * Checks a cell however it came about: everything that is needed is stated, every value is in the
 * range that a cell file may give, every kind is known. Every solve begins with it. Whether the
 * shape exists is found by cavum_cell_make_contour().
 *
 * @param[in]  cell   May be NULL, which is an error.
 * @param[out] error  May be NULL; the message names the member.
 * @retval CAVUM_OK
 * @retval CAVUM_ERR_INPUT  a member that is missing, unknown or out of range.
 * @retval CAVUM_ERR_USAGE  no cell, or one that never saw cavum_cell_set_defaults().
 */
CAVUM_API cavum_status cavum_cell_check(const cavum_cell *cell, cavum_error *error);

/**
 * True when a cell is its own mirror image about a plane across the axis and can be solved as a
 * half.
 *
 * Two-ellipse cells: about the equator plane, ends included. Paths: about any z, when the piece
 * that mirrors each piece is there to 1e-12 of the size, with the same boundary; not when the plane
 * goes through a re-entrant edge. Cells from mesh files are never taken as symmetric.
 */
CAVUM_API bool cavum_cell_is_mirror_symmetric(const cavum_cell *cell);

/** Which part of a cell a contour covers. */
typedef enum cavum_cell_part {
  CAVUM_PART_WHOLE = 0, /**< Both halves. */
  CAVUM_PART_RIGHT = 1  /**< Right of the mirror plane, which is CAVUM_BOUNDARY_SYMMETRY. */
} cavum_cell_part;

/**
 * The exact contour of a two-ellipse or path cell; the equator plane of the former is z = 0.
 *
 * The common tangent of the two ellipses of a half cell is found to rounding, without slopes, so
 * walls may be vertical or lean past the vertical. A degenerate straight piece (shorter than 1e-9
 * of the cell) is left out. The order is counterclockwise from the left end of the axis: axis,
 * right end, wall from right to left, left end (or the equator plane). The contour is checked:
 * closed, no crossing, touching or folding, nothing below the axis, inside on the left.
 *
 * @param[out] contour  Owned by the caller (cavum_contour_clear()); untouched unless CAVUM_OK.
 * @param[in]  cell     TWO_ELLIPSE or PATH.
 * @param[in]  part     CAVUM_PART_RIGHT only for mirror-symmetric cells.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  the ellipses overlap or have no common tangent, or a contour crosses
 *                             itself or the axis.
 * @retval CAVUM_ERR_INPUT     a mesh file, half of a cell without a mirror plane, or kinds that are
 *                             not stated or unknown.
 * @retval CAVUM_ERR_USAGE     no cell or contour, or a cell that never saw
 *                             cavum_cell_set_defaults().
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_cell_make_contour(cavum_contour *contour, const cavum_cell *cell,
                                               cavum_cell_part part, cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
