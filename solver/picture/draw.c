// SPDX-License-Identifier: GPL-3.0-or-later
// Pages of pictures. A page is laid out twice by the same code: on a measuring page for its size,
// then on the page itself.
#include "picture/draw.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/text_runs.h"
#include "canvas/ticks.h"
#include "hdf5/bytes.h"
#include "picture/known_digits.h"
#include "picture/section.h"
#include "picture/wall_band.h"

// Sizes in points.
static const double MARGIN = CAVUM_PAGE_MARGIN, SHEET_WIDTH = 820.0, SINGLE_WIDTH = 720.0,
                    LEAST_WIDTH = 400.0;
static const double SECTION_HEIGHT = 470.0, CURVE_HEIGHT = 150.0, WALL_HEIGHT = 270.0;
static const double SHORT_SECTION_HEIGHT = 430.0, SHORT_CURVE_HEIGHT = 105.0, SECTION_SHARE = 0.56;
// Room of a frame with numbers and label at its left, and below it.
static const double LEFT_ROOM = 52.0, BELOW_ROOM = 40.0, PART_GAP = 14.0, SECTION_RIGHT_ROOM = 18.0;
static const double BESIDE_WIDTH = 620.0, LEAST_WALL_WIDTH = 190.0;
// What a phone shows of a report's picture without scrolling, in points of the page.
static const double PHONE_WIDTH = 350.0;
// Cells longer than this against their diameter stand above their curves, others beside them.
static const double LONG_SHAPE = 1.25;
// Cells shorter than this against their diameter have all curves beside them on a slide.
static const double NARROW_SHAPE = 0.8, NARROW_CURVE_SHARE = 0.22;
// A profile on the axis that fills less of the cell's length gets an axis of its own.
static const double LEAST_SHARE = 0.5;

cavum_status cavum_picture_find_format(cavum_picture_format *format, const char *path,
                                       cavum_error *error) {
  if (!format || !path) return cavum_fail_null(error, __func__);
  static const struct {
    const char *ending;
    cavum_picture_format format;
  } known[] = {
      {".png", CAVUM_PICTURE_PNG}, {".svg", CAVUM_PICTURE_SVG}, {".pdf", CAVUM_PICTURE_PDF}};
  size_t length = strlen(path);
  for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
    if (length <= 4 || strcasecmp(path + length - 4, known[i].ending) != 0) continue;
    *format = known[i].format;
    return CAVUM_OK;
  }
  return cavum_fail(error, CAVUM_ERR_USAGE,
                    "%s: expected a file name that ends in .png, .svg or .pdf", path);
}

cavum_status cavum_picture_write(const char *path, const char *bytes, size_t size,
                                 cavum_error *error) {
  if (!path || !bytes) return cavum_fail_null(error, __func__);
  return cavum_store_write_bytes(path, bytes, size, error);
}

// What a page of one mode is drawn from.
typedef struct page_content {
  cavum_scene *scene;
  const cavum_axis_curve *axis;
  const cavum_wall_plot *wall;
} page_content;

void cavum_draw_describe_mode(char text[256], const cavum_result *result, int number) {
  static const struct {
    cavum_figure_id id;
    cavum_unit unit;
    const char *before, *after;
  } parts[] = {{CAVUM_FIGURE_FREQUENCY, CAVUM_UNIT_MHZ, "", "\xc2\xa0MHz"},
               {CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_UNIT_OHM, "R/Q\xc2\xa0",
                "\xc2\xa0\xce\xa9\xc2\xa0(linac)"},
               {CAVUM_FIGURE_GEOMETRY_FACTOR, CAVUM_UNIT_OHM, "G\xc2\xa0", "\xc2\xa0\xce\xa9"}};
  const cavum_mode_result *mode = &result->modes[number - 1];
  FILE *out = fmemopen(text, 256, "w");
  if (!out) {
    text[0] = '\0';
    return;
  }
  fprintf(out, "mode %d%s%s", number, mode->label[0] ? ", " : "", mode->label);
  for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
    char value[64];
    const cavum_figure *figure = &mode->figures[parts[i].id];
    if (figure->state != CAVUM_FIGURE_PRESENT) continue;
    cavum_known_digits_format(value, figure, parts[i].id, parts[i].unit);
    fprintf(out, ", %s%s%s", parts[i].before, value, parts[i].after);
  }
  fclose(out);
}

void cavum_draw_describe_mode_plainly(char text[256], const cavum_result *result, int number) {
  char marked[256];
  cavum_draw_describe_mode(marked, result, number);
  cavum_text_flatten(text, sizeof marked, marked);
}

