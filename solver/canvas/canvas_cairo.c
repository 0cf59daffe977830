// SPDX-License-Identifier: GPL-3.0-or-later
// Pages as PNG and PDF, and the widths of texts: the only file that sees Cairo and Pango.
#include "canvas/canvas_cairo.h"

#include <cairo-pdf.h>
#include <cairo.h>
#include <pango/pangocairo.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/png_bytes.h"
#include "canvas/text_runs.h"

// The family that scripts/install-packages installs, so that texts look the same everywhere.
static const char font_family[] = "DejaVu Sans, sans-serif";
// A point is 1/72 inch.
static const double POINTS_PER_INCH = 72.0;

struct cavum_cairo {
  cavum_canvas_kind kind;
  double scale;
  double print_scale;
  cairo_surface_t *surface;  // Owned; NULL when nothing is drawn.
  cairo_t *context;          // Owned; NULL when nothing is drawn.
  PangoLayout *layout;       // Owned.
  void *bytes;               // Owned: what the PDF surface has written.
  int64_t size, capacity;
  bool failed;
};

static cairo_status_t collect(void *closure, const unsigned char *data, unsigned int length) {
  cavum_cairo *cairo = closure;
  if (!cavum_grow(&cairo->bytes, &cairo->capacity, cairo->size + length + 1, 1)) {
    cairo->failed = true;
    return CAIRO_STATUS_NO_MEMORY;
  }
  memcpy((char *)cairo->bytes + cairo->size, data, length);
  cairo->size += length;
  return CAIRO_STATUS_SUCCESS;
}

static void open_surface(cavum_cairo *cairo, const cavum_canvas_page *page) {
  if (page->kind == CAVUM_CANVAS_PNG) {
    cairo->surface =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)lround(page->width * page->scale),
                                   (int)lround(page->height * page->scale));
  } else if (page->kind == CAVUM_CANVAS_PDF) {
    cairo->surface = cairo_pdf_surface_create_for_stream(
        collect, cairo, page->width * cairo->print_scale, page->height * cairo->print_scale);
    // A fixed date, so that the same input gives the same bytes.
    cairo_pdf_surface_set_metadata(cairo->surface, CAIRO_PDF_METADATA_CREATE_DATE,
                                   "2000-01-01T00:00:00Z");
    // What is known of the file stands in its tail as plain text: later versions compress it.
    cairo_pdf_surface_restrict_to_version(cairo->surface, CAIRO_PDF_VERSION_1_4);
    cairo_pdf_surface_set_metadata(cairo->surface, CAIRO_PDF_METADATA_CREATOR, "cavum");
    if (page->title && page->title[0]) {
      cairo_pdf_surface_set_metadata(cairo->surface, CAIRO_PDF_METADATA_TITLE, page->title);
    }
  }
}

static PangoLayout *make_layout(cairo_t *context) {
  PangoFontMap *map = pango_cairo_font_map_get_default();
  PangoContext *pango = pango_font_map_create_context(map);
  cairo_font_options_t *options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
  pango_cairo_context_set_font_options(pango, options);
  pango_cairo_context_set_resolution(pango, POINTS_PER_INCH);  // Sizes of fonts are in our points.
  if (context) pango_cairo_update_context(context, pango);
  PangoLayout *layout = pango_layout_new(pango);
  cairo_font_options_destroy(options);
  g_object_unref(pango);
  return layout;
}

