// SPDX-License-Identifier: GPL-3.0-or-later
// Pages and their headings.
#include "picture/page.h"

#include <math.h>

#include "base/base.h"
#include "base/sized.h"
#include "base/units.h"
#include "canvas/flow.h"

// Pixels a point of the images inside SVG and PDF files.
static const double VECTOR_SCALE = 2.0;
enum { SMALLEST_WIDTH_PX = 200, LARGEST_WIDTH_PX = 16000 };

static const cavum_sized OPTIONS = {.name = "picture options",
                                    .maker = "cavum_picture_options_default()",
                                    .first = sizeof(cavum_picture_options),
                                    .full = sizeof(cavum_picture_options)};

void cavum_picture_options_set_defaults(cavum_picture_options *options, size_t struct_size) {
  const cavum_picture_options defaults = {.reading = -1, .width_px = 1600};
  if (options) cavum_sized_give(options, struct_size, &defaults, &OPTIONS);
}

cavum_status cavum_picture_take_options(cavum_picture_options *full,
                                        const cavum_picture_options *given, cavum_error *error) {
  const cavum_picture_options defaults = cavum_picture_options_default(), *options = full;
  cavum_status status = cavum_sized_take(full, given ? given : &defaults, &OPTIONS, error);
  if (status != CAVUM_OK) return status;
  if ((int)options->format < 0 || options->format > CAVUM_PICTURE_PDF) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "picture format %d, expected PNG, SVG or PDF (0 to 2)", (int)options->format);
  }
  if ((int)options->view < 0 || options->view > CAVUM_VIEW_SEARCH) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "picture view %d, expected 0 to %d",
                      (int)options->view, (int)CAVUM_VIEW_SEARCH);
  }
  if ((int)options->field < 0 || options->field > CAVUM_PICTURE_MAGNETIC) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "picture field %d, expected BOTH, ELECTRIC or MAGNETIC (0 to 2)",
                      (int)options->field);
  }
  int width = options->width_px;
  if (width >= SMALLEST_WIDTH_PX && width <= LARGEST_WIDTH_PX) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_RANGE, "a picture %d pixels wide, expected %d to %d", width,
                    SMALLEST_WIDTH_PX, LARGEST_WIDTH_PX);
}

static const cavum_sized LAYOUT = {.name = "picture layout",
                                   .maker = "cavum_picture_layout_default()",
                                   .first = offsetof(cavum_picture_layout, along_wall),
                                   .full = sizeof(cavum_picture_layout)};
enum { FIELD_LINES_MOST = 200 };
static const double WIDEST_LINE = 10.0;

void cavum_picture_layout_set_defaults(cavum_picture_layout *layout, size_t struct_size) {
  const cavum_picture_layout defaults = {.struct_size = struct_size};
  if (layout) cavum_sized_give(layout, struct_size, &defaults, &LAYOUT);
}

cavum_status cavum_picture_take_layout(cavum_picture_layout *full,
                                       const cavum_picture_layout *given, cavum_error *error) {
  const cavum_picture_layout defaults = cavum_picture_layout_default();
  cavum_status status = cavum_sized_take(full, given ? given : &defaults, &LAYOUT, error);
  if (status != CAVUM_OK) return status;
  const struct {
    const char *name;
    int value, most;
  } choices[] = {{"size", (int)full->size, CAVUM_SIZE_SLIDE},
                 {"align", (int)full->align, CAVUM_ALIGN_Z},
                 {"along_wall", (int)full->along_wall, CAVUM_ALONG_WALL_R_OVER_Q}};
  for (int i = 0; i < 3; i++) {
    if (choices[i].value >= 0 && choices[i].value <= choices[i].most) continue;
    return cavum_fail(error, CAVUM_ERR_USAGE, "picture layout: %s is %d, expected 0 to %d",
                      choices[i].name, choices[i].value, choices[i].most);
  }
  double points = full->field_line_points;
  if (full->num_field_lines > FIELD_LINES_MOST || !(points >= 0.0 && points <= WIDEST_LINE)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "%d field lines %g points wide, expected at most %d and 0 to %g",
                      full->num_field_lines, points, FIELD_LINES_MOST, WIDEST_LINE);
  }
  return CAVUM_OK;
}

