// SPDX-License-Identifier: GPL-3.0-or-later
// `radiation` (the monitor) and `field_emission` (what is evaluated) of a test file.
#include "coldtest_file/sections.h"

/** `radiation` in the units of its keys. */
typedef struct radiation_section {
  double reading_percent, reading_usv_per_h, calibration_percent;
  double background_usv_per_h, background_uncertainty_usv_per_h;
} radiation_section;

static const cavum_yaml_field RADIATION_FIELDS[] = {
    CAVUM_TEST_NUMBER(radiation_section, reading_percent, "reading_uncertainty_percent", 0.0,
                      100.0),
    CAVUM_TEST_NUMBER(radiation_section, reading_usv_per_h, "reading_uncertainty_uSv_per_h", 0.0,
                      1e9),
    CAVUM_TEST_NUMBER(radiation_section, calibration_percent, "calibration_uncertainty_percent",
                      0.0, 100.0),
    CAVUM_TEST_NUMBER(radiation_section, background_usv_per_h, "background_uSv_per_h", 0.0, 1e9),
    CAVUM_TEST_NUMBER(radiation_section, background_uncertainty_usv_per_h,
                      "background_uncertainty_uSv_per_h", 1e-9, 1e9),
};

/** `field_emission` in the units of its keys. */
typedef struct emission_section {
  double work_ev, work_uncertainty_ev, over_background, onset_usv_per_h;
  double lowest_mv_per_m, highest_mv_per_m, bath_k, tolerance_mk, wall_mv_per_m;
  int degree;
} emission_section;

static const cavum_yaml_field EMISSION_FIELDS[] = {
    CAVUM_TEST_NUMBER(emission_section, work_ev, "work_function_eV", 1.0, 10.0),
    CAVUM_TEST_NUMBER(emission_section, work_uncertainty_ev, "work_function_uncertainty_eV", 0.0,
                      2.0),
    CAVUM_TEST_NUMBER(emission_section, over_background, "onset_over_background", 0.01, 1e6),
    CAVUM_TEST_NUMBER(emission_section, onset_usv_per_h, "onset_uSv_per_h", 1e-9, 1e9),
    CAVUM_TEST_NUMBER(emission_section, lowest_mv_per_m, "from_MV_per_m", 0.0, 1e6),
    CAVUM_TEST_NUMBER(emission_section, highest_mv_per_m, "up_to_MV_per_m", 1e-6, 1e6),
    CAVUM_TEST_NUMBER(emission_section, bath_k, "bath_temperature_K", 0.01, 10.0),
    CAVUM_TEST_NUMBER(emission_section, tolerance_mk, "bath_tolerance_mK", 0.1, 1e4),
    CAVUM_TEST_NUMBER(emission_section, wall_mv_per_m, "q0_curve_up_to_MV_per_m", 1e-6, 1e6),
    CAVUM_TEST_COUNT(emission_section, degree, "q0_curve_degree", 0, CAVUM_NUM_EMISSION_TERMS - 1),
};

static void store(cavum_field_emission_options *to, const radiation_section *monitor,
                  const emission_section *found) {
  *to = (cavum_field_emission_options){
      .struct_size = sizeof *to,
      .reading_relative = cavum_from_unit(monitor->reading_percent, CAVUM_UNIT_PERCENT),
      .reading_sv_per_h =
          cavum_from_unit(monitor->reading_usv_per_h, CAVUM_UNIT_MICROSIEVERT_PER_H),
      .calibration = cavum_from_unit(monitor->calibration_percent, CAVUM_UNIT_PERCENT),
      .background_sv_per_h = {.value = cavum_from_unit(monitor->background_usv_per_h,
                                                       CAVUM_UNIT_MICROSIEVERT_PER_H),
                              .uncertainty =
                                  cavum_from_unit(monitor->background_uncertainty_usv_per_h,
                                                  CAVUM_UNIT_MICROSIEVERT_PER_H)},
      .work_function_ev = {.value = found->work_ev, .uncertainty = found->work_uncertainty_ev},
      .onset_over_background = found->over_background,
      .onset_sv_per_h = cavum_from_unit(found->onset_usv_per_h, CAVUM_UNIT_MICROSIEVERT_PER_H),
      .lowest_e_acc_v_per_m = cavum_from_unit(found->lowest_mv_per_m, CAVUM_UNIT_MV_PER_M),
      .highest_e_acc_v_per_m = cavum_from_unit(found->highest_mv_per_m, CAVUM_UNIT_MV_PER_M),
      .bath_temperature_k = found->bath_k,
      .bath_tolerance_k = cavum_from_unit(found->tolerance_mk, CAVUM_UNIT_MILLIKELVIN),
      .wall_e_acc_v_per_m = cavum_from_unit(found->wall_mv_per_m, CAVUM_UNIT_MV_PER_M),
      .wall_terms = found->degree + 1};
}

cavum_status cavum_test_file_read_emission(cavum_coldtest_file *file,
                                           const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *root) {
  cavum_status status = CAVUM_OK;
  radiation_section monitor = {0};
  emission_section found = {.work_ev = CAVUM_NIOBIUM_WORK_FUNCTION_EV, .degree = -1};
  const cavum_yaml_table monitors = CAVUM_YAML_TABLE(RADIATION_FIELDS);
  const cavum_yaml_table emissions = CAVUM_YAML_TABLE(EMISSION_FIELDS);
  const cavum_yaml_node *radiation = cavum_yaml_reader_child(reader, root, "radiation");
  const cavum_yaml_node *emission = cavum_yaml_reader_child(reader, root, "field_emission");
  if (radiation) {
    CAVUM_TRY(cavum_yaml_read_fields(&monitor, reader, radiation, "radiation", monitors));
  }
  if (monitor.background_usv_per_h > 0.0 && monitor.background_uncertainty_usv_per_h == 0.0) {
    return cavum_yaml_reader_fail(reader, radiation,
                                  "radiation: background_uncertainty_uSv_per_h was expected with "
                                  "background_uSv_per_h");
  }
  if (monitor.background_uncertainty_usv_per_h > 0.0 && monitor.reading_percent == 0.0 &&
      monitor.reading_usv_per_h == 0.0) {
    return cavum_yaml_reader_fail(reader, radiation,
                                  "radiation: a background is weighed with the readings: "
                                  "reading_uncertainty_percent or reading_uncertainty_uSv_per_h "
                                  "was expected");
  }
  if (emission) {
    CAVUM_TRY(cavum_yaml_read_fields(&found, reader, emission, "field_emission", emissions));
  }
  if (found.over_background > 0.0 && found.onset_usv_per_h > 0.0) {
    return cavum_yaml_reader_fail(reader, emission,
                                  "field_emission: onset_over_background or onset_uSv_per_h was "
                                  "expected, not both");
  }
  file->evaluate_emission = emission != NULL;
  store(&file->emission, &monitor, &found);
done:
  return status;
}
