// SPDX-License-Identifier: GPL-3.0-or-later
// Depths of metal off or onto the wall: the same everywhere, between equator and iris, or by a
// profile.
#include "steps/entry_depth.h"

#include <float.h>
#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/file_moved.h"

static const double LARGEST_DEPTH_UM = 1e6, LARGEST_Z_MM = 1e4;

/** Depths before they are taken over. */
typedef struct depth_section {
  double depth_m, equator_m, iris_m, uncertainty_m; /**< NAN: not stated. */
  const cavum_yaml_node *profile;
} depth_section;

static const cavum_yaml_field depth_fields[] = {
    CAVUM_STEP_FIELD(depth_section, "depth_um", depth_m, .unit = CAVUM_UNIT_UM,
                     .high = LARGEST_DEPTH_UM),
    CAVUM_STEP_FIELD(depth_section, "equator_um", equator_m, .unit = CAVUM_UNIT_UM, .low = 1e-6,
                     .high = LARGEST_DEPTH_UM),
    CAVUM_STEP_FIELD(depth_section, "iris_um", iris_m, .unit = CAVUM_UNIT_UM,
                     .high = LARGEST_DEPTH_UM),
    CAVUM_STEP_FIELD(depth_section, "profile", profile, .kind = CAVUM_YAML_FIELD_LIST),
    CAVUM_STEP_FIELD(depth_section, "uncertainty_um", uncertainty_m, .unit = CAVUM_UNIT_UM,
                     .high = LARGEST_DEPTH_UM),
    CAVUM_STEP_SOURCE,
};

static const cavum_yaml_field place_fields[] = {
    CAVUM_STEP_FIELD(cavum_profile_place, "z_mm", z_m, .required = true, .unit = CAVUM_UNIT_MM,
                     .low = -LARGEST_Z_MM, .high = LARGEST_Z_MM),
    CAVUM_STEP_FIELD(cavum_profile_place, "depth_um", share, .required = true,
                     .unit = CAVUM_UNIT_UM, .high = LARGEST_DEPTH_UM),
};

static const cavum_yaml_field deflection_fields[] = {
    CAVUM_STEP_FIELD(cavum_profile_place, "z_mm", z_m, .required = true, .unit = CAVUM_UNIT_MM,
                     .low = -LARGEST_Z_MM, .high = LARGEST_Z_MM),
    CAVUM_STEP_FIELD(cavum_profile_place, "um_per_mbar", share, .required = true,
                     .low = -LARGEST_DEPTH_UM, .high = LARGEST_DEPTH_UM),
};

// Places with a number each: shares of the largest, which is given.
static cavum_status read_places(double *largest, cavum_depth_shape *depth, cavum_yaml_table table,
                                const cavum_yaml_reader *reader, const cavum_yaml_node *list,
                                const char *path) {
  cavum_status status = cavum_cell_file_read_profile(depth, table, reader, list, path);
  if (status != CAVUM_OK) return status;
  *largest = 0.0;
  for (int i = 0; i < depth->num_places; i++) {
    *largest = cavum_max(*largest, fabs(depth->share[i]));
  }
  if (!(*largest > 0.0)) return cavum_yaml_reader_fail(reader, list, "%s: all are 0", path);
  for (int i = 0; i < depth->num_places; i++) depth->share[i] /= *largest;
  return CAVUM_OK;
}

cavum_status cavum_step_read_deflection(double *largest_m_per_pa, cavum_depth_shape *depth,
                                        const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *list, const char *path) {
  cavum_yaml_table table = CAVUM_YAML_TABLE(deflection_fields);
  cavum_status status = read_places(largest_m_per_pa, depth, table, reader, list, path);
  if (status == CAVUM_OK) {
    *largest_m_per_pa =
        cavum_from_unit(*largest_m_per_pa, CAVUM_UNIT_UM) / cavum_from_unit(1.0, CAVUM_UNIT_MBAR);
  }
  return status;
}

// The decimal number that a value was before it was converted or divided, if it is one of few
// digits.
static double round_decimal(double value) {
  enum { DIGITS = 15 };
  if (value == 0.0 || !isfinite(value)) return value;
  double scale = pow(10.0, DIGITS - 1 - floor(log10(fabs(value))));
  return round(value * scale) / scale;
}

static bool is_rounding(double a, double b) { return fabs(a - b) <= 2.0 * DBL_EPSILON * fabs(b); }

// A depth as the reader of cell files takes it in mm, but for rounding: 120 um are 0.12 mm in the
// file of a shape, and not 0.12000000000000001 mm.
static double as_of_cell_file(double depth_m) {
  double read_m = cavum_from_unit(round_decimal(cavum_in_mm(depth_m)), CAVUM_UNIT_MM);
  return is_rounding(read_m, depth_m) ? read_m : depth_m;
}

// A share likewise: 150 um of 100 um are 1.5.
static double share_of(double depth_m, double whole_m) {
  double share = depth_m / whole_m, decimal = round_decimal(share);
  return is_rounding(decimal, share) ? decimal : share;
}

static cavum_status set_depth(cavum_chain_step *step, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *node, const char *path,
                              const depth_section *section) {
  bool uniform = !isnan(section->depth_m), profile = section->profile != NULL;
  bool equator = !isnan(section->equator_m), iris = !isnan(section->iris_m);
  if (equator != iris || uniform + profile + equator != 1) {
    return cavum_yaml_reader_fail(
        reader, node, "%s: expected depth_um, or equator_um and iris_um, or profile", path);
  }
  step->depth.iris_share = 1.0;
  step->amount_m.uncertainty = section->uncertainty_m;
  if (profile) {
    cavum_yaml_table table = CAVUM_YAML_TABLE(place_fields);
    return read_places(&step->amount_m.value, &step->depth, table, reader, section->profile,
                       cavum_yaml_path_join(path, "profile").text);
  }
  step->amount_m.value = as_of_cell_file(uniform ? section->depth_m : section->equator_m);
  if (equator) step->depth.iris_share = share_of(section->iris_m, section->equator_m);
  return CAVUM_OK;
}

cavum_status cavum_step_read_depth(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                   const cavum_yaml_node *node, const char *path) {
  depth_section section = {.depth_m = NAN, .equator_m = NAN, .iris_m = NAN};
  cavum_yaml_table table = CAVUM_YAML_TABLE(depth_fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status == CAVUM_OK) status = set_depth(step, reader, node, path, &section);
  if (status != CAVUM_OK) return status;
  double amount_um = cavum_in_unit(step->amount_m.value, CAVUM_UNIT_UM);
  const char *way = step->kind == CAVUM_STEP_REMOVE ? "off" : "onto";
  if (section.profile) {
    snprintf(step->what, sizeof step->what, "up to %.6g um %s the metal, by a profile along z",
             amount_um, way);
  } else if (step->depth.iris_share != 1.0) {
    snprintf(step->what, sizeof step->what,
             "%.6g um %s the metal at the equator, %.6g um at the iris, linear in r", amount_um,
             way, amount_um * step->depth.iris_share);
  } else {
    snprintf(step->what, sizeof step->what, "%.6g um %s all metal, along its normals", amount_um,
             way);
  }
  return CAVUM_OK;
}