cavum_draw_request cavum_page_request(const cavum_picture_options *options,
                                      const cavum_picture_layout *layout) {
  static const cavum_canvas_kind kinds[] = {[CAVUM_PICTURE_PNG] = CAVUM_CANVAS_PNG,
                                            [CAVUM_PICTURE_SVG] = CAVUM_CANVAS_SVG,
                                            [CAVUM_PICTURE_PDF] = CAVUM_CANVAS_PDF};
  // Other formats are refused by cavum_picture_take_options().
  bool is_known = (int)options->format >= 0 && options->format <= CAVUM_PICTURE_PDF;
  return (cavum_draw_request){.view = options->view,
                              .field = options->field,
                              .kind = kinds[is_known ? options->format : CAVUM_PICTURE_PNG],
                              .width_px = options->width_px,
                              .image_scale = VECTOR_SCALE,
                              .num_lines = layout ? layout->num_field_lines : 0,
                              .line_width = layout ? layout->field_line_points : 0.0,
                              .along_wall = layout ? layout->along_wall : CAVUM_ALONG_WALL_NOTHING,
                              .size = layout ? layout->size : CAVUM_SIZE_SCREEN,
                              .prefix = "cavum"};
}

void cavum_page_draw_heading(cavum_page *page, const char *title, const char *line) {
  const cavum_text_style bold = {.size = 13.0, .ink = CAVUM_INK_TEXT, .bold = true, .plain = true};
  const cavum_text_style sub = {.size = 10.5, .ink = CAVUM_INK_MUTED};
  if (page->request->no_heading) return;
  enum { LINES_MOST = 6 };  // Whole titles also in one column of a journal.
  double y = page->y + 12.0, width = page->width - 2.0 * CAVUM_PAGE_MARGIN;
  if (title && title[0]) {
    y = cavum_flow_write_text(page->canvas, CAVUM_PAGE_MARGIN, y, width, title, &bold, LINES_MOST);
  }
  y = cavum_flow_write_text(page->canvas, CAVUM_PAGE_MARGIN, y + 1.0, width, line, &sub,
                            LINES_MOST);
  page->y = y - 2.0;
}

// Widths of a page on paper, in points, and points on paper per point of the page.
static const double COLUMN_MM = 86.0, TWO_COLUMNS_MM = 178.0, JOURNAL_SCALE = 0.8;
static const double SLIDE_WIDTH = 960.0, SLIDE_ASPECT = 9.0 / 16.0;
// A PNG of few pixels has at least a pixel per point, so that its numbers can be read, down to this
// width.
static const double NARROWEST = 300.0;

static double points_of_mm(double mm) {
  return 72.0 * cavum_from_unit(mm, CAVUM_UNIT_MM) / cavum_from_unit(1.0, CAVUM_UNIT_INCH);
}

// Width of the page, and how large its points are on paper.
static double choose_width(double *print_scale, const cavum_draw_request *request, double wanted) {
  *print_scale = 1.0;
  switch (request->size) {
    case CAVUM_SIZE_COLUMN:
    case CAVUM_SIZE_TWO_COLUMNS:
      *print_scale = JOURNAL_SCALE;
      return points_of_mm(request->size == CAVUM_SIZE_COLUMN ? COLUMN_MM : TWO_COLUMNS_MM) /
             JOURNAL_SCALE;
    case CAVUM_SIZE_SLIDE:
    case CAVUM_SIZE_SCREEN:
      break;
  }
  if (request->kind != CAVUM_CANVAS_PNG) return wanted;
  return cavum_min(wanted, cavum_max(NARROWEST, request->width_px));
}

