// SPDX-License-Identifier: GPL-3.0-or-later
// Test files: the top level and the sections of one line each. Numbers stay in the unit of their
// key until they are converted, once, where they are stored.
#include <string.h>

#include "coldtest_file/sections.h"

void cavum_coldtest_file_clear(cavum_coldtest_file *file) {
  if (!file) return;
  free(file->text);
  *file = (cavum_coldtest_file){0};
}

/** The top level; sections are read in the files beside this one. */
typedef struct top_level {
  const char *title, *ended;
  double frequency_mhz, frequency_ppm;
  int published;
  const cavum_yaml_node *geometry, *readings, *channels, *meters, *input_line, *coupler,
      *circulator, *decay, *temperature, *loop, *method, *pickup, *input_coupler, *statistics,
      *limits, *surface_resistance, *bath, *frequency, *radiation, *emission, *shared,
      *trapped_flux, *traces, *plan;
} top_level;

static const cavum_yaml_word PUBLISHED_WORDS[] = {{"none", 0}, {"niobium", 1}, {NULL, 0}};

static const cavum_yaml_field TOP_FIELDS[] = {
    CAVUM_TEST_TEXT(top_level, title, "title"),
    CAVUM_TEST_TEXT(top_level, ended, "ended"),
    {.key = "geometry",
     .offset = offsetof(top_level, geometry),
     .kind = CAVUM_YAML_FIELD_MAPPING,
     .required = true},
    CAVUM_TEST_NUMBER(top_level, frequency_mhz, "frequency_MHz", 1e-3, 1e6),
    CAVUM_TEST_NUMBER(top_level, frequency_ppm, "frequency_uncertainty_ppm", 0.0, 1e5),
    CAVUM_TEST_NODE(top_level, readings, "readings", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, channels, "channels", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, meters, "meters", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, input_line, "input_line", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, coupler, "directional_coupler", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, circulator, "circulator", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, decay, "decay", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, temperature, "temperature", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, loop, "loop", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, method, "method", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, pickup, "pickup", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, input_coupler, "input_coupler", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, statistics, "statistics", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, limits, "limits", CAVUM_YAML_FIELD_LIST),
    CAVUM_TEST_WORD(top_level, published, "published_limits", PUBLISHED_WORDS),
    CAVUM_TEST_NODE(top_level, surface_resistance, "surface_resistance", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, bath, "bath", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, frequency, "frequency", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, radiation, "radiation", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, emission, "field_emission", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, shared, "shared", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, trapped_flux, "trapped_flux", CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(top_level, traces, "traces", CAVUM_YAML_FIELD_LIST),
    CAVUM_TEST_NODE(top_level, plan, "plan", CAVUM_YAML_FIELD_LIST),
};

static cavum_status read_readings_name(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                                       const cavum_yaml_node *node) {
  struct {
    const char *file;
  } section = {NULL};
  static const cavum_yaml_field fields[] = {
      {.key = "file", .offset = 0, .kind = CAVUM_YAML_FIELD_TEXT, .required = true}};
  const cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, "readings", table);
  if (status != CAVUM_OK) return status;
  return cavum_test_file_copy_path(file->readings_path, reader, node, "readings.file",
                                   section.file);
}

// What tests that are compared have in common, by names.
static cavum_status read_shared(cavum_coldtest_file *file, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *node) {
  struct shared_section {
    const char *calibration, *shape;
  } found = {NULL, NULL};
  static const cavum_yaml_field fields[] = {
      CAVUM_TEST_TEXT(struct shared_section, calibration, "calibration"),
      CAVUM_TEST_TEXT(struct shared_section, shape, "shape")};
  const cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, "shared", table));
  if (found.calibration) {
    CAVUM_TRY(cavum_test_file_copy(file->shared_calibration, sizeof file->shared_calibration,
                                   reader, node, "shared.calibration", found.calibration));
  }
  if (found.shape) {
    CAVUM_TRY(cavum_test_file_copy(file->shared_shape, sizeof file->shared_shape, reader, node,
                                   "shared.shape", found.shape));
  }
