// SPDX-License-Identifier: GPL-3.0-or-later
// One mode of a cell in a report.
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/simplify.h"
#include "format/quantity.h"
#include "picture/section.h"
#include "report/report_private.h"

// Modes up to which pictures are at their best, and up to which curves are also there for paper.
enum {
  FEW_MODES = 6,
  SEVERAL_MODES = 16,
  ALL_POINTS = 8000,
  MOST_POINTS = 600,
  LEAST_POINTS = 100,
  MOST_PICTURES = 60
};

cavum_report_limits cavum_report_choose_limits(int num_modes) {
  int points = ALL_POINTS / (num_modes > 0 ? num_modes : 1);
  if (points > MOST_POINTS) points = MOST_POINTS;
  if (points < LEAST_POINTS) points = LEAST_POINTS;
  bool few = num_modes <= FEW_MODES, several = num_modes <= SEVERAL_MODES;
  return (cavum_report_limits){.image_scale = few       ? 2.0
                                              : several ? 1.2
                                                        : 0.5,
                               .tolerance = few       ? 0.03
                                            : several ? 0.06
                                                      : 0.2,
                               .num_colours = several ? 255 : 48,
                               .num_lines = several ? 14 : 6,
                               .pictures = MOST_PICTURES,
                               .points = points,
                               .stills = several};
}

static void write_position(char text[64], const cavum_figure *figure) {
  text[0] = '\0';
  if (!figure->has_position) return;
  double z = cavum_in_mm(figure->at.z_m);
  snprintf(text, 64, "z = %s%.3f mm, r = %.3f mm", z < -5e-4 ? "\xe2\x88\x92" : "", fabs(z),
           cavum_in_mm(figure->at.r_m));
}

static void write_figures(cavum_html *html, const cavum_mode_result *mode) {
  static const char *const columns[] = {"figure", "#value", "unit", "definition"};
  char absent[1024] = "";
  cavum_html_begin_table(html, "Figures of merit with their numerical uncertainties", 4, columns);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure *figure = &mode->figures[id];
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    char value[96], unit[24], where[64];
    if (figure->state == CAVUM_FIGURE_ABSENT) {
      size_t used = strlen(absent);
      snprintf(absent + used, sizeof absent - used, "%s%s", used ? "; " : "", info.long_name);
      continue;
    }
    const cavum_figure shown = cavum_quantity_shown_figure(mode->figures, (cavum_figure_id)id);
    cavum_html_format_figure(value, unit, &shown, (cavum_figure_id)id);
    write_position(where, figure);
    char definition[320], basis[CAVUM_BASIS_SIZE];
    cavum_quantity_basis(basis, figure);
    const char *at = !where[0]                                 ? ""
                     : figure->state == CAVUM_FIGURE_UNBOUNDED ? "; sharp corner at "
                                                               : "; at ";
    snprintf(definition, sizeof definition, "%s%s%s%s%s", info.definition, at, where,
             basis[0] ? "; " : "", basis);
    const char *cells[] = {info.long_name, value, unit, definition};
    cavum_html_row(html, 4, cells, columns);
  }
  cavum_html_end_table(html);
  if (!absent[0]) return;
  char text[1200];
  snprintf(text, sizeof text, "Not there for this mode: %s.", absent);
  cavum_html_paragraph(html, "note", text);
}

// What one mode is drawn from.
typedef struct mode_sheet {
  cavum_scene scene;
  cavum_axis_curve axis;
  cavum_wall_plot wall;
  int number;
} mode_sheet;

