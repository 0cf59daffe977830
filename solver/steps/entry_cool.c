// SPDX-License-Identifier: GPL-3.0-or-later
// Steps to another temperature.
#include "steps/entry_cool.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"

typedef struct cool_section {
  const char *material;
  double from_k, to_k, axial_factor;
  cavum_stated contraction;
} cool_section;

static const double LARGEST_KELVIN = 3000.0;

static const cavum_yaml_field cool_fields[] = {
    CAVUM_STEP_FIELD(cool_section, "material", material, .kind = CAVUM_YAML_FIELD_TEXT),
    CAVUM_STEP_FIELD(cool_section, "from_K", from_k, .high = LARGEST_KELVIN),
    CAVUM_STEP_FIELD(cool_section, "to_K", to_k, .high = LARGEST_KELVIN),
    CAVUM_STEP_FIELD(cool_section, "contraction", contraction.value, .low = -0.1, .high = 0.1),
    CAVUM_STEP_FIELD(cool_section, "contraction_uncertainty", contraction.uncertainty, .high = 0.1),
    CAVUM_STEP_FIELD(cool_section, "axial_factor", axial_factor, .low = -10.0, .high = 10.0),
    CAVUM_STEP_SOURCE,
};

static cavum_status look_up(cavum_chain_step *step, const cavum_yaml_reader *reader,
                            const cavum_yaml_node *node, const char *path,
                            const cool_section *section) {
  const char *source = "";
  cavum_error what = {0};
  double uncertainty = 0.0;
  cavum_status status = cavum_contraction(&step->contraction.value, &uncertainty, &source,
                                          section->material, section->from_k, section->to_k, &what);
  if (status != CAVUM_OK) return cavum_yaml_reader_relay(reader, node, status, path, &what);
  if (isnan(step->contraction.uncertainty)) step->contraction.uncertainty = uncertainty;
  step->uncertainty_not_stated = false;
  snprintf(step->what, sizeof step->what, "%s, %g K to %g K: contraction %.4g (%s)",
           section->material, section->from_k, section->to_k, step->contraction.value, source);
  return CAVUM_OK;
}

cavum_status cavum_step_read_cool(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path) {
  cool_section section = {
      .from_k = NAN, .to_k = NAN, .axial_factor = 1.0, .contraction = {NAN, NAN}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(cool_fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  bool by_table = section.material != NULL, stated = !isnan(section.contraction.value);
  bool has_range = !isnan(section.from_k) && !isnan(section.to_k);
  if (by_table == stated || (by_table && !has_range)) {
    return cavum_yaml_reader_fail(
        reader, node, "%s: expected material with from_K and to_K, or contraction", path);
  }
  step->contraction = section.contraction;
  step->axial_factor = section.axial_factor;
  if (by_table) return look_up(step, reader, node, path, &section);
  if (isnan(step->contraction.uncertainty)) step->contraction.uncertainty = 0.0;
  snprintf(step->what, sizeof step->what, "contraction %.4g (stated)", step->contraction.value);
  return CAVUM_OK;
}
