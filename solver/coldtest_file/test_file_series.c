// SPDX-License-Identifier: GPL-3.0-or-later
// `surface_resistance`, `trapped_flux`, `traces` and `plan` of a test file.
#include "coldtest_file/sections.h"

/** `surface_resistance` in the units of its keys. */
typedef struct resistance_section {
  double gradient_mv_per_m, tolerance_percent, gap_k, reference_k;
  int degree;
  const cavum_yaml_node *predict, *gradients;
} resistance_section;

static const cavum_yaml_field RESISTANCE_FIELDS[] = {
    CAVUM_TEST_NUMBER(resistance_section, gradient_mv_per_m, "gradient_MV_per_m", 1e-6, 1e6),
    CAVUM_TEST_NUMBER(resistance_section, tolerance_percent, "tolerance_percent", 0.01, 100.0),
    CAVUM_TEST_NUMBER(resistance_section, gap_k, "gap_K", 1.0, 100.0),
    CAVUM_TEST_NODE(resistance_section, predict, "predict", CAVUM_YAML_FIELD_LIST),
    CAVUM_TEST_NODE(resistance_section, gradients, "gradients_MV_per_m", CAVUM_YAML_FIELD_LIST),
    CAVUM_TEST_NUMBER(resistance_section, reference_k, "reference_temperature_K", 0.1, 9.2),
    CAVUM_TEST_COUNT(resistance_section, degree, "field_degree", 0, CAVUM_NUM_FIELD_TERMS - 1),
};

/** A prediction. */
typedef struct predict_section {
  double temperature_k, gradient_mv_per_m;
} predict_section;

static const cavum_yaml_field PREDICT_FIELDS[] = {
    {.key = "temperature_K",
     .offset = offsetof(predict_section, temperature_k),
     .kind = CAVUM_YAML_FIELD_NUMBER,
     .required = true,
     .low = 0.01,
     .high = 9.2},
    {.key = "gradient_MV_per_m",
     .offset = offsetof(predict_section, gradient_mv_per_m),
     .kind = CAVUM_YAML_FIELD_NUMBER,
     .required = true,
     .low = 1e-6,
     .high = 1e6},
};

static cavum_status read_predictions(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                                     const cavum_yaml_node *list) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(PREDICT_FIELDS);
  for (const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list); node;
       node = cavum_yaml_reader_next(reader, node)) {
    predict_section found = {0};
    if (file->num_predictions == CAVUM_MAX_PREDICTIONS) {
      return cavum_yaml_reader_fail(
          reader, node, "surface_resistance.predict: more than %d entries", CAVUM_MAX_PREDICTIONS);
    }
    cavum_yaml_path path =
        cavum_yaml_path_index("surface_resistance.predict", file->num_predictions + 1);
    CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, path.text, table));
    file->predictions[file->num_predictions++] = (cavum_coldtest_prediction_entry){
        found.temperature_k, cavum_from_unit(found.gradient_mv_per_m, CAVUM_UNIT_MV_PER_M)};
  }
done:
  return status;
}

// Gradients of series that are followed against field.
static cavum_status read_gradients(cavum_resistance_field_options *options,
                                   const cavum_yaml_reader *reader, const cavum_yaml_node *list) {
  cavum_status status = CAVUM_OK;
  for (const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list); node;
       node = cavum_yaml_reader_next(reader, node)) {
    double value = 0.0;
    cavum_yaml_path path =
        cavum_yaml_path_index("surface_resistance.gradients_MV_per_m", options->num_gradients + 1);
    if (options->num_gradients == CAVUM_MAX_GRADIENTS) {
      return cavum_yaml_reader_fail(reader, node, "%s: at most %d were expected", path.text,
                                    CAVUM_MAX_GRADIENTS);
    }
    CAVUM_TRY(cavum_yaml_read_number(&value, reader, node, path.text));
    if (!(value > 0.0)) {
      return cavum_yaml_reader_fail(reader, node, "%s: a number above 0 was expected, found %g",
                                    path.text, value);
    }
    options->e_acc_v_per_m[options->num_gradients++] = cavum_from_unit(value, CAVUM_UNIT_MV_PER_M);
  }
  if (options->num_gradients < 2) {
    return cavum_yaml_reader_fail(reader, list,
                                  "surface_resistance.gradients_MV_per_m: two or more were "
                                  "expected");
  }
done:
  return status;
}

