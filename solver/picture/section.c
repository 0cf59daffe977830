// SPDX-License-Identifier: GPL-3.0-or-later
// The cell to scale. With both fields the upper half shows |E| and the lower half |H|.
#include "picture/section.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/colour.h"
#include "canvas/ticks.h"
#include "picture/dielectric.h"
#include "picture/field_lines.h"
#include "picture/known_digits.h"
#include "picture/outline.h"
#include "picture/wall_band.h"

// Room around the frame, in points: numbers and labels at the left and below, colour scale at the
// right; and around the cell inside the frame, for the hatch.
static const double LEFT_ROOM = 52.0, RIGHT_ROOM = 88.0, BOTTOM_ROOM = 38.0, TOP_ROOM = 12.0;
static const double PAD = 13.0, COLOURS_GAP = 12.0;
// Electric field lines between zero and the largest flux.
enum { NUM_LINES = 14, EDGE_LEVEL = 4 };
static const double LINE_WIDTH = 0.65;

// A cell that would be flatter or narrower than this to scale has its short side stretched, because
// the numbers at its axes and its colour scales need the room; a long cell then gets more of it.
static const double LEAST_HALF_HEIGHT = 30.0, STRETCHED_HALF_HEIGHT = 62.0;
static const double LEAST_LENGTH = 40.0, STRETCHED_LENGTH = 110.0;

static const double ROUND_ONES[] = {1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0};
enum { NUM_ROUND_ONES = sizeof ROUND_ONES / sizeof ROUND_ONES[0] };

// The smallest round number that is not below a ratio.
static double round_ratio(double ratio) {
  double decade = pow(10.0, floor(log10(ratio)));
  for (int i = 0; i < NUM_ROUND_ONES; i++) {
    if (ROUND_ONES[i] * decade >= ratio * (1.0 - 1e-9)) return ROUND_ONES[i] * decade;
  }
  return 10.0 * decade;
}

// The largest round number that is not above a ratio.
static double round_ratio_below(double ratio) {
  double decade = pow(10.0, floor(log10(ratio)));
  for (int i = NUM_ROUND_ONES - 1; i > 0; i--) {
    if (ROUND_ONES[i] * decade <= ratio * (1.0 + 1e-9)) return ROUND_ONES[i] * decade;
  }
  return decade;
}

// A scale that makes an extent that is too short so long on the page, a round multiple of the other
// scale; where the page has no room for that, the largest round multiple that it has room for.
static double stretch(double scale, double extent, double least, double wanted, double room) {
  if (extent * scale >= least) return scale;
  double most = room / (extent * scale), ratio = round_ratio(wanted / (extent * scale));
  return scale * (ratio <= most ? ratio : cavum_max(1.0, round_ratio_below(most)));
}

cavum_section cavum_section_fit(const cavum_scene *scene, cavum_picture_field field, bool is_mesh,
                                cavum_picture_along_wall along_wall, double x, double y,
                                double max_width, double max_height) {
  cavum_section section = {.field = field,
                           .along_wall = along_wall,
                           .num_colours = 255,
                           .num_lines = NUM_LINES,
                           .line_width = LINE_WIDTH,
                           .is_mesh = is_mesh};
  bool both = field == CAVUM_PICTURE_BOTH && !is_mesh;
  double right = is_mesh ? 16.0 : RIGHT_ROOM;
  double length = scene->z_high_m - scene->z_low_m, height = scene->r_high_m * (both ? 2.0 : 1.0);
  double room_x = max_width - LEFT_ROOM - right - 2.0 * PAD;
  double room_y = max_height - TOP_ROOM - BOTTOM_ROOM - PAD * (both ? 2.0 : 1.3);
  double scale = cavum_max(1e-3, cavum_min(room_x / length, room_y / height));
  double halves = both ? 2.0 : 1.0;
  section.scale_z = stretch(scale, length, cavum_min(room_x, LEAST_LENGTH),
                            cavum_min(room_x, STRETCHED_LENGTH), room_x);
  section.scale_r = stretch(scale, height, cavum_min(room_y, LEAST_HALF_HEIGHT * halves),
                            cavum_min(room_y, STRETCHED_HALF_HEIGHT * halves), room_y);
  double below = both ? scene->r_high_m + PAD / section.scale_r : 0.3 * PAD / section.scale_r;
  double above = scene->r_high_m + PAD / section.scale_r;
  section.plot =
      (cavum_plot){.x = x + LEFT_ROOM,
                   .y = y + TOP_ROOM,
                   .width = length * section.scale_z + 2.0 * PAD,
                   .height = (above + below) * section.scale_r,
                   .no_grid = true,
                   .horizontal = {.low = cavum_in_mm(scene->z_low_m - PAD / section.scale_z),
                                  .high = cavum_in_mm(scene->z_high_m + PAD / section.scale_z),
                                  .label = "z in mm"},
                   .vertical = {.low = -cavum_in_mm(below),
                                .high = cavum_in_mm(above),
                                .size_only = true,
                                .label = "r in mm"}};
  section.total_width = LEFT_ROOM + section.plot.width + right;
  section.total_height = TOP_ROOM + section.plot.height + BOTTOM_ROOM;
  return section;
}

