// SPDX-License-Identifier: GPL-3.0-or-later
// The columns of a row: which there are, and where.
#include "scan/layout.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "figures/stored_figure.h"
#include "scan/input_derivatives.h"
#include "scan/study.h"

// Every figure has two columns, every input one, every mode a label; the others are few.
enum { OTHER_COLUMNS = 24 + CAVUM_NUM_GEOMETRY_FIGURES, POSITION_COLUMNS = 4 };

size_t cavum_column_size(cavum_column_type type) {
  switch (type) {
    case CAVUM_COLUMN_DOUBLE:
    case CAVUM_COLUMN_INT64:
      return 8;
    case CAVUM_COLUMN_FLOAT:
    case CAVUM_COLUMN_INT32:
      return 4;
    case CAVUM_COLUMN_UINT8:
      break;
  }
  return 1;
}

// What a column is, as texts that live as long as the program.
typedef struct column_text {
  const char *key, *unit, *long_name, *definition;
} column_text;

static int add(cavum_row_layout *layout, cavum_column_type type, column_text text) {
  cavum_column *column = &layout->columns[layout->num_columns];
  snprintf(column->key, sizeof column->key, "%s", text.key);
  snprintf(column->long_name, sizeof column->long_name, "%s", text.long_name);
  column->unit = text.unit;
  column->definition = text.definition;
  column->type = type;
  column->offset = layout->row_size;
  layout->row_size += cavum_column_size(type);
  return layout->num_columns++;
}

static void add_uncertainty(cavum_row_layout *layout, const column_text *of) {
  char key[CAVUM_COLUMN_KEY_SIZE], long_name[192];
  snprintf(key, sizeof key, "%.110s_uncertainty", of->key);
  snprintf(long_name, sizeof long_name, "numerical uncertainty of %s", of->long_name);
  add(layout, CAVUM_COLUMN_FLOAT,
      (column_text){key, of->unit, long_name, "the true value lies within value +- uncertainty"});
}

static const char *role_text(cavum_input_role role) {
  switch (role) {
    case CAVUM_STUDY_LINKED:
      return "linked";
    case CAVUM_STUDY_HELD:
      return "solved for";
    case CAVUM_STUDY_VARIED:
      break;
  }
  return "varied";
}

static void add_inputs(cavum_row_layout *layout, const cavum_study *study) {
  layout->first_input = layout->num_columns;
  for (int i = 0; i < study->num_inputs; i++) {
    const cavum_input *input = &study->inputs[i];
    cavum_unit unit = cavum_unit_of_key(input->place.name);
    const char *symbol = unit == CAVUM_UNIT_SI ? "1" : cavum_unit_symbol(unit);
    char long_name[192];
    snprintf(long_name, sizeof long_name, "%s, %s", input->place.name, role_text(input->role));
    add(layout, CAVUM_COLUMN_DOUBLE, (column_text){input->place.name, symbol, long_name, NULL});
  }
}

// `modes[1].` in front of the keys of a mode other than the study's.
typedef struct key_prefix {
  char text[24];
} key_prefix;

static key_prefix prefix_of(int mode, const cavum_study *study) {
  key_prefix prefix = {""};
  if (mode != study->mode) snprintf(prefix.text, sizeof prefix.text, "modes[%d].", mode);
  return prefix;
}

static int add_position(cavum_row_layout *layout, key_prefix prefix, const char *peak) {
  char key[CAVUM_COLUMN_KEY_SIZE], long_name[128];
  snprintf(key, sizeof key, "%s%s_at_z_m", prefix.text, peak);
  snprintf(long_name, sizeof long_name, "position along the axis of the peak in %s%s", prefix.text,
           peak);
  int first = add(layout, CAVUM_COLUMN_DOUBLE, (column_text){key, "m", long_name, NULL});
  snprintf(key, sizeof key, "%s%s_at_r_m", prefix.text, peak);
  snprintf(long_name, sizeof long_name, "radius of the peak in %s%s", prefix.text, peak);
  add(layout, CAVUM_COLUMN_DOUBLE, (column_text){key, "m", long_name, NULL});
  return first;
}

