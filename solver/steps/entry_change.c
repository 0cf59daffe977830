// SPDX-License-Identifier: GPL-3.0-or-later
// Steps by what they do to the frequency: stated, or by a stated sensitivity.
#include "steps/entry_change.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "steps/entry_depth.h"

static const double LARGEST_KHZ = 1e9, LARGEST_MBAR = 1e6, LARGEST_SENSITIVITY = 1e9;

typedef struct change_section {
  double change_hz, uncertainty_hz;
} change_section;

cavum_status cavum_step_read_change(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(change_section, "change_kHz", change_hz, .required = true,
                       .unit = CAVUM_UNIT_KHZ, .low = -LARGEST_KHZ, .high = LARGEST_KHZ),
      CAVUM_STEP_FIELD(change_section, "uncertainty_kHz", uncertainty_hz, .unit = CAVUM_UNIT_KHZ,
                       .high = LARGEST_KHZ),
      CAVUM_STEP_SOURCE};
  change_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  step->change_hz = (cavum_stated){section.change_hz, section.uncertainty_hz};
  snprintf(step->what, sizeof step->what, "stated change");
  return CAVUM_OK;
}

/** A force and what it does. NAN: not stated. */
typedef struct force_section {
  double pressure_pa, hz_per_pa, hz_per_pa_uncertainty;
  double gradient, hz_per_gradient2, hz_per_gradient2_uncertainty;
  double n_per_mm, percent;
  const cavum_yaml_node *deflection;
} force_section;

static const force_section NOT_STATED = {
    .hz_per_pa = NAN, .hz_per_gradient2 = NAN, .n_per_mm = NAN};

static cavum_status read_deflection(cavum_chain_step *step, double *largest,
                                    const force_section *section, const cavum_yaml_reader *reader,
                                    const char *path, const char *key) {
  step->depth.iris_share = 1.0;
  step->relative_uncertainty = cavum_from_unit(section->percent, CAVUM_UNIT_PERCENT);
  return cavum_step_read_deflection(largest, &step->depth, reader, section->deflection,
                                    cavum_yaml_path_join(path, key).text);
}

// The wall is moved by a table: outwards where that is above 0.
static cavum_status take_deflection(cavum_chain_step *step, const force_section *section,
                                    const cavum_yaml_reader *reader, const char *path) {
  double largest = 0.0;
  cavum_status status = read_deflection(step, &largest, section, reader, path, "deflection");
  if (status != CAVUM_OK) return status;
  step->amount_m.value = largest * fabs(section->pressure_pa);
  step->amount_m.uncertainty = step->relative_uncertainty * step->amount_m.value;
  for (int i = 0; section->pressure_pa < 0.0 && i < step->depth.num_places; i++) {
    step->depth.share[i] = -step->depth.share[i];
  }
  snprintf(step->what, sizeof step->what,
           "%+.6g mbar on the wall, which moves by a table, %.4g um at most",
           cavum_in_unit(section->pressure_pa, CAVUM_UNIT_MBAR),
           cavum_in_unit(step->amount_m.value, CAVUM_UNIT_UM));
  return CAVUM_OK;
}

cavum_status cavum_step_read_pressure(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                      const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(force_section, "change_mbar", pressure_pa, .required = true,
                       .unit = CAVUM_UNIT_MBAR, .low = -LARGEST_MBAR, .high = LARGEST_MBAR),
      CAVUM_STEP_FIELD(force_section, "sensitivity_Hz_per_mbar", hz_per_pa,
                       .unit = CAVUM_UNIT_HZ_PER_MBAR, .low = -LARGEST_SENSITIVITY,
                       .high = LARGEST_SENSITIVITY),
      CAVUM_STEP_FIELD(force_section, "sensitivity_uncertainty_Hz_per_mbar", hz_per_pa_uncertainty,
                       .unit = CAVUM_UNIT_HZ_PER_MBAR, .high = LARGEST_SENSITIVITY),
      CAVUM_STEP_FIELD(force_section, "deflection", deflection, .kind = CAVUM_YAML_FIELD_LIST),
      CAVUM_STEP_FIELD(force_section, "uncertainty_percent", percent, .high = 100.0),
      CAVUM_STEP_SOURCE};
  force_section section = NOT_STATED;
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  if (isnan(section.hz_per_pa) == !section.deflection) {
    return cavum_yaml_reader_fail(
        reader, node, "%s: expected sensitivity_Hz_per_mbar or deflection, a table", path);
  }
  if (section.deflection) return take_deflection(step, &section, reader, path);
  // An uncertainty has no sign, but two steps of one sensitivity err as their pressures go.
  step->change_hz = (cavum_stated){section.pressure_pa * section.hz_per_pa,
                                   section.pressure_pa * section.hz_per_pa_uncertainty};
  snprintf(step->what, sizeof step->what, "%+.6g mbar on the wall, %.6g Hz/mbar (stated)",
           cavum_in_unit(section.pressure_pa, CAVUM_UNIT_MBAR),
           cavum_in_unit(section.hz_per_pa, CAVUM_UNIT_HZ_PER_MBAR));
  return CAVUM_OK;
}