static cavum_field_frame page_frame(const cavum_section *section, bool flipped) {
  return (cavum_field_frame){.x0 = cavum_plot_at_x(&section->plot, 0.0),
                             .y0 = cavum_plot_at_y(&section->plot, 0.0),
                             .scale_z = section->scale_z,
                             .scale_r = section->scale_r,
                             .flipped = flipped};
}

// The image covers the half plane of the frame that it belongs to.
static cavum_status draw_map(cavum_canvas *canvas, cavum_scene *scene, const cavum_section *section,
                             cavum_field_choice choice, bool flipped, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_plot *plot = &section->plot;
  uint32_t palette[256];
  double zoom = cavum_canvas_scale(canvas), axis_y = cavum_plot_at_y(plot, 0.0);
  double top = flipped ? axis_y : plot->y, bottom = flipped ? plot->y + plot->height : axis_y;
  cavum_image image = {.width = (int)ceil(plot->width * zoom),
                       .height = (int)ceil((bottom - top) * zoom),
                       .palette = palette};
  cavum_colour_fill_palette(
      palette, choice == CAVUM_FIELD_ELECTRIC ? CAVUM_COLOUR_EMBER : CAVUM_COLOUR_LAKE);
  image.indices = cavum_alloc((int64_t)image.width * image.height, 1);
  if (!image.indices) CAVUM_TRY(cavum_fail_memory(error));
  cavum_field_frame page = page_frame(section, flipped);
  cavum_field_frame pixels = {(page.x0 - plot->x) * zoom, (page.y0 - top) * zoom,
                              page.scale_z * zoom, page.scale_r * zoom, flipped};
  CAVUM_TRY(cavum_field_map_fill(&image, scene, &pixels, choice, section->num_colours, error));
  cavum_outline_add(canvas, scene, &page);
  cavum_canvas_clip(canvas);
  cavum_canvas_image(canvas, plot->x, top, image.width / zoom, image.height / zoom, &image);
  if (choice == CAVUM_FIELD_ELECTRIC) {
    status = cavum_field_lines_draw(canvas, scene, &page, section->num_lines, section->line_width,
                                    palette, error);
  }
  cavum_canvas_unclip(canvas);
done:
  free(image.indices);
  return status;
}

static void draw_peak(cavum_canvas *canvas, const cavum_scene *scene, const cavum_section *section,
                      cavum_field_choice choice, bool flipped) {
  bool electric = choice == CAVUM_FIELD_ELECTRIC;
  const cavum_figure *peak =
      &scene->mode->figures[electric ? CAVUM_FIGURE_EPK_OVER_EACC : CAVUM_FIGURE_BPK_OVER_EACC];
  cavum_mark_places places = cavum_scene_peak_places(scene, peak);
  for (int i = 0; i < places.count; i++) {
    const cavum_point *at = &places.at[i];
    double x = cavum_plot_at_x(&section->plot, cavum_in_mm(at->z_m));
    double y = cavum_plot_at_y(&section->plot, (flipped ? -1.0 : 1.0) * cavum_in_mm(at->r_m));
    cavum_plot_mark mark = places.unbounded ? CAVUM_MARK_TRIANGLE
                           : electric       ? CAVUM_MARK_CIRCLE
                                            : CAVUM_MARK_DIAMOND;
    cavum_plot_draw_mark(canvas, x, y, 3.6, mark, electric ? CAVUM_INK_FIRST : CAVUM_INK_SECOND);
  }
}