// That of the result is of its first mode: where it is of a wavelength each mode has its own.
static double length_of(const cavum_scene *scene) {
  const cavum_result *result = scene->result;
  const char *from = result->accelerating_length.from;
  double frequency_hz = scene->mode->figures[CAVUM_FIGURE_FREQUENCY].value;
  if (!from || strcmp(from, "beta lambda / 2") != 0) return result->accelerating_length.value_m;
  return 0.5 * result->beta * CAVUM_C_M_PER_S / frequency_hz;
}

// What E_acc rests on: the fields of the picture are over it.
static void add_length(char text[256], const cavum_scene *scene) {
  const cavum_result *result = scene->result;
  size_t length = strlen(text);
  char beta[24], value[24];
  double length_m = length_of(scene);
  if (!scene->per_gradient || !(length_m > 0.0)) return;
  snprintf(beta, sizeof beta, "%.6g", result->beta);
  snprintf(value, sizeof value, "%.6g", cavum_in_mm(length_m));
  snprintf(text + length, 256 - length, ", \xce\xb2\xc2\xa0%s, L_{acc}\xc2\xa0%s\xc2\xa0mm", beta,
           value);
}

static void draw_heading(cavum_page *page, const cavum_scene *scene) {
  const cavum_result *result = scene->result;
  char text[256];
  cavum_draw_describe_mode(text, result, scene->mode_number);
  if (page->request->view == CAVUM_VIEW_MESH) {
    snprintf(text, sizeof text, "%d elements, degree %d, %d unknowns%s",
             (int)result->mesh.num_elements, result->degree, (int)result->num_unknowns,
             result->half_model ? ", half of the cell by mirror symmetry" : "");
  }
  if (page->request->view != CAVUM_VIEW_MESH) add_length(text, scene);
  cavum_page_draw_heading(page, result->title, text);
  if (scene->mode->accuracy_reached || page->request->no_heading) return;
  const cavum_text_style caution = {.size = 10.0, .ink = CAVUM_INK_FIRST, .bold = true};
  cavum_canvas_text(page->canvas, MARGIN, page->y + 3.0, "The accuracy asked for was not reached.",
                    &caution);
  page->y += 15.0;
}

// The section that a page has room for.
static cavum_section fit_section(const cavum_page *page, const page_content *content,
                                 double max_width, double max_height) {
  bool is_mesh = page->request->view == CAVUM_VIEW_MESH;
  cavum_picture_along_wall band = is_mesh ? CAVUM_ALONG_WALL_NOTHING : page->request->along_wall;
  cavum_section section = cavum_section_fit(content->scene, page->request->field, is_mesh, band,
                                            MARGIN, page->y, max_width, max_height);
  double excess = cavum_section_excess(page->canvas, &section, content->scene);
  if (excess > 0.0) {
    section = cavum_section_fit(content->scene, page->request->field, is_mesh, band, MARGIN,
                                page->y, max_width - excess, max_height);
    section.total_width += excess;
  }
  if (page->request->num_colours > 0) section.num_colours = page->request->num_colours;
  if (page->request->num_lines != 0) section.num_lines = page->request->num_lines;
  if (page->request->line_width > 0.0) section.line_width = page->request->line_width;
  return section;
}

// A section; y moves behind it and its keys, which have the width of the page.
static cavum_status draw_section(cavum_page *page, const page_content *content,
                                 const cavum_section *section, double keys_right,
                                 cavum_error *error) {
  if (!page->measuring) {
    cavum_status status = cavum_section_draw(page->canvas, content->scene, section, error);
    if (status != CAVUM_OK) return status;
  }
  cavum_flow flow = cavum_flow_start(page->canvas, MARGIN + 8.0, keys_right,
                                     page->y + section->total_height + 10.0);
  cavum_status status = cavum_section_add_keys(&flow, content->scene, section, error);
  page->y = flow.y - 6.0;
  return status;
}

static void draw_axis(cavum_page *page, const page_content *content, const cavum_plot *frame,
                      double height) {
  if (content->axis->num_points == 0) return;
  cavum_plot plot = {.x = frame->x,
                     .y = page->y + 6.0,
                     .width = frame->width,
                     .height = height,
                     .horizontal = frame->horizontal};
  plot.horizontal.label = "z in mm";
  const cavum_axis_curve *axis = content->axis;
  double first = axis->z_mm[0], last = axis->z_mm[axis->num_points - 1];
  // Where only a gap is on the axis, it gets the whole frame.
  if (last > first && last - first < LEAST_SHARE * (plot.horizontal.high - plot.horizontal.low)) {
    plot.horizontal.low = first;
    plot.horizontal.high = last;
    plot.horizontal.label = "z in mm, the gap on the axis alone";
  }
  cavum_axis_curve_draw(page->canvas, content->scene, content->axis, plot);
  page->y += 6.0 + height + BELOW_ROOM;
}

