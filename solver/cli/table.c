// SPDX-License-Identifier: GPL-3.0-or-later
// The table of a result: figures as rows, one block a mode, so that a block can go into a note as
// it stands: value, uncertainty, unit, where a peak is.
#include "cli/table.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "cli/table_derivatives.h"
#include "format/quantity.h"

enum { NAME_WIDTH = 38, VALUE_WIDTH = 24, KEY_WIDTH = 22 };

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
  fprintf(out, "%-*s", KEY_WIDTH, "completeness");
  if (result->complete_above_hz > 0.0) {
    fprintf(out, "every mode from %.8g to %.8g MHz is here",
            limit_mhz(result->complete_above_hz, ceil),
            limit_mhz(result->complete_below_hz, floor));
  } else {
    fprintf(out, "every mode below %.8g MHz is here", limit_mhz(result->complete_below_hz, floor));
  }
  fprintf(out, " (modes counted by inertia)\n");
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
  fprintf(out, "%-*s%s: asked %.1e of the frequency, %.1e of other figures\n", KEY_WIDTH,
          "relative accuracy", result->accuracy_reached ? "reached" : "NOT REACHED",
          cell->accuracy_frequency, cell->accuracy_other_figures);
  if (result->num_steps < 2) return;
  const cavum_convergence_step *last = &result->steps[result->num_steps - 1];
  fprintf(out, "%-*s", KEY_WIDTH, "convergence");
  print_steps(out, result);
  fprintf(out, "\n%-*slast step changed f by %.1e, other figures by %.1e\n", KEY_WIDTH, "",
          fabs(last->frequency_change), fabs(last->figure_change));
}

static void print_head(FILE *out, const cavum_result *result, const cavum_cell *cell) {
  const cavum_accelerating_length *length = &result->accelerating_length;
  fprintf(out, "%s\n\n", result->title && result->title[0] ? result->title : "(no title)");
  fprintf(out, "%-*s%.12g\n", KEY_WIDTH, "particle beta", result->beta);
  if (length->value_m > 0.0) {
    fprintf(out, "%-*s%.9g mm (%s)\n", KEY_WIDTH, "accelerating length",
            cavum_in_mm(length->value_m), length->from ? length->from : "");
  }
  print_mesh_line(out, result);
  print_accuracy(out, result, cell);
  print_completeness(out, result);
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

static void print_figure(FILE *out, cavum_figure_id id, const cavum_figure *figure) {
  const char *name = cavum_figure_describe(id).long_name;
  cavum_quantity_unit unit = cavum_quantity_unit_of(id, figure->value);
  char text[CAVUM_QUANTITY_SIZE], remark[REMARK_SIZE];
  write_remark(remark, figure);
  if (figure->state == CAVUM_FIGURE_UNBOUNDED) {
    print_row(out, name, "unbounded (sharp corner)", "", remark);
    return;
  }
  cavum_quantity_format(text, cavum_in_unit(figure->value, unit.conversion),
                        cavum_in_unit(figure->uncertainty, unit.conversion));
  print_row(out, name, text, unit.name, remark);
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

static void print_mode(FILE *out, int number, const cavum_mode_result *mode) {
  char mismatch[16];
  fprintf(out, "\nMode %d%s%s%s%s\n", number, mode->label[0] ? ": " : "", mode->label,
          parity_text(mode->parity), mode->accuracy_reached ? "" : " (ACCURACY NOT REACHED)");
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (mode->figures[id].state == CAVUM_FIGURE_ABSENT) continue;
    print_figure(out, (cavum_figure_id)id, &mode->figures[id]);
  }
  snprintf(mismatch, sizeof mismatch, "%.1e", mode->energy_mismatch);
  print_row(out, "energy mismatch |U_E - U_H| / U_H", mismatch, "", "");
}

static void print_coupling(FILE *out, const cavum_result *result) {
  char text[CAVUM_QUANTITY_SIZE];
  if (result->coupling.state != CAVUM_FIGURE_PRESENT) return;
  cavum_quantity_format(text, 100.0 * result->coupling.value, 100.0 * result->coupling.uncertainty);
  fprintf(out, "\nCell-to-cell coupling%s\n",
          result->coupling_without_tubes ? " of the inner cell, without tubes" : "");
  print_row(out, "k_cc", text, "%", "");
  cavum_quantity_format(text, cavum_in_mhz(result->zero_mode_hz),
                        cavum_in_mhz(result->zero_mode_uncertainty_hz));
  print_row(out, "0 mode, both ends electric", text, "MHz", "");
  cavum_quantity_format(text, cavum_in_mhz(result->pi_mode_hz),
                        cavum_in_mhz(result->pi_mode_uncertainty_hz));
  print_row(out, "pi mode, both ends magnetic", text, "MHz", "");
}

static bool appears(const cavum_result *result, int id) {
  for (int i = 0; i < result->num_modes; i++) {
    if (result->modes[i].figures[id].state != CAVUM_FIGURE_ABSENT) return true;
  }
  return false;
}

static void print_definitions(FILE *out, const cavum_result *result, const cavum_cell *cell) {
  fputs("\nDefinitions\n", out);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (!appears(result, id)) continue;
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    fprintf(out, "  %-*s%s\n", NAME_WIDTH, info.long_name, info.definition);
  }
  if (result->coupling.state == CAVUM_FIGURE_PRESENT) {
    fprintf(out, "  %-*s%s\n", NAME_WIDTH, "k_cc", "2 (f_pi - f_0) / (f_pi + f_0)");
  }
  fputs(
      "  U stored energy, w = 2 pi f, V = |int E_z(0,z) exp(j w z / (beta c)) dz| over the whole\n"
      "  axis, E_acc = V / accelerating length; peak phasors, vacuum; integrals over metal only.\n"
      "  1.2345(12) is 1.2345 +- 0.0012: the numerical uncertainty of this shape, rounded up.\n"
      "  It holds no tolerance of manufacture, temperature or material.\n",
      out);
  if (cell->wall.kind == CAVUM_WALL_NIOBIUM) {
    fputs(
        "  R_s of niobium is a fit: its uncertainty is how well the fit agrees with theory, which\n"
        "  figures with R_s of the fit do not hold.\n",
        out);
  }
}

void cavum_table_print(FILE *out, const cavum_result *result, const cavum_cell *cell, bool brief) {
  print_head(out, result, cell);
  for (int i = 0; i < result->num_modes; i++) print_mode(out, i + 1, &result->modes[i]);
  print_coupling(out, result);
  cavum_table_derivatives_print(out, result);
  if (result->num_warnings > 0) fputs("\nWarnings\n", out);
  for (int i = 0; i < result->num_warnings; i++) fprintf(out, "  %s\n", result->warnings[i]);
  if (!brief) print_definitions(out, result, cell);
}