cavum_status cavum_cairo_create(cavum_cairo **cairo, const cavum_canvas_page *page,
                                cavum_error *error) {
  cavum_cairo *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->kind = page->kind;
  made->print_scale = page->print_scale > 0.0 ? page->print_scale : 1.0;
  made->scale = page->kind == CAVUM_CANVAS_PNG ? page->scale : made->print_scale;
  open_surface(made, page);
  if (made->surface) {
    made->context = cairo_create(made->surface);
    cairo_scale(made->context, made->scale, made->scale);
    cairo_set_source_rgb(made->context, 1.0, 1.0, 1.0);
    cairo_paint(made->context);
    cairo_set_line_join(made->context, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_cap(made->context, CAIRO_LINE_CAP_ROUND);
    cairo_set_fill_rule(made->context, CAIRO_FILL_RULE_EVEN_ODD);
  }
  made->layout = make_layout(made->context);
  if (made->context && cairo_status(made->context) != CAIRO_STATUS_SUCCESS) {
    cavum_status status = cavum_fail(error, CAVUM_ERR_LIBRARY, "Cairo: %s",
                                     cairo_status_to_string(cairo_status(made->context)));
    cavum_cairo_destroy(&made);
    return status;
  }
  *cairo = made;
  return CAVUM_OK;
}

void cavum_cairo_destroy(cavum_cairo **cairo) {
  if (!cairo || !*cairo) return;
  cavum_cairo *old = *cairo;
  if (old->layout) g_object_unref(old->layout);
  if (old->context) cairo_destroy(old->context);
  if (old->surface) cairo_surface_destroy(old->surface);
  free(old->bytes);
  free(old);
  *cairo = NULL;
}

static cavum_status finish(char **bytes, size_t *size, void *state, cavum_error *error) {
  cavum_cairo *cairo = state;
  cairo_status_t outcome = cairo_status(cairo->context);
  if (cairo->failed) return cavum_fail_memory(error);
  if (outcome == CAIRO_STATUS_SUCCESS && cairo->kind == CAVUM_CANVAS_PNG) {
    cairo_surface_flush(cairo->surface);
    return cavum_png_from_pixels(
        bytes, size, cairo_image_surface_get_data(cairo->surface),
        cairo_image_surface_get_width(cairo->surface),
        cairo_image_surface_get_height(cairo->surface),
        cairo_image_surface_get_stride(cairo->surface),
        POINTS_PER_INCH * cavum_in_unit(1.0, CAVUM_UNIT_INCH) * cairo->scale / cairo->print_scale,
        error);
  }
  cairo_surface_finish(cairo->surface);
  if (outcome == CAIRO_STATUS_SUCCESS) outcome = cairo_surface_status(cairo->surface);
  if (cairo->failed) return cavum_fail_memory(error);
  if (outcome != CAIRO_STATUS_SUCCESS || !cairo->bytes) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "Cairo: %s", cairo_status_to_string(outcome));
  }
  ((char *)cairo->bytes)[cairo->size] = '\0';
  *bytes = cairo->bytes;
  *size = (size_t)cairo->size;
  cairo->bytes = NULL;
  return CAVUM_OK;
}

static void set_colour(cairo_t *context, uint32_t colour) {
  cairo_set_source_rgb(context, (double)(colour >> 16 & 255) / 255.0,
                       (double)(colour >> 8 & 255) / 255.0, (double)(colour & 255) / 255.0);
}

static void set_path(cavum_cairo *cairo, const cavum_path *path) {
  cairo_new_path(cairo->context);
  for (int64_t i = 0; i < path->num_steps; i++) {
    double x = path->points[2 * i], y = path->points[2 * i + 1];
    if (path->steps[i] == CAVUM_STEP_MOVE) cairo_move_to(cairo->context, x, y);
    if (path->steps[i] == CAVUM_STEP_LINE) cairo_line_to(cairo->context, x, y);
    if (path->steps[i] == CAVUM_STEP_CLOSE) cairo_close_path(cairo->context);
  }
}

static void stroke(void *state, const cavum_path *path, cavum_ink ink, double width,
                   cavum_dash dash) {
  cavum_cairo *cairo = state;
  double lengths[4];
  int count = cavum_dash_lengths(lengths, dash);
  set_path(cairo, path);
  cairo_set_line_cap(cairo->context, count > 0 ? CAIRO_LINE_CAP_BUTT : CAIRO_LINE_CAP_ROUND);
  cairo_set_dash(cairo->context, lengths, count, 0.0);
  cairo_set_line_width(cairo->context, width);
  set_colour(cairo->context, cavum_ink_colour(ink, false));
  cairo_stroke(cairo->context);
}

static void fill_colour(void *state, const cavum_path *path, uint32_t colour) {
  cavum_cairo *cairo = state;
  set_path(cairo, path);
  set_colour(cairo->context, colour);
  cairo_fill(cairo->context);
}

static void fill(void *state, const cavum_path *path, cavum_ink ink) {
  fill_colour(state, path, cavum_ink_colour(ink, false));
}

static void clip(void *state, const cavum_path *path) {
  cavum_cairo *cairo = state;
  cairo_save(cairo->context);
  set_path(cairo, path);
  cairo_clip(cairo->context);
}

static void unclip(void *state) {
  cavum_cairo *cairo = state;
  cairo_restore(cairo->context);
}