static void draw_wall_keys(cavum_page *page, const page_content *content, double x) {
  cavum_flow flow = cavum_flow_start(page->canvas, x, page->width - MARGIN, page->y + 6.0);
  cavum_wall_curve_add_keys(&flow, content->scene, content->wall);
  // On a sheet they are keys of the section; in a report the table and the caption have them.
  if (page->request->view == CAVUM_VIEW_WALL && !page->request->no_heading) {
    cavum_section_add_peak_key(&flow, content->scene, CAVUM_FIELD_ELECTRIC);
    cavum_section_add_peak_key(&flow, content->scene, CAVUM_FIELD_MAGNETIC);
    cavum_flow_break(&flow);
  }
  page->y = flow.y - 8.0;
}

static void draw_wall(cavum_page *page, const page_content *content, double x, double width,
                      double height) {
  if (content->wall->num_points == 0) return;
  cavum_wall_curve_draw(page->canvas, content->scene, content->wall, x, page->y + 6.0, width,
                        height);
  page->y += 6.0 + height + BELOW_ROOM;
  draw_wall_keys(page, content, x);
}

// Everything below each other: the section, the field on its axis in line with it, the wall.
static cavum_status draw_long_sheet(cavum_page *page, const page_content *content,
                                    cavum_error *error) {
  cavum_section section = fit_section(page, content, page->width - 2.0 * MARGIN,
                                      cavum_page_height(page, SECTION_HEIGHT));
  cavum_status status = draw_section(page, content, &section, page->width - MARGIN, error);
  if (status != CAVUM_OK) return status;
  draw_axis(page, content, &section.plot, cavum_page_height(page, CURVE_HEIGHT));
  double x = MARGIN + LEFT_ROOM;
  draw_wall(page, content, x,
            cavum_max(section.plot.width, page->width - MARGIN - x - SECTION_RIGHT_ROOM),
            cavum_page_height(page, WALL_HEIGHT));
  return CAVUM_OK;
}

// The section of a sheet with the wall beside it. On a slide a long cell gets what the wall can
// spare, where the section is then to scale.
static cavum_section fit_beside(const cavum_page *page, const page_content *content) {
  double height = cavum_page_height(page, SHORT_SECTION_HEIGHT),
         usual = SECTION_SHARE * page->width;
  double most = page->width - 2.0 * MARGIN - PART_GAP - LEFT_ROOM - LEAST_WALL_WIDTH;
  cavum_section section = fit_section(page, content, usual, height);
  bool wider =
      page->request->size == CAVUM_SIZE_SLIDE && section.scale_r > section.scale_z && most > usual;
  if (!wider) return section;
  cavum_section wide = fit_section(page, content, most, height);
  return wide.scale_r > wide.scale_z ? section : wide;
}

// All keys of a sheet, from y; the page goes on below them.
static cavum_status draw_sheet_keys(cavum_page *page, const page_content *content,
                                    const cavum_section *section, double y, cavum_error *error) {
  cavum_flow flow = cavum_flow_start(page->canvas, MARGIN + 8.0, page->width - MARGIN, y + 6.0);
  cavum_status status = cavum_section_add_keys(&flow, content->scene, section, error);
  if (status != CAVUM_OK) return status;
  page->y = flow.y - 6.0;
  if (content->wall->num_points > 0) draw_wall_keys(page, content, MARGIN + 8.0);
  return CAVUM_OK;
}

// The section and below it the field on its axis, z in line; the wall at their right, as high as
// both; all keys below.
static cavum_status draw_short_sheet(cavum_page *page, const page_content *content,
                                     cavum_error *error) {
  double top = page->y;
  cavum_section section = fit_beside(page, content);
  if (!page->measuring) {
    cavum_status status = cavum_section_draw(page->canvas, content->scene, &section, error);
    if (status != CAVUM_OK) return status;
  }
  page->y += section.total_height + PART_GAP;
  draw_axis(page, content, &section.plot, cavum_page_height(page, SHORT_CURVE_HEIGHT));
  double low = page->y, x = MARGIN + section.total_width + PART_GAP + LEFT_ROOM;
  if (content->wall->num_points > 0) {
    double y = section.plot.y;
    cavum_wall_curve_draw(page->canvas, content->scene, content->wall, x, y,
                          page->width - MARGIN - x, low - BELOW_ROOM - y);
  }
  return draw_sheet_keys(page, content, &section, cavum_max(low, top) + 4.0, error);
}

