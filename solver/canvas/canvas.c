// SPDX-License-Identifier: GPL-3.0-or-later
// The page that drawing code sees: keeps the path and passes finished pieces to its form.
#include "canvas/canvas.h"

#include <string.h>

#include "canvas/canvas_private.h"

enum { LARGEST_SIDE = 32767 };

uint32_t cavum_ink_colour(cavum_ink ink, bool dark) {
  static const uint32_t colours[CAVUM_NUM_INKS][2] = {
#define INK_COLOURS(name, light, dark) {light, dark},
      CAVUM_INK_TABLE(INK_COLOURS)
#undef INK_COLOURS
  };
  return colours[ink][dark];
}

static bool is_svg(const cavum_canvas *canvas) {
  return canvas->page.kind == CAVUM_CANVAS_SVG || canvas->page.kind == CAVUM_CANVAS_SVG_FRAGMENT;
}

cavum_status cavum_canvas_create(cavum_canvas **canvas, const cavum_canvas_page *page,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double largest = cavum_max(page->width, page->height);
  if (!(largest > 0.0) ||
      (page->kind == CAVUM_CANVAS_PNG && largest * page->scale > LARGEST_SIDE)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "a picture of %.0f x %.0f pixels, expected at most %d",
                      page->width * page->scale, page->height * page->scale, LARGEST_SIDE);
  }
  cavum_canvas *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->page = *page;
  CAVUM_TRY(cavum_cairo_create(&made->cairo, page, error));
  if (is_svg(made)) CAVUM_TRY(cavum_svg_create(made, error));
  *canvas = made;
  made = NULL;
done:
  cavum_canvas_destroy(&made);
  return status;
}

void cavum_canvas_destroy(cavum_canvas **canvas) {
  if (!canvas || !*canvas) return;
  cavum_canvas *old = *canvas;
  cavum_cairo_destroy(&old->cairo);
  if (old->svg) fclose(old->svg);
  free(old->svg_text);
  free(old->path.steps);
  free(old->path.points);
  free(old);
  *canvas = NULL;
}

cavum_status cavum_canvas_finish(char **bytes, size_t *size, cavum_canvas *canvas,
                                 cavum_error *error) {
  if (canvas->failed) return cavum_fail_memory(error);
  return is_svg(canvas) ? cavum_svg_finish(bytes, size, canvas, error)
                        : cavum_cairo_finish(bytes, size, canvas->cairo, error);
}

double cavum_canvas_scale(const cavum_canvas *canvas) { return canvas->page.scale; }

static void add_step(cavum_canvas *canvas, cavum_path_step step, double x, double y) {
  cavum_path *path = &canvas->path;
  void *steps = path->steps, *points = path->points;
  int64_t wanted = path->num_steps + 1;
  bool grown = cavum_grow(&steps, &path->capacity_steps, wanted, sizeof *path->steps);
  path->steps = steps;
  grown = grown && cavum_grow(&points, &path->capacity_points, wanted, 2 * sizeof *path->points);
  path->points = points;
  if (!grown) {
    canvas->failed = true;
    return;
  }
  path->steps[path->num_steps] = (unsigned char)step;
  path->points[2 * path->num_steps] = x;
  path->points[2 * path->num_steps + 1] = y;
  path->num_steps++;
}

void cavum_canvas_move(cavum_canvas *canvas, double x, double y) {
  add_step(canvas, CAVUM_STEP_MOVE, x, y);
}

void cavum_canvas_line(cavum_canvas *canvas, double x, double y) {
  add_step(canvas, CAVUM_STEP_LINE, x, y);
}

void cavum_canvas_close(cavum_canvas *canvas) { add_step(canvas, CAVUM_STEP_CLOSE, 0.0, 0.0); }

void cavum_canvas_rectangle(cavum_canvas *canvas, double x, double y, double width, double height) {
  cavum_canvas_move(canvas, x, y);
  cavum_canvas_line(canvas, x + width, y);
  cavum_canvas_line(canvas, x + width, y + height);
  cavum_canvas_line(canvas, x, y + height);
  cavum_canvas_close(canvas);
}

void cavum_canvas_circle(cavum_canvas *canvas, double x, double y, double radius) {
  enum { SIDES = 32 };
  for (int i = 0; i < SIDES; i++) {
    double angle = 2.0 * CAVUM_PI * i / SIDES;
    double px = x + radius * cos(angle), py = y + radius * sin(angle);
    if (i == 0) cavum_canvas_move(canvas, px, py);
    if (i > 0) cavum_canvas_line(canvas, px, py);
  }
  cavum_canvas_close(canvas);
}

