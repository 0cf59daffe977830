// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/scan_draw.h
 * The picture of a scan.
 */
#ifndef CAVUM_PICTURE_SCAN_DRAW_H
#define CAVUM_PICTURE_SCAN_DRAW_H

#include "picture/scan_view.h"

/** Draws the picture. */
cavum_status cavum_scan_view_draw(char **bytes, size_t *size, const cavum_scan_view *view,
                                  const cavum_draw_request *request, cavum_error *error);

#endif
