// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/steps_view.h
 * A chain of steps as a waterfall: a row a step, a bar from the frequency before to that behind it.
 */
#ifndef CAVUM_PICTURE_STEPS_VIEW_H
#define CAVUM_PICTURE_STEPS_VIEW_H

#include "picture/page.h"
#include "store/chain_file.h"

/**
 * Draws the waterfall, with aims, their tolerances and what was measured.
 * @param[out] bytes    New memory, release with free(); untouched unless CAVUM_OK.
 * @param[out] size     Bytes.
 * @param[in]  result   The chain.
 * @param[in]  request  Form and sizes.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_steps_view_draw(char **bytes, size_t *size, const cavum_steps_result *result,
                                   const cavum_draw_request *request, cavum_error *error);

#endif
