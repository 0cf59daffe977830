// SPDX-License-Identifier: GPL-3.0-or-later
// One step of a step file: a mapping with one section that says what is done, a name, and what was
// measured behind it.
#include "steps/step_entry.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "steps/entry_change.h"
#include "steps/entry_cool.h"
#include "steps/entry_depth.h"
#include "steps/entry_gas.h"
#include "steps/entry_length.h"

static const double LARGEST_MHZ = 1e7, LARGEST_KHZ = 1e9;

#define SECTION(name) \
  { .key = (name), .offset = CAVUM_YAML_UNSTORED, .kind = CAVUM_YAML_FIELD_MAPPING }

/** What was measured behind a step. */
typedef struct measured_fields {
  double hz, zero_hz, pi_hz, uncertainty_hz;
} measured_fields;

#define MEASURED(name, member)                                                         \
  CAVUM_STEP_FIELD(measured_fields, name, member, .unit = CAVUM_UNIT_MHZ, .low = 1e-3, \
                   .high = LARGEST_MHZ)

static const cavum_yaml_field entry_fields[] = {
    {.key = "name", .offset = CAVUM_YAML_UNSTORED, .kind = CAVUM_YAML_FIELD_TEXT},
    MEASURED("measured_MHz", hz),
    MEASURED("measured_zero_MHz", zero_hz),
    MEASURED("measured_pi_MHz", pi_hz),
    CAVUM_STEP_FIELD(measured_fields, "measured_uncertainty_kHz", uncertainty_hz,
                     .unit = CAVUM_UNIT_KHZ, .high = LARGEST_KHZ),
    SECTION("change"),
    SECTION("anneal"),
    SECTION("air"),
    SECTION("cool"),
    SECTION("remove"),
    SECTION("deposit"),
    SECTION("stretch"),
    SECTION("trim"),
    SECTION("weld"),
    SECTION("pressure"),
    SECTION("lorentz"),
    SECTION("preload"),
};

/** A kind of steps and how its section is read. */
typedef struct action {
  cavum_step_kind kind;
  cavum_step_reader *read;
} action;

static const action actions[] = {
    {CAVUM_STEP_CHANGE, cavum_step_read_change},   {CAVUM_STEP_ANNEAL, cavum_step_read_change},
    {CAVUM_STEP_AIR, cavum_step_read_air},         {CAVUM_STEP_COOL, cavum_step_read_cool},
    {CAVUM_STEP_REMOVE, cavum_step_read_depth},    {CAVUM_STEP_DEPOSIT, cavum_step_read_depth},
    {CAVUM_STEP_STRETCH, cavum_step_read_stretch}, {CAVUM_STEP_TRIM, cavum_step_read_loss},
    {CAVUM_STEP_WELD, cavum_step_read_loss},       {CAVUM_STEP_PRESSURE, cavum_step_read_pressure},
    {CAVUM_STEP_LORENTZ, cavum_step_read_lorentz}, {CAVUM_STEP_PRELOAD, cavum_step_read_preload}};

static cavum_status read_action(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *entry, const char *path) {
  const action *found = NULL;
  const cavum_yaml_node *section = NULL;
  int count = 0;
  for (size_t i = 0; i < sizeof actions / sizeof actions[0]; i++) {
    const cavum_yaml_node *node =
        cavum_yaml_reader_child(reader, entry, cavum_step_kind_name(actions[i].kind));
    if (!node) continue;
    found = &actions[i];
    section = node;
    count++;
  }
  if (count != 1) {
    return cavum_yaml_reader_fail(reader, entry,
                                  "%s: expected exactly one of change, anneal, air, cool, remove, "
                                  "deposit, stretch, trim, weld, pressure, lorentz and preload, "
                                  "found %d",
                                  path, count);
  }
  step->kind = found->kind;
  return found->read(step, reader, section,
                     cavum_yaml_path_join(path, cavum_step_kind_name(step->kind)).text);
}

cavum_status cavum_step_entry_read(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                   const cavum_yaml_node *node, const char *path, int number) {
  measured_fields measured = {NAN, NAN, NAN, 0.0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(entry_fields);
  cavum_status status = cavum_yaml_read_fields(&measured, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  const cavum_yaml_node *uncertainty =
      cavum_yaml_reader_child(reader, node, "measured_uncertainty_kHz");
  if (uncertainty && isnan(measured.hz) && isnan(measured.zero_hz) && isnan(measured.pi_hz)) {
    return cavum_yaml_reader_fail(
        reader, uncertainty,
        "%s.measured_uncertainty_kHz: goes with measured_MHz, measured_zero_MHz or "
        "measured_pi_MHz",
        path);
  }
  step->line = node->line;
  step->column = node->column;
  step->measured_hz = (cavum_stated){measured.hz, measured.uncertainty_hz};
  step->measured_zero_hz = measured.zero_hz;
  step->measured_pi_hz = measured.pi_hz;
  status = cavum_step_copy_text(step->name, reader, node, "name");
  if (status == CAVUM_OK) status = read_action(step, reader, node, path);
  if (status == CAVUM_OK && !step->name[0]) {
    snprintf(step->name, sizeof step->name, "%d %s", number, cavum_step_kind_name(step->kind));
  }
  return status;
}
