// SPDX-License-Identifier: GPL-3.0-or-later
// Pages and their headings.
#include "picture/page.h"

#include "base/base.h"
#include "canvas/flow.h"

// Pixels a point of the images inside SVG and PDF files.
static const double VECTOR_SCALE = 2.0;
enum { SMALLEST_WIDTH_PX = 200, LARGEST_WIDTH_PX = 16000 };

cavum_status cavum_picture_check_options(const cavum_picture_options *options, cavum_error *error) {
  int width = options->width_px;
  if (width >= SMALLEST_WIDTH_PX && width <= LARGEST_WIDTH_PX) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_RANGE, "a picture %d pixels wide, expected %d to %d", width,
                    SMALLEST_WIDTH_PX, LARGEST_WIDTH_PX);
}

cavum_draw_request cavum_page_request(const cavum_picture_options *options) {
  static const cavum_canvas_kind kinds[] = {[CAVUM_PICTURE_PNG] = CAVUM_CANVAS_PNG,
                                            [CAVUM_PICTURE_SVG] = CAVUM_CANVAS_SVG,
                                            [CAVUM_PICTURE_PDF] = CAVUM_CANVAS_PDF};
  return (cavum_draw_request){.view = options->view,
                              .field = options->field,
                              .kind = kinds[options->format],
                              .width_px = options->width_px,
                              .image_scale = VECTOR_SCALE,
                              .prefix = "cavum"};
}

void cavum_page_draw_heading(cavum_page *page, const char *title, const char *line) {
  const cavum_text_style bold = {.size = 13.0, .ink = CAVUM_INK_TEXT, .bold = true, .plain = true};
  const cavum_text_style sub = {.size = 10.5, .ink = CAVUM_INK_MUTED};
  if (page->request->no_heading) return;
  double y = page->y + 12.0, width = page->width - 2.0 * CAVUM_PAGE_MARGIN;
  if (title && title[0]) {
    y = cavum_flow_write_text(page->canvas, CAVUM_PAGE_MARGIN, y, width, title, &bold, 2);
  }
  y = cavum_flow_write_text(page->canvas, CAVUM_PAGE_MARGIN, y + 1.0, width, line, &sub, 2);
  page->y = y - 2.0;
}

cavum_status cavum_page_make(char **bytes, size_t *size, const cavum_draw_request *request,
                             double width, const char *title, const char *description,
                             cavum_page_content *content, void *data, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_canvas *ruler = NULL, *canvas = NULL;
  cavum_page page = {.measuring = true, .width = width, .request = request};
  cavum_canvas_page sheet = {.kind = CAVUM_CANVAS_MEASURE,
                             .width = width,
                             .height = 1.0,
                             .scale = request->image_scale,
                             .tolerance = request->tolerance,
                             .title = title,
                             .description = description,
                             .prefix = request->prefix};
  CAVUM_TRY(cavum_canvas_create(&ruler, &sheet, error));
  page.canvas = ruler;
  page.y = CAVUM_PAGE_MARGIN;
  CAVUM_TRY(content(&page, data, error));
  sheet.kind = request->kind;
  sheet.height = ceil(page.y + CAVUM_PAGE_MARGIN);
  if (request->kind == CAVUM_CANVAS_PNG) sheet.scale = request->width_px / width;
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