// What a column cannot say row by row.
static const char *define(cavum_figure_id id, const cavum_study *study) {
  cavum_wall_kind wall = study->cell.wall.kind;
  bool is_fit = wall == CAVUM_WALL_NIOBIUM;
  if (id == CAVUM_FIGURE_SURFACE_RESISTANCE && wall == CAVUM_WALL_RESISTANCE) return "stated";
  if (id == CAVUM_FIGURE_SURFACE_RESISTANCE && is_fit) {
    return "of the stated wall at this frequency by a fit, whose own uncertainty is included";
  }
  if (id == CAVUM_FIGURE_Q0 && is_fit) {
    return "G / R_s with R_s of the fit, whose own uncertainty is not included";
  }
  if (id == CAVUM_FIGURE_SHUNT_IMPEDANCE && is_fit) {
    return "V^2 / P_d = (R/Q linac) Q0 with R_s of the fit, whose own uncertainty is not "
           "included";
  }
  if (id == CAVUM_FIGURE_WALL_POWER && is_fit) {
    return "(R_s / 2) oint |H|^2 dS over metal at E_acc = 1 MV/m, peak phasors, with R_s of the "
           "fit, "
           "whose own uncertainty is not included";
  }
  if (id == CAVUM_FIGURE_BETA_OPTIMUM) {
    return "particle speed over c at which R/Q is largest, searched in 0.05 to 1; at an end of "
           "that range where its uncertainty is 0";
  }
  return cavum_figure_describe(id).definition;
}

static void add_figures(cavum_row_layout *layout, cavum_mode_columns *columns, int mode,
                        const cavum_study *study) {
  key_prefix prefix = prefix_of(mode, study);
  columns->mode = mode;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    char key[CAVUM_COLUMN_KEY_SIZE], long_name[160];
    columns->figure[id] = -1;
    if (!study->wanted[id]) continue;
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    const char *unit = cavum_stored_figure_unit_name((cavum_figure_id)id);
    snprintf(key, sizeof key, "%s%s", prefix.text, info.key);
    snprintf(long_name, sizeof long_name, "%s", info.long_name);
    if (mode != study->mode) {
      snprintf(long_name, sizeof long_name, "%s of modes[%d]", info.long_name, mode);
    } else if (mode > 0) {
      snprintf(long_name, sizeof long_name, "%s of mode %d", info.long_name, mode + 1);
    }
    column_text text = {key, unit, long_name, define((cavum_figure_id)id, study)};
    columns->figure[id] = add(layout, CAVUM_COLUMN_DOUBLE, text);
    add_uncertainty(layout, &text);
  }
  columns->e_peak = columns->b_peak = -1;
  if (study->wanted[CAVUM_FIGURE_EPK_OVER_EACC]) {
    columns->e_peak = add_position(layout, prefix, "epk_over_eacc");
  }
  if (study->wanted[CAVUM_FIGURE_BPK_OVER_EACC]) {
    columns->b_peak = add_position(layout, prefix, "bpk_over_eacc");
  }
}

static int add_label(cavum_row_layout *layout, int mode, const cavum_study *study) {
  char key[CAVUM_COLUMN_KEY_SIZE], long_name[64] = "pattern of the mode";
  snprintf(key, sizeof key, "%smode_label", prefix_of(mode, study).text);
  if (mode != study->mode) snprintf(long_name, sizeof long_name, "pattern of modes[%d]", mode);
  return add(layout, CAVUM_COLUMN_UINT8,
             (column_text){key, "1", long_name,
                           "10 n + p of TM0np, the pillbox mode that it resembles; 0: none"});
}

// Which mode is which: along a study, modes may change their order.
static void add_labels(cavum_row_layout *layout, const cavum_study *study) {
  layout->main.label = -1;
  if (study->num_modes < 2) return;
  layout->main.label = add_label(layout, study->mode, study);
  for (int i = 0; i < layout->num_others; i++) {
    layout->others[i].label = add_label(layout, layout->others[i].mode, study);
  }
}

// At the end of the row, so that the others are where they are without them.
static void add_other_modes(cavum_row_layout *layout, const cavum_study *study) {
  for (int mode = 0; mode < study->num_modes; mode++) {
    if (mode == study->mode) continue;
    add_figures(layout, &layout->others[layout->num_others++], mode, study);
  }
}