done:
  return status;
}

static cavum_status read_top(cavum_coldtest_file *file, const cavum_yaml_reader *reader) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_node *root = &reader->tree.nodes[0];
  const cavum_yaml_table table = CAVUM_YAML_TABLE(TOP_FIELDS);
  cavum_coldtest_setup *setup = &file->setup;
  top_level top = {0};
  CAVUM_TRY(cavum_yaml_read_fields(&top, reader, root, "", table));
  if (top.title) {
    CAVUM_TRY(
        cavum_test_file_copy(setup->title, sizeof setup->title, reader, root, "title", top.title));
  }
  if (top.ended) {
    CAVUM_TRY(
        cavum_test_file_copy(setup->ended, sizeof setup->ended, reader, root, "ended", top.ended));
  }
  setup->frequency_hz = cavum_from_unit(top.frequency_mhz, CAVUM_UNIT_MHZ);
  setup->frequency_uncertainty = cavum_from_unit(top.frequency_ppm, CAVUM_UNIT_PPM);
  CAVUM_TRY(cavum_test_file_read_geometry(file, reader, top.geometry));
  if (top.channels) CAVUM_TRY(cavum_test_file_read_channels(setup, reader, top.channels));
  if (top.readings) CAVUM_TRY(read_readings_name(file, reader, top.readings));
  CAVUM_TRY(cavum_test_file_read_calibration(file, reader, root));
  if (top.limits) CAVUM_TRY(cavum_test_file_read_limits(setup, reader, top.limits));
  if (top.published) {
    const cavum_yaml_node *node = cavum_yaml_reader_child(reader, root, "published_limits");
    CAVUM_TRY(cavum_test_file_add_published_limits(setup, reader, node));
  }
  CAVUM_TRY(cavum_test_file_read_series(file, reader, root));
  if (top.shared) CAVUM_TRY(read_shared(file, reader, top.shared));
  CAVUM_TRY(cavum_test_file_read_emission(file, reader, root));
  if (!top.readings && !top.plan) {
    status =
        cavum_yaml_reader_fail(reader, root, "neither readings nor plan: one of them was expected");
  }
done:
  return status;
}

cavum_status cavum_coldtest_file_read_text(cavum_coldtest_file *file, const char *text,
                                           size_t length, const char *name, cavum_error *error) {
  if (!file || !text) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_yaml_reader reader = {0};
  cavum_coldtest_file *out = cavum_alloc(1, sizeof *out);
  if (!out) return cavum_fail_memory(error);
  out->setup = cavum_coldtest_setup_default();
  out->monte_carlo_points = 100;
  out->trapped_fraction = 1.0;
  out->resistance = cavum_resistance_options_default();
  out->resistance_field = cavum_resistance_field_options_default();
  out->emission = cavum_field_emission_options_default();
  out->frequency = cavum_frequency_options_default();
  CAVUM_TRY(cavum_yaml_reader_open(&reader, text, length, CAVUM_YAML_LARGEST_TEXT, name, error));
  out->text = cavum_alloc((int64_t)length + 1, 1);
  if (!out->text) CAVUM_TRY(cavum_fail_memory(error));
  memcpy(out->text, text, length);
  CAVUM_TRY(read_top(out, &reader));
  *file = *out;
  out->text = NULL;
done:
  cavum_yaml_reader_clear(&reader);
  cavum_coldtest_file_clear(out);
  free(out);
  return status;
}

cavum_status cavum_coldtest_file_read(cavum_coldtest_file *file, const char *path,
                                      cavum_error *error) {
  if (!file || !path) return cavum_fail_null(error, __func__);
  char *text = NULL;
  size_t length = 0;
  cavum_status status = cavum_yaml_load_text(&text, &length, path, CAVUM_YAML_LARGEST_TEXT, error);
  if (status != CAVUM_OK) return status;
  status = cavum_coldtest_file_read_text(file, text, length, path, error);
  free(text);
  return status;
}