// Keys that say nothing without several gradients.
static cavum_status check_no_field_keys(const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *section) {
  static const char *const keys[] = {"field_degree", "reference_temperature_K"};
  for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
    const cavum_yaml_node *node = cavum_yaml_reader_child(reader, section, keys[i]);
    if (!node) continue;
    return cavum_yaml_reader_fail(
        reader, node, "surface_resistance.%s: needs gradients_MV_per_m, which is not there",
        keys[i]);
  }
  return CAVUM_OK;
}

static cavum_status read_resistance(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(RESISTANCE_FIELDS);
  resistance_section found = {.tolerance_percent = 10.0, .reference_k = 2.0, .degree = -1};
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, "surface_resistance", table));
  if (!found.gradients) CAVUM_TRY(check_no_field_keys(reader, node));
  file->fit_resistance = true;
  file->resistance.e_acc_v_per_m = cavum_from_unit(found.gradient_mv_per_m, CAVUM_UNIT_MV_PER_M);
  file->resistance.e_acc_tolerance = cavum_from_unit(found.tolerance_percent, CAVUM_UNIT_PERCENT);
  file->resistance.fixed_gap_k = found.gap_k;
  cavum_resistance_field_options *field = &file->resistance_field;
  if (found.gradients) CAVUM_TRY(read_gradients(field, reader, found.gradients));
  field->e_acc_tolerance = file->resistance.e_acc_tolerance;
  field->fixed_gap_k = found.gap_k;
  field->reference_k = found.reference_k;
  field->degree = found.degree;
  // Readings of several gradients are no series: predictions are then made from the first of them.
  if (field->num_gradients > 0 && file->resistance.e_acc_v_per_m <= 0.0) {
    file->resistance.e_acc_v_per_m = field->e_acc_v_per_m[0];
  }
  if (found.predict) CAVUM_TRY(read_predictions(file, reader, found.predict));
done:
  return status;
}

/** `frequency` in the units of its keys. */
typedef struct frequency_section {
  double reading_hz, pressure_mbar, pressure_percent, stiffness_gpa_per_m, highest_mv_per_m;
} frequency_section;

static const cavum_yaml_field FREQUENCY_FIELDS[] = {
    CAVUM_TEST_NUMBER(frequency_section, reading_hz, "reading_uncertainty_Hz", 1e-6, 1e9),
    CAVUM_TEST_NUMBER(frequency_section, pressure_mbar, "pressure_uncertainty_mbar", 0.0, 1e3),
    CAVUM_TEST_NUMBER(frequency_section, pressure_percent,
                      "pressure_calibration_uncertainty_percent", 0.0, 50.0),
    CAVUM_TEST_NUMBER(frequency_section, stiffness_gpa_per_m, "wall_stiffness_GPa_per_m", 1e-9,
                      1e9),
    CAVUM_TEST_NUMBER(frequency_section, highest_mv_per_m, "up_to_MV_per_m", 1e-6, 1e6),
};

static cavum_status read_frequency(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                                   const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(FREQUENCY_FIELDS);
  frequency_section found = {0};
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, "frequency", table));
  file->fit_frequency = true;
  file->frequency = (cavum_frequency_options){
      .struct_size = sizeof file->frequency,
      .reading_hz = found.reading_hz,
      .pressure_pa = cavum_from_unit(found.pressure_mbar, CAVUM_UNIT_MBAR),
      .pressure_scale = cavum_from_unit(found.pressure_percent, CAVUM_UNIT_PERCENT),
      .stiffness_pa_per_m = cavum_from_unit(found.stiffness_gpa_per_m, CAVUM_UNIT_GPA_PER_M),
      .highest_e_acc_v_per_m = cavum_from_unit(found.highest_mv_per_m, CAVUM_UNIT_MV_PER_M)};
done:
  return status;
}

/** `trapped_flux` in the units of its keys. */
typedef struct flux_section {
  double ambient_ut, fraction, sensitivity_nohm_per_ut;
} flux_section;

static const cavum_yaml_field FLUX_FIELDS[] = {
    {.key = "ambient_field_uT",
     .offset = offsetof(flux_section, ambient_ut),
     .kind = CAVUM_YAML_FIELD_NUMBER,
     .required = true,
     .low = 0.0,
     .high = 1e6},
    CAVUM_TEST_NUMBER(flux_section, fraction, "trapped_fraction", 0.0, 1.0),
    CAVUM_TEST_NUMBER(flux_section, sensitivity_nohm_per_ut, "sensitivity_nohm_per_uT", 1e-6, 1e6),
};