// The unit is that of the dimension: most are in mm.
static void add_slope(cavum_row_layout *layout, const cavum_study *study) {
  cavum_unit unit = cavum_unit_of_key(study->inputs[study->hold.input].place.name);
  bool in_mm = unit != CAVUM_UNIT_SI && strcmp(cavum_unit_symbol(unit), "mm") == 0;
  layout->slope =
      add(layout, CAVUM_COLUMN_DOUBLE,
          (column_text){in_mm ? "held_slope_Hz_per_mm" : "held_slope_Hz_per_unit",
                        in_mm ? "Hz mm-1" : "Hz", "df / d(held dimension), in its unit",
                        "derivative there, or a secant of the last two solves or a neighbour's"});
}

static void add_coupling(cavum_row_layout *layout) {
  column_text text = {"k_cc", "1", "cell-to-cell coupling k_cc",
                      "2 (f_pi - f_0) / (f_pi + f_0); of unequal halves, the mean of both irises"};
  layout->coupling = add(layout, CAVUM_COLUMN_DOUBLE, text);
  add_uncertainty(layout, &text);
  text = (column_text){"zero_mode_frequency_Hz", "Hz", "frequency of the 0 mode",
                       "both ends electric"};
  layout->zero_mode = add(layout, CAVUM_COLUMN_DOUBLE, text);
  add_uncertainty(layout, &text);
  text =
      (column_text){"pi_mode_frequency_Hz", "Hz", "frequency of the pi mode", "both ends magnetic"};
  layout->pi_mode = add(layout, CAVUM_COLUMN_DOUBLE, text);
  add_uncertainty(layout, &text);
}

static void add_geometry(cavum_row_layout *layout, const cavum_study *study) {
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    cavum_geometry_info info = cavum_geometry_describe((cavum_geometry_id)id);
    layout->geometry[id] = -1;
    if (!study->wanted_geometry[id]) continue;
    layout->geometry[id] =
        add(layout, CAVUM_COLUMN_DOUBLE,
            (column_text){info.key, info.file_unit, info.long_name, info.definition});
  }
}

static void add_mesh(cavum_row_layout *layout) {
  layout->length =
      add(layout, CAVUM_COLUMN_DOUBLE,
          (column_text){"accelerating_length_m", "m", "accelerating length in use", NULL});
  layout->elements = add(layout, CAVUM_COLUMN_INT32,
                         (column_text){"mesh_elements", "1", "elements of the mesh", NULL});
  layout->degree = add(layout, CAVUM_COLUMN_INT32,
                       (column_text){"degree", "1", "polynomial degree of the elements", NULL});
  layout->unknowns = add(layout, CAVUM_COLUMN_INT32,
                         (column_text){"unknowns", "1", "unknowns of the system", NULL});
}

// Unit of a derivative: "Hz mm-1".
static void write_unit(char *unit, cavum_figure_id id, const cavum_input *input) {
  const char *figure = cavum_stored_figure_unit_name(id);
  cavum_unit of_input = cavum_unit_of_key(input->place.name);
  bool pure = of_input == CAVUM_UNIT_SI, of_one = strcmp(figure, "1") == 0;
  snprintf(unit, CAVUM_COLUMN_UNIT_SIZE, "%.20s%s%.12s%s", of_one && !pure ? "" : figure,
           of_one || pure ? "" : " ", pure ? "" : cavum_unit_symbol(of_input), pure ? "" : "-1");
}

// At the end of the row, too.
static cavum_status add_derivatives(cavum_row_layout *layout, const cavum_study *study,
                                    cavum_error *error) {
  int made = 0;
  layout->derivatives = layout->num_columns;
  layout->units =
      cavum_alloc((int64_t)CAVUM_NUM_FIGURES * study->num_inputs, sizeof *layout->units);
  if (!layout->units) return cavum_fail_memory(error);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    for (int i = 0; i < study->num_inputs && study->differentiated[id]; i++) {
      const char *name = cavum_input_dimension(&study->inputs[i]);
      char key[CAVUM_COLUMN_KEY_SIZE], long_name[160], *unit = layout->units[made++];
      snprintf(key, sizeof key, "%.40s_per_%.64s", info.key, name);
      snprintf(long_name, sizeof long_name, "derivative of %.70s by %.64s", info.long_name, name);
      write_unit(unit, (cavum_figure_id)id, &study->inputs[i]);
      column_text text = {key, unit, long_name, "the other dimensions of the cell fixed"};
      add(layout, CAVUM_COLUMN_DOUBLE, text);
      add_uncertainty(layout, &text);
    }
  }
  return CAVUM_OK;
}

