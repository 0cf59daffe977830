// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/as_built_view.h
 * A measured wall: its deviation, and what that does to the frequency, along the wall.
 */
#ifndef CAVUM_PICTURE_AS_BUILT_VIEW_H
#define CAVUM_PICTURE_AS_BUILT_VIEW_H

#include "picture/page.h"
#include "store/as_built_file.h"

/**
 * Draws the curves one below the other.
 * @param[out] bytes    New memory, release with free(); untouched unless CAVUM_OK.
 * @param[out] size     Bytes.
 * @param[in]  built    The wall.
 * @param[in]  request  Form and sizes.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_as_built_view_draw(char **bytes, size_t *size, const cavum_as_built *built,
                                      const cavum_draw_request *request, cavum_error *error);

#endif
