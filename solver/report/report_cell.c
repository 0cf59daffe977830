// SPDX-License-Identifier: GPL-3.0-or-later
// The report of a cell: what was asked, what came out with its definitions, how far it converged.
#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/ticks.h"
#include "cavum/cell_key.h"
#include "cavum/geometry.h"
#include "cavum/picture.h"
#include "format/key_words.h"
#include "format/mend.h"
#include "format/quantity.h"
#include "format/shape_unit.h"
#include "report/formula.h"
#include "report/report_private.h"

static const char uncertainty_note[] =
    "1.2345(12) stands for 1.2345 \xc2\xb1 0.0012: the numerical uncertainty of this mathematical "
    "shape, rounded up. It holds no tolerance of manufacture, temperature or material. U is the "
    "stored energy, omega = 2 pi f, V = |int E_z(0,z) exp(j omega z / (beta c)) dz| over the whole "
    "axis, "
    "E_acc = V / L_acc; peak phasors; integrals and peaks over metal only.";

static bool has_coupling(const cavum_result *result) {
  return result->coupling.state == CAVUM_FIGURE_PRESENT;
}

/** Which sections a report has beside those of all. */
typedef struct page_parts {
  bool requirements, search, shape;
} page_parts;

static void write_navigation(cavum_html *html, const cavum_result *result, page_parts parts) {
  fputs("<nav aria-label=\"Contents\"><ul>\n<li><a href=\"#summary\">Summary</a></li>\n",
        html->out);
  if (parts.shape) fputs("<li><a href=\"#shape\">Shape</a></li>\n", html->out);
  if (parts.requirements) {
    fputs("<li><a href=\"#requirements\">Requirements</a></li>\n", html->out);
  }
  if (parts.search) fputs("<li><a href=\"#search\">Search</a></li>\n", html->out);
  for (int i = 1; i <= result->num_modes && i <= 12; i++) {
    fprintf(html->out, "<li><a href=\"#mode-%d\">Mode %d</a></li>\n", i, i);
  }
  if (result->num_modes > 12) {
    fprintf(html->out, "<li>\xe2\x80\xa6 <a href=\"#mode-%d\">Mode %d</a></li>\n",
            result->num_modes, result->num_modes);
  }
  if (has_coupling(result)) fputs("<li><a href=\"#coupling\">Coupling</a></li>\n", html->out);
  fputs(
      "<li><a href=\"#convergence\">Convergence</a></li>\n"
      "<li><a href=\"#input\">Input</a></li>\n"
      "<li><a href=\"#provenance\">Provenance</a></li>\n</ul></nav>\n",
      html->out);
}

static void write_head(cavum_html *html, const cavum_result *result, page_parts parts) {
  fputs("<header><h1>", html->out);
  cavum_markup_write(html->out, result->title && result->title[0] ? result->title : "Cell");
  fprintf(
      html->out,
      "</h1>\n<p class=\"lead\">Modes and figures of merit of an accelerating cavity cell.</p>"
      "\n<p><span class=\"state %s\">%s</span></p>\n</header>\n",
      result->accuracy_reached ? "good" : "bad",
      result->accuracy_reached ? "accuracy asked for: reached" : "accuracy asked for: not reached");
  write_navigation(html, result, parts);
  if (result->num_warnings == 0) return;
  fputs("<div class=\"caution\" role=\"note\"><strong>Cautions</strong><ul>\n", html->out);
  for (int i = 0; i < result->num_warnings; i++) {
    fputs("<li>", html->out);
    cavum_formula_write(html->out, result->warnings[i], false);
    fputs("</li>\n", html->out);
  }
  fputs("</ul></div>\n", html->out);
}