// Radiation pressure on what gives way: a wall by a table, or the cell along its axis.
static cavum_status take_radiation(cavum_chain_step *step, const force_section *section,
                                   const cavum_yaml_reader *reader, const char *path) {
  bool has_table = section->deflection != NULL, has_stiffness = !isnan(section->n_per_mm);
  cavum_status status = CAVUM_OK;
  if (has_table) {
    status = read_deflection(step, &step->compliance_m_per_pa, section, reader, path, "compliance");
  }
  if (status != CAVUM_OK) return status;
  step->relative_uncertainty = cavum_from_unit(section->percent, CAVUM_UNIT_PERCENT);
  step->gradient_v_per_m = cavum_from_unit(section->gradient, CAVUM_UNIT_MV_PER_M);
  if (has_stiffness) {
    step->stiffness_n_per_m.value = section->n_per_mm / cavum_from_unit(1.0, CAVUM_UNIT_MM);
  }
  snprintf(step->what, sizeof step->what, "radiation pressure at %.6g MV/m on a stated %s",
           section->gradient,
           has_table && has_stiffness ? "compliance of the wall and stiffness"
           : has_table                ? "compliance of the wall"
                                      : "stiffness along the axis");
  return CAVUM_OK;
}

cavum_status cavum_step_read_lorentz(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                     const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(force_section, "gradient_MV_per_m", gradient, .required = true, .high = 1e3),
      CAVUM_STEP_FIELD(force_section, "coefficient_Hz_per_MV_per_m_squared", hz_per_gradient2,
                       .low = -LARGEST_SENSITIVITY, .high = LARGEST_SENSITIVITY),
      CAVUM_STEP_FIELD(force_section, "coefficient_uncertainty_Hz_per_MV_per_m_squared",
                       hz_per_gradient2_uncertainty, .high = LARGEST_SENSITIVITY),
      CAVUM_STEP_FIELD(force_section, "compliance", deflection, .kind = CAVUM_YAML_FIELD_LIST),
      CAVUM_STEP_FIELD(force_section, "stiffness_N_per_mm", n_per_mm, .low = 1e-3, .high = 1e9),
      CAVUM_STEP_FIELD(force_section, "uncertainty_percent", percent, .high = 100.0),
      CAVUM_STEP_SOURCE};
  force_section section = NOT_STATED;
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  bool gives_way = section.deflection || !isnan(section.n_per_mm);
  if (isnan(section.hz_per_gradient2) != gives_way) {
    return cavum_yaml_reader_fail(reader, node,
                                  "%s: expected coefficient_Hz_per_MV_per_m_squared, or compliance "
                                  "or stiffness_N_per_mm or both",
                                  path);
  }
  if (gives_way) return take_radiation(step, &section, reader, path);
  double square = section.gradient * section.gradient;
  step->change_hz = (cavum_stated){square * section.hz_per_gradient2,
                                   square * section.hz_per_gradient2_uncertainty};
  snprintf(step->what, sizeof step->what, "Lorentz force at %.6g MV/m, %.6g Hz/(MV/m)^2 (stated)",
           section.gradient, section.hz_per_gradient2);
  return CAVUM_OK;
}
