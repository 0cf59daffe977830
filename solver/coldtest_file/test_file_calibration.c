// SPDX-License-Identifier: GPL-3.0-or-later
// The short sections of a test file about meters, lines, times, methods, statistics and limits.
#include <string.h>

#include "coldtest_file/sections.h"

/** All of them in the units of their keys. */
typedef struct calibration {
  double common_percent;
  double line_db, line_uncertainty_db;
  double directivity_db, forward_directivity_db, return_loss_db;
  double decay_percent, decay_reading_percent;
  double temperature_mk, temperature_common_mk;
  double phase_deg;
  double static_w, static_uncertainty_w;
  int q0, coupling, branch, moved;
  double pickup_q, pickup_percent, external_q, external_percent;
  double coverage, seed, draws;
  int digits, points;
} calibration;

static const cavum_yaml_word Q0_WORDS[] = {
    {"auto", CAVUM_Q0_AUTO}, {"decay", CAVUM_Q0_DECAY}, {"pickup", CAVUM_Q0_PICKUP}, {NULL, 0}};
static const cavum_yaml_word COUPLING_WORDS[] = {{"auto", CAVUM_COUPLING_AUTO},
                                                 {"reflected", CAVUM_COUPLING_REFLECTED},
                                                 {"emitted", CAVUM_COUPLING_EMITTED},
                                                 {"both", CAVUM_COUPLING_BOTH},
                                                 {NULL, 0}};
static const cavum_yaml_word BRANCH_WORDS[] = {{"decide", CAVUM_BRANCH_DECIDE},
                                               {"over", CAVUM_BRANCH_OVER},
                                               {"under", CAVUM_BRANCH_UNDER},
                                               {NULL, 0}};

static const cavum_yaml_word MOVED_WORDS[] = {
    {"true", 1}, {"false", 0}, {"yes", 1}, {"no", 0}, {NULL, 0}};

static const cavum_yaml_field METER_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, common_percent, "common_gain_uncertainty_percent", 0.0, 50.0)};
static const cavum_yaml_field LINE_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, line_db, "loss_dB", 0.0, 100.0),
    CAVUM_TEST_NUMBER(calibration, line_uncertainty_db, "uncertainty_dB", 0.0, 20.0)};
static const cavum_yaml_field COUPLER_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, directivity_db, "directivity_dB", 1.0, 200.0),
    CAVUM_TEST_NUMBER(calibration, forward_directivity_db, "forward_directivity_dB", 1.0, 200.0)};
static const cavum_yaml_field CIRCULATOR_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, return_loss_db, "return_loss_dB", 1.0, 200.0)};
static const cavum_yaml_field DECAY_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, decay_percent, "uncertainty_percent", 0.0, 50.0),
    CAVUM_TEST_NUMBER(calibration, decay_reading_percent, "reading_uncertainty_percent", 0.0,
                      50.0)};
static const cavum_yaml_field TEMPERATURE_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, temperature_mk, "uncertainty_mK", 0.0, 1e4),
    CAVUM_TEST_NUMBER(calibration, temperature_common_mk, "calibration_uncertainty_mK", 0.0, 1e4)};
static const cavum_yaml_field LOOP_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, phase_deg, "phase_uncertainty_deg", 0.0, 25.0)};
static const cavum_yaml_field BATH_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, static_w, "static_heat_W", 0.0, 1e6),
    CAVUM_TEST_NUMBER(calibration, static_uncertainty_w, "static_heat_uncertainty_W", 0.0, 1e6)};
static const cavum_yaml_field METHOD_FIELDS[] = {
    CAVUM_TEST_WORD(calibration, q0, "q0", Q0_WORDS),
    CAVUM_TEST_WORD(calibration, coupling, "coupling", COUPLING_WORDS),
    CAVUM_TEST_WORD(calibration, branch, "branch", BRANCH_WORDS)};
static const cavum_yaml_field PICKUP_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, pickup_q, "q", 1.0, 1e30),
    CAVUM_TEST_NUMBER(calibration, pickup_percent, "uncertainty_percent", 0.0, 90.0)};
static const cavum_yaml_field EXTERNAL_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, external_q, "q", 1.0, 1e30),
    CAVUM_TEST_NUMBER(calibration, external_percent, "uncertainty_percent", 0.0, 90.0),
    CAVUM_TEST_WORD(calibration, moved, "moved", MOVED_WORDS)};
static const cavum_yaml_field STATISTICS_FIELDS[] = {
    CAVUM_TEST_NUMBER(calibration, coverage, "coverage", 0.5, 0.9999),
    CAVUM_TEST_NUMBER(calibration, seed, "seed", 0.0, 9e15),
    CAVUM_TEST_NUMBER(calibration, draws, "largest_draws", 1e4, 1e9),
    CAVUM_TEST_COUNT(calibration, digits, "digits", 1, 2),
    CAVUM_TEST_COUNT(calibration, points, "monte_carlo_points", 0, 1000000)};