static void show_path(cavum_canvas *canvas, cavum_ink ink, int64_t colour, double width,
                      cavum_dash dash) {
  if (canvas->path.num_steps == 0 || canvas->failed) return;
  if (is_svg(canvas)) {
    cavum_svg_path(canvas, ink, colour, width, dash);
  } else if (canvas->page.kind != CAVUM_CANVAS_MEASURE) {
    uint32_t rgb = colour < 0 ? cavum_ink_colour(ink, false) : (uint32_t)colour;
    cavum_cairo_set_path(canvas->cairo, &canvas->path);
    if (width > 0.0) cavum_cairo_stroke(canvas->cairo, rgb, width, dash);
    if (!(width > 0.0)) cavum_cairo_fill(canvas->cairo, rgb);
  }
  canvas->path.num_steps = 0;
}

void cavum_canvas_stroke(cavum_canvas *canvas, cavum_ink ink, double width, cavum_dash dash) {
  show_path(canvas, ink, -1, width, dash);
}

void cavum_canvas_fill(cavum_canvas *canvas, cavum_ink ink) {
  show_path(canvas, ink, -1, 0.0, CAVUM_DASH_NONE);
}

void cavum_canvas_fill_colour(cavum_canvas *canvas, uint32_t colour) {
  show_path(canvas, CAVUM_INK_TEXT, colour, 0.0, CAVUM_DASH_NONE);
}

void cavum_canvas_clip(cavum_canvas *canvas) {
  if (is_svg(canvas)) {
    cavum_svg_clip(canvas);
  } else if (canvas->page.kind != CAVUM_CANVAS_MEASURE) {
    cavum_cairo_set_path(canvas->cairo, &canvas->path);
    cavum_cairo_clip(canvas->cairo);
  }
  canvas->path.num_steps = 0;
}

void cavum_canvas_unclip(cavum_canvas *canvas) {
  if (is_svg(canvas)) {
    fputs("</g>\n", canvas->svg);
  } else if (canvas->page.kind != CAVUM_CANVAS_MEASURE) {
    cavum_cairo_unclip(canvas->cairo);
  }
}

void cavum_canvas_image(cavum_canvas *canvas, double x, double y, double width, double height,
                        const cavum_image *image) {
  if (is_svg(canvas)) {
    cavum_svg_image(canvas, x, y, width, height, image);
  } else if (canvas->page.kind != CAVUM_CANVAS_MEASURE) {
    cavum_cairo_image(canvas->cairo, x, y, width, height, image);
  }
}

void cavum_canvas_text(cavum_canvas *canvas, double x, double y, const char *text,
                       const cavum_text_style *style) {
  if (is_svg(canvas)) {
    cavum_svg_text(canvas, x, y, text, style);
  } else if (canvas->page.kind != CAVUM_CANVAS_MEASURE) {
    cavum_cairo_text(canvas->cairo, x, y, text, style);
  }
}

double cavum_canvas_measure(cavum_canvas *canvas, const char *text, const cavum_text_style *style) {
  return cavum_cairo_measure(canvas->cairo, text, style);
}

int cavum_dash_lengths(double lengths[4], cavum_dash dash) {
  static const double table[][4] = {{0}, {6.0, 3.0}, {1.5, 2.5}, {9.0, 2.5, 1.5, 2.5}};
  static const int counts[] = {0, 2, 2, 4};
  memcpy(lengths, table[dash], sizeof table[dash]);
  return counts[dash];
}

double cavum_text_raise(int level) { return level > 0 ? 0.36 : level < 0 ? -0.2 : 0.0; }

int cavum_text_split(cavum_text_run runs[CAVUM_TEXT_RUNS_MOST], const char *text, bool plain) {
  int count = 0;
  const char *at = text;
  while (*at && count < CAVUM_TEXT_RUNS_MOST) {
    bool small = !plain && (at[0] == '_' || at[0] == '^') && at[1] == '{';
    cavum_text_run run = {.start = small ? at + 2 : at};
    if (small) run.level = at[0] == '^' ? 1 : -1;
    const char *end = run.start;
    if (small) {
      while (*end && *end != '}') end++;
    } else {
      do end++;
      while (*end && (plain || !((end[0] == '_' || end[0] == '^') && end[1] == '{')));
    }
    run.length = (int)(end - run.start);
    if (run.length > 0) runs[count++] = run;
    at = small && *end ? end + 1 : end;
  }
  return count;
}
