// SPDX-License-Identifier: GPL-3.0-or-later
// The report of a measured wall: the curves along the wall, the figures, the pieces of the wall.
#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "format/built_scatter.h"
#include "format/quantity.h"
#include "picture/as_built_view.h"
#include "report/report_private.h"

#define DASH "\xe2\x80\x93"

static void write_number(char text[96], const char *form, double value) {
  char number[64] = DASH;
  if (isfinite(value)) snprintf(number, sizeof number, form, value);
  cavum_html_beautify(text, 96, number);
}

// How the wall was measured.
static void write_points(cavum_html *html, const cavum_as_built *b) {
  char text[256];
  snprintf(
      text, sizeof text,
      "%lld points, %lld of them used (%lld too far off, %lld beyond the ends). Scatter of the "
      "points: stated %.3g \xc2\xb5m, found %.3g \xc2\xb5m.",
      (long long)b->num_points, (long long)b->num_used, (long long)b->num_outliers,
      (long long)b->num_beyond, cavum_in_unit(b->stated_scatter_m, CAVUM_UNIT_UM),
      cavum_in_unit(b->found_scatter_m, CAVUM_UNIT_UM));
  cavum_html_paragraph(html, "", text);
  if (b->scatter_m > b->stated_scatter_m) {
    cavum_html_paragraph(html, "",
                         "MORE SCATTER than stated, by more than chance explains: the scatter "
                         "found is used for the wall and its uncertainties. Correct scatter_um.");
  } else if (cavum_built_scatter_is_less(b)) {
    cavum_html_paragraph(html, "", "Less scatter than stated: uncertainties are too large.");
  }
}

// How the points were moved onto the drawing.
static void write_fit(cavum_html *html, const cavum_as_built *b) {
  char text[256], shown[320];
  const double *m = b->motion;
  bool across = m[0] != 0.0 || m[1] != 0.0 || m[3] != 0.0 || m[4] != 0.0;
  if (!across && m[2] == 0.0) {
    cavum_html_paragraph(html, "", "Best fit: the points are where they were measured.");
    return;
  }
  int used =
      across ? snprintf(text, sizeof text,
                        "Best fit: the points were moved along x, y, z by %+.4g, %+.4g, %+.4g mm "
                        "and tilted about x, y by %+.3g, %+.3g mrad",
                        cavum_in_mm(m[0]), cavum_in_mm(m[1]), cavum_in_mm(m[2]),
                        cavum_in_unit(m[3], CAVUM_UNIT_MILLIRADIAN),
                        cavum_in_unit(m[4], CAVUM_UNIT_MILLIRADIAN))
             : snprintf(text, sizeof text, "Best fit: the points were moved along z by %+.4g mm",
                        cavum_in_mm(m[2]));
  if (b->shift_uncertainty_m > 0.0) {
    snprintf(text + used, sizeof text - (size_t)used,
             "; the shift along z is uncertain by %.2g mm, since deviations of the wall pull it.",
             cavum_in_mm(b->shift_uncertainty_m));
  } else {
    snprintf(text + used, sizeof text - (size_t)used, ".");
  }
  cavum_html_beautify(shown, sizeof shown, text);
  cavum_html_paragraph(html, "", shown);
}

static void write_accuracy(cavum_html *html, const cavum_as_built *b) {
  cavum_html_paragraph(
      html, "",
      b->accuracy_reached
          ? "Accuracy reached: the numbers of both solves, of the drawing and of the measured "
            "wall, are as certain as the cell file asks for. This says nothing about the points."
          : "ACCURACY NOT REACHED: in one of the two solves a figure is numerically less certain "
            "than the cell file asks for. The figures are the best that were found; look at the "
            "numerical uncertainty before you take their last digits for changes of the wall.");
}

// Planes that mirror the wall, where the points tell.
static void write_planes(cavum_html *html, const cavum_as_built *b) {
  static const char *const columns[] = {"end", "#plane of the drawing, z in mm",
                                        "#fitted, beyond it in mm", "#u in mm", "verdict"};
  static const char *const names[2] = {"left", "right"};
  if (isnan(b->planes[0].z_m) && isnan(b->planes[1].z_m)) {
    cavum_html_paragraph(html, "",
                         "Planes: the points do not tell where the wall is mirrored, since it is "
                         "straight beside the planes or meets none.");
    return;
  }
  cavum_html_begin_table(html, "Where the points say that the wall is mirrored at its ends", 5,
                         columns);
  for (int k = 0; k < 2; k++) {
    const cavum_as_built_plane *p = &b->planes[k];
    char cells[3][96];
    if (isnan(p->z_m)) continue;
    write_number(cells[0], "%.3f", cavum_in_mm(p->z_m));
    write_number(cells[1], "%+.3f", cavum_in_mm(p->beyond_m));
    write_number(cells[2], "%.3f", cavum_in_mm(p->uncertainty_m));
    const char *row[] = {names[k], cells[0], cells[1], cells[2],
                         p->is_elsewhere ? "another length: the cell is solved with the plane of "
                                           "the drawing, whose half length is to be changed"
                                         : "as drawn, within five uncertainties"};
    cavum_html_row(html, 5, row, columns);
  }
  cavum_html_end_table(html);
}