static cavum_status draw_part(char **svg, mode_sheet *sheet, cavum_picture_view view,
                              const char *name, const cavum_report_limits *limits,
                              cavum_error *error) {
  size_t size = 0;
  char prefix[48];
  snprintf(prefix, sizeof prefix, "mode%d-%s", sheet->number, name);
  // On paper the section has the whole width, and two curves stand side by side: letters are as
  // high in both.
  const cavum_draw_request request = {
      .view = view,
      .size = view == CAVUM_VIEW_SECTION ? CAVUM_SIZE_TWO_COLUMNS : CAVUM_SIZE_COLUMN,
      .section_height = CAVUM_REPORT_SECTION_HEIGHT,
      .kind = CAVUM_CANVAS_SVG_FRAGMENT,
      .image_scale = limits->image_scale,
      .tolerance = limits->tolerance,
      .num_colours = limits->num_colours,
      .num_lines = limits->num_lines,
      .no_heading = true,
      .prefix = prefix};
  return cavum_draw_scene(svg, &size, &sheet->scene, &sheet->axis, &sheet->wall, &request, error);
}

typedef struct curve_line {
  const char *label, *unit, *ink;
  const double *values;
} curve_line;

// Points that the eye needs, and enough between them to hover over: smooth where the curve bends,
// few where it does not. Coordinates are in units of the height of the plot.
static void choose_points(unsigned char *needed, int64_t *stack, const double *points, int total,
                          double gap) {
  const double tolerance = 4e-4;  // A tenth of a pixel.
  for (int first = 0; first < total; first++) {
    int last = first;
    if (!isfinite(points[2 * first + 1])) {
      needed[first] = 1;  // A gap stays a gap.
      continue;
    }
    while (last + 1 < total && isfinite(points[2 * last + 3])) last++;
    cavum_simplify_mark(needed, stack, points, first, last, tolerance);
    first = last;
  }
  double before = -HUGE_VAL;
  for (int i = 0; i < total; i++) {
    if (!needed[i] && points[2 * i] - before < gap) continue;
    needed[i] = 1;
    before = points[2 * i];
  }
}

static void scale_points(double *points, int total, const double *x, const double *y,
                         double shown_high) {
  const double shape = 4.5;  // Width of a plot over its height.
  double low = HUGE_VAL, high = -HUGE_VAL, left = x[0], right = x[total - 1];
  for (int i = 0; i < total; i++) {
    if (isfinite(y[i])) low = cavum_min(low, y[i]);
    if (isfinite(y[i])) high = cavum_max(high, y[i]);
  }
  // Beyond the end of the axis, at a sharp corner, nothing is seen.
  if (shown_high > low) high = cavum_min(high, shown_high);
  for (int i = 0; i < total; i++) {
    points[2 * i] = right > left ? shape * (x[i] - left) / (right - left) : 0.0;
    points[2 * i + 1] = high > low ? (y[i] - low) / (high - low) : isfinite(y[i]) ? 0.0 : NAN;
  }
}

// A plot of one line with the marks of junctions.
static cavum_status write_plot(cavum_html *html, const cavum_html_plot *plot, int total,
                               const double *x, const curve_line *line, int most_points,
                               int num_uprights, const double *uprights, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double *points = cavum_alloc(total, 4 * sizeof *points);
  unsigned char *needed = cavum_alloc(total, 1);
  int64_t *stack = cavum_alloc(2 * (int64_t)total + 4, sizeof *stack);
  cavum_html_upright *marks = cavum_alloc(num_uprights + 1, sizeof *marks);
  if (!points || !needed || !stack || !marks) CAVUM_TRY(cavum_fail_memory(error));
  double *kept_x = points + 2 * (size_t)total, *kept_y = points + 3 * (size_t)total;
  int count = 0;
  scale_points(points, total, x, line->values, plot->y_high);
  choose_points(needed, stack, points, total, 4.5 / most_points);
  for (int i = 0; i < total; i++) {
    if (!needed[i]) continue;
    kept_x[count] = x[i];
    kept_y[count++] = line->values[i];
  }
  const cavum_html_line shown = {
      .label = line->label, .unit = line->unit, .ink = line->ink, .y = kept_y};
  cavum_html_begin_plot(html, plot, count, kept_x);
  cavum_html_add_line(html, &shown, count);
  for (int i = 0; i < num_uprights; i++) {
    marks[i] = (cavum_html_upright){.at = uprights[i], .ink = "--i4"};
  }
  cavum_html_end_plot(html, num_uprights, marks, 0, NULL);
done:
  free(marks);
  free(points);
  free(needed);
  free(stack);
  return status;
}

