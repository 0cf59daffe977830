// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/lattice_product.h
 * The factor that Lagrange polynomials on equispaced lattices are made of.
 */
#ifndef CAVUM_ELEMENT_LATTICE_PRODUCT_H
#define CAVUM_ELEMENT_LATTICE_PRODUCT_H

/**
 * The polynomial of degree `node` in x that is 1 at x = node and 0 at the integers from 0 below it;
 * x is in steps of the lattice.
 */
static inline double cavum_lattice_product(int node, double x) {
  double product = 1.0;
  for (int k = 0; k < node; k++) product *= (x - k) / (node - k);
  return product;
}

#endif
