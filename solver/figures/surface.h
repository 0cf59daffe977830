// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/surface.h
 * Fields on the metal wall: the loss integral and the two peaks. Sharp corners: sharp_corner.h.
 */
#ifndef CAVUM_FIGURES_SURFACE_H
#define CAVUM_FIGURES_SURFACE_H

#include "figures/view.h"

/** A largest surface field and where it is. */
typedef struct cavum_peak {
  double value; /**< V/m or A/m at one joule; 0 without metal. */
  cavum_point at;
  /**
   * Of a peak of |E| where two edges meet: by how much the fields of the two differ there, which
   * the true one does not on a smooth wall. 0 elsewhere, and of |H|, which is continuous.
   */
  double gap;
} cavum_peak;

/** What the metal wall of the whole cell says about a mode at one joule. */
typedef struct cavum_surface {
  double integral_h2_a2;         /**< oint |H|^2 dS; 0 without metal. */
  cavum_peak electric, magnetic; /**< Largest |E| and |H|. */
} cavum_surface;

/** Normal E (V/m, positive into the domain) and H_phi (A/m) at the samples of one conducting edge,
 * at one joule. */
typedef struct cavum_wall_samples {
  double e[CAVUM_WALL_SAMPLES], h[CAVUM_WALL_SAMPLES];
} cavum_wall_samples;

/**
 * The fields at the samples of all conducting edges.
 * @param[out] samples  Shape [boundary->num_conducting].
 */
void cavum_surface_sample(cavum_wall_samples *samples, const cavum_view *view);

/**
 * The loss integral and the true maxima of |E| and |H| along the metal: brackets from the samples,
 * then a search about every sample that is a top and may be the largest.
 * @param[in] samples  Of cavum_surface_sample().
 */
cavum_surface cavum_surface_measure(const cavum_wall_samples *samples, const cavum_view *view);

/**
 * The largest |E|, or |H|, along the metal, as in cavum_surface_measure().
 * @param[in] samples  Of cavum_surface_sample().
 */
cavum_peak cavum_surface_find_peak(const cavum_wall_samples *samples, const cavum_view *view,
                                   bool electric);

/** Where on the metal a field is largest. */
typedef struct cavum_peak_place {
  cavum_index edge; /**< Into boundary->conducting; -1: nowhere. */
  double s, value;  /**< Position on it; V/m or A/m at one joule. */
} cavum_peak_place;

/** Where that is. */
cavum_point cavum_surface_point_of(const cavum_view *view, const cavum_peak_place *place);

/**
 * The place of cavum_surface_find_peak(), and another one where the field is as large.
 * @param[out] places  Shape [2].
 * @param[in]  part    As large: but for this part.
 * @return Places found, 0 to 2.
 */
int cavum_surface_place_peak(cavum_peak_place *places, const cavum_wall_samples *samples,
                             const cavum_view *view, bool electric, double part);

/**
 * The place of a maximum at another degree on the same mesh: the nearest one there.
 * @param[in] place  At the first degree.
 * @return The same place where there is none of about that size.
 */
cavum_peak_place cavum_surface_follow_peak(const cavum_peak_place *place,
                                           const cavum_wall_samples *samples,
                                           const cavum_view *view, bool electric);

/** Whether a place is at an end of its edge, where edges meet. */
bool cavum_surface_is_at_end(const cavum_peak_place *place);

/**
 * Holds the place of a maximum at a lower degree as far from that at a higher one as these may be
 * off: both may be off by the same, by chance, and then the derivatives by the shape, which go with
 * the place, are the same too. A place is off by what the slope of the field there is off by, over
 * its curvature; the slope by a good half of the most by which those of the two fields differ near
 * it.
 * @param[in] lower, upper        Places of one maximum at the two degrees.
 * @param[in] of_lower, of_upper  Samples there.
 * @return The lower place where it is as far away or farther.
 */
cavum_peak_place cavum_surface_hold_apart(const cavum_peak_place *lower,
                                          const cavum_peak_place *upper,
                                          const cavum_wall_samples *of_lower,
                                          const cavum_wall_samples *of_upper,
                                          const cavum_mesh_boundary *boundary, bool electric);

/**
 * How far two approximations of a mode differ where the surface field is close to its peak: the
 * largest difference of |E| / E_acc, or |H| / E_acc, among samples at which either is within 0.5 %
 * of its largest value, and which are on the edge of that or where three times the difference would
 * lift the field to it. The ends of edges lag behind and do not count, but where the wall ends, as
 * at an iris plane, and one that rose from a to b would be the peak if it rose as much once more.
 * Unlike the difference of the two peaks it is not small by luck.
 * @param[in] a, b              Shape [boundary->num_metal], at one joule; b of the higher degree.
 * @param[in] eacc_a, eacc_b    Accelerating gradients at one joule, V/m.
 */
double cavum_surface_spread(const cavum_wall_samples *a, double eacc_a, const cavum_wall_samples *b,
                            double eacc_b, const cavum_mesh_boundary *boundary, bool electric);

#endif