static void write_summary_row(cavum_html *html, const cavum_result *result, int number,
                              const char *const *columns) {
  static const cavum_figure_id ids[] = {CAVUM_FIGURE_FREQUENCY,       CAVUM_FIGURE_R_OVER_Q_LINAC,
                                        CAVUM_FIGURE_GEOMETRY_FACTOR, CAVUM_FIGURE_EPK_OVER_EACC,
                                        CAVUM_FIGURE_BPK_OVER_EACC,   CAVUM_FIGURE_Q0};
  const cavum_mode_result *mode = &result->modes[number - 1];
  char name[64], values[6][96], unit[24];
  const char *cells[7] = {name};
  snprintf(name, sizeof name, "%d%s%s%s", number, mode->label[0] ? "\xc2\xa0" : "", mode->label,
           mode->accuracy_reached ? "" : ", accuracy not reached");
  for (int i = 0; i < 6; i++) {
    const cavum_figure shown = cavum_quantity_shown_figure(mode->figures, ids[i]);
    cavum_html_format_figure(values[i], unit, &shown, ids[i]);
    if (!values[i][0]) snprintf(values[i], sizeof values[i], "\xe2\x80\x93");
    cells[i + 1] = values[i];
  }
  cavum_html_row(html, 7, cells, columns);
}

static bool has_fitted_q0(const cavum_mode_result *mode) {
  const cavum_figure *q0 = &mode->figures[CAVUM_FIGURE_Q0];
  return q0->state == CAVUM_FIGURE_PRESENT && q0->basis == CAVUM_BASIS_WITH_FIT;
}

// "2 x half_length" with its sign and without the underscore of the key.
static void write_origin(char *to, size_t size, const char *from) {
  size_t n = 0;
  for (const char *c = from; *c && n + 3 < size; c++) {
    bool times = *c == 'x' && c > from && c[-1] == ' ' && c[1] == ' ';
    if (times) {
      to[n++] = '\xc3';
      to[n++] = '\x97';
    } else {
      to[n++] = *c == '_' ? ' ' : *c;
    }
  }
  to[n] = '\0';
}

static void write_summary(cavum_html *html, const cavum_result *result) {
  static const char *const columns[] = {"mode",
                                        "#f in MHz",
                                        "#R/Q (linac) in \xce\xa9",
                                        "#G in \xce\xa9",
                                        "#E_pk/E_acc",
                                        "#B_pk/E_acc in mT/(MV/m)",
                                        "#Q0",
                                        "accuracy"};
  char text[320];
  cavum_html_heading(html, 2, "summary", "Summary");
  snprintf(text, sizeof text, "Particle speed over c: %.12g. ", result->beta);
  size_t used = strlen(text);
  if (result->accelerating_length.value_m > 0.0) {
    char from[96];
    write_origin(from, sizeof from, result->accelerating_length.from);
    snprintf(text + used, sizeof text - used, "Accelerating length L_acc: %.6g mm (%s).",
             cavum_in_mm(result->accelerating_length.value_m), from);
  }
  cavum_html_paragraph(html, "", text);
  cavum_html_begin_table(html, "Modes by rising frequency", 7, columns);
  for (int i = 1; i <= result->num_modes; i++) write_summary_row(html, result, i, columns);
  cavum_html_end_table(html);
  cavum_html_paragraph(html, "note", uncertainty_note);
  if (result->num_modes > 0 && has_fitted_q0(&result->modes[0])) {
    cavum_html_paragraph(html, "note",
                         "Q0 is G / R_s with R_s of the fit. Q0, the shunt impedance and the "
                         "dissipated power are no more certain than R_s: its uncertainty is in "
                         "theirs.");
  }
  if (result->complete_below_hz > 0.0) {
    snprintf(
        text, sizeof text,
        "Completeness: every mode between %.9g MHz and %.9g MHz is here: their number was counted, "
        "by a factorisation at the upper end, and none is missing.",
        cavum_in_mhz(result->complete_above_hz), cavum_in_mhz(result->complete_below_hz));
    cavum_html_paragraph(html, "", text);
  }
}

// Bytes of what mends a requirement.
enum { MEND_SIZE = 1024 };