static cavum_status read_flux(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(FLUX_FIELDS);
  flux_section found = {.fraction = 1.0};
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, "trapped_flux", table));
  file->has_trapped_flux = true;
  file->ambient_field_t = cavum_from_unit(found.ambient_ut, CAVUM_UNIT_MICROTESLA);
  file->trapped_fraction = found.fraction;
  file->flux_sensitivity_ohm_per_t =
      cavum_from_unit(found.sensitivity_nohm_per_ut, CAVUM_UNIT_NOHM_PER_MICROTESLA);
done:
  return status;
}

/** One trace in the units of its keys. */
typedef struct trace_section {
  const char *file;
  double frequency_mhz, noise_percent, floor_uw, first_s, last_s;
  int windows;
} trace_section;

static const cavum_yaml_field TRACE_FIELDS[] = {
    {.key = "file",
     .offset = offsetof(trace_section, file),
     .kind = CAVUM_YAML_FIELD_TEXT,
     .required = true},
    CAVUM_TEST_NUMBER(trace_section, frequency_mhz, "frequency_MHz", 1e-3, 1e6),
    CAVUM_TEST_NUMBER(trace_section, noise_percent, "noise_percent", 1e-9, 50.0),
    CAVUM_TEST_NUMBER(trace_section, floor_uw, "floor_uW", 0.0, 1e9),
    CAVUM_TEST_NUMBER(trace_section, first_s, "first_s", -1e6, 1e6),
    CAVUM_TEST_NUMBER(trace_section, last_s, "last_s", 1e-9, 1e6),
    CAVUM_TEST_COUNT(trace_section, windows, "windows", 1, 1000),
};

static cavum_status read_traces(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *list) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(TRACE_FIELDS);
  for (const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list); node;
       node = cavum_yaml_reader_next(reader, node)) {
    trace_section found = {.first_s = -1e6};
    if (file->num_traces == CAVUM_MAX_TRACES) {
      return cavum_yaml_reader_fail(reader, node, "traces: more than %d traces", CAVUM_MAX_TRACES);
    }
    cavum_coldtest_trace_entry *trace = &file->traces[file->num_traces];
    cavum_yaml_path path = cavum_yaml_path_index("traces", file->num_traces + 1);
    CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, path.text, table));
    CAVUM_TRY(cavum_test_file_copy_path(trace->path, reader, node,
                                        cavum_yaml_path_join(path.text, "file").text, found.file));
    trace->frequency_hz = cavum_from_unit(found.frequency_mhz, CAVUM_UNIT_MHZ);
    trace->options =
        (cavum_decay_options){.struct_size = sizeof trace->options,
                              .noise = cavum_from_unit(found.noise_percent, CAVUM_UNIT_PERCENT),
                              .floor_w = cavum_from_unit(found.floor_uw, CAVUM_UNIT_MICROWATT),
                              .first_time_s = found.first_s,
                              .last_time_s = found.last_s,
                              .num_windows = found.windows};
    file->num_traces++;
  }
done:
  return status;
}

/** One entry of `plan` in the units of its keys: one plan, or a table of them. */
typedef struct plan_section {
  double frequency_mhz, gradient_mv_per_m, q0, q_external, q_pickup;
  const cavum_yaml_node *gradients, *q0_values;
} plan_section;

#define MOST_GRADIENT 1e6
#define MOST_Q 1e30

static const cavum_yaml_field PLAN_FIELDS[] = {
    CAVUM_TEST_NUMBER(plan_section, frequency_mhz, "frequency_MHz", 1e-3, 1e6),
    CAVUM_TEST_NUMBER(plan_section, gradient_mv_per_m, "gradient_MV_per_m", 1e-6, MOST_GRADIENT),
    CAVUM_TEST_NODE(plan_section, gradients, "gradients_MV_per_m", CAVUM_YAML_FIELD_LIST),
    CAVUM_TEST_NUMBER(plan_section, q0, "q0", 1.0, MOST_Q),
    CAVUM_TEST_NODE(plan_section, q0_values, "q0_values", CAVUM_YAML_FIELD_LIST),
    {.key = "q_external",
     .offset = offsetof(plan_section, q_external),
     .kind = CAVUM_YAML_FIELD_NUMBER,
     .required = true,
     .low = 1.0,
     .high = MOST_Q},
    CAVUM_TEST_NUMBER(plan_section, q_pickup, "q_pickup", 1.0, MOST_Q),
};

