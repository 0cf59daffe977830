// SPDX-License-Identifier: GPL-3.0-or-later
// The report of a chain of steps: the waterfall, the table of the bench, and how it was computed.
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "format/quantity.h"
#include "format/step_amount.h"
#include "picture/steps_view.h"
#include "report/report_private.h"

#define DASH "\xe2\x80\x93"

static void write_number(char text[96], const char *form, double value) {
  char number[64] = DASH;
  if (isfinite(value)) snprintf(number, sizeof number, form, value);
  cavum_html_beautify(text, 96, number);
}

static double in_khz(double hz) { return cavum_in_unit(hz, CAVUM_UNIT_KHZ); }

static cavum_status write_waterfall(cavum_html *html, const cavum_steps_result *result,
                                    cavum_error *error) {
  const cavum_draw_request request = {.kind = CAVUM_CANVAS_SVG_FRAGMENT,
                                      .image_scale = 1.0,
                                      .no_heading = true,
                                      .prefix = "waterfall"};
  char *svg = NULL;
  size_t size = 0;
  cavum_html_heading(html, 2, "waterfall", "Waterfall");
  cavum_status status = cavum_steps_view_draw(&svg, &size, result, &request, error);
  if (status != CAVUM_OK) return status;
  cavum_html_picture(html, svg, "Frequency after each step, from that of the drawing.");
  free(svg);
  return CAVUM_OK;
}

static void write_bench(cavum_html *html, const cavum_steps_result *result) {
  static const char *const columns[] = {"after step", "#aim in MHz", "#tolerance in kHz",
                                        "#measured in MHz", "#deviation in kHz"};
  cavum_html_heading(html, 2, "bench", "At the bench");
  cavum_html_begin_table(html, "What to aim for after each step", 5, columns);
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    char cells[4][96];
    write_number(cells[0], "%.4f", cavum_in_mhz(step->aim_hz));
    write_number(cells[1], "%.1f", in_khz(step->tolerance_hz));
    if (step->tolerance_hz == 0.0) snprintf(cells[1], sizeof cells[1], "none");
    write_number(cells[2], "%.4f", cavum_in_mhz(step->measured_hz));
    write_number(cells[3], "%+.1f", in_khz(step->measured_hz - step->aim_hz));
    const char *row[] = {step->name, cells[0], cells[1], cells[2], cells[3]};
    cavum_html_row(html, 5, row, columns);
  }
  cavum_html_end_table(html);
  if (result->contradiction[0]) cavum_html_paragraph(html, "caution", result->contradiction);
  cavum_html_paragraph(
      html, "note",
      "The tolerance of an aim leaves room for twice the uncertainty of the steps that follow, "
      "added in quadrature; none: they are less certain than the tolerance of the target.");
}

/** One of the tables of amounts. */
typedef struct amounts {
  const char *caption;
  size_t offset; /**< Of the amount in a step; NAN: none. */
  void (*write)(char text[CAVUM_STEP_AMOUNT_SIZE], const cavum_step *step);
} amounts;

static const amounts AMOUNTS[] = {
    {"What was done, as measured", offsetof(cavum_step, found_amount), cavum_step_write_found},
    {"What leads to the target, each step by itself, with the slope after the step",
     offsetof(cavum_step, next_amount), cavum_step_write_next}};
enum { NUM_AMOUNTS = sizeof AMOUNTS / sizeof *AMOUNTS };

static bool has_amount(const cavum_step *step, const amounts *of) {
  double amount;
  memcpy(&amount, (const char *)step + of->offset, sizeof amount);
  return isfinite(amount);
}

static bool any_amount(const cavum_steps_result *result, const amounts *of) {
  for (int i = 0; i < result->num_steps; i++) {
    if (has_amount(result->steps[i], of)) return true;
  }
  return false;
}

static void write_amount_table(cavum_html *html, const cavum_steps_result *result,
                               const amounts *of) {
  static const char *const columns[] = {"step", "amount", "stated"};
  if (!any_amount(result, of)) return;
  cavum_html_begin_table(html, of->caption, 3, columns);
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    char amount[CAVUM_STEP_AMOUNT_SIZE], shown[2 * CAVUM_STEP_AMOUNT_SIZE];
    char stated[CAVUM_STEP_AMOUNT_SIZE], shown_stated[2 * CAVUM_STEP_AMOUNT_SIZE];
    if (!has_amount(step, of)) continue;
    of->write(amount, step);
    cavum_html_beautify(shown, sizeof shown, amount);
    cavum_step_write_stated(stated, step);
    cavum_html_beautify(shown_stated, sizeof shown_stated, stated);
    const char *row[] = {step->name, shown, shown_stated};
    cavum_html_row(html, 3, row, columns);
  }
  cavum_html_end_table(html);
}

