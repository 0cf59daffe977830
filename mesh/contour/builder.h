// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/builder.h
 * Putting a contour together piece by piece, each with a label for messages.
 */
#ifndef CAVUM_CONTOUR_BUILDER_H
#define CAVUM_CONTOUR_BUILDER_H

#include "cavum/contour.h"

/** Longest label of a piece with its final zero. */
enum { CAVUM_LABEL_SIZE = 48 };

/** What messages call a curve, for example "right iris ellipse" or "contour.path[3]". */
typedef struct cavum_curve_label {
  char text[CAVUM_LABEL_SIZE];
} cavum_curve_label;

/** A contour under construction, with a label for each curve. Zero-initialise. */
typedef struct cavum_contour_builder {
  cavum_contour contour;     /**< Owned. */
  cavum_curve_label *labels; /**< Owned, shape [contour.num_curves]. */
  int64_t curve_capacity, label_capacity;
} cavum_contour_builder;

/** Most curves of one contour; a bound on the work that a hostile file can ask for. */
enum { CAVUM_LARGEST_CONTOUR = 4000 };

/** Frees all that a builder owns and empties it. */
void cavum_contour_builder_clear(cavum_contour_builder *builder);

/**
 * Appends a copy of a curve.
 * @retval CAVUM_ERR_GEOMETRY  more than CAVUM_LARGEST_CONTOUR curves.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_builder_append(cavum_contour_builder *builder, const cavum_curve *curve,
                                          const char *label, cavum_error *error);

/** Moves the contour out of a builder and clears the rest. */
cavum_contour cavum_contour_builder_release(cavum_contour_builder *builder);

#endif
