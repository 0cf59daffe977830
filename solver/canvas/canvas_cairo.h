// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/canvas_cairo.h
 * Pages as PNG and PDF, and the widths of texts of all pages. Only canvas_cairo.c sees Cairo and
 * Pango.
 */
#ifndef CAVUM_CANVAS_CANVAS_CAIRO_H
#define CAVUM_CANVAS_CANVAS_CAIRO_H

#include "canvas/canvas_form.h"

/** A page of Cairo's; opaque. */
typedef struct cavum_cairo cavum_cairo;

/** Its functions. */
extern const cavum_canvas_form cavum_cairo_form;

/**
 * Makes a page for PNG or PDF, and one that only measures texts for the other kinds.
 * @param[out] cairo  Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  page   Texts are borrowed for the call alone.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 * @retval CAVUM_ERR_LIBRARY  Cairo refused.
 */
cavum_status cavum_cairo_create(cavum_cairo **cairo, const cavum_canvas_page *page,
                                cavum_error *error);

/** Frees it and sets the pointer to NULL; NULL is accepted. */
void cavum_cairo_destroy(cavum_cairo **cairo);

/** Width of a text in points, on any page. */
double cavum_cairo_measure(cavum_cairo *cairo, const char *text, const cavum_text_style *style);

#endif