// Points that were left out.
static void write_outliers(cavum_html *html, const cavum_as_built *b) {
  static const char *const columns[] = {"#z in mm", "#r in mm",
                                        "#deviation from the drawing, outwards, in \xc2\xb5m"};
  if (b->num_outliers == 0) {
    cavum_html_paragraph(html, "", "No point was left out as an outlier.");
    return;
  }
  cavum_html_begin_table(html,
                         "Outliers that were left out: more than four robust standard deviations "
                         "off, and not confirmed by their neighbours",
                         3, columns);
  for (int64_t i = 0; i < b->num_outliers; i++) {
    char cells[3][96];
    write_number(cells[0], "%.3f", cavum_in_mm(b->outliers[i].z_m));
    write_number(cells[1], "%.3f", cavum_in_mm(b->outliers[i].r_m));
    write_number(cells[2], "%+.1f", cavum_in_unit(b->outliers[i].distance_m, CAVUM_UNIT_UM));
    const char *row[] = {cells[0], cells[1], cells[2]};
    cavum_html_row(html, 3, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_survey(cavum_html *html, const cavum_as_built *built) {
  cavum_html_heading(html, 2, "points", "Points and planes");
  write_fit(html, built);
  write_planes(html, built);
  write_outliers(html, built);
}

static void write_solved(char text[96], double value, double numerical) {
  char number[CAVUM_QUANTITY_SIZE];
  cavum_quantity_format_solved(number, value, numerical);
  cavum_html_beautify(text, 96, number);
}

static void write_head(cavum_html *html, const cavum_as_built *built) {
  char text[128];
  fputs("<header><h1>", html->out);
  cavum_markup_write(html->out, built->title[0] ? built->title : "As built");
  fputs("</h1>\n<p class=\"lead\">The wall as it was measured, against its drawing.</p>\n",
        html->out);
  snprintf(text, sizeof text, "Mode %d, %s.", built->mode + 1,
           built->label[0] ? built->label : "without a label");
  cavum_html_paragraph(html, "", text);
  write_points(html, built);
  write_accuracy(html, built);
  fputs(
      "</header>\n<nav aria-label=\"Contents\"><ul>\n"
      "<li><a href=\"#wall\">Along the wall</a></li>\n<li><a href=\"#figures\">Figures</a></li>\n"
      "<li><a href=\"#pieces\">Pieces of the wall</a></li>\n"
      "<li><a href=\"#points\">Points and planes</a></li>\n</ul></nav>\n",
      html->out);
}

// Where the arc length of the wall begins.
static void write_beginning(char text[64], const cavum_as_built *built) {
  text[0] = '\0';
  if (built->num_sections == 0) return;
  double from = built->sections[0].from_z_m, to = built->sections[built->num_sections - 1].to_z_m;
  char number[96];
  write_number(number, "%.1f", cavum_in_mm(from));
  snprintf(text, 64, "from the %s end, z = %.20s mm", from > to ? "right" : "left", number);
}

static cavum_status write_wall(cavum_html *html, const cavum_as_built *built, cavum_error *error) {
  const cavum_draw_request request = {
      .kind = CAVUM_CANVAS_SVG_FRAGMENT, .image_scale = 1.0, .no_heading = true, .prefix = "wall"};
  char *svg = NULL;
  size_t size = 0;
  cavum_html_heading(html, 2, "wall", "Along the wall");
  cavum_status status = cavum_as_built_view_draw(&svg, &size, built, &request, error);
  if (status != CAVUM_OK) return status;
  char caption[200], from[64];
  write_beginning(from, built);
  snprintf(caption, sizeof caption,
           "Deviation from the drawing, outwards, and what it does to f. The arc length counts %s.",
           from);
  cavum_html_picture(html, svg, caption);
  free(svg);
  return CAVUM_OK;
}

// "frequency in MHz", and how large that unit is.
static double write_name(char name[160], cavum_figure_id id, double value) {
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit(id, value);
  char shown[32] = "";
  if (unit.name[0]) cavum_html_beautify(shown, sizeof shown, unit.name);
  snprintf(name, 160, "%s%s%s", cavum_figure_describe(id).long_name, unit.name[0] ? " in " : "",
           shown);
  return cavum_from_unit(1.0, unit.conversion);
}

// What the drawn walls say beside what the derivatives say.
static void write_draws(cavum_html *html, const cavum_as_built *built) {
  static const char *const columns[] = {"figure",
                                        "#as built",
                                        "#mean of the draws",
                                        "#standard deviation of the draws",
                                        "#linear u",
                                        "#deviation over linear u"};
  char caption[256];
  if (built->num_draws < 2) return;
  snprintf(
      caption, sizeof caption,
      "%d random walls solved, each with another noise of the points and another error of the "
      "probe. Linear u: from points and probe, by the derivative along the wall; peaks have none",
      built->num_draws);
  cavum_html_begin_table(html, caption, 6, columns);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_as_built_figure *f = &built->figures[id];
    if (!f->exists || isnan(f->sampled)) continue;
    char name[160], cells[5][96];
    double one = write_name(name, (cavum_figure_id)id, f->value);
    double linear = hypot(f->by_noise, f->by_probe), mean = f->value + f->sampled_shift;
    write_solved(cells[0], f->value / one, f->numerical / one);
    write_solved(cells[1], mean / one, 0.1 * f->sampled / sqrt(built->num_draws) / one);
    write_number(cells[2], "%.3g", f->sampled / one);
    write_number(cells[3], "%.3g", linear / one);
    write_number(cells[4], "%.2f", linear > 0.0 ? f->sampled / linear : NAN);
    const char *row[] = {name, cells[0], cells[1], cells[2], cells[3], cells[4]};
    cavum_html_row(html, 6, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_figures(cavum_html *html, const cavum_as_built *built) {
  static const char *const columns[] = {"figure",          "#drawing", "#as built",
                                        "#change",         "#by wall", "#u of the points",
                                        "#u of the probe", "#u",       "#numerical"};
  cavum_html_heading(html, 2, "figures", "Figures");
  cavum_html_begin_table(
      html,
      "u: standard uncertainty. By wall: the change that the deviation makes, by the "
      "derivative of the figure along the wall. Numerical: what the solver may be off by",
      9, columns);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_as_built_figure *f = &built->figures[id];
    if (!f->exists) continue;
    char name[160], cells[7][96], change[96];
    double one = write_name(name, (cavum_figure_id)id, f->value);
    write_solved(cells[0], f->drawn / one, f->numerical / one);
    write_solved(cells[1], f->value / one, f->numerical / one);
    write_number(cells[2], "%+.4g", f->by_deviation / one);
    write_number(cells[3], "%.2g", f->by_noise / one);
    write_number(cells[4], "%.2g", fabs(f->by_probe) / one);
    write_number(cells[5], "%.2g", f->uncertainty / one);
    write_number(cells[6], "%.2g", f->numerical / one);
    write_number(change, "%+.4g", (f->value - f->drawn) / one);
    // Where R/Q still grows at the end of the speeds nothing was found there, and nothing changes.
    bool at_end = id == CAVUM_FIGURE_BETA_OPTIMUM && f->numerical == 0.0;
    if (at_end) snprintf(name, sizeof name, "beta of the largest R/Q, at the end of the range");
    if (at_end) write_number(cells[0], "%.9g", f->drawn);
    if (at_end) write_number(cells[1], "%.9g", f->value);
    const char *row[] = {name,     cells[0], cells[1], change,  cells[2],
                         cells[3], cells[4], cells[5], cells[6]};
    cavum_html_row(html, 9, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_pieces(cavum_html *html, const cavum_as_built *built) {
  static const char *const columns[] = {
      "#from z in mm",           "#from r in mm",  "#to z in mm", "#to r in mm",
      "#deviation in \xc2\xb5m", "#change in kHz", "#u in kHz"};
  cavum_html_heading(html, 2, "pieces", "Pieces of the wall");
  char caption[160], from[64];
  write_beginning(from, built);
  snprintf(caption, sizeof caption,
           "Change of the frequency by the deviation of each piece alone, %s on", from);
  cavum_html_begin_table(html, caption, 7, columns);
  for (int k = 0; k < built->num_sections; k++) {
    const cavum_as_built_section *s = &built->sections[k];
    const double numbers[] = {cavum_in_mm(s->from_z_m),
                              cavum_in_mm(s->from_r_m),
                              cavum_in_mm(s->to_z_m),
                              cavum_in_mm(s->to_r_m),
                              cavum_in_unit(s->deviation_m, CAVUM_UNIT_UM),
                              cavum_in_unit(s->change_hz, CAVUM_UNIT_KHZ),
                              cavum_in_unit(s->uncertainty_hz, CAVUM_UNIT_KHZ)};
    char cells[7][96];
    const char *row[7];
    for (int c = 0; c < 7; c++) {
      write_number(cells[c], c == 4 || c == 5 ? "%+.2f" : "%.2f", numbers[c]);
      row[c] = cells[c];
    }
    cavum_html_row(html, 7, row, columns);
  }
  cavum_html_end_table(html);
}

cavum_status cavum_report_as_built_file(char **bytes, size_t *size, const char *path,
                                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_html html = {0};
  cavum_as_built *built = NULL;
  CAVUM_TRY(cavum_stored_as_built_read(&built, path, error));
  CAVUM_TRY(cavum_html_create(&html, built->title[0] ? built->title : "As built", error));
  write_head(&html, built);
  CAVUM_TRY(write_wall(&html, built, error));
  write_figures(&html, built);
  write_draws(&html, built);
  write_pieces(&html, built);
  write_survey(&html, built);
  CAVUM_TRY(cavum_html_finish(bytes, size, &html, error));
done:
  cavum_html_clear(&html);
  cavum_as_built_destroy(&built);
  return status;
}