#define SECTION(name, fields) \
  { (name), CAVUM_YAML_TABLE(fields) }

static const struct section {
  const char *name;
  cavum_yaml_table table;
} SECTIONS[] = {
    SECTION("meters", METER_FIELDS),
    SECTION("input_line", LINE_FIELDS),
    SECTION("directional_coupler", COUPLER_FIELDS),
    SECTION("circulator", CIRCULATOR_FIELDS),
    SECTION("decay", DECAY_FIELDS),
    SECTION("temperature", TEMPERATURE_FIELDS),
    SECTION("loop", LOOP_FIELDS),
    SECTION("bath", BATH_FIELDS),
    SECTION("method", METHOD_FIELDS),
    SECTION("pickup", PICKUP_FIELDS),
    SECTION("input_coupler", EXTERNAL_FIELDS),
    SECTION("statistics", STATISTICS_FIELDS),
};

static void store(cavum_coldtest_file *file, const calibration *found) {
  cavum_coldtest_setup *setup = &file->setup;
  setup->common_gain_uncertainty = cavum_from_unit(found->common_percent, CAVUM_UNIT_PERCENT);
  setup->input_line_loss_db = found->line_db;
  setup->input_line_uncertainty_db = found->line_uncertainty_db;
  setup->directivity_db = found->directivity_db;
  setup->forward_directivity_db = found->forward_directivity_db;
  setup->circulator_return_loss_db = found->return_loss_db;
  setup->decay_uncertainty = cavum_from_unit(found->decay_percent, CAVUM_UNIT_PERCENT);
  setup->decay_noise = cavum_from_unit(found->decay_reading_percent, CAVUM_UNIT_PERCENT);
  setup->temperature_uncertainty_k = cavum_from_unit(found->temperature_mk, CAVUM_UNIT_MILLIKELVIN);
  setup->temperature_common_k =
      cavum_from_unit(found->temperature_common_mk, CAVUM_UNIT_MILLIKELVIN);
  setup->loop_phase_uncertainty_rad = cavum_from_unit(found->phase_deg, CAVUM_UNIT_DEGREE);
  setup->static_heat_w =
      (cavum_estimate){.value = found->static_w, .uncertainty = found->static_uncertainty_w};
  setup->q0_method = (cavum_q0_method)found->q0;
  setup->coupling = (cavum_coupling_method)found->coupling;
  setup->branch = (cavum_branch)found->branch;
  setup->q_pickup = (cavum_estimate){
      .value = found->pickup_q,
      .uncertainty = cavum_from_unit(found->pickup_percent, CAVUM_UNIT_PERCENT) * found->pickup_q};
  setup->q_external =
      (cavum_estimate){.value = found->external_q,
                       .uncertainty = cavum_from_unit(found->external_percent, CAVUM_UNIT_PERCENT) *
                                      found->external_q};
  setup->coupler_moved = found->moved != 0;
  setup->coverage = found->coverage;
  setup->seed = (uint64_t)found->seed;
  setup->max_draws = (int64_t)found->draws;
  setup->digits = found->digits;
  file->monte_carlo_points = found->points;
}

cavum_status cavum_test_file_read_calibration(cavum_coldtest_file *file,
                                              const cavum_yaml_reader *reader,
                                              const cavum_yaml_node *root) {
  cavum_status status = CAVUM_OK;
  const cavum_coldtest_setup *setup = &file->setup;
  calibration found = {.q0 = (int)setup->q0_method,
                       .coupling = (int)setup->coupling,
                       .branch = (int)setup->branch,
                       .coverage = setup->coverage,
                       .seed = (double)setup->seed,
                       .draws = (double)setup->max_draws,
                       .digits = setup->digits,
                       .points = (int)file->monte_carlo_points};
  for (size_t i = 0; i < sizeof SECTIONS / sizeof *SECTIONS; i++) {
    const cavum_yaml_node *node = cavum_yaml_reader_child(reader, root, SECTIONS[i].name);
    if (!node) continue;
    CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, SECTIONS[i].name, SECTIONS[i].table));
  }
  if (found.pickup_percent > 0.0 && found.pickup_q == 0.0) {
    const cavum_yaml_node *node = cavum_yaml_reader_child(reader, root, "pickup");
    return cavum_yaml_reader_fail(reader, node, "pickup: uncertainty_percent without q");
  }
  if (found.moved && found.external_q > 0.0) {
    const cavum_yaml_node *node = cavum_yaml_reader_child(reader, root, "input_coupler");
    return cavum_yaml_reader_fail(
        reader, node, "input_coupler: q of a coupler that was moved: it has no one Q_e");
  }
  if (found.static_uncertainty_w > 0.0 && !(found.static_uncertainty_w < found.static_w)) {
    const cavum_yaml_node *node = cavum_yaml_reader_child(reader, root, "bath");
    return cavum_yaml_reader_fail(reader, node,
                                  "bath: a static heat larger than its uncertainty was expected");
  }
  store(file, &found);