/** Values along one side of a table of plans. */
typedef struct plan_axis {
  int count;
  double value[CAVUM_MAX_PLANS];
} plan_axis;

// A single number, or the numbers of a list: one of the two.
static cavum_status read_axis(plan_axis *axis, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *entry, double single,
                              const cavum_yaml_node *list, double most, const char *path,
                              const char *words) {
  axis->count = 0;
  if ((single > 0.0) == (list != NULL)) {
    return cavum_yaml_reader_fail(reader, entry, "%s: %s was expected", path, words);
  }
  if (!list) axis->value[axis->count++] = single;
  for (const cavum_yaml_node *node = list ? cavum_yaml_reader_first(reader, list) : NULL; node;
       node = cavum_yaml_reader_next(reader, node)) {
    if (axis->count == CAVUM_MAX_PLANS) break;
    double *value = &axis->value[axis->count++];
    cavum_status status = cavum_yaml_read_number(value, reader, node, path);
    if (status != CAVUM_OK) return status;
    if (!(*value > 0.0) || *value > most) {
      return cavum_yaml_reader_fail(reader, node, "%s: a number above 0, at most %g, was expected",
                                    path, most);
    }
  }
  if (axis->count > 0 && (!list || list->num_children <= CAVUM_MAX_PLANS)) return CAVUM_OK;
  return cavum_yaml_reader_fail(reader, entry, "%s: %s, 1 to %d numbers, was expected", path, words,
                                CAVUM_MAX_PLANS);
}

static cavum_status read_plan(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *node, const char *path) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(PLAN_FIELDS);
  plan_section found = {.q_pickup = INFINITY};
  plan_axis gradients, q0_values;
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, path, table));
  CAVUM_TRY(read_axis(&gradients, reader, node, found.gradient_mv_per_m, found.gradients,
                      MOST_GRADIENT, path, "gradient_MV_per_m or a list gradients_MV_per_m"));
  CAVUM_TRY(read_axis(&q0_values, reader, node, found.q0, found.q0_values, MOST_Q, path,
                      "q0 or a list q0_values"));
  if (file->num_plans + gradients.count * q0_values.count > CAVUM_MAX_PLANS) {
    status = cavum_yaml_reader_fail(reader, node, "plan: more than %d plans", CAVUM_MAX_PLANS);
    goto done;
  }
  for (int q = 0; q < q0_values.count; q++) {
    for (int i = 0; i < gradients.count; i++) {
      file->plans[file->num_plans++] = (cavum_plan_request){
          .struct_size = sizeof(cavum_plan_request),
          .frequency_hz = cavum_from_unit(found.frequency_mhz, CAVUM_UNIT_MHZ),
          .e_acc_v_per_m = cavum_from_unit(gradients.value[i], CAVUM_UNIT_MV_PER_M),
          .q0 = q0_values.value[q],
          .q_external = found.q_external,
          .q_pickup = found.q_pickup};
    }
  }
done:
  return status;
}

static cavum_status read_plans(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *list) {
  cavum_status status = CAVUM_OK;
  cavum_index entry = 1;
  for (const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list); node;
       node = cavum_yaml_reader_next(reader, node)) {
    cavum_yaml_path path = cavum_yaml_path_index("plan", entry++);
    CAVUM_TRY(read_plan(file, reader, node, path.text));
  }
done:
  return status;
}

cavum_status cavum_test_file_read_series(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                                         const cavum_yaml_node *root) {
  cavum_status status = CAVUM_OK;
  const struct {
    const char *key;
    cavum_status (*read)(cavum_coldtest_file *, const cavum_yaml_reader *, const cavum_yaml_node *);
  } sections[] = {{"surface_resistance", read_resistance},
                  {"frequency", read_frequency},
                  {"trapped_flux", read_flux},
                  {"traces", read_traces},
                  {"plan", read_plans}};
  for (size_t i = 0; i < sizeof sections / sizeof *sections; i++) {
    const cavum_yaml_node *node = cavum_yaml_reader_child(reader, root, sections[i].key);
    if (node) CAVUM_TRY(sections[i].read(file, reader, node));
  }
done:
  return status;
}