// The colour scale of a half, at its right.
static cavum_plot_colours scale_of(const cavum_section *section, const cavum_scene *scene,
                                   cavum_field_choice choice, bool flipped) {
  const cavum_plot *plot = &section->plot;
  bool electric = choice == CAVUM_FIELD_ELECTRIC, both = section->field == CAVUM_PICTURE_BOTH;
  bool goes_on = electric ? scene->e_goes_on : scene->h_goes_on;
  double height = plot->height / (both ? 2.0 : 1.0), gap = both ? 9.0 : 4.0, tip = goes_on ? 9 : 0;
  return (cavum_plot_colours){
      .x = plot->x + plot->width + COLOURS_GAP,
      .y = plot->y + (flipped ? height + gap : 0.0) + tip,
      .height = height - gap - tip,
      .high = electric ? scene->e_largest : scene->h_largest,
      .goes_on = goes_on,
      .away = both ? (flipped ? 1 : -1) : 0,
      .label = electric ? cavum_scene_e_label(scene) : cavum_scene_h_label(scene)};
}

double cavum_section_excess(cavum_canvas *canvas, const cavum_section *section,
                            const cavum_scene *scene) {
  if (section->is_mesh) return 0.0;
  double room = 0.0;
  for (int half = 0; half < 2; half++) {
    cavum_field_choice choice = half ? CAVUM_FIELD_MAGNETIC : CAVUM_FIELD_ELECTRIC;
    bool shown = section->field == CAVUM_PICTURE_BOTH ||
                 (section->field == CAVUM_PICTURE_ELECTRIC) == (choice == CAVUM_FIELD_ELECTRIC);
    if (!shown) continue;
    cavum_plot_colours colours = scale_of(section, scene, choice, half);
    room = cavum_max(room, COLOURS_GAP + cavum_plot_room_colours(canvas, &colours));
  }
  return cavum_max(0.0, room - RIGHT_ROOM);
}

static cavum_status draw_half(cavum_canvas *canvas, cavum_scene *scene,
                              const cavum_section *section, cavum_field_choice choice, bool flipped,
                              cavum_error *error) {
  uint32_t palette[256];
  bool electric = choice == CAVUM_FIELD_ELECTRIC;
  cavum_status status = draw_map(canvas, scene, section, choice, flipped, error);
  if (status != CAVUM_OK) return status;
  cavum_field_frame frame = page_frame(section, flipped);
  status = cavum_dielectric_draw(canvas, scene, &frame, error);
  if (status != CAVUM_OK) return status;
  if (section->along_wall != CAVUM_ALONG_WALL_NOTHING) {
    status = cavum_wall_band_draw(canvas, scene, &frame, section->along_wall, error);
    if (status != CAVUM_OK) return status;
  }
  status = cavum_outline_draw(canvas, scene, &frame,
                              section->along_wall == CAVUM_ALONG_WALL_NOTHING, error);
  if (status != CAVUM_OK) return status;
  cavum_colour_fill_palette(palette, electric ? CAVUM_COLOUR_EMBER : CAVUM_COLOUR_LAKE);
  cavum_plot_colours colours = scale_of(section, scene, choice, flipped);
  colours.palette = palette;
  cavum_plot_draw_colours(canvas, &colours);
  return CAVUM_OK;
}

static cavum_status add_element_edges(cavum_canvas *canvas, cavum_scene *scene,
                                      const cavum_field_frame *frame, double sign,
                                      cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &scene->result->mesh;
  const cavum_field_grid *field = &scene->mode->field;
  double z[(1 << EDGE_LEVEL) + 1], r[(1 << EDGE_LEVEL) + 1];
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    if (edge->element[0] < 0) continue;
    int64_t first = scene->first_point[edge->element[0]];
    int corners = mesh->elements[edge->element[0]].num_corners;
    CAVUM_TRY(cavum_lattice_refine_edge(z, &scene->lattice, field->z_m + first, corners,
                                        edge->local[0], EDGE_LEVEL, error));
    CAVUM_TRY(cavum_lattice_refine_edge(r, &scene->lattice, field->r_m + first, corners,
                                        edge->local[0], EDGE_LEVEL, error));
    for (int k = 0; k <= 1 << EDGE_LEVEL; k++) {
      double x = frame->x0 + sign * z[k] * frame->scale_z, y = frame->y0 - r[k] * frame->scale_r;
      if (k == 0) cavum_canvas_move(canvas, x, y);
      if (k > 0) cavum_canvas_line(canvas, x, y);
    }
  }
done:
  return status;
}