static cavum_status write_axis(cavum_html *html, mode_sheet *sheet,
                               const cavum_report_limits *limits, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *still = NULL;
  bool per_gradient = sheet->scene.per_gradient;
  if (sheet->axis.num_points == 0) return CAVUM_OK;
  if (limits->stills) {
    CAVUM_TRY(draw_part(&still, sheet, CAVUM_VIEW_AXIS, "axis", limits, error));
  }
  const cavum_html_plot plot = {
      .x_label = "z in mm",
      .x_name = "z",
      .x_unit = "mm",
      .y_label = per_gradient ? "E_z / E_acc" : "E_z at 1 J in MV/m",
      .still = still,
      .caption = per_gradient ? "Axial electric field on the axis over the gradient."
                              : "Axial electric field on the axis at a stored energy of 1 J."};
  const curve_line line = {"E_z", per_gradient ? "E_acc" : "MV/m", "--i12", sheet->axis.e_z};
  CAVUM_TRY(write_plot(html, &plot, sheet->axis.num_points, sheet->axis.z_mm, &line, limits->points,
                       0, NULL, error));
done:
  free(still);
  return status;
}

// The marks of a peak, where the still picture has them.
static cavum_status set_peaks(cavum_html_plot *plot, cavum_html_peak **peaks,
                              const mode_sheet *sheet, cavum_figure_id id, const double *values,
                              const char *ink, cavum_error *error) {
  const cavum_figure *peak = &sheet->scene.mode->figures[id];
  cavum_mark_places places = cavum_scene_peak_places(&sheet->scene, peak);
  cavum_html_peak *found = cavum_alloc(places.count + 1, sizeof *found);
  if (!found) return cavum_fail_memory(error);
  plot->num_peaks = 0;
  for (int i = 0; i < places.count; i++) {
    int at = cavum_wall_plot_find(&sheet->wall, places.at[i]);
    if (at >= 0) found[plot->num_peaks++] = (cavum_html_peak){sheet->wall.s_mm[at], values[at]};
  }
  free(*peaks);
  plot->peaks = *peaks = found;
  plot->peaks_unbounded = places.unbounded;
  plot->peak_ink = ink;
  return CAVUM_OK;
}

// What the dotted lines are.
static const char *describe_junctions(const cavum_wall_plot *wall) {
  return wall->num_junctions == 0 ? ""
         : wall->of_irises        ? "; a dotted line is an iris between cells"
                                  : "; a dotted line is a junction of the contour";
}

static void describe_peaks(char text[200], const char *field, const cavum_html_plot *plot,
                           const cavum_wall_plot *wall) {
  const char *marks = plot->num_peaks == 0     ? "."
                      : !plot->peaks_unbounded ? ", the mark is the peak."
                      : plot->num_peaks == 1
                          ? ", the triangle a sharp corner, where the field is unbounded."
                          : ", triangles are sharp corners, where the field is unbounded.";
  snprintf(text, 200, "%s on the wall%s%s", field, describe_junctions(wall), marks);
}

