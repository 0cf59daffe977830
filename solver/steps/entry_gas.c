// SPDX-License-Identifier: GPL-3.0-or-later
// Steps that change the gas in the cell.
#include "steps/entry_gas.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"

static const double STANDARD_PRESSURE_PA = 101325.0;

static const cavum_yaml_word gas_words[] = {
    {"air", CAVUM_GAS_AIR}, {"vacuum", CAVUM_GAS_VACUUM}, {"stated", CAVUM_GAS_STATED}, {NULL, 0}};

typedef struct air_section {
  int gas;
  cavum_air air, uncertainty;
  cavum_stated refractivity_ppm;
} air_section;

static const cavum_yaml_field air_fields[] = {
    CAVUM_STEP_FIELD(air_section, "gas", gas, .kind = CAVUM_YAML_FIELD_WORD, .words = gas_words),
    CAVUM_STEP_FIELD(air_section, "temperature_C", air.temperature_c, .low = -273.15,
                     .high = 1000.0),
    CAVUM_STEP_FIELD(air_section, "temperature_uncertainty_C", uncertainty.temperature_c,
                     .high = 100.0),
    CAVUM_STEP_FIELD(air_section, "pressure_mbar", air.pressure_pa, .unit = CAVUM_UNIT_MBAR,
                     .high = 1e5),
    CAVUM_STEP_FIELD(air_section, "pressure_uncertainty_mbar", uncertainty.pressure_pa,
                     .unit = CAVUM_UNIT_MBAR, .high = 1e5),
    CAVUM_STEP_FIELD(air_section, "humidity_percent", air.humidity_percent, .high = 100.0),
    CAVUM_STEP_FIELD(air_section, "humidity_uncertainty_percent", uncertainty.humidity_percent,
                     .high = 100.0),
    CAVUM_STEP_FIELD(air_section, "refractivity_ppm", refractivity_ppm.value, .high = 1e5),
    CAVUM_STEP_FIELD(air_section, "refractivity_uncertainty_ppm", refractivity_ppm.uncertainty,
                     .high = 1e5),
    CAVUM_STEP_SOURCE,
};

// Keys that say nothing about the gas that is meant are mistakes.
static cavum_status check_gas_keys(const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                   const char *path, int gas) {
  const cavum_yaml_node *child = cavum_yaml_reader_first(reader, node);
  for (; child; child = cavum_yaml_reader_next(reader, child)) {
    bool of_stated = strncmp(child->key, "refractivity", strlen("refractivity")) == 0;
    bool of_all = strcmp(child->key, "gas") == 0;
    bool of_any = of_all || (strcmp(child->key, "source") == 0 && gas != CAVUM_GAS_VACUUM);
    bool fits =
        of_any || (gas == CAVUM_GAS_STATED && of_stated) || (gas == CAVUM_GAS_AIR && !of_stated);
    if (!fits) {
      return cavum_yaml_reader_fail(reader, child, "%s.%s: does not go with gas: %s", path,
                                    child->key,
                                    gas_words[gas == CAVUM_GAS_AIR      ? 0
                                              : gas == CAVUM_GAS_VACUUM ? 1
                                                                        : 2]
                                        .text);
    }
  }
  const char *needed = gas == CAVUM_GAS_AIR      ? "temperature_C"
                       : gas == CAVUM_GAS_STATED ? "refractivity_ppm"
                                                 : "gas";
  if (cavum_yaml_reader_child(reader, node, needed)) return CAVUM_OK;
  return cavum_yaml_reader_fail(reader, node, "%s: missing key '%s'", path, needed);
}

cavum_status cavum_step_read_air(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node, const char *path) {
  air_section section = {.gas = CAVUM_GAS_AIR, .air = {.pressure_pa = STANDARD_PRESSURE_PA}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(air_fields);
  cavum_error what = {0};
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status == CAVUM_OK) status = check_gas_keys(reader, node, path, section.gas);
  if (status != CAVUM_OK) return status;
  step->gas = (cavum_gas)section.gas;
  step->refractivity_ppm = section.refractivity_ppm;
  step->air = section.air;
  step->air_uncertainty = section.uncertainty;
  if (step->gas == CAVUM_GAS_AIR) {
    status = cavum_air_refractivity(&step->refractivity_ppm.value, &step->formula_ppm, &step->air,
                                    &what);
    if (status != CAVUM_OK) return cavum_yaml_reader_relay(reader, node, status, path, &what);
    snprintf(step->what, sizeof step->what,
             "air of %.4g C, %.6g mbar, %.3g %%: N = %.6g (ITU-R P.453)", step->air.temperature_c,
             cavum_in_unit(step->air.pressure_pa, CAVUM_UNIT_MBAR), step->air.humidity_percent,
             step->refractivity_ppm.value);
  } else if (step->gas == CAVUM_GAS_STATED) {
    snprintf(step->what, sizeof step->what, "gas of N = %.6g (stated)",
             step->refractivity_ppm.value);
  } else {
    snprintf(step->what, sizeof step->what, "vacuum");
    step->uncertainty_not_stated = false;  // there is none
  }
  return CAVUM_OK;
}