static cavum_status draw_mesh(cavum_canvas *canvas, cavum_scene *scene,
                              const cavum_section *section, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_field_frame frame = page_frame(section, false);
  const cavum_mesh *mesh = &scene->result->mesh;
  cavum_outline_add(canvas, scene, &frame);
  cavum_canvas_fill(canvas, CAVUM_INK_SHADE);
  CAVUM_TRY(cavum_dielectric_draw(canvas, scene, &frame, error));
  if (scene->result->half_model) {
    cavum_field_frame image = cavum_field_mirror_frame(&frame, scene);
    CAVUM_TRY(add_element_edges(canvas, scene, &image, -1.0, error));
    cavum_canvas_stroke(canvas, CAVUM_INK_FRAME, 0.5, CAVUM_DASH_DOT);
  }
  CAVUM_TRY(add_element_edges(canvas, scene, &frame, 1.0, error));
  cavum_canvas_stroke(canvas, CAVUM_INK_SECOND, 0.8, CAVUM_DASH_NONE);
  CAVUM_TRY(cavum_outline_draw(canvas, scene, &frame, true, error));
  double radius = mesh->num_vertices > 2000 ? 0.6 : 1.3;
  for (cavum_index v = 0; v < mesh->num_vertices && mesh->num_vertices <= 20000; v++) {
    cavum_canvas_circle(canvas, frame.x0 + mesh->vertices[v].z_m * frame.scale_z,
                        frame.y0 - mesh->vertices[v].r_m * frame.scale_r, radius);
  }
  cavum_canvas_fill(canvas, CAVUM_INK_SECOND);
done:
  return status;
}

static void draw_axis_line(cavum_canvas *canvas, const cavum_section *section) {
  double y = cavum_plot_at_y(&section->plot, 0.0);
  for (int pass = 0; pass < 2; pass++) {  // A light band first: the dashes lie on colours.
    cavum_canvas_move(canvas, section->plot.x + 1.0, y);
    cavum_canvas_line(canvas, section->plot.x + section->plot.width - 1.0, y);
    if (pass == 0) cavum_canvas_stroke(canvas, CAVUM_INK_PAPER, 1.6, CAVUM_DASH_NONE);
    if (pass == 1) cavum_canvas_stroke(canvas, CAVUM_INK_AXIS, 0.9, CAVUM_DASH_AXIS);
  }
}

cavum_status cavum_section_draw(cavum_canvas *canvas, cavum_scene *scene,
                                const cavum_section *section, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_plot_draw_frame(canvas, &section->plot);
  if (section->is_mesh) {
    CAVUM_TRY(draw_mesh(canvas, scene, section, error));
  } else if (section->field == CAVUM_PICTURE_BOTH) {
    CAVUM_TRY(draw_half(canvas, scene, section, CAVUM_FIELD_ELECTRIC, false, error));
    CAVUM_TRY(draw_half(canvas, scene, section, CAVUM_FIELD_MAGNETIC, true, error));
  } else {
    cavum_field_choice choice =
        section->field == CAVUM_PICTURE_ELECTRIC ? CAVUM_FIELD_ELECTRIC : CAVUM_FIELD_MAGNETIC;
    CAVUM_TRY(draw_half(canvas, scene, section, choice, false, error));
  }
  draw_axis_line(canvas, section);
  if (section->is_mesh) goto done;
  if (section->field != CAVUM_PICTURE_MAGNETIC) {
    draw_peak(canvas, scene, section, CAVUM_FIELD_ELECTRIC, false);
  }
  if (section->field != CAVUM_PICTURE_ELECTRIC) {
    draw_peak(canvas, scene, section, CAVUM_FIELD_MAGNETIC, section->field == CAVUM_PICTURE_BOTH);
  }
done:
  return status;
}

// A place is told to a few ten-thousandths of a size: 0.01 mm of 100 mm, 0.0001 mm of 1 mm.
static int place_decimals(double size_m) {
  double decade = floor(log10(cavum_in_mm(size_m)) + 1e-9);
  return (int)cavum_max(0.0, cavum_min(9.0, 4.0 - decade));
}

// Of a flat cell z counts by the length, which may be a small part of the radius.
static void write_place(char where[96], const cavum_scene *scene, const cavum_point *at) {
  double least_m = cavum_min(scene->r_high_m, scene->z_high_m - scene->z_low_m);
  double z = fabs(at->z_m) < 5e-5 * least_m ? 0.0 : cavum_in_mm(at->z_m);
  snprintf(where, 96, " at z\xc2\xa0=\xc2\xa0%s%.*f\xc2\xa0mm, r\xc2\xa0=\xc2\xa0%.*f\xc2\xa0mm",
           z < 0.0 ? "\xe2\x88\x92" : "", place_decimals(least_m), fabs(z),
           place_decimals(scene->r_high_m), cavum_in_mm(at->r_m));
}