// A narrow cell on a slide: the section as high as the slide, all curves beside it; all keys below.
static cavum_status draw_narrow_slide(cavum_page *page, const page_content *content,
                                      cavum_error *error) {
  double height = cavum_page_height(page, SHORT_SECTION_HEIGHT + SHORT_CURVE_HEIGHT + BELOW_ROOM);
  cavum_section section = fit_section(page, content, SECTION_SHARE * page->width, height);
  if (!page->measuring) {
    cavum_status status = cavum_section_draw(page->canvas, content->scene, &section, error);
    if (status != CAVUM_OK) return status;
  }
  double low = section.plot.y + section.plot.height, x = MARGIN + section.total_width + PART_GAP;
  cavum_plot frame = {.x = x + LEFT_ROOM, .horizontal = section.plot.horizontal};
  frame.width = page->width - MARGIN - frame.x;
  page->y = section.plot.y - 6.0;
  draw_axis(page, content, &frame, NARROW_CURVE_SHARE * section.plot.height);
  if (content->wall->num_points > 0) {
    cavum_wall_curve_draw(page->canvas, content->scene, content->wall, frame.x, page->y,
                          frame.width, low - page->y);
  }
  return draw_sheet_keys(page, content, &section, low + BELOW_ROOM + 4.0, error);
}

// Short cells have their curves beside them where the page is wide enough; on a slide all have.
static bool goes_beside(const cavum_page *page, const cavum_scene *scene) {
  double length = scene->z_high_m - scene->z_low_m;
  if (page->request->size == CAVUM_SIZE_SLIDE) return true;
  return page->width >= BESIDE_WIDTH && length <= LONG_SHAPE * 2.0 * scene->r_high_m;
}

static bool is_narrow(const cavum_scene *scene) {
  return scene->z_high_m - scene->z_low_m <= NARROW_SHAPE * 2.0 * scene->r_high_m;
}

static cavum_status draw_sheet(cavum_page *page, const page_content *content, cavum_error *error) {
  if (page->request->size == CAVUM_SIZE_SLIDE && is_narrow(content->scene)) {
    return draw_narrow_slide(page, content, error);
  }
  return goes_beside(page, content->scene) ? draw_short_sheet(page, content, error)
                                           : draw_long_sheet(page, content, error);
}

// Where the keys of a section end. On the page of a report a phone shows the left of a picture
// first: there they are no wider than that, or than the section.
static double keys_end(const cavum_page *page, const cavum_section *section) {
  double right = page->width - MARGIN;
  if (!page->request->no_heading) return right;
  return cavum_min(right, cavum_max(PHONE_WIDTH, MARGIN + section->total_width));
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const page_content *content = data;
  const cavum_scene *scene = content->scene;
  draw_heading(page, scene);
  switch (page->request->view) {
    case CAVUM_VIEW_SHEET:
      CAVUM_TRY(draw_sheet(page, content, error));
      break;
    case CAVUM_VIEW_SECTION:
    case CAVUM_VIEW_MESH: {
      double most = page->request->section_height;
      cavum_section section =
          fit_section(page, content, page->width - 2.0 * MARGIN,
                      cavum_page_height(page, most > 0.0 ? most : SECTION_HEIGHT));
      CAVUM_TRY(draw_section(page, content, &section, keys_end(page, &section), error));
      break;
    }
    case CAVUM_VIEW_AXIS: {
      cavum_plot frame = {.x = MARGIN + LEFT_ROOM, .width = page->width - 2 * MARGIN - LEFT_ROOM};
      frame.horizontal = (cavum_plot_axis){.low = cavum_in_mm(scene->z_low_m),
                                           .high = cavum_in_mm(scene->z_high_m)};
      draw_axis(page, content, &frame,
                cavum_min(cavum_page_height(page, 1.8 * CURVE_HEIGHT), 0.62 * frame.width));
      break;
    }
    case CAVUM_VIEW_WALL: {
      double width = page->width - 2.0 * MARGIN - LEFT_ROOM;
      draw_wall(page, content, MARGIN + LEFT_ROOM, width,
                cavum_min(cavum_page_height(page, 1.3 * WALL_HEIGHT), 0.8 * width));
      break;
    }
    default:  // Views of other files were refused.
      break;
  }
done:
  return status;
}