static bool any_found(const cavum_steps_result *result) {
  for (int s = 0; s < result->num_sources; s++) {
    if (cavum_step_source_is_found(result->sources[s])) return true;
  }
  return false;
}

static void write_found(cavum_html *html, const cavum_steps_result *result) {
  static const char *const columns[] = {"source of uncertainty", "#found", "#u"};
  if (!any_found(result)) return;
  cavum_html_begin_table(html, "What the measurements say, in standard deviations", 3, columns);
  for (int s = 0; s < result->num_sources; s++) {
    const cavum_step_source *source = result->sources[s];
    char cells[2][96];
    if (!cavum_step_source_is_found(source)) continue;
    write_number(cells[0], "%+.2f", source->found);
    write_number(cells[1], "%.2f", source->found_uncertainty);
    const char *row[] = {source->name, cells[0], cells[1]};
    cavum_html_row(html, 3, row, columns);
  }
  cavum_html_end_table(html);
}

static bool any_amounts(const cavum_steps_result *result) {
  bool any = any_found(result);
  for (int k = 0; k < NUM_AMOUNTS; k++) any = any || any_amount(result, &AMOUNTS[k]);
  return any;
}

// What was done and what is left to do, by the measurements.
static void write_amounts(cavum_html *html, const cavum_steps_result *result) {
  if (!any_amounts(result)) return;
  cavum_html_heading(html, 2, "amounts", "What was done, and what is left to do");
  for (int k = 0; k < NUM_AMOUNTS; k++) write_amount_table(html, result, &AMOUNTS[k]);
  write_found(html, result);
}

static bool any_moved(const cavum_steps_result *result) {
  for (int i = 1; i < result->num_steps; i++) {
    if (result->steps[i]->solved) return true;
  }
  return false;
}

static void write_figures(cavum_html *html, const cavum_steps_result *result) {
  static const char *const columns[] = {"after step", "#R/Q in \xce\xa9", "#G in \xce\xa9",
                                        "#E_pk/E_acc", "#B_pk/E_acc in mT/(MV/m)"};
  static const cavum_figure_id ids[] = {CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_FIGURE_GEOMETRY_FACTOR,
                                        CAVUM_FIGURE_EPK_OVER_EACC, CAVUM_FIGURE_BPK_OVER_EACC};
  if (!any_moved(result)) return;
  cavum_html_heading(html, 2, "figures", "Other figures");
  cavum_html_begin_table(html, "In vacuum, of each shape that was solved", 5, columns);
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    char cells[4][96];
    if (!step->solved) continue;
    for (int k = 0; k < 4; k++) {
      const cavum_figure *figure = &step->figures[ids[k]];
      cavum_quantity_unit unit = cavum_quantity_unit_of(ids[k], figure->value);
      char number[CAVUM_QUANTITY_SIZE] = DASH;
      double value = cavum_in_unit(figure->value, unit.conversion);
      if (figure->state == CAVUM_FIGURE_PRESENT && figure->uncertainty > 0.0) {
        cavum_quantity_format(number, value, cavum_in_unit(figure->uncertainty, unit.conversion));
      } else if (figure->state == CAVUM_FIGURE_PRESENT) {
        snprintf(number, sizeof number, "%#.6g", value);  // Files have no uncertainty.
      }
      cavum_html_beautify(cells[k], sizeof cells[k], number);
    }
    const char *row[] = {step->name, cells[0], cells[1], cells[2], cells[3]};
    cavum_html_row(html, 5, row, columns);
  }
  cavum_html_end_table(html);
}

