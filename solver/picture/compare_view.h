// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/compare_view.h
 * Several cells over each other.
 */
#ifndef CAVUM_PICTURE_COMPARE_VIEW_H
#define CAVUM_PICTURE_COMPARE_VIEW_H

#include "picture/page.h"

/** What is drawn over each other. */
typedef struct cavum_overlay {
  int count;                          /**< 1 to CAVUM_PICTURE_FILES_MOST. */
  const cavum_result *const *results; /**< Borrowed, shape [count]. */
  const char *const *names;           /**< Of each, for the key; borrowed. */
  const int *modes;                   /**< Of each, from 0. */
  cavum_picture_alignment align;
} cavum_overlay;

/**
 * Outlines to scale, E_z on the axis, surface fields.
 * @retval CAVUM_ERR_INPUT   no such mode, no fields, or only some have a gradient.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_overlay_draw(char **bytes, size_t *size, const cavum_overlay *overlay,
                                const cavum_draw_request *request, cavum_error *error);

#endif