done:
  return status;
}

/** One limit; exactly one of the values is given. */
typedef struct limit_section {
  const char *name, *source;
  double peak_magnetic_mt, peak_electric_mv_per_m, gradient_mv_per_m, wall_power_w, forward_power_w;
  double bath_heat_w;
} limit_section;

static const cavum_yaml_field LIMIT_FIELDS[] = {
    {.key = "name",
     .offset = offsetof(limit_section, name),
     .kind = CAVUM_YAML_FIELD_TEXT,
     .required = true},
    {.key = "source",
     .offset = offsetof(limit_section, source),
     .kind = CAVUM_YAML_FIELD_TEXT,
     .required = true},
    CAVUM_TEST_NUMBER(limit_section, peak_magnetic_mt, "peak_magnetic_field_mT", 1e-6, 1e6),
    CAVUM_TEST_NUMBER(limit_section, peak_electric_mv_per_m, "peak_electric_field_MV_per_m", 1e-6,
                      1e6),
    CAVUM_TEST_NUMBER(limit_section, gradient_mv_per_m, "gradient_MV_per_m", 1e-6, 1e6),
    CAVUM_TEST_NUMBER(limit_section, wall_power_w, "wall_power_W", 1e-9, 1e9),
    CAVUM_TEST_NUMBER(limit_section, bath_heat_w, "bath_heat_W", 1e-9, 1e9),
    CAVUM_TEST_NUMBER(limit_section, forward_power_w, "forward_power_W", 1e-9, 1e9),
};

static cavum_status room_for_limit(const cavum_coldtest_setup *setup,
                                   const cavum_yaml_reader *reader, const cavum_yaml_node *node) {
  if (setup->num_limits < CAVUM_MAX_LIMITS) return CAVUM_OK;
  return cavum_yaml_reader_fail(reader, node, "limits: more than %d limits", CAVUM_MAX_LIMITS);
}

static cavum_status take_limit(cavum_coldtest_setup *setup, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *node, const char *path) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(LIMIT_FIELDS);
  limit_section found = {0};
  CAVUM_TRY(room_for_limit(setup, reader, node));
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, path, table));
  const struct {
    double value;
    cavum_coldtest_quantity quantity;
  } given[] = {
      {cavum_from_unit(found.peak_magnetic_mt, CAVUM_UNIT_MILLITESLA), CAVUM_QUANTITY_B_PEAK},
      {cavum_from_unit(found.peak_electric_mv_per_m, CAVUM_UNIT_MV_PER_M), CAVUM_QUANTITY_E_PEAK},
      {cavum_from_unit(found.gradient_mv_per_m, CAVUM_UNIT_MV_PER_M), CAVUM_QUANTITY_E_ACC},
      {found.wall_power_w, CAVUM_QUANTITY_WALL_POWER},
      {found.bath_heat_w, CAVUM_QUANTITY_BATH_HEAT},
      {found.forward_power_w, CAVUM_QUANTITY_FORWARD}};
  cavum_coldtest_limit *limit = &setup->limits[setup->num_limits];
  int count = 0;
  for (size_t i = 0; i < sizeof given / sizeof *given; i++) {
    if (given[i].value == 0.0) continue;
    limit->quantity = given[i].quantity;
    limit->value = given[i].value;
    count++;
  }
  if (count != 1 || !*found.source) {
    return cavum_yaml_reader_fail(
        reader, node,
        "%s: one of peak_magnetic_field_mT, peak_electric_field_MV_per_m, "
        "gradient_MV_per_m, wall_power_W, bath_heat_W, forward_power_W and a source were expected",
        path);
  }
  CAVUM_TRY(cavum_test_file_copy(limit->name, sizeof limit->name, reader, node,
                                 cavum_yaml_path_join(path, "name").text, found.name));
  CAVUM_TRY(cavum_test_file_copy(limit->source, sizeof limit->source, reader, node,
                                 cavum_yaml_path_join(path, "source").text, found.source));
  setup->num_limits++;
done:
  return status;
}

cavum_status cavum_test_file_read_limits(cavum_coldtest_setup *setup,
                                         const cavum_yaml_reader *reader,
                                         const cavum_yaml_node *list) {
  cavum_status status = CAVUM_OK;
  cavum_index index = 1;
  for (const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list); node;
       node = cavum_yaml_reader_next(reader, node)) {
    cavum_yaml_path path = cavum_yaml_path_index("limits", index++);
    CAVUM_TRY(take_limit(setup, reader, node, path.text));
  }
done:
  return status;
}

cavum_status cavum_test_file_add_published_limits(cavum_coldtest_setup *setup,
                                                  const cavum_yaml_reader *reader,
                                                  const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < cavum_coldtest_num_published_limits(); i++) {
    CAVUM_TRY(room_for_limit(setup, reader, node));
    setup->limits[setup->num_limits++] = cavum_coldtest_published_limit(i);
  }
done:
  return status;
}
