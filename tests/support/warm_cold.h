// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file warm_cold.h
 * How far the figures of a solver that remembers are from those of a fresh one.
 */
#ifndef CAVUM_TEST_WARM_COLD_H
#define CAVUM_TEST_WARM_COLD_H

#include <math.h>
#include <stdio.h>

#include "cavum/solve.h"

/** Where the largest difference was found. */
typedef struct warm_cold {
  long compared; /**< Figures of both that were present. */
  int unlike; /**< Results, modes or figures that only one of them has, of another state, or without
                   an uncertainty. */
  double largest;  /**< |warm - cold| over the sum of both uncertainties: above 1, one misses. */
  int shape, mode; /**< Where. */
  cavum_figure_id figure;
} warm_cold;

static inline void warm_cold_add_figure(warm_cold *all, const cavum_figure *warm,
                                        const cavum_figure *cold, int shape, int mode, int id) {
  if (warm->state != cold->state) all->unlike++;
  if (warm->state != CAVUM_FIGURE_PRESENT || cold->state != CAVUM_FIGURE_PRESENT) return;
  all->compared++;
  double difference = fabs(warm->value - cold->value);
  if (difference == 0.0) return;
  double units = difference / (warm->uncertainty + cold->uncertainty);
  if (!isfinite(units)) all->unlike++;
  if (!(units > all->largest)) return;
  all->largest = units;
  all->shape = shape;
  all->mode = mode;
  all->figure = (cavum_figure_id)id;
}

/**
 * Compares all figures of two results of the same cell; either may be NULL.
 * @param[in] shape  Number of the cell, kept with the largest difference.
 */
static inline void warm_cold_add(warm_cold *all, const cavum_result *warm, const cavum_result *cold,
                                 int shape) {
  if (!warm || !cold || warm->num_modes != cold->num_modes) {
    if (warm != cold) all->unlike++;
    return;
  }
  for (int m = 0; m < warm->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      warm_cold_add_figure(all, &warm->modes[m].figures[id], &cold->modes[m].figures[id], shape, m,
                           id);
    }
  }
}

/** Prints what was found. */
static inline void warm_cold_print(const warm_cold *all, const char *name) {
  printf("%s: %ld figures warm and cold, %d unlike, largest difference %.3g of both uncertainties",
         name, all->compared, all->unlike, all->largest);
  if (all->largest > 0.0) {
    printf(" (shape %d, mode %d, %s)", all->shape, all->mode + 1,
           cavum_figure_describe(all->figure).key);
  }
  printf("\n");
}

#endif