static cavum_status write_wall(cavum_html *html, mode_sheet *sheet,
                               const cavum_report_limits *limits, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *still = NULL, caption[200], both[200];
  cavum_html_peak *peaks = NULL;
  const cavum_wall_plot *wall = &sheet->wall;
  bool per_gradient = sheet->scene.per_gradient;
  if (wall->num_points == 0) return CAVUM_OK;
  if (limits->stills) {
    CAVUM_TRY(draw_part(&still, sheet, CAVUM_VIEW_WALL, "wall", limits, error));
  }
  cavum_html_plot plot = {.x_label = "arc length from the left end in mm",
                          .x_name = "arc length",
                          .x_unit = "mm",
                          .y_label = per_gradient ? "|E| / E_acc" : "|E| at 1 J in MV/m",
                          .y_high = wall->e_high,
                          .still = still,
                          .caption = caption,
                          .still_caption = both};
  const curve_line electric = {"|E| on the wall", per_gradient ? "E_acc" : "MV/m", "--i12",
                               wall->e};
  CAVUM_TRY(set_peaks(&plot, &peaks, sheet, CAVUM_FIGURE_EPK_OVER_EACC, wall->e, "--i12", error));
  describe_peaks(caption, "Electric field", &plot, wall);
  snprintf(both, sizeof both,
           "Above the electric field on the wall, below it the magnetic one%s.%s",
           describe_junctions(wall),
           plot.num_peaks == 0    ? ""
           : plot.peaks_unbounded ? " Triangles are sharp corners, where a field is unbounded."
                                  : " The marks are the peaks.");
  CAVUM_TRY(write_plot(html, &plot, wall->num_points, wall->s_mm, &electric, limits->points,
                       wall->num_junctions, wall->junction_mm, error));
  plot.still = plot.still_caption = NULL;
  plot.y_high = wall->b_high;
  plot.y_label = per_gradient ? "\xc2\xb5\xe2\x82\x80|H| / E_acc in mT/(MV/m)"
                              : "\xc2\xb5\xe2\x82\x80|H| at 1 J in mT";
  const curve_line magnetic = {"\xc2\xb5\xe2\x82\x80|H| on the wall",
                               per_gradient ? "mT/(MV/m)" : "mT", "--i13", wall->b};
  CAVUM_TRY(set_peaks(&plot, &peaks, sheet, CAVUM_FIGURE_BPK_OVER_EACC, wall->b, "--i13", error));
  describe_peaks(caption, "Magnetic field", &plot, wall);
  CAVUM_TRY(write_plot(html, &plot, wall->num_points, wall->s_mm, &magnetic, limits->points,
                       wall->num_junctions, wall->junction_mm, error));
done:
  free(peaks);
  free(still);
  return status;
}

static cavum_status draw_beta_content(cavum_page *page, void *data, cavum_error *error) {
  const cavum_beta_curve *curve = data;
  double high = 0.0;
  (void)error;
  for (int i = 0; i < curve->num_points; i++) {
    high = cavum_max(high, curve->r_over_q_linac_ohm[i]);
  }
  cavum_plot plot = {.x = 70.0, .y = page->y, .width = page->width - 90.0};
  plot.height = cavum_min(200.0, 0.62 * plot.width);
  plot.horizontal = (cavum_plot_axis){.low = curve->beta[0],
                                      .high = curve->beta[curve->num_points - 1],
                                      .label = "particle speed over c"};
  plot.vertical = (cavum_plot_axis){.high = high > 0.0 ? 1.1 * high : 1.0,
                                    .label = "R/Q, linac convention in \xce\xa9"};
  cavum_plot_draw_frame(page->canvas, &plot);
  cavum_plot_draw_line(page->canvas, &plot, curve->num_points, curve->beta,
                       curve->r_over_q_linac_ohm, CAVUM_INK_THIRD, 1.6, CAVUM_DASH_NONE);
  page->y += plot.height + 40.0;
  return CAVUM_OK;
}

static cavum_status draw_beta_curve(char **svg, const cavum_beta_curve *curve, int number,
                                    const cavum_report_limits *limits, cavum_error *error) {
  size_t size = 0;
  char prefix[48];
  snprintf(prefix, sizeof prefix, "mode%d-beta", number);
  const cavum_draw_request request = {.kind = CAVUM_CANVAS_SVG_FRAGMENT,
                                      .size = CAVUM_SIZE_COLUMN,
                                      .image_scale = 1.0,
                                      .tolerance = limits->tolerance,
                                      .prefix = prefix};
  // The content does not change what it is given.
  return cavum_page_make(svg, &size, &request, 720.0, "R/Q against the speed of the particle",
                         "R/Q against the speed of the particle", draw_beta_content,
                         (void *)(uintptr_t)curve, error);
}

