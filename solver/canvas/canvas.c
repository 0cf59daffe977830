// SPDX-License-Identifier: GPL-3.0-or-later
// The page that drawing code sees: keeps the path and passes finished pieces to its form.
#include "canvas/canvas.h"

#include "base/base.h"
#include "canvas/canvas_cairo.h"
#include "canvas/canvas_svg.h"

enum { LARGEST_SIDE = 32767 };

struct cavum_canvas {
  cavum_canvas_page page;
  cavum_path path;
  bool failed;                    // Memory ran out somewhere.
  cavum_cairo *cairo;             // Owned: the page of a PNG or PDF; measures texts for all.
  cavum_svg *svg;                 // Owned: the page of an SVG.
  const cavum_canvas_form *form;  // NULL: nothing is drawn.
  void *state;                    // Of the form: borrowed from one of the two above.
};

static cavum_status open_form(cavum_canvas *canvas, cavum_error *error) {
  const cavum_canvas_page *page = &canvas->page;
  cavum_status status = cavum_cairo_create(&canvas->cairo, page, error);
  if (status != CAVUM_OK) return status;
  switch (page->kind) {
    case CAVUM_CANVAS_PNG:
    case CAVUM_CANVAS_PDF:
      canvas->form = &cavum_cairo_form;
      canvas->state = canvas->cairo;
      break;
    case CAVUM_CANVAS_SVG:
    case CAVUM_CANVAS_SVG_FRAGMENT:
      status = cavum_svg_create(&canvas->svg, page, error);
      canvas->form = &cavum_svg_form;
      canvas->state = canvas->svg;
      break;
    case CAVUM_CANVAS_MEASURE:
      break;
  }
  return status;
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
  CAVUM_TRY(open_form(made, error));
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
  cavum_svg_destroy(&old->svg);
  cavum_path_clear(&old->path);
  free(old);
  *canvas = NULL;
}

cavum_status cavum_canvas_finish(char **bytes, size_t *size, cavum_canvas *canvas,
                                 cavum_error *error) {
  if (canvas->failed) return cavum_fail_memory(error);
  CAVUM_ASSERT(canvas->form);
  return canvas->form->finish(bytes, size, canvas->state, error);
}

double cavum_canvas_scale(const cavum_canvas *canvas) { return canvas->page.scale; }

double cavum_canvas_width(const cavum_canvas *canvas) { return canvas->page.width; }

static void add_step(cavum_canvas *canvas, cavum_path_step step, double x, double y) {
  if (!cavum_path_add(&canvas->path, step, x, y)) canvas->failed = true;
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

// True when there is a path and something to draw it on.
static bool has_path(const cavum_canvas *canvas) {
  return canvas->form && canvas->path.num_steps > 0 && !canvas->failed;
}

void cavum_canvas_stroke(cavum_canvas *canvas, cavum_ink ink, double width, cavum_dash dash) {
  if (has_path(canvas)) canvas->form->stroke(canvas->state, &canvas->path, ink, width, dash);
  canvas->path.num_steps = 0;
}

void cavum_canvas_fill(cavum_canvas *canvas, cavum_ink ink) {
  if (has_path(canvas)) canvas->form->fill(canvas->state, &canvas->path, ink);
  canvas->path.num_steps = 0;
}

void cavum_canvas_fill_colour(cavum_canvas *canvas, uint32_t colour) {
  if (has_path(canvas)) canvas->form->fill_colour(canvas->state, &canvas->path, colour);
  canvas->path.num_steps = 0;
}

void cavum_canvas_clip(cavum_canvas *canvas) {
  if (canvas->form) canvas->form->clip(canvas->state, &canvas->path);
  canvas->path.num_steps = 0;
}

void cavum_canvas_unclip(cavum_canvas *canvas) {
  if (canvas->form) canvas->form->unclip(canvas->state);
}

void cavum_canvas_image(cavum_canvas *canvas, double x, double y, double width, double height,
                        const cavum_image *image) {
  if (canvas->form) canvas->form->image(canvas->state, x, y, width, height, image);
}

void cavum_canvas_text(cavum_canvas *canvas, double x, double y, const char *text,
                       const cavum_text_style *style) {
  if (canvas->form) canvas->form->text(canvas->state, x, y, text, style);
}

double cavum_canvas_measure(cavum_canvas *canvas, const char *text, const cavum_text_style *style) {
  return cavum_cairo_measure(canvas->cairo, text, style);
}