void cavum_section_add_peak_key(cavum_flow *flow, const cavum_scene *scene,
                                cavum_field_choice choice) {
  bool electric = choice == CAVUM_FIELD_ELECTRIC;
  const cavum_figure *peak =
      &scene->mode->figures[electric ? CAVUM_FIGURE_EPK_OVER_EACC : CAVUM_FIGURE_BPK_OVER_EACC];
  char text[256], value[64], where[96] = "";
  const char *name = electric ? "E_{pk}/E_{acc}" : "B_{pk}/E_{acc}";
  if (peak->state == CAVUM_FIGURE_ABSENT) return;
  if (peak->has_position) write_place(where, scene, &peak->at);
  if (peak->state == CAVUM_FIGURE_UNBOUNDED) {
    char corners[40] = "sharp corner";
    int others = cavum_scene_peak_places(scene, peak).count - 1;
    if (others > 0) snprintf(corners, sizeof corners, "%d sharp corners, one", others + 1);
    snprintf(text, sizeof text, "%s unbounded: %s%s", scene->per_gradient ? name : "|E|", corners,
             where);
    cavum_flow_add_mark(flow, text, CAVUM_MARK_TRIANGLE,
                        electric ? CAVUM_INK_FIRST : CAVUM_INK_SECOND);
    return;
  }
  cavum_unit shown = electric ? CAVUM_UNIT_SI : CAVUM_UNIT_MILLITESLA_PER_MV_PER_M;
  cavum_known_digits_format(
      value, peak, electric ? CAVUM_FIGURE_EPK_OVER_EACC : CAVUM_FIGURE_BPK_OVER_EACC, shown);
  snprintf(text, sizeof text, "%s = %s%s%s", name, value, electric ? "" : " mT/(MV/m)", where);
  cavum_flow_add_mark(flow, text, electric ? CAVUM_MARK_CIRCLE : CAVUM_MARK_DIAMOND,
                      electric ? CAVUM_INK_FIRST : CAVUM_INK_SECOND);
}

static void add_stretch(cavum_flow *flow, const cavum_section *section) {
  double ratio = section->scale_r / section->scale_z;
  char text[80];
  if (fabs(ratio - 1.0) < 1e-6) return;
  snprintf(text, sizeof text, "not to scale: %s stretched %.6g times", ratio > 1.0 ? "r" : "z",
           ratio > 1.0 ? ratio : 1.0 / ratio);
  cavum_flow_add_text(flow, text);
}

cavum_status cavum_section_add_keys(cavum_flow *flow, const cavum_scene *scene,
                                    const cavum_section *section, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  static const struct {
    cavum_boundary boundary;
    const char *text;
  } kinds[] = {{CAVUM_BOUNDARY_METAL, "metal wall"},
               {CAVUM_BOUNDARY_ELECTRIC, "electric plane"},
               {CAVUM_BOUNDARY_MAGNETIC, "magnetic plane"},
               {CAVUM_BOUNDARY_AXIS, "axis"}};
  for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
    // The line of the axis is in every section, also where no part of the cell is on it.
    bool drawn =
        kinds[i].boundary == CAVUM_BOUNDARY_AXIS || cavum_outline_has(scene, kinds[i].boundary);
    if (!drawn) continue;
    cavum_outline_style style = cavum_outline_style_of(kinds[i].boundary);
    cavum_flow_add_line(flow, kinds[i].text, style.ink, style.dash, style.width);
  }
  cavum_dielectric_add_keys(flow, scene);
  add_stretch(flow, section);
  if (section->is_mesh) {
    cavum_flow_add_line(flow, "element", CAVUM_INK_SECOND, CAVUM_DASH_NONE, 0.8);
    if (scene->result->half_model) {
      cavum_flow_add_line(flow, "mirror image, not solved", CAVUM_INK_FRAME, CAVUM_DASH_DOT, 0.6);
    }
  } else {
    bool electric = section->field != CAVUM_PICTURE_MAGNETIC;
    if (electric && section->num_lines > 0) {
      cavum_flow_add_line(flow, "electric field line", CAVUM_INK_TEXT, CAVUM_DASH_NONE, 0.65);
    }
    cavum_flow_break(flow);
    CAVUM_TRY(cavum_wall_band_add_keys(flow, scene, section->along_wall, error));
    cavum_flow_break(flow);
    if (electric) cavum_section_add_peak_key(flow, scene, CAVUM_FIELD_ELECTRIC);
    if (electric && scene->e_goes_on_inside) {
      cavum_flow_add_text(
          flow, "|E| is unbounded at an edge of a dielectric: the colour scale ends below it");
    }
    if (section->field != CAVUM_PICTURE_ELECTRIC) {
      cavum_section_add_peak_key(flow, scene, CAVUM_FIELD_MAGNETIC);
    }
  }
  cavum_flow_break(flow);
done:
  return status;
}
