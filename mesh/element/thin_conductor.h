// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/thin_conductor.h
 * Whether elements are fine enough beside a thin conductor that ends in the cell.
 */
#ifndef CAVUM_ELEMENT_THIN_CONDUCTOR_H
#define CAVUM_ELEMENT_THIN_CONDUCTOR_H

#include "element/mesh.h"

/** Highest degree that the misfit is computed for; it is smaller at higher ones. */
enum { CAVUM_MISFIT_DEGREE_MOST = 15 };

/** Radii below this part of the largest one of a mesh are on the axis, as for the choice of the
 * unknown. */
#define CAVUM_ON_AXIS 1e-9

/** Largest part of the field beside a conductor that a mesh may lack and be called fine enough. */
#define CAVUM_THIN_LACK_MOST 0.1

/**
 * What polynomials of degree p lack of the wave along a conductor of radius a, on an element from
 * there to the radius b.
 *
 * Beside a conductor u = r H does not depend on r. On meshes that touch the axis the unknown is
 * w = H / r = u / r^2, a polynomial, so the derivative of u is r g with a polynomial g of degree p,
 * and u is 0 on the axis. The electric energy of that, which should be none, is least with
 *
 *     int_a^b (1 / r) (du/dr)^2 dr = int_a^b r g^2 dr = 1 / sum_{n <= p} (int_0^a r phi_n dr)^2
 *
 * for u(a) = 1, phi_n orthonormal on [a, b] with the weight r. It falls as rho^(-2 p) with
 * rho = (sqrt(b) + sqrt(a)) / (sqrt(b) - sqrt(a)), by which polynomials on [a, b] grow towards the
 * axis (Bernstein).
 *
 * @param[in] ratio   b / a, more than 1.
 * @param[in] degree  p, 0 to CAVUM_MISFIT_DEGREE_MOST; more counts as that.
 * @return That least energy times a^2 over int_a^b dr / r: (k_c a)^2 with the wave number k_c below
 *         which the discrete wave along the conductor does not travel, 0 in truth.
 */
double cavum_thin_misfit(double ratio, int degree);

/** Where an element stands on a conductor. */
typedef struct cavum_thin_place {
  double radius_m;   /**< Of the conductor. */
  double outer_m;    /**< To which the element reaches there. */
  double from_tip_m; /**< Distance from the nearest place where a conductor meets the axis. */
  double side_m;     /**< Length of the element's side on the conductor. */
} cavum_thin_place;

/**
 * What an element lacks of the field beside a conductor: k_c^2 / (k^2 + 1 / s^2) with k_c by
 * cavum_thin_misfit() and the distance s from the tip, the side included, over which the field
 * along the conductor changes. Above 1 it is not felt there, and what rising degrees change grows.
 * 0 of conductors that are no thinner than a cone of 14 degrees from the tip.
 */
double cavum_thin_lack(const cavum_thin_place *place, int degree, double k2_per_m2);

/** Whether a straight side from a to b, the element on its left, faces away from the axis. */
bool cavum_thin_faces_away(cavum_point a, cavum_point b);

/** A conductor that the elements beside it do not feel. */
typedef struct cavum_thin_conductor {
  double part;       /**< Of the energy, that it may change, up to 1; 0: there is none. */
  cavum_point place; /**< On its surface. */
  double rounding;   /**< Relative, of the energy, also where all is felt: w goes as 1 / r^2, so the
                          energy is rounded to some epsilon (R / a)^2 of itself, by the same part. */
} cavum_thin_conductor;

/**
 * The worst place of a mesh beside walls that face away from the axis, and of the elements above
 * those on them, at a degree and a wave number k.
 *
 * The part is (k s)^(1 + 2 nu), up to 1, with s as in cavum_thin_lack(): that of the energy within
 * s of a tip, where E goes as rho^(nu - 1) and nu is 0.2 at least.
 *
 * @param[in] lack_most  Least lack of a place that counts, CAVUM_THIN_LACK_MOST for instance.
 * @return part 0 of meshes that do not touch the axis, whose unknown is r H.
 */
cavum_thin_conductor cavum_thin_conductor_find(const cavum_mesh *mesh, int degree, double k2_per_m2,
                                               double lack_most);

#endif