// What requirements are judged by.
typedef struct judged_cell {
  const cavum_result *result;
  const cavum_cell *cell;  // NULL where it cannot be read any more
  const cavum_stored_origin *origin;
} judged_cell;

// "equator radius -0.0661 mm" with a minus sign. False where a derivative does not reach so far.
static bool write_mend(char mend[MEND_SIZE], const cavum_verdict *v, const cavum_cell *cell) {
  char text[CAVUM_MEND_SIZE], number[CAVUM_MEND_SIZE], words[CAVUM_CELL_KEY_SIZE];
  double value = NAN;
  mend[0] = '\0';
  if (!v->dimension[0]) return false;
  if (cell) (void)cavum_cell_get(&value, cell, v->dimension, NULL);  // NAN: not known
  bool linear = cavum_mend_write(text, v, value);
  cavum_key_words(words, sizeof words, v->dimension);
  // The unit stands behind the number, which ends at the first blank.
  size_t length = strcspn(text, " ");
  snprintf(number, sizeof number, "%.*s %s%s", (int)length, text,
           cavum_unit_symbol(cavum_unit_of_key(v->dimension)), text + length);
  cavum_html_beautify(text, sizeof text, number);
  snprintf(mend, MEND_SIZE, "%s %s", words, text);
  return linear;
}

// The requirements that would be missed then, as far as there is room; dots stand for the rest.
static void add_broken(char mend[MEND_SIZE], const cavum_verdict *v, const judged_cell *judged) {
  const cavum_stored_origin *origin = judged->origin;
  size_t length = strlen(mend);
  int count = 0;
  for (int i = 0; judged->cell && i < origin->num_requirements; i++) {
    const cavum_requirement *other = &origin->requirements[i].requirement;
    char name[CAVUM_REPORT_NAME_SIZE];
    if (!cavum_requirement_breaks(other, v, judged->cell, judged->result, 0)) continue;
    cavum_report_name_requirement(name, other);
    if (length + strlen(name) + sizeof ", but break  \xe2\x80\xa6" > MEND_SIZE) {
      snprintf(mend + length, MEND_SIZE - length, " \xe2\x80\xa6");
      return;
    }
    length += (size_t)snprintf(mend + length, MEND_SIZE - length, "%s%s",
                               count++ == 0 ? ", but break " : ", ", name);
  }
}

static void write_requirement(cavum_html *html, const cavum_stored_requirement *of,
                              const judged_cell *judged, const char *const *columns) {
  const cavum_verdict *v = &of->verdict;
  char value[CAVUM_QUANTITY_SIZE] = "\xe2\x80\x93", bounds[CAVUM_BOUNDS_SIZE], by[CAVUM_MEND_SIZE],
       mend[MEND_SIZE], name[CAVUM_REPORT_NAME_SIZE];
  char true_value[96], true_by[CAVUM_MEND_SIZE] = "", true_bounds[CAVUM_BOUNDS_SIZE + 32];
  bool known = v->kind != CAVUM_VERDICT_ABSENT;
  cavum_quantity_bounds(bounds, of->requirement.least, of->requirement.most);
  if (known && isfinite(v->value)) cavum_quantity_format(value, v->value, v->uncertainty);
  if (known && isinf(v->value)) snprintf(value, sizeof value, "unbounded");
  cavum_margin_write_amount(by, v);
  cavum_report_name_requirement(name, &of->requirement);
  if (write_mend(mend, v, judged->cell)) add_broken(mend, v, judged);
  cavum_html_beautify(true_value, sizeof true_value, value);
  cavum_html_beautify(true_bounds, sizeof true_bounds, bounds);
  if (by[0]) cavum_html_beautify(true_by, sizeof true_by, by);
  const char *cells[] = {name, true_value, true_bounds, cavum_verdict_word(v->kind), true_by, mend};
  cavum_html_row(html, 6, cells, columns);
}