static cavum_status write_beta_curve(cavum_html *html, const cavum_mode_result *mode, int number,
                                     const cavum_report_limits *limits, cavum_error *error) {
  const cavum_beta_curve *curve = &mode->beta_curve;
  char *still = NULL;
  cavum_status status = CAVUM_OK;
  if (curve->num_points < 2 || !(curve->beta[curve->num_points - 1] > curve->beta[0])) {
    return CAVUM_OK;
  }
  if (limits->stills) CAVUM_TRY(draw_beta_curve(&still, curve, number, limits, error));
  const cavum_html_plot plot = {
      .x_label = "particle speed over c",
      .x_name = "beta",
      .still = still,
      .y_label = "R/Q, linac convention in \xce\xa9",
      .caption = "R/Q = V\xc2\xb2/(\xcf\x89U) against the speed of the particle."};
  const curve_line line = {"R/Q (linac)", "\xce\xa9", "--i14", curve->r_over_q_linac_ohm};
  CAVUM_TRY(write_plot(html, &plot, curve->num_points, curve->beta, &line, limits->points, 0, NULL,
                       error));
done:
  free(still);
  return status;
}

static cavum_status write_pictures(cavum_html *html, mode_sheet *sheet,
                                   const cavum_report_limits *limits, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *section = NULL;
  CAVUM_TRY(draw_part(&section, sheet, CAVUM_VIEW_SECTION, "section", limits, error));
  cavum_html_picture(
      html, section,
      "Section of the cell, to scale unless its key says otherwise. Above the axis the "
      "electric field with its lines (equal flux from one to the next), below it the "
      "magnetic field.");
  CAVUM_TRY(write_axis(html, sheet, limits, error));
  CAVUM_TRY(write_wall(html, sheet, limits, error));
done:
  free(section);
  return status;
}

cavum_status cavum_report_write_mode(cavum_html *html, const cavum_result *result, int number,
                                     const cavum_report_limits *limits, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mode_result *mode = &result->modes[number - 1];
  mode_sheet sheet = {.number = number};
  char id[32], heading[256];
  snprintf(id, sizeof id, "mode-%d", number);
  cavum_draw_describe_mode_plainly(heading, result, number);
  if (heading[0] == 'm') heading[0] = 'M';
  fputs("<section class=\"mode\">\n", html->out);
  cavum_html_heading(html, 2, id, heading);
  if (!mode->accuracy_reached) {
    cavum_html_paragraph(html, "caution",
                         "The accuracy asked for was not reached for this mode: "
                         "the figures are the best found, with the uncertainties that they have.");
  }
  write_figures(html, mode);
  cavum_report_write_derivatives(html, result, number - 1);
  if (mode->field.num_points == 0) {
    cavum_html_paragraph(html, "note", "The file holds no fields of this mode to draw.");
  } else if (number > limits->pictures) {
    cavum_html_paragraph(html, "note",
                         "Left out of this page for its size: cavum draw --mode draws this mode.");
  } else {
    CAVUM_TRY(cavum_scene_create(&sheet.scene, result, number, error));
    CAVUM_TRY(cavum_axis_curve_create(&sheet.axis, &sheet.scene, error));
    CAVUM_TRY(cavum_wall_plot_create(&sheet.wall, &sheet.scene, error));
    CAVUM_TRY(write_pictures(html, &sheet, limits, error));
  }
  if (number <= limits->pictures) {
    CAVUM_TRY(write_beta_curve(html, mode, number, limits, error));
  }
  fputs("</section>\n", html->out);
done:
  cavum_axis_curve_clear(&sheet.axis);
  cavum_wall_plot_clear(&sheet.wall);
  cavum_scene_clear(&sheet.scene);
  return status;
}
