// SPDX-License-Identifier: GPL-3.0-or-later
// The table of a result: one line a mode, and on request every figure as a row, one block a mode:
// value, uncertainty, unit, where a peak is.
#include "cli/table.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

#include "base/units.h"
#include "cavum/geometry.h"
#include "cli/colour.h"
#include "cli/table_derivatives.h"
#include "cli/table_geometry.h"
#include "cli/table_modes.h"
#include "format/quantity.h"

enum { NAME_WIDTH = 37, VALUE_WIDTH = 18, KEY_WIDTH = 13, LINE_WIDTH = 80 };

// A text between the switches of a role.
static void print_in(FILE *out, cavum_print_role role, const char *text) {
  fprintf(out, "%s%s%s", cavum_colour(out, role), text, cavum_colour(out, CAVUM_PRINT_END));
}

static void print_mesh_line(FILE *out, const cavum_result *result) {
  fprintf(out, "%-*s%d elements, degree %d, %d unknowns%s\n", KEY_WIDTH, "mesh",
          (int)result->mesh.num_elements, result->degree, (int)result->num_unknowns,
          result->half_model ? ", half the cell by mirror symmetry" : "");
}

// A limit in MHz to eight digits, by floor() or ceil() so that no more is said than is known.
static double limit_mhz(double hz, double (*round)(double)) {
  double mhz = cavum_in_mhz(hz), digit = pow(10.0, floor(log10(mhz)) - 7.0);
  return digit * round(mhz / digit);
}

static void print_completeness(FILE *out, const cavum_result *result) {
  if (!(result->complete_below_hz > 0.0)) return;
  fprintf(out, "%-*s", KEY_WIDTH, "modes");
  if (result->complete_above_hz > 0.0) {
    fprintf(out, "no mode missed from %.8g to %.8g MHz", limit_mhz(result->complete_above_hz, ceil),
            limit_mhz(result->complete_below_hz, floor));
  } else {
    fprintf(out, "no mode missed below %.8g MHz", limit_mhz(result->complete_below_hz, floor));
  }
  fprintf(out, " (counted)\n");
}

// The degrees tried on each mesh: "degree 4 to 7 on 40 elements, ...".
static void print_steps(FILE *out, const cavum_result *result) {
  const cavum_convergence_step *steps = result->steps;
  for (int first = 0, last = 0; first < result->num_steps; first = last + 1) {
    for (last = first; last + 1 < result->num_steps; last++) {
      if (steps[last + 1].num_elements != steps[first].num_elements) break;
    }
    fprintf(out, "%sdegree %d", first == 0 ? "" : ", ", steps[first].degree);
    if (last > first) fprintf(out, " to %d", steps[last].degree);
    fprintf(out, " on %d elements", (int)steps[first].num_elements);
  }
}

static void print_accuracy(FILE *out, const cavum_result *result, const cavum_cell *cell) {
  bool reached = result->accuracy_reached;
  fprintf(out, "%-*s%s%s%s: %.3g of f, %.3g of other figures\n", KEY_WIDTH, "accuracy",
          cavum_colour(out, reached ? CAVUM_PRINT_GOOD : CAVUM_PRINT_BAD),
          reached ? "reached" : "NOT REACHED", cavum_colour(out, CAVUM_PRINT_END),
          cell->accuracy_frequency, cell->accuracy_other_figures);
}

static void print_head(FILE *out, const cavum_result *result, const cavum_cell *cell) {
  const cavum_accelerating_length *length = &result->accelerating_length;
  if (result->title && result->title[0]) {
    print_in(out, CAVUM_PRINT_HEAD, result->title);
    fputs("\n\n", out);
  }
  fprintf(out, "%-*s%.12g\n", KEY_WIDTH, "beta", result->beta);
  if (length->value_m > 0.0) {
    fprintf(out, "%-*s%.9g mm (%s)\n", KEY_WIDTH, "L_acc", cavum_in_mm(length->value_m),
            length->from ? length->from : "");
  }
  print_accuracy(out, result, cell);
  print_completeness(out, result);
}

// How it was computed.
static void print_computation(FILE *out, const cavum_result *result) {
  fputc('\n', out);
  print_mesh_line(out, result);
  if (result->num_steps < 2) return;
  const cavum_convergence_step *last = &result->steps[result->num_steps - 1];
  fprintf(out, "%-*s", KEY_WIDTH, "convergence");
  print_steps(out, result);
  fprintf(out, "\n%-*slast step changed f by %.1e, other figures by %.1e\n", KEY_WIDTH, "",
          fabs(last->frequency_change), fabs(last->figure_change));
}

// One row; what is followed by nothing is not padded.
static void print_row(FILE *out, const char *name, const char *value, const char *unit,
                      const char *remark) {
  fprintf(out, "  %-*s", NAME_WIDTH, name);
  if (!unit[0] && !remark[0]) {
    fprintf(out, "%s\n", value);
  } else if (!remark[0]) {
    fprintf(out, "%-*s %s\n", VALUE_WIDTH, value, unit);
  } else {
    fprintf(out, "%-*s %-9s %s\n", VALUE_WIDTH, value, unit, remark);
  }
}