static void write_requirements(cavum_html *html, const cavum_result *result,
                               const cavum_stored_origin *origin) {
  static const char *const columns[] = {"figure",  "#value", "required",
                                        "verdict", "#by",    "would be met by"};
  if (origin->num_requirements == 0) return;
  cavum_html_heading(html, 2, "requirements", "Requirements");
  cavum_html_begin_table(html, "Of the cell file, in the first mode", 6, columns);
  cavum_cell cell = {0};
  const char *text = origin->cell_text ? origin->cell_text : "";
  // A cell whose mesh file is gone has no dimensions that would mend anything.
  bool read = cavum_cell_read_text(&cell, text, strlen(text), NULL, NULL) == CAVUM_OK;
  const judged_cell judged = {result, read ? &cell : NULL, origin};
  for (int i = 0; i < origin->num_requirements; i++) {
    write_requirement(html, &origin->requirements[i], &judged, columns);
  }
  if (read) cavum_cell_clear(&cell);
  cavum_html_end_table(html);
  cavum_html_paragraph(
      html, "note",
      "Undecided: the uncertainty, that of a fit of R_s too, reaches over the bound. A missed "
      "requirement would be "
      "met by the dimension whose relative change is smallest, as far as its derivative tells; "
      "this is known for figures of the shape, and for others where the cell was solved with "
      "derivatives. Requirements that are met now and would then be missed are named, too.");
}

// What the cell file gives of the shape; NULL: it cannot be read any more, or is of a mesh file,
// which has no exact shape.
static cavum_geometry *measure_shape(const cavum_stored_origin *origin) {
  cavum_geometry *shape = NULL;
  cavum_cell cell = {0};
  const char *text = origin && origin->cell_text ? origin->cell_text : "";
  if (cavum_cell_read_text(&cell, text, strlen(text), NULL, NULL) != CAVUM_OK) return NULL;
  (void)cavum_geometry_measure(&shape, &cell, false, NULL);
  cavum_cell_clear(&cell);
  return shape;
}

static void write_shape(cavum_html *html, const cavum_geometry *shape) {
  static const char *const columns[] = {"figure", "#value", "unit", "definition"};
  if (!shape) return;
  fputs("<section class=\"mode\">\n", html->out);  // figures are laid out as those of a mode
  cavum_html_heading(html, 2, "shape", "Shape");
  cavum_html_begin_table(html, "Figures of the shape, exact but for rounding", 4, columns);
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    const cavum_geometry_info what = cavum_geometry_describe((cavum_geometry_id)id);
    cavum_shape_unit unit = cavum_shape_unit_of((cavum_geometry_id)id);
    char number[64], value[96], unit_text[48];
    if (isnan(shape->value[id])) continue;
    snprintf(number, sizeof number, "%.8g", shape->value[id] / unit.unit_si);
    cavum_html_beautify(value, sizeof value, number);
    cavum_html_beautify(unit_text, sizeof unit_text, unit.name);
    const char *row[] = {what.long_name, value, unit_text, what.definition};
    cavum_html_row(html, 4, row, columns);
  }
  cavum_html_end_table(html);
  fputs("</section>\n", html->out);
}

static void write_coupling(cavum_html *html, const cavum_result *result) {
  char text[384], value[CAVUM_QUANTITY_SIZE], zero[CAVUM_QUANTITY_SIZE], pi[CAVUM_QUANTITY_SIZE];
  if (!has_coupling(result)) return;
  cavum_html_heading(html, 2, "coupling",
                     result->coupling_without_tubes
                         ? "Cell-to-cell coupling of the inner cell, without tubes"
                         : "Cell-to-cell coupling");
  cavum_quantity_format(value, result->coupling.value, result->coupling.uncertainty);
  cavum_quantity_format(zero, cavum_in_mhz(result->zero_mode_hz),
                        cavum_in_mhz(result->zero_mode_uncertainty_hz));
  cavum_quantity_format(pi, cavum_in_mhz(result->pi_mode_hz),
                        cavum_in_mhz(result->pi_mode_uncertainty_hz));
  snprintf(text, sizeof text,
           "k_cc = 2 (f_pi - f_0) / (f_pi + f_0) = %s, with f_0 = %s MHz (both ends electric) and "
           "f_pi = %s MHz (both ends magnetic).",
           value, zero, pi);
  cavum_html_paragraph(html, "", text);
  cavum_report_write_coupling_derivatives(html, result);
}