static void place_image(void *state, double x, double y, double width, double height,
                        const cavum_image *image) {
  cavum_cairo *cairo = state;
  cairo_surface_t *surface =
      cairo_image_surface_create(CAIRO_FORMAT_ARGB32, image->width, image->height);
  if (cairo_surface_status(surface) != CAIRO_STATUS_SUCCESS) {
    cairo->failed = true;
    cairo_surface_destroy(surface);
    return;
  }
  unsigned char *data = cairo_image_surface_get_data(surface);
  int stride = cairo_image_surface_get_stride(surface);
  for (int row = 0; row < image->height; row++) {
    uint32_t line[1];
    unsigned char *to = data + (size_t)row * (size_t)stride;
    const uint8_t *from = image->indices + (size_t)row * (size_t)image->width;
    for (int column = 0; column < image->width; column++) {
      line[0] = from[column] ? 0xff000000u | image->palette[from[column]] : 0u;
      memcpy(to + 4 * (size_t)column, line, 4);
    }
  }
  cairo_surface_mark_dirty(surface);
  cairo_save(cairo->context);
  cairo_translate(cairo->context, x, y);
  cairo_scale(cairo->context, width / image->width, height / image->height);
  cairo_set_source_surface(cairo->context, surface, 0.0, 0.0);
  cairo_pattern_set_filter(cairo_get_source(cairo->context), CAIRO_FILTER_BILINEAR);
  // The last pixels go on to the edge of the rectangle instead of fading there.
  cairo_pattern_set_extend(cairo_get_source(cairo->context), CAIRO_EXTEND_PAD);
  cairo_rectangle(cairo->context, 0.0, 0.0, image->width, image->height);
  cairo_fill(cairo->context);
  cairo_restore(cairo->context);
  cairo_surface_destroy(surface);
}

// Lays out one stretch and gives its width.
static double lay_out(cavum_cairo *cairo, const cavum_text_run *run,
                      const cavum_text_style *style) {
  int width = 0, height = 0;
  PangoFontDescription *font = pango_font_description_from_string(font_family);
  double size = style->size * (run->height == 0 ? 1.0 : CAVUM_TEXT_SMALL);
  pango_font_description_set_size(font, (int)lround(size * PANGO_SCALE));
  if (style->bold) pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
  pango_layout_set_font_description(cairo->layout, font);
  pango_layout_set_single_paragraph_mode(cairo->layout, TRUE);
  char *valid = g_utf8_make_valid(run->start, run->length);
  pango_layout_set_text(cairo->layout, valid, -1);
  g_free(valid);
  pango_layout_get_size(cairo->layout, &width, &height);
  pango_font_description_free(font);
  return (double)width / PANGO_SCALE;
}

double cavum_cairo_measure(cavum_cairo *cairo, const char *text, const cavum_text_style *style) {
  cavum_text_run runs[CAVUM_TEXT_RUNS_MOST];
  int count = cavum_text_split(runs, text, style->plain);
  double width = 0.0;
  for (int i = 0; i < count; i++) width += lay_out(cairo, &runs[i], style);
  return width;
}

static void write_text(void *state, double x, double y, const char *text,
                       const cavum_text_style *style) {
  cavum_cairo *cairo = state;
  cavum_text_run runs[CAVUM_TEXT_RUNS_MOST];
  int count = cavum_text_split(runs, text, style->plain);
  double at = 0.0;
  if (style->anchor != CAVUM_ANCHOR_START) {
    double width = cavum_cairo_measure(cairo, text, style);
    at = style->anchor == CAVUM_ANCHOR_MIDDLE ? -0.5 * width : -width;
  }
  cairo_save(cairo->context);
  cairo_translate(cairo->context, x, y);
  if (style->upward) cairo_rotate(cairo->context, -0.5 * CAVUM_PI);
  set_colour(cairo->context, cavum_ink_colour(style->ink, false));
  for (int i = 0; i < count; i++) {
    double width = lay_out(cairo, &runs[i], style);
    double base = (double)pango_layout_get_baseline(cairo->layout) / PANGO_SCALE;
    cairo_move_to(cairo->context, at, -base - style->size * cavum_text_raise(runs[i].height));
    pango_cairo_show_layout(cairo->context, cairo->layout);
    at += width;
  }
  cairo_restore(cairo->context);
}

const cavum_canvas_form cavum_cairo_form = {.stroke = stroke,
                                            .fill = fill,
                                            .fill_colour = fill_colour,
                                            .clip = clip,
                                            .unclip = unclip,
                                            .image = place_image,
                                            .text = write_text,
                                            .finish = finish};