enum { REMARK_SIZE = 96 };

// Where a figure is, or what its number rests on.
static void write_remark(char remark[REMARK_SIZE], const cavum_figure *figure) {
  char basis[CAVUM_BASIS_SIZE];
  cavum_quantity_basis(basis, figure);
  snprintf(remark, REMARK_SIZE, "%s", basis);
  if (!figure->has_position) return;
  snprintf(remark, REMARK_SIZE, "at z = %.3f mm, r = %.3f mm", cavum_in_mm(figure->at.z_m),
           cavum_in_mm(figure->at.r_m));
}

// The number of a figure, without its unit.
static cavum_quantity_unit write_figure(char text[CAVUM_QUANTITY_SIZE], cavum_figure_id id,
                                        const cavum_mode_result *mode, const double accuracies[2]) {
  const cavum_figure shown = cavum_quantity_shown_figure(mode->figures, id), *figure = &shown;
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit(id, figure->value);
  // A small difference of large numbers, or a fit, is not what the accuracy was asked of.
  bool own = figure->basis == CAVUM_BASIS_FIT || id == CAVUM_FIGURE_TUBE_CUT_FREQUENCY ||
             id == CAVUM_FIGURE_TUBE_CUT_R_OVER_Q;
  double accuracy = own ? 0.0 : accuracies[id == CAVUM_FIGURE_FREQUENCY ? 0 : 1];
  cavum_quantity_format_to(text, cavum_in_unit(figure->value, unit.conversion),
                           cavum_in_unit(figure->uncertainty, unit.conversion), accuracy);
  return unit;
}

static void print_figure(FILE *out, cavum_figure_id id, const cavum_mode_result *mode,
                         const double accuracies[2]) {
  const cavum_figure *figure = &mode->figures[id];
  const char *name = cavum_figure_describe(id).long_name;
  char text[CAVUM_QUANTITY_SIZE], remark[REMARK_SIZE];
  write_remark(remark, figure);
  if (figure->state == CAVUM_FIGURE_UNBOUNDED) {
    print_row(out, name, "unbounded", "", remark);
    return;
  }
  cavum_quantity_unit unit = write_figure(text, id, mode, accuracies);
  print_row(out, name, text, unit.name, remark);
}

// Where E_z has one sign both transit-time factors are one number, which then stands once.
static bool repeats(const cavum_mode_result *mode, int id, const double accuracies[2]) {
  char texts[2][CAVUM_QUANTITY_SIZE];
  const cavum_figure *one = &mode->figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR];
  if (id != CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS || one->state != CAVUM_FIGURE_PRESENT)
    return false;
  (void)write_figure(texts[0], CAVUM_FIGURE_TRANSIT_TIME_FACTOR, mode, accuracies);
  (void)write_figure(texts[1], CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, mode, accuracies);
  return strcmp(texts[0], texts[1]) == 0;
}

static const char *parity_text(cavum_parity parity) {
  switch (parity) {
    case CAVUM_PARITY_EVEN:
      return ", E_z even about the mirror plane";
    case CAVUM_PARITY_ODD:
      return ", E_z odd about the mirror plane";
    case CAVUM_PARITY_NONE:
      break;
  }
  return "";
}

static void print_mode(FILE *out, int number, const cavum_mode_result *mode,
                       const double accuracies[2]) {
  char mismatch[16], title[160];
  snprintf(title, sizeof title, "Mode %d%s%.40s%s", number, mode->label[0] ? ": " : "", mode->label,
           parity_text(mode->parity));
  fputc('\n', out);
  print_in(out, CAVUM_PRINT_HEAD, title);
  if (!mode->accuracy_reached) {
    fputc(' ', out);
    print_in(out, CAVUM_PRINT_BAD, "(ACCURACY NOT REACHED)");
  }
  fputc('\n', out);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (mode->figures[id].state == CAVUM_FIGURE_ABSENT || repeats(mode, id, accuracies)) continue;
    print_figure(out, (cavum_figure_id)id, mode, accuracies);
  }
  snprintf(mismatch, sizeof mismatch, "%.1e", mode->energy_mismatch);
  print_row(out, "energy mismatch |U_E - U_H| / U_H", mismatch, "", "");
}

static void print_coupling_row(FILE *out, const char *name, double value, double uncertainty,
                               const char *unit, double accuracy) {
  char text[CAVUM_QUANTITY_SIZE];
  cavum_quantity_format_to(text, value, uncertainty, accuracy);
  print_row(out, name, text, unit, "");
}