static void write_change(char cell[40], double change) {
  char number[40];
  snprintf(number, sizeof number, "%.1e", change);
  cavum_html_beautify(cell, 40, number);
}

static void write_convergence(cavum_html *html, const cavum_result *result) {
  static const char *const columns[] = {"#degree",      "#elements",
                                        "#unknowns",    "#f of mode 1 in MHz",
                                        "#change of f", "#largest change of another figure"};
  bool refined = result->num_steps > 0 &&
                 result->steps[0].num_elements != result->steps[result->num_steps - 1].num_elements;
  cavum_html_heading(html, 2, "convergence", "Convergence");
  cavum_html_paragraph(
      html, "",
      refined
          ? "Each mesh was solved with rising polynomial degree, and a finer one followed where "
            "that did not do; the changes from degree to degree on one mesh are what the "
            "uncertainties are estimated from."
          : "The same mesh was solved with rising polynomial degree; the changes from step to "
            "step are what the uncertainties are estimated from.");
  cavum_html_begin_table(html, "Steps of the solution; changes are relative", 6, columns);
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_convergence_step *step = &result->steps[i];
    char cells[6][40];
    const char *row[6];
    snprintf(cells[0], 40, "%d", step->degree);
    snprintf(cells[1], 40, "%d", (int)step->num_elements);
    snprintf(cells[2], 40, "%d", (int)step->num_unknowns);
    snprintf(cells[3], 40, "%.6f", cavum_in_mhz(step->frequency_hz));
    write_change(cells[4], step->frequency_change);
    write_change(cells[5], step->figure_change);
    bool first = isnan(step->frequency_change);
    if (first) snprintf(cells[4], 40, "\xe2\x80\x93");
    if (first) snprintf(cells[5], 40, "\xe2\x80\x93");
    for (int k = 0; k < 6; k++) row[k] = cells[k];
    cavum_html_row(html, 6, row, columns);
  }
  cavum_html_end_table(html);
}

static cavum_status write_mesh(cavum_html *html, const cavum_result *result, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_scene scene = {0};
  char *svg = NULL, caption[160];
  size_t size = 0;
  const cavum_axis_curve no_axis = {0};
  const cavum_wall_plot no_wall = {0};
  const cavum_draw_request request = {.view = CAVUM_VIEW_MESH,
                                      .size = CAVUM_SIZE_TWO_COLUMNS,
                                      .section_height = CAVUM_REPORT_SECTION_HEIGHT,
                                      .kind = CAVUM_CANVAS_SVG_FRAGMENT,
                                      .image_scale = 1.0,
                                      .no_heading = true,
                                      .prefix = "mesh"};
  if (result->num_modes == 0 || result->modes[0].field.num_points == 0) return CAVUM_OK;
  CAVUM_TRY(cavum_scene_create(&scene, result, 1, error));
  CAVUM_TRY(cavum_draw_scene(&svg, &size, &scene, &no_axis, &no_wall, &request, error));
  snprintf(caption, sizeof caption, "The mesh: %d elements of degree %d, %d unknowns%s.",
           (int)result->mesh.num_elements, result->degree, (int)result->num_unknowns,
           result->half_model ? "; half of the cell by mirror symmetry" : "");
  cavum_html_picture(html, svg, caption);
done:
  free(svg);
  cavum_scene_clear(&scene);
  return status;
}

static void write_fact(cavum_html *html, const char *name, const char *format, double value) {
  static const char *const columns[] = {"what", "value"};
  char text[64], shown[96];
  snprintf(text, sizeof text, format, value);
  cavum_html_beautify(shown, sizeof shown, text);
  const char *cells[] = {name, shown};
  cavum_html_row(html, 2, cells, columns);
}

