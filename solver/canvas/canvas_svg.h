// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/canvas_svg.h
 * Pages as SVG.
 */
#ifndef CAVUM_CANVAS_CANVAS_SVG_H
#define CAVUM_CANVAS_CANVAS_SVG_H

#include "canvas/canvas_form.h"

/** A page that is being written; opaque. */
typedef struct cavum_svg cavum_svg;

/** Its functions. */
extern const cavum_canvas_form cavum_svg_form;

/**
 * Starts a page.
 * @param[out] svg    Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  page   Texts are borrowed until the page is finished.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_svg_create(cavum_svg **svg, const cavum_canvas_page *page, cavum_error *error);

/** Frees it and sets the pointer to NULL; NULL is accepted. */
void cavum_svg_destroy(cavum_svg **svg);

#endif