static cavum_status measure(cavum_page *page, cavum_page_content *content, void *data,
                            cavum_error *error) {
  page->measuring = true;
  page->y = CAVUM_PAGE_MARGIN;
  return content(page, data, error);
}

static bool fits_slide(const cavum_page *page) {
  return page->y + CAVUM_PAGE_MARGIN <= SLIDE_ASPECT * page->width;
}

enum { SQUEEZE_HALVINGS = 4 };  // to a hundredth

// Parts that fit into a slide as high as that allows: `most` is too high.
static cavum_status fill_slide(cavum_page *page, double most, cavum_page_content *content,
                               void *data, cavum_error *error) {
  double fits = page->squeeze;
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < SQUEEZE_HALVINGS && status == CAVUM_OK; i++) {
    page->squeeze = 0.5 * (fits + most);
    status = measure(page, content, data, error);
    if (fits_slide(page)) fits = page->squeeze;
    if (!fits_slide(page)) most = page->squeeze;
  }
  page->squeeze = fits;
  return status == CAVUM_OK ? measure(page, content, data, error) : status;
}

// The largest letters with which all fits into a slide: parts are lowered first, then the page gets
// wider, which is letters that are smaller. Then parts are as high as there is room for.
static cavum_status fit_slide(cavum_page *page, cavum_page_content *content, void *data,
                              cavum_error *error) {
  static const double squeezes[] = {1.0, 0.75, 0.55, 0.42};
  cavum_status status = CAVUM_OK;
  for (page->width = 640.0;; page->width *= 1.15) {
    for (size_t i = 0; i < sizeof squeezes / sizeof squeezes[0]; i++) {
      page->squeeze = squeezes[i];
      CAVUM_TRY(measure(page, content, data, error));
      bool fits = fits_slide(page);
      if (fits && i > 0) return fill_slide(page, squeezes[i - 1], content, data, error);
      if (fits || page->width > 3000.0) return CAVUM_OK;
    }
  }
done:
  return status;
}

cavum_status cavum_page_make(char **bytes, size_t *size, const cavum_draw_request *request,
                             double width, const char *title, const char *description,
                             cavum_page_content *content, void *data, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_canvas *ruler = NULL, *canvas = NULL;
  double print_scale = 1.0;
  bool slide = request->size == CAVUM_SIZE_SLIDE;
  cavum_page page = {
      .width = choose_width(&print_scale, request, width), .squeeze = 1.0, .request = request};
  cavum_canvas_page sheet = {.kind = CAVUM_CANVAS_MEASURE,
                             .width = page.width,
                             .height = 1.0,
                             .scale = request->image_scale,
                             .tolerance = request->tolerance,
                             .title = title,
                             .description = description,
                             .prefix = request->prefix};
  CAVUM_TRY(cavum_canvas_create(&ruler, &sheet, error));
  page.canvas = ruler;
  CAVUM_TRY((slide ? fit_slide : measure)(&page, content, data, error));
  sheet.kind = request->kind;
  sheet.width = page.width;
  sheet.height = slide ? SLIDE_ASPECT * page.width : ceil(page.y + CAVUM_PAGE_MARGIN);
  sheet.print_scale = slide ? SLIDE_WIDTH / page.width : print_scale;
  if (request->kind == CAVUM_CANVAS_PNG) sheet.scale = request->width_px / page.width;
  CAVUM_TRY(cavum_canvas_create(&canvas, &sheet, error));
  page.canvas = canvas;
  page.measuring = false;
  page.y = CAVUM_PAGE_MARGIN;
  CAVUM_TRY(content(&page, data, error));
  CAVUM_TRY(cavum_canvas_finish(bytes, size, canvas, error));
done:
  cavum_canvas_destroy(&ruler);
  cavum_canvas_destroy(&canvas);
  return status;
}