// The modes of halves between plates, as the waterfalls show them.
static void write_halves(cavum_html *html, const cavum_steps_result *result) {
  static const char *const columns[] = {
      "after step",      "#0 mode in MHz", "#u in kHz",   "#aim in MHz",      "#measured in MHz",
      "#pi mode in MHz", "#u in kHz",      "#aim in MHz", "#measured in MHz", "#k_cc in %"};
  if (!isfinite(result->steps[0]->zero_hz)) return;
  cavum_html_heading(html, 2, "halves", "Halves between plates");
  cavum_html_begin_table(html,
                         "Two halves joined at the iris, between conducting plates; one alone has "
                         "the 0 mode",
                         10, columns);
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *s = result->steps[i];
    const double mhz[] = {s->zero_hz, s->zero_aim_hz, s->measured_zero_hz,
                          s->pi_hz,   s->pi_aim_hz,   s->measured_pi_hz};
    char cells[6][96], u[2][96], coupling[96];
    for (int k = 0; k < 6; k++) write_number(cells[k], "%.4f", cavum_in_mhz(mhz[k]));
    write_number(u[0], "%.1f", in_khz(s->zero_uncertainty_hz));
    write_number(u[1], "%.1f", in_khz(s->pi_uncertainty_hz));
    write_number(coupling, "%.4f", cavum_in_percent(s->coupling));
    const char *row[] = {s->name,  cells[0], u[0],     cells[1], cells[2],
                         cells[3], u[1],     cells[4], cells[5], coupling};
    cavum_html_row(html, 10, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_steps(cavum_html *html, const cavum_steps_result *result) {
  static const char *const columns[] = {"step",      "#change in kHz", "#by derivative",
                                        "#f in MHz", "#u in kHz",      "#expected in MHz",
                                        "#u in kHz", "what it does"};
  cavum_html_heading(html, 2, "steps", "Steps");
  cavum_html_begin_table(html,
                         "From the drawing; f: as measured, with the gas that is in the cell; u: "
                         "standard uncertainty",
                         8, columns);
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    char cells[6][96], what[2 * CAVUM_STEP_LINE_SIZE + 8], shown[4 * CAVUM_STEP_LINE_SIZE];
    write_number(cells[0], "%+.1f", i > 0 ? in_khz(step->change_hz) : NAN);
    write_number(cells[1], "%+.1f", in_khz(step->estimate_hz));
    write_number(cells[2], "%.4f", cavum_in_mhz(step->frequency_hz));
    write_number(cells[3], "%.1f", in_khz(step->uncertainty_hz));
    write_number(cells[4], "%.4f", cavum_in_mhz(step->expected_hz));
    write_number(cells[5], "%.1f", in_khz(step->expected_uncertainty_hz));
    snprintf(what, sizeof what, "%s%s%s", step->what, step->reason[0] ? "; " : "", step->reason);
    cavum_html_beautify(shown, sizeof shown, what);
    const char *row[] = {step->name, cells[0], cells[1], cells[2],
                         cells[3],   cells[4], cells[5], shown};
    cavum_html_row(html, 8, row, columns);
  }
  cavum_html_end_table(html);
  if (result->not_stated[0]) cavum_html_paragraph(html, "caution", result->not_stated);
}

static void write_head(cavum_html *html, const cavum_steps_result *result) {
  char text[256];
  fputs("<header><h1>", html->out);
  cavum_markup_write(html->out, result->title[0] ? result->title : "Steps");
  fputs("</h1>\n<p class=\"lead\">From the drawing to the cold cavity.</p>\n", html->out);
  if (isfinite(result->target_hz)) {
    snprintf(text, sizeof text, "Mode %s. Target after the last step: %.6f MHz.",
             result->label[0] ? result->label : "without a label", cavum_in_mhz(result->target_hz));
  } else {
    snprintf(text, sizeof text, "Mode %s.", result->label[0] ? result->label : "without a label");
  }
  cavum_html_paragraph(html, "", text);
  cavum_html_paragraph(html, "",
                       "These are numbers and no safety function: acids, cryogens and vessels "
                       "under pressure are handled by the rules of the site.");
  fprintf(html->out,
          "</header>\n<nav aria-label=\"Contents\"><ul>\n"
          "<li><a href=\"#waterfall\">Waterfall</a></li>\n<li><a href=\"#bench\">At the "
          "bench</a></li>\n"
          "%s<li><a href=\"#steps\">Steps</a></li>\n%s%s</ul></nav>\n",
          isfinite(result->steps[0]->zero_hz)
              ? "<li><a href=\"#halves\">Halves between plates</a></li>\n"
              : "",
          any_amounts(result) ? "<li><a href=\"#amounts\">What was done, and what is left to "
                                "do</a></li>\n"
                              : "",
          any_moved(result) ? "<li><a href=\"#figures\">Other figures</a></li>\n" : "");
}

cavum_status cavum_report_steps_file(char **bytes, size_t *size, const char *path,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_html html = {0};
  cavum_steps_result *result = NULL;
  CAVUM_TRY(cavum_stored_steps_read(&result, path, error));
  CAVUM_TRY(cavum_html_create(&html, result->title[0] ? result->title : "Steps", error));
  write_head(&html, result);
  CAVUM_TRY(write_waterfall(&html, result, error));
  write_bench(&html, result);
  write_halves(&html, result);
  write_steps(&html, result);
  write_amounts(&html, result);
  write_figures(&html, result);
  CAVUM_TRY(cavum_html_finish(bytes, size, &html, error));
done:
  cavum_html_clear(&html);
  cavum_steps_result_destroy(&result);
  return status;
}