// Narrow cells get a narrow page: the section fills it.
static double choose_width(const cavum_scene *scene, const cavum_draw_request *request) {
  if (request->view == CAVUM_VIEW_SHEET) return SHEET_WIDTH;
  if (request->view != CAVUM_VIEW_SECTION && request->view != CAVUM_VIEW_MESH) return SINGLE_WIDTH;
  bool is_mesh = request->view == CAVUM_VIEW_MESH;
  cavum_section section = cavum_section_fit(
      scene, request->field, is_mesh, is_mesh ? CAVUM_ALONG_WALL_NOTHING : request->along_wall,
      MARGIN, 0.0, SINGLE_WIDTH - 2.0 * MARGIN, SECTION_HEIGHT);
  return cavum_max(LEAST_WIDTH, section.total_width + 2.0 * MARGIN);
}

static cavum_status check_parts(const cavum_axis_curve *axis, const cavum_wall_plot *wall,
                                cavum_picture_view view, cavum_error *error) {
  if (view > CAVUM_VIEW_MESH) {
    return cavum_fail(
        error, CAVUM_ERR_USAGE,
        "no such view of a result, expected sheet, section, axis, wall, mesh, or search where "
        "cavum optimise wrote it");
  }
  if (view == CAVUM_VIEW_AXIS && axis->num_points == 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the result has no profile along the axis to draw");
  }
  if (view == CAVUM_VIEW_WALL && wall->num_points == 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the result has no profile along the wall to draw");
  }
  return CAVUM_OK;
}

static void describe_view(char text[256], const cavum_scene *scene, cavum_picture_view view) {
  static const char *const words[] = {
      [CAVUM_VIEW_SHEET] = "Section with fields, field on the axis and surface fields",
      [CAVUM_VIEW_SECTION] = "Section of the cell with its fields",
      [CAVUM_VIEW_AXIS] = "Axial electric field on the axis",
      [CAVUM_VIEW_WALL] = "Surface electric and magnetic field along the wall",
      [CAVUM_VIEW_MESH] = "Mesh of the cell"};
  char mode[256];
  cavum_draw_describe_mode_plainly(mode, scene->result, scene->mode_number);
  snprintf(text, 256, "%s; %.180s", words[view], mode);
}

cavum_status cavum_draw_scene(char **bytes, size_t *size, cavum_scene *scene,
                              const cavum_axis_curve *axis, const cavum_wall_plot *wall,
                              const cavum_draw_request *request, cavum_error *error) {
  cavum_status status = check_parts(axis, wall, request->view, error);
  if (status == CAVUM_OK) status = cavum_wall_band_check(scene, request->along_wall, error);
  char description[256];
  if (status != CAVUM_OK) return status;
  describe_view(description, scene, request->view);
  page_content content = {scene, axis, wall};
  return cavum_page_make(bytes, size, request, choose_width(scene, request), scene->result->title,
                         description, draw_content, &content, error);
}

cavum_status cavum_draw_result(char **bytes, size_t *size, const cavum_result *result,
                               const cavum_picture_options *options,
                               const cavum_picture_layout *layout, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_scene scene = {0};
  cavum_axis_curve axis = {0};
  cavum_wall_plot wall = {0};
  const cavum_draw_request request = cavum_page_request(options, layout);
  CAVUM_TRY(cavum_scene_create(&scene, result, cavum_mode_number(options->mode), error));
  CAVUM_TRY(cavum_axis_curve_create(&axis, &scene, error));
  CAVUM_TRY(cavum_wall_plot_create(&wall, &scene, error));
  CAVUM_TRY(cavum_draw_scene(bytes, size, &scene, &axis, &wall, &request, error));
done:
  cavum_axis_curve_clear(&axis);
  cavum_wall_plot_clear(&wall);
  cavum_scene_clear(&scene);
  return status;
}

cavum_status cavum_picture_draw_result(char **bytes, size_t *size, const cavum_result *result,
                                       const cavum_picture_options *options, cavum_error *error) {
  if (!bytes || !size || !result) return cavum_fail_null(error, __func__);
  cavum_picture_options chosen;
  cavum_status status = cavum_picture_take_options(&chosen, options, error);
  if (status != CAVUM_OK) return status;
  return cavum_draw_result(bytes, size, result, &chosen, NULL, error);
}