static void print_coupling(FILE *out, const cavum_result *result, const double accuracies[2]) {
  if (result->coupling.state != CAVUM_FIGURE_PRESENT) return;
  fputc('\n', out);
  print_in(out, CAVUM_PRINT_HEAD,
           result->coupling_without_tubes ? "Cell-to-cell coupling of the inner cell, without tubes"
                                          : "Cell-to-cell coupling");
  fputc('\n', out);
  print_coupling_row(out, "k_cc", cavum_in_percent(result->coupling.value),
                     cavum_in_percent(result->coupling.uncertainty), "%", accuracies[1]);
  print_coupling_row(out, "0 mode, both ends electric", cavum_in_mhz(result->zero_mode_hz),
                     cavum_in_mhz(result->zero_mode_uncertainty_hz), "MHz", accuracies[0]);
  print_coupling_row(out, "pi mode, both ends magnetic", cavum_in_mhz(result->pi_mode_hz),
                     cavum_in_mhz(result->pi_mode_uncertainty_hz), "MHz", accuracies[0]);
}

static bool appears(const cavum_result *result, int id, bool all) {
  if (!all && !cavum_table_modes_shows((cavum_figure_id)id)) return false;
  for (int i = 0; i < result->num_modes; i++) {
    if (result->modes[i].figures[id].state != CAVUM_FIGURE_ABSENT) return true;
  }
  return false;
}

static const char SYMBOLS[] =
    "  U is the stored energy, omega = 2 pi f,\n"
    "  V = |int E_z(0,z) exp(j omega z / (beta c)) dz| over the whole axis, E_acc = V / L_acc;\n"
    "  peak phasors, vacuum; integrals over metal only. 1.2345(12) is 1.2345 +- 0.0012: the\n"
    "  numerical uncertainty of this shape, rounded up. It does not include manufacture,\n"
    "  temperature or material.\n";

static void print_definitions(FILE *out, const cavum_result *result, const cavum_cell *cell,
                              bool all) {
  fputc('\n', out);
  print_in(out, CAVUM_PRINT_HEAD, "Definitions");
  fputc('\n', out);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (!appears(result, id, all)) continue;
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    // What would go beyond the line stands below its name.
    bool fits = 2 + NAME_WIDTH + strlen(info.definition) <= LINE_WIDTH;
    if (fits) {
      fprintf(out, "  %-*s%s\n", NAME_WIDTH, info.long_name, info.definition);
    } else {
      fprintf(out, "  %s\n      %s\n", info.long_name, info.definition);
    }
  }
  if (result->coupling.state == CAVUM_FIGURE_PRESENT) {
    fprintf(out, "  %-*s%s\n", NAME_WIDTH, "k_cc", "2 (f_pi - f_0) / (f_pi + f_0)");
  }
  fputs(SYMBOLS, out);
  if (cell->wall.kind == CAVUM_WALL_NIOBIUM && all) {
    fputs(
        "  R_s of niobium comes from a fit. Its uncertainty is how well the fit agrees with\n"
        "  theory; figures \"with R_s of the fit\" are shown with it. Files have the numerical\n"
        "  part alone.\n",
        out);
  }
}

// What else can be asked for; a file or another program is told nothing.
static void print_hint(FILE *out, const cavum_table_choice *choice) {
  int number = fileno(out);
  if (choice->all || number < 0 || !isatty(number)) return;
  fputc('\n', out);
  print_in(out, CAVUM_PRINT_ASIDE,
           "--all shows every figure, --all-digits all digits, --definitions what they mean.");
  fputc('\n', out);
}

// A mesh file has no exact outline to be measured.
static void print_geometry(FILE *out, const cavum_result *result, const cavum_cell *cell,
                           double accuracy) {
  cavum_geometry *geometry = NULL;
  bool derivatives = result->num_dimensions > 0;
  if (cavum_geometry_measure(&geometry, cell, derivatives, NULL) != CAVUM_OK) return;
  cavum_table_geometry_print(out, geometry, accuracy);
  cavum_geometry_destroy(&geometry);
}

void cavum_table_print(FILE *out, const cavum_result *result, const cavum_cell *cell,
                       const cavum_table_choice *choice) {
  double accuracies[2] = {choice->all_digits ? 0.0 : cell->accuracy_frequency,
                          choice->all_digits ? 0.0 : cell->accuracy_other_figures};
  print_head(out, result, cell);
  fputc('\n', out);
  cavum_table_modes_print(out, result, accuracies);
  if (choice->all) {
    print_computation(out, result);
    for (int i = 0; i < result->num_modes; i++) {
      print_mode(out, i + 1, &result->modes[i], accuracies);
    }
  }
  print_coupling(out, result, accuracies);
  cavum_table_derivatives_print(out, result, choice->all_digits);
  if (choice->all) print_geometry(out, result, cell, accuracies[1]);
  if (result->num_warnings > 0) {
    fputc('\n', out);
    print_in(out, CAVUM_PRINT_CAUTION, "Warnings");
    fputc('\n', out);
  }
  for (int i = 0; i < result->num_warnings; i++) fprintf(out, "  %s\n", result->warnings[i]);
  if (choice->definitions) print_definitions(out, result, cell, choice->all);
  print_hint(out, choice);
}

void cavum_table_print_figures(FILE *out) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    fprintf(out, "%s%s%s\n  %s\n  %s\n", cavum_colour(out, CAVUM_PRINT_HEAD), info.long_name,
            cavum_colour(out, CAVUM_PRINT_END), info.definition, info.key);
  }
  fprintf(out, "\n%s", SYMBOLS);
}
