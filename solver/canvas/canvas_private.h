// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/canvas_private.h
 * What the three forms of a page share. canvas.c calls the form through its table of functions.
 */
#ifndef CAVUM_CANVAS_CANVAS_PRIVATE_H
#define CAVUM_CANVAS_CANVAS_PRIVATE_H

#include <stdio.h>

#include "base/base.h"
#include "canvas/canvas.h"

/** One step of a path. */
typedef enum cavum_path_step { CAVUM_STEP_MOVE, CAVUM_STEP_LINE, CAVUM_STEP_CLOSE } cavum_path_step;

/** A path. */
typedef struct cavum_path {
  int64_t num_steps, capacity_steps, capacity_points;
  unsigned char *steps; /**< Owned, shape [num_steps]. */
  double *points;       /**< Owned: x, y of each step, shape [num_steps, 2]. */
} cavum_path;

/** A stretch of text at one level: 0 on the line, 1 raised, -1 lowered. */
typedef struct cavum_text_run {
  const char *start; /**< Borrowed. */
  int length;        /**< Bytes. */
  int level;
} cavum_text_run;

/** Most stretches of one text. */
enum { CAVUM_TEXT_RUNS_MOST = 32 };

/** Size of raised and lowered text against the line. */
#define CAVUM_TEXT_SMALL 0.72

/** Splits a text into its stretches; returns how many. */
int cavum_text_split(cavum_text_run runs[CAVUM_TEXT_RUNS_MOST], const char *text, bool plain);

/** Height of a stretch's base line above that of the text, in units of the font's size. */
double cavum_text_raise(int level);

/** The state behind Cairo and Pango; only canvas_cairo.c knows what is inside. */
typedef struct cavum_cairo cavum_cairo;

struct cavum_canvas {
  cavum_canvas_page page;
  cavum_path path;
  bool failed;        /**< Memory ran out somewhere. */
  cavum_cairo *cairo; /**< Owned: drawing for PNG and PDF, measuring for all. */
  FILE *svg;          /**< Owned: stream into svg_text. */
  char *svg_text;     /**< Owned. */
  size_t svg_size;
  int num_clips; /**< SVG: numbers the clip paths. */
};

/** Makes the Cairo side; for SVG and measuring without a surface. */
cavum_status cavum_cairo_create(cavum_cairo **cairo, const cavum_canvas_page *page,
                                cavum_error *error);
/** Frees it. */
void cavum_cairo_destroy(cavum_cairo **cairo);
/** Bytes of the finished PNG or PDF. */
cavum_status cavum_cairo_finish(char **bytes, size_t *size, cavum_cairo *cairo, cavum_error *error);
/** Puts the path in front of Cairo. */
void cavum_cairo_set_path(cavum_cairo *cairo, const cavum_path *path);
/** Strokes it. */
void cavum_cairo_stroke(cavum_cairo *cairo, uint32_t colour, double width, cavum_dash dash);
/** Fills it. */
void cavum_cairo_fill(cavum_cairo *cairo, uint32_t colour);
/** Clips to it. */
void cavum_cairo_clip(cavum_cairo *cairo);
/** Ends the clip. */
void cavum_cairo_unclip(cavum_cairo *cairo);
/** Places an image. */
void cavum_cairo_image(cavum_cairo *cairo, double x, double y, double width, double height,
                       const cavum_image *image);
/** Writes a text. */
void cavum_cairo_text(cavum_cairo *cairo, double x, double y, const char *text,
                      const cavum_text_style *style);
/** Width of a text. */
double cavum_cairo_measure(cavum_cairo *cairo, const char *text, const cavum_text_style *style);

/** Starts an SVG. */
cavum_status cavum_svg_create(cavum_canvas *canvas, cavum_error *error);
/** Ends it and gives its bytes. */
cavum_status cavum_svg_finish(char **bytes, size_t *size, cavum_canvas *canvas, cavum_error *error);
/** Writes the path with its look: stroke when width > 0, else fill. `colour` < 0: by ink. */
void cavum_svg_path(cavum_canvas *canvas, cavum_ink ink, int64_t colour, double width,
                    cavum_dash dash);
/** Opens a group limited to the path. */
void cavum_svg_clip(cavum_canvas *canvas);
/** Places an image. */
void cavum_svg_image(cavum_canvas *canvas, double x, double y, double width, double height,
                     const cavum_image *image);
/** Writes a text. */
void cavum_svg_text(cavum_canvas *canvas, double x, double y, const char *text,
                    const cavum_text_style *style);

/** Lengths of dashes and gaps, in points; shape [4]; returns how many, 0 for an unbroken line. */
int cavum_dash_lengths(double lengths[4], cavum_dash dash);

#endif
