// SPDX-License-Identifier: GPL-3.0-or-later
// One mode of a cell in a report.
#include <string.h>

#include "base.h"
#include "report.h"
#include "section.h"

// Modes up to which pictures are at their best, and up to which curves are also there for paper.
enum {
  FEW_MODES = 6,
  SEVERAL_MODES = 16,
  ALL_POINTS = 40000,
  MOST_POINTS = 1600,
  LEAST_POINTS = 200
};

cavum_report_budget cavum_report_choose_budget(int num_modes) {
  int points = ALL_POINTS / (num_modes > 0 ? num_modes : 1);
  if (points > MOST_POINTS) points = MOST_POINTS;
  if (points < LEAST_POINTS) points = LEAST_POINTS;
  double scale = num_modes <= FEW_MODES ? 2.0 : num_modes <= SEVERAL_MODES ? 1.2 : 0.7;
  return (cavum_report_budget){scale, points, num_modes <= SEVERAL_MODES};
}

static void write_position(char text[64], const cavum_figure *figure) {
  text[0] = '\0';
  if (!figure->has_position) return;
  double z = 1e3 * figure->at.z_m;
  snprintf(text, 64, "z = %s%.3f mm, r = %.3f mm", z < -5e-4 ? "\xe2\x88\x92" : "", fabs(z),
           1e3 * figure->at.r_m);
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
    cavum_html_format_figure(value, unit, figure, (cavum_figure_id)id);
    write_position(where, figure);
    char definition[320];
    snprintf(definition, sizeof definition, "%s%s%s", info.definition, where[0] ? "; at " : "",
             where);
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
struct sheet {
  cavum_scene scene;
  cavum_axis_curve axis;
  cavum_wall_curve wall;
  int number;
};

static cavum_status draw_part(char **svg, struct sheet *sheet, cavum_picture_view view,
                              const char *name, double image_scale, cavum_error *error) {
  size_t size = 0;
  char prefix[48];
  snprintf(prefix, sizeof prefix, "mode%d-%s", sheet->number, name);
  const cavum_draw_request request = {.view = view,
                                      .kind = CAVUM_CANVAS_SVG_FRAGMENT,
                                      .image_scale = image_scale,
                                      .no_heading = true,
                                      .prefix = prefix};
  return cavum_draw_scene(svg, &size, &sheet->scene, &sheet->axis, &sheet->wall, &request, error);
}

// Every k-th point, the last one too; shape of `to` is [*count].
static void thin(double *to, const double *from, int total, int step, int *count) {
  int n = 0;
  for (int i = 0; i < total; i += step) to[n++] = from[i];
  if ((total - 1) % step != 0) to[n++] = from[total - 1];
  *count = n;
}

struct line {
  const char *label, *unit, *ink;
  const double *values;
};

static cavum_status write_plot(cavum_html *html, const cavum_html_plot *plot, int total,
                               const double *x, int num_lines, const struct line *lines,
                               int most_points, int num_uprights, const double *uprights,
                               cavum_error *error) {
  int step = (total + most_points - 1) / most_points, count = 0;
  double *thinned = cavum_alloc(total + 1, sizeof *thinned);
  if (!thinned) return cavum_fail_memory(error);
  thin(thinned, x, total, step, &count);
  cavum_html_begin_plot(html, plot, count, thinned);
  for (int i = 0; i < num_lines; i++) {
    thin(thinned, lines[i].values, total, step, &count);
    const cavum_html_line line = {
        .label = lines[i].label, .unit = lines[i].unit, .ink = lines[i].ink, .y = thinned};
    cavum_html_add_line(html, &line, count);
  }
  cavum_html_end_plot(html, num_uprights, uprights);
  free(thinned);
  return CAVUM_OK;
}

static cavum_status write_axis(cavum_html *html, struct sheet *sheet,
                               const cavum_report_budget *budget, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *still = NULL;
  bool per_gradient = sheet->scene.per_gradient;
  if (sheet->axis.num_points == 0) return CAVUM_OK;
  if (budget->stills) {
    CAVUM_TRY(draw_part(&still, sheet, CAVUM_VIEW_AXIS, "axis", 1.0, error));
  }
  const cavum_html_plot plot = {
      .x_label = "z / mm",
      .x_name = "z",
      .x_unit = "mm",
      .y_label = per_gradient ? "E_z / E_acc" : "E_z at 1 J / (MV/m)",
      .still = still,
      .caption = per_gradient ? "Axial electric field on the axis over the gradient."
                              : "Axial electric field on the axis at a stored energy of 1 J."};
  const struct line line = {"E_z", per_gradient ? "E_acc" : "MV/m", "--i12", sheet->axis.e_z};
  CAVUM_TRY(write_plot(html, &plot, sheet->axis.num_points, sheet->axis.z_mm, 1, &line,
                       budget->points, 0, NULL, error));
done:
  free(still);
  return status;
}

static cavum_status write_wall(cavum_html *html, struct sheet *sheet,
                               const cavum_report_budget *budget, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *still = NULL;
  const cavum_wall_curve *wall = &sheet->wall;
  bool per_gradient = sheet->scene.per_gradient;
  if (wall->num_points == 0) return CAVUM_OK;
  if (budget->stills) {
    CAVUM_TRY(draw_part(&still, sheet, CAVUM_VIEW_WALL, "wall", 1.0, error));
  }
  cavum_html_plot plot = {
      .x_label = "arc length along the wall from its left end / mm",
      .x_name = "arc length",
      .x_unit = "mm",
      .y_label = per_gradient ? "|E| / E_acc" : "|E| at 1 J / (MV/m)",
      .y_high = wall->e_high,
      .still = still,
      .caption = "Electric field on the wall; dotted lines are junctions of the contour."};
  const struct line electric = {"|E|", per_gradient ? "E_acc" : "MV/m", "--i12", wall->e};
  CAVUM_TRY(write_plot(html, &plot, wall->num_points, wall->s_mm, 1, &electric, budget->points,
                       wall->num_junctions, wall->junction_mm, error));
  plot.still = NULL;
  plot.y_high = wall->b_high;
  plot.y_label =
      per_gradient ? "\xc2\xb5\xe2\x82\x80|H| / E_acc" : "\xc2\xb5\xe2\x82\x80|H| at 1 J / mT";
  plot.caption = per_gradient
                     ? "Magnetic field on the wall in mT/(MV/m); dotted lines are junctions of the "
                       "contour."
                     : "Magnetic field on the wall; dotted lines are junctions of the contour.";
  const struct line magnetic = {"\xc2\xb5\xe2\x82\x80|H|", per_gradient ? "mT/(MV/m)" : "mT",
                                "--i13", wall->b};
  CAVUM_TRY(write_plot(html, &plot, wall->num_points, wall->s_mm, 1, &magnetic, budget->points,
                       wall->num_junctions, wall->junction_mm, error));
done:
  free(still);
  return status;
}

static cavum_status write_beta_curve(cavum_html *html, const cavum_mode_result *mode,
                                     const cavum_report_budget *budget, cavum_error *error) {
  const cavum_beta_curve *curve = &mode->beta_curve;
  if (curve->num_points < 2) return CAVUM_OK;
  const cavum_html_plot plot = {
      .x_label = "particle speed over c",
      .x_name = "beta",
      .y_label = "R/Q, linac convention / \xce\xa9",
      .caption = "R/Q = V\xc2\xb2/(\xcf\x89U) against the speed of the particle."};
  const struct line line = {"R/Q (linac)", "\xce\xa9", "--i14", curve->r_over_q_linac_ohm};
  return write_plot(html, &plot, curve->num_points, curve->beta, 1, &line, budget->points, 0, NULL,
                    error);
}

static cavum_status write_pictures(cavum_html *html, struct sheet *sheet,
                                   const cavum_report_budget *budget, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *section = NULL;
  CAVUM_TRY(draw_part(&section, sheet, CAVUM_VIEW_SECTION, "section", budget->image_scale, error));
  cavum_html_picture(html, section,
                     "Section to scale. Above the axis the electric field with its lines (equal "
                     "flux from one to the next), below it the magnetic field.");
  CAVUM_TRY(write_axis(html, sheet, budget, error));
  CAVUM_TRY(write_wall(html, sheet, budget, error));
done:
  free(section);
  return status;
}

cavum_status cavum_report_write_mode(cavum_html *html, const cavum_result *result, int number,
                                     const cavum_report_budget *budget, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mode_result *mode = &result->modes[number - 1];
  struct sheet sheet = {.number = number};
  char id[32], heading[256];
  snprintf(id, sizeof id, "mode-%d", number);
  cavum_draw_describe_mode(heading, result, number);
  if (heading[0] == 'm') heading[0] = 'M';
  fputs("<section class=\"mode\">\n", html->out);
  cavum_html_heading(html, 2, id, heading);
  if (!mode->accuracy_reached) {
    cavum_html_paragraph(html, "caution",
                         "The accuracy asked for was not reached for this mode: "
                         "the figures are the best found, with the uncertainties that they have.");
  }
  write_figures(html, mode);
  if (mode->field.num_points == 0) {
    cavum_html_paragraph(html, "note", "The file holds no fields of this mode to draw.");
  } else {
    CAVUM_TRY(cavum_scene_create(&sheet.scene, result, number, error));
    CAVUM_TRY(cavum_axis_curve_create(&sheet.axis, &sheet.scene, error));
    CAVUM_TRY(cavum_wall_curve_create(&sheet.wall, &sheet.scene, error));
    CAVUM_TRY(write_pictures(html, &sheet, budget, error));
  }
  CAVUM_TRY(write_beta_curve(html, mode, budget, error));
  fputs("</section>\n", html->out);
done:
  cavum_axis_curve_clear(&sheet.axis);
  cavum_wall_curve_clear(&sheet.wall);
  cavum_scene_clear(&sheet.scene);
  return status;
}
