// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/curve_guess.h
 * A guess at the smooth curve that the nodes of a mesh file were laid on.
 *
 * Walls and interfaces between materials matter to the fields; the sides of a mesh file follow them
 * between their nodes as well as polynomials do. The nodes of the sides next to one say where the
 * curve goes on: a polynomial of two degrees more over the length of the curve, through two more
 * nodes, is the guess. How far it lies off the side is how far the side is likely to lie off the
 * curve. Sides that meet with a small kink are at least as far off as that says. Straight sides of
 * a higher order that turn alike, three times in a row, are facets of a curve: their ends alone lie
 * on it.
 */
#ifndef CAVUM_ELEMENT_CURVE_GUESS_H
#define CAVUM_ELEMENT_CURVE_GUESS_H

#include "element/curve_fit.h"

/** Largest turn from one piece of a polygon to the next that stands for a curve, 60 degrees and
 * what rounding adds: larger
 * ones are corners. */
#define CAVUM_CURVE_TURN_MOST_RAD 1.06

/** Nodes of other sides that a guess takes in, and all that it goes through at most. */
enum { CAVUM_GUESS_EXTRA = 2, CAVUM_GUESS_NODES = CAVUM_FIT_NODES };

/** The guess for one side. */
typedef struct cavum_edge_guess {
  cavum_curve_fit fit; /**< Without nodes nothing is guessed, the side stays as it is. */
  int first, steps;    /**< First node of the side in the fit; from it to the last one. */
  double size_m;       /**< Largest distance from the side. */
} cavum_edge_guess;

/** The guesses for all edges of a mesh. */
typedef struct cavum_curve_guess {
  cavum_index num_edges;
  cavum_edge_guess *edges; /**< Owned, shape [num_edges]. */
  double largest_m;        /**< Largest size_m, */
  cavum_point largest_at;  /**< and the middle of that side. */
} cavum_curve_guess;

/**
 * Guesses the curves of all edges on the outline, but the axis, and between different materials.
 *
 * Where a curve ends at the axis or at a plane of symmetry it goes on as its mirror image.
 *
 * @param[out] guess  Release with cavum_curve_guess_clear() also after an error.
 * @param[in]  mesh   node_order >= 1.
 */
cavum_status cavum_curve_guess_create(cavum_curve_guess *guess, const cavum_mesh *mesh,
                                      cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_curve_guess_clear(cavum_curve_guess *guess);

/** Whether the nodes of an edge lie on a line; true at order 1. mesh->node_order >= 1. */
bool cavum_curve_side_is_straight(const cavum_mesh *mesh, cavum_index edge);

/** From position s of an edge, in its own sense, to the guessed curve. */
cavum_point cavum_curve_guess_at(const cavum_curve_guess *guess, const cavum_mesh *mesh,
                                 cavum_index edge, double s);

#endif