static int num_requirements(const cavum_study *study) {
  return study->requirements ? study->requirements->count : 0;
}

// Keys of requirements name their units.
static void add_requirements(cavum_row_layout *layout, const cavum_study *study) {
  char verdict[64] = "requirement of the cell file";
  if (study->mode > 0) {
    snprintf(verdict, sizeof verdict, "requirement of the cell file, by the figures of mode %d",
             study->mode + 1);
  }
  layout->requirements = num_requirements(study) > 0 ? layout->num_columns : -1;
  for (int i = 0; i < num_requirements(study); i++) {
    char key[CAVUM_COLUMN_KEY_SIZE];
    const char *of = study->requirements->list[i].key;
    snprintf(key, sizeof key, "verdict_%s", of);
    add(layout, CAVUM_COLUMN_UINT8,
        (column_text){key, "1", verdict,
                      "1: met, 2: missed, 3: undecided within the uncertainty, 0: not known"});
    snprintf(key, sizeof key, "margin_%s", of);
    add(layout, CAVUM_COLUMN_DOUBLE,
        (column_text){
            key,
            cavum_unit_of_key(of) == CAVUM_UNIT_SI ? "1" : cavum_unit_symbol(cavum_unit_of_key(of)),
            "margin of that requirement", "to the nearer bound; below 0: missed by that"});
  }
}

cavum_status cavum_study_lay_out(cavum_study *study, cavum_error *error) {
  cavum_row_layout *layout = &study->layout;
  int num_modes = study->num_modes > 1 ? study->num_modes : 1;
  int of_mode = 2 * CAVUM_NUM_FIGURES + POSITION_COLUMNS + 1;
  int most = OTHER_COLUMNS + study->num_inputs + num_modes * of_mode;
  most += 2 * num_requirements(study);
  if (cavum_study_differentiated(study)) most += 2 * CAVUM_NUM_FIGURES * study->num_inputs;
  layout->columns = cavum_alloc(most, sizeof *layout->columns);
  if (!layout->columns) return cavum_fail_memory(error);
  layout->coupling = layout->slope = -1;
  layout->shape = add(layout, CAVUM_COLUMN_INT64,
                      (column_text){"shape", "1", "number of the shape, from 0", NULL});
  layout->status =
      add(layout, CAVUM_COLUMN_UINT8, (column_text){"status", "1", "status of the shape", NULL});
  layout->solves = add(layout, CAVUM_COLUMN_INT32,
                       (column_text){"solves", "1", "solves it took to hold the frequency", NULL});
  add_inputs(layout, study);
  add_figures(layout, &layout->main, study->mode, study);
  if (study->hold.input >= 0) add_slope(layout, study);
  if (study->coupling) add_coupling(layout);
  add_geometry(layout, study);
  add_mesh(layout);
  add_other_modes(layout, study);
  add_labels(layout, study);
  if (cavum_study_differentiated(study)) {
    cavum_status status = add_derivatives(layout, study, error);
    if (status != CAVUM_OK) return status;
  }
  add_requirements(layout, study);
  if (!CAVUM_HOLDS(layout->num_columns <= most))
    return cavum_fail_internal(error, "more columns than were counted");
  return CAVUM_OK;
}

const cavum_column *cavum_study_columns(int *num_columns, const cavum_study *study) {
  if (num_columns) *num_columns = study ? study->layout.num_columns : 0;
  if (!study) return NULL;
  return study->layout.columns;
}

size_t cavum_study_row_size(const cavum_study *study) { return study ? study->layout.row_size : 0; }

double cavum_column_value(const cavum_column *column, const void *row) {
  if (!column || !row) return NAN;
  const char *place = (const char *)row + column->offset;
  union {
    double number;
    float single;
    int64_t large;
    int32_t integer;
    uint8_t byte;
  } value = {0};
  memcpy(&value, place, cavum_column_size(column->type));
  switch (column->type) {
    case CAVUM_COLUMN_DOUBLE:
      return value.number;
    case CAVUM_COLUMN_FLOAT:
      return (double)value.single;
    case CAVUM_COLUMN_INT64:
      return (double)value.large;
    case CAVUM_COLUMN_INT32:
      return value.integer;
    case CAVUM_COLUMN_UINT8:
      break;
  }
  return value.byte;
}
