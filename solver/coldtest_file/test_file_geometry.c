// SPDX-License-Identifier: GPL-3.0-or-later
// `geometry` of a test file. Typed figures must say their R/Q convention and accelerating length:
// the wrong convention is a factor 1.4 in every gradient.
#include <stdio.h>
#include <string.h>

#include "coldtest_file/sections.h"

/** The section. */
typedef struct geometry_section {
  const char *result;
  int mode;
  const cavum_yaml_node *figures;
} geometry_section;

static const cavum_yaml_field GEOMETRY_FIELDS[] = {
    CAVUM_TEST_TEXT(geometry_section, result, "result"),
    CAVUM_TEST_COUNT(geometry_section, mode, "mode", 1, 100000),
    CAVUM_TEST_NODE(geometry_section, figures, "figures", CAVUM_YAML_FIELD_MAPPING),
};

enum { CONVENTION_NONE, CONVENTION_LINAC, CONVENTION_CIRCUIT };
static const cavum_yaml_word CONVENTION_WORDS[] = {
    {"linac", CONVENTION_LINAC}, {"circuit", CONVENTION_CIRCUIT}, {NULL, 0}};

/** Figures in the units of their keys. */
typedef struct figures_section {
  const char *source;
  int convention;
  double r_over_q_ohm, r_over_q_percent;
  double length_mm, length_uncertainty_mm;
  double factor_ohm, factor_percent;
  double epk, epk_percent;
  double bpk, bpk_percent;
} figures_section;

static const cavum_yaml_field FIGURE_FIELDS[] = {
    CAVUM_TEST_TEXT(figures_section, source, "source"),
    CAVUM_TEST_WORD(figures_section, convention, "r_over_q_convention", CONVENTION_WORDS),
    CAVUM_TEST_NUMBER(figures_section, r_over_q_ohm, "r_over_q_ohm", 1e-6, 1e9),
    CAVUM_TEST_NUMBER(figures_section, r_over_q_percent, "r_over_q_uncertainty_percent", 0.0, 50.0),
    CAVUM_TEST_NUMBER(figures_section, length_mm, "accelerating_length_mm", 1e-3, 1e6),
    CAVUM_TEST_NUMBER(figures_section, length_uncertainty_mm, "accelerating_length_uncertainty_mm",
                      0.0, 1e6),
    CAVUM_TEST_NUMBER(figures_section, factor_ohm, "geometry_factor_ohm", 1e-3, 1e6),
    CAVUM_TEST_NUMBER(figures_section, factor_percent, "geometry_factor_uncertainty_percent", 0.0,
                      50.0),
    CAVUM_TEST_NUMBER(figures_section, epk, "epk_over_eacc", 1e-3, 1e4),
    CAVUM_TEST_NUMBER(figures_section, epk_percent, "epk_over_eacc_uncertainty_percent", 0.0, 50.0),
    CAVUM_TEST_NUMBER(figures_section, bpk, "bpk_over_eacc_mT_per_MV_per_m", 1e-3, 1e4),
    CAVUM_TEST_NUMBER(figures_section, bpk_percent, "bpk_over_eacc_uncertainty_percent", 0.0, 50.0),
};

static cavum_estimate from_percent(double value, double percent) {
  return (cavum_estimate){.value = value,
                          .uncertainty = cavum_from_unit(percent, CAVUM_UNIT_PERCENT) * value};
}

static cavum_status read_figures(cavum_coldtest_setup *setup, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(FIGURE_FIELDS);
  figures_section found = {0};
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, "geometry.figures", table));
  if (!(found.r_over_q_ohm > 0.0) || found.convention == CONVENTION_NONE) {
    return cavum_yaml_reader_fail(reader, node,
                                  "geometry.figures: r_over_q_ohm and r_over_q_convention (linac: "
                                  "V^2/(omega U), circuit: V^2/(2 omega U)) were expected");
  }
  if (!(found.length_mm > 0.0)) {
    return cavum_yaml_reader_fail(
        reader, node,
        "geometry.figures: accelerating_length_mm was expected: a gradient "
        "means nothing without its length");
  }
  double linac = found.convention == CONVENTION_CIRCUIT ? 2.0 : 1.0;
  setup->r_over_q_linac_ohm = from_percent(linac * found.r_over_q_ohm, found.r_over_q_percent);
  setup->accelerating_length_m = (cavum_estimate){
      cavum_from_unit(found.length_mm, CAVUM_UNIT_MM),
      cavum_from_unit(found.length_uncertainty_mm, CAVUM_UNIT_MM), CAVUM_DISTRIBUTION_NORMAL};
  setup->geometry_factor_ohm = from_percent(found.factor_ohm, found.factor_percent);
  setup->epk_over_eacc = from_percent(found.epk, found.epk_percent);
  setup->bpk_over_eacc_t_per_v_per_m = from_percent(
      cavum_from_unit(found.bpk, CAVUM_UNIT_MILLITESLA_PER_MV_PER_M), found.bpk_percent);
  snprintf(setup->geometry_from, sizeof setup->geometry_from, "typed in, R/Q %s convention%s%.160s",
           found.convention == CONVENTION_CIRCUIT ? "circuit" : "linac", found.source ? ": " : "",
           found.source ? found.source : "");
done:
  return status;
}

cavum_status cavum_test_file_read_geometry(cavum_coldtest_file *file,
                                           const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(GEOMETRY_FIELDS);
  geometry_section found = {.mode = 0};
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, "geometry", table));
  if ((found.result != NULL) == (found.figures != NULL)) {
    return cavum_yaml_reader_fail(
        reader, node,
        "geometry: either result (a result file of a solve) or figures was "
        "expected");
  }
  if (found.figures) {
    if (found.mode > 0) {
      return cavum_yaml_reader_fail(reader, node, "geometry.mode: is for result, not for figures");
    }
    return read_figures(&file->setup, reader, found.figures);
  }
  file->result_mode = found.mode > 0 ? found.mode - 1 : 0;
  CAVUM_TRY(
      cavum_test_file_copy_path(file->result_path, reader, node, "geometry.result", found.result));
done:
  return status;
}
