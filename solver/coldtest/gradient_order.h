// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/gradient_order.h
 * Readings of a test by rising gradient.
 */
#ifndef CAVUM_COLDTEST_GRADIENT_ORDER_H
#define CAVUM_COLDTEST_GRADIENT_ORDER_H

#include <stdint.h>

/** A reading and where it stands. */
typedef struct cavum_gradient_place {
  double gradient; /**< E_acc in V/m. */
  int64_t index;   /**< Of the reading, from 0. */
} cavum_gradient_place;

/** Sorts places by gradient, those of one gradient by index; shape [count]. */
void cavum_gradient_places_sort(cavum_gradient_place *places, int64_t count);

#endif