static void write_input(cavum_html *html, const cavum_stored_origin *origin) {
  static const char *const columns[] = {"what", "value"};
  const cavum_solve_options none = cavum_solve_options_default();
  const cavum_solve_options *options = origin->options ? origin->options : &none;
  cavum_html_heading(html, 2, "input", "Input");
  cavum_html_begin_table(html, "What was asked", 2, columns);
  write_fact(html, "modes", "%.0f", origin->modes_wanted);
  if (origin->near_hz > 0.0) {
    write_fact(html, "nearest to, in MHz", "%.9g", cavum_in_mhz(origin->near_hz));
  }
  write_fact(html, "relative accuracy of the frequency", "%.3g", origin->accuracy_frequency);
  write_fact(html, "relative accuracy of other figures", "%.3g", origin->accuracy_other_figures);
  if (options->degree > 0) write_fact(html, "degree asked for", "%.0f", options->degree);
  if (options->refinement > 0.0) {
    write_fact(html, "element sizes divided by", "%.4g", options->refinement);
  }
  if (!options->use_symmetry) {
    const char *cells[] = {"mirror symmetry", "not to be used"};
    cavum_html_row(html, 2, cells, columns);
  }
  cavum_html_end_table(html);
  cavum_html_heading(html, 3, "cell-file", "The cell file, as it was read");
  cavum_html_code(html, origin->cell_text ? origin->cell_text : "");
}

static void write_provenance(cavum_html *html, const cavum_stored_origin *origin) {
  static const char *const columns[] = {"what", "value"};
  const struct {
    const char *name, *value;
  } facts[] = {{"solved with cavum", origin->version_cavum},
               {"reported with cavum", cavum_version()},
               {"HDF5 library of the result file", origin->version_hdf5},
               {"SHA-256 of the cell file", origin->cell_sha256}};
  cavum_html_heading(html, 2, "provenance", "Provenance");
  cavum_html_begin_table(html, "Where this comes from", 2, columns);
  for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++) {
    const char *cells[] = {facts[i].name, facts[i].value ? facts[i].value : ""};
    cavum_html_row(html, 2, cells, columns);
  }
  cavum_html_end_table(html);
}

cavum_status cavum_picture_report_result(char **bytes, size_t *size, const cavum_result *result,
                                         const cavum_stored_origin *origin, cavum_error *error) {
  if (!bytes || !size || !result) return cavum_fail_null(error, __func__);
  return cavum_report_result(bytes, size, result, origin, NULL, error);
}

cavum_status cavum_report_result(char **bytes, size_t *size, const cavum_result *result,
                                 const cavum_stored_origin *origin, const cavum_optimum *optimum,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_html html = {0};
  cavum_report_limits limits = cavum_report_choose_limits(result->num_modes);
  cavum_geometry *shape = measure_shape(origin);
  const page_parts parts = {.requirements = origin && origin->num_requirements > 0,
                            .search = optimum != NULL,
                            .shape = shape != NULL};
  CAVUM_TRY(
      cavum_html_create(&html, result->title && result->title[0] ? result->title : "Cell", error));
  write_head(&html, result, parts);
  write_summary(&html, result);
  write_shape(&html, shape);
  if (origin) write_requirements(&html, result, origin);
  if (optimum) CAVUM_TRY(cavum_report_write_search(&html, optimum, result, error));
  for (int i = 1; i <= result->num_modes; i++) {
    CAVUM_TRY(cavum_report_write_mode(&html, result, i, &limits, error));
  }
  write_coupling(&html, result);
  write_convergence(&html, result);
  CAVUM_TRY(write_mesh(&html, result, error));
  if (origin) write_input(&html, origin);
  if (origin) write_provenance(&html, origin);
  CAVUM_TRY(cavum_html_finish(bytes, size, &html, error));
done:
  cavum_geometry_destroy(&shape);
  cavum_html_clear(&html);
  return status;
}
