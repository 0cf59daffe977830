// SPDX-License-Identifier: GPL-3.0-or-later
// One step of a step file: a mapping with one section that says what is done, a name, and what was
// measured behind it.
#include "steps/step_entry.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "yaml/fields.h"

static const double LARGEST_MHZ = 1e7, LARGEST_KHZ = 1e9;
static const double STANDARD_PRESSURE_PA = 101325.0;

/** An entry before it is taken over: exactly one of the sections is there. */
typedef struct entry_section {
  const char *name;
  double measured_hz, measured_uncertainty_hz;
  const cavum_yaml_node *change, *anneal, *air, *cool, *remove, *deposit, *stretch, *trim, *weld,
      *pressure, *lorentz, *preload;
} entry_section;

static const cavum_yaml_field entry_fields[] = {
    {.key = "name", .offset = offsetof(entry_section, name), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "measured_MHz",
     .offset = offsetof(entry_section, measured_hz),
     .unit = CAVUM_UNIT_MHZ,
     .low = 1e-3,
     .high = LARGEST_MHZ},
    {.key = "measured_uncertainty_kHz",
     .offset = offsetof(entry_section, measured_uncertainty_hz),
     .unit = CAVUM_UNIT_KHZ,
     .high = LARGEST_KHZ},
    {.key = "change", .offset = offsetof(entry_section, change), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "anneal", .offset = offsetof(entry_section, anneal), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "air", .offset = offsetof(entry_section, air), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "cool", .offset = offsetof(entry_section, cool), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "remove", .offset = offsetof(entry_section, remove), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "deposit",
     .offset = offsetof(entry_section, deposit),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "stretch",
     .offset = offsetof(entry_section, stretch),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "trim", .offset = offsetof(entry_section, trim), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "weld", .offset = offsetof(entry_section, weld), .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "pressure",
     .offset = offsetof(entry_section, pressure),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "lorentz",
     .offset = offsetof(entry_section, lorentz),
     .kind = CAVUM_YAML_FIELD_MAPPING},
    {.key = "preload",
     .offset = offsetof(entry_section, preload),
     .kind = CAVUM_YAML_FIELD_MAPPING},
};

static cavum_status copy_name(char copy[CAVUM_STEP_NAME_SIZE], const cavum_yaml_reader *reader,
                              const cavum_yaml_node *parent, const char *key, const char *text) {
  if (!text) return CAVUM_OK;
  if (strlen(text) < CAVUM_STEP_NAME_SIZE && text[0]) {
    memcpy(copy, text, strlen(text) + 1);
    return CAVUM_OK;
  }
  return cavum_yaml_reader_fail(reader, cavum_yaml_reader_child(reader, parent, key),
                                "%s: expected 1 to %d bytes", key, CAVUM_STEP_NAME_SIZE - 1);
}

// ---- a stated change

typedef struct change_section {
  double change_hz, uncertainty_hz;
  const char *source;
} change_section;

static cavum_status read_change(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      {.key = "change_kHz",
       .offset = offsetof(change_section, change_hz),
       .required = true,
       .unit = CAVUM_UNIT_KHZ,
       .low = -LARGEST_KHZ,
       .high = LARGEST_KHZ},
      {.key = "uncertainty_kHz",
       .offset = offsetof(change_section, uncertainty_hz),
       .unit = CAVUM_UNIT_KHZ,
       .high = LARGEST_KHZ},
      {.key = "source", .offset = offsetof(change_section, source), .kind = CAVUM_YAML_FIELD_TEXT}};
  change_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  step->change_hz = (cavum_stated){section.change_hz, section.uncertainty_hz};
  snprintf(step->what, sizeof step->what, "stated change");
  return copy_name(step->source, reader, node, "source", section.source);
}

// ---- gas

static const cavum_yaml_word gas_words[] = {
    {"air", CAVUM_GAS_AIR}, {"vacuum", CAVUM_GAS_VACUUM}, {"stated", CAVUM_GAS_STATED}, {NULL, 0}};

typedef struct air_section {
  int gas;
  cavum_air air, uncertainty;
  cavum_stated refractivity_ppm;
  const char *source;
} air_section;

static const cavum_yaml_field air_fields[] = {
    {.key = "gas",
     .offset = offsetof(air_section, gas),
     .kind = CAVUM_YAML_FIELD_WORD,
     .words = gas_words},
    {.key = "temperature_C",
     .offset = offsetof(air_section, air.temperature_c),
     .low = -273.15,
     .high = 1000.0},
    {.key = "temperature_uncertainty_C",
     .offset = offsetof(air_section, uncertainty.temperature_c),
     .high = 100.0},
    {.key = "pressure_mbar",
     .offset = offsetof(air_section, air.pressure_pa),
     .unit = CAVUM_UNIT_MBAR,
     .high = 1e5},
    {.key = "pressure_uncertainty_mbar",
     .offset = offsetof(air_section, uncertainty.pressure_pa),
     .unit = CAVUM_UNIT_MBAR,
     .high = 1e5},
    {.key = "humidity_percent",
     .offset = offsetof(air_section, air.humidity_percent),
     .high = 100.0},
    {.key = "humidity_uncertainty_percent",
     .offset = offsetof(air_section, uncertainty.humidity_percent),
     .high = 100.0},
    {.key = "refractivity_ppm",
     .offset = offsetof(air_section, refractivity_ppm.value),
     .high = 1e5},
    {.key = "refractivity_uncertainty_ppm",
     .offset = offsetof(air_section, refractivity_ppm.uncertainty),
     .high = 1e5},
    {.key = "source", .offset = offsetof(air_section, source), .kind = CAVUM_YAML_FIELD_TEXT},
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

static cavum_status read_air(cavum_chain_step *step, const cavum_yaml_reader *reader,
                             const cavum_yaml_node *node, const char *path) {
  air_section section = {.gas = CAVUM_GAS_AIR, .air = {.pressure_pa = STANDARD_PRESSURE_PA}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(air_fields);
  cavum_error what = {0};
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
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
  }
  return copy_name(step->source, reader, node, "source", section.source);
}

// ---- cooling

typedef struct cool_section {
  const char *material, *source;
  double from_k, to_k, axial_factor;
  cavum_stated contraction;
} cool_section;

static const double LARGEST_KELVIN = 3000.0;

static const cavum_yaml_field cool_fields[] = {
    {.key = "material", .offset = offsetof(cool_section, material), .kind = CAVUM_YAML_FIELD_TEXT},
    {.key = "from_K", .offset = offsetof(cool_section, from_k), .high = LARGEST_KELVIN},
    {.key = "to_K", .offset = offsetof(cool_section, to_k), .high = LARGEST_KELVIN},
    {.key = "contraction",
     .offset = offsetof(cool_section, contraction.value),
     .low = -0.1,
     .high = 0.1},
    {.key = "contraction_uncertainty",
     .offset = offsetof(cool_section, contraction.uncertainty),
     .high = 0.1},
    {.key = "axial_factor",
     .offset = offsetof(cool_section, axial_factor),
     .low = -10.0,
     .high = 10.0},
    {.key = "source", .offset = offsetof(cool_section, source), .kind = CAVUM_YAML_FIELD_TEXT},
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
  snprintf(step->what, sizeof step->what, "%s, %g K to %g K: contraction %.4g (%s)",
           section->material, section->from_k, section->to_k, step->contraction.value, source);
  return CAVUM_OK;
}

static cavum_status read_cool(cavum_chain_step *step, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *node, const char *path) {
  cool_section section = {
      .from_k = NAN, .to_k = NAN, .axial_factor = 1.0, .contraction = {NAN, NAN}};
  cavum_yaml_table table = CAVUM_YAML_TABLE(cool_fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status == CAVUM_OK) status = copy_name(step->source, reader, node, "source", section.source);
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

// ---- steps that move the wall

typedef struct amount_section {
  cavum_stated amount_m;
  double plastic_share;
  int place;
  const char *source;
} amount_section;

static const double LARGEST_DEPTH_UM = 1e6, LARGEST_STRETCH_MM = 1e4;

static cavum_status take_amount(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *node, const amount_section *section) {
  step->amount_m = section->amount_m;
  step->plastic_share = section->plastic_share;
  step->place = (cavum_place)section->place;
  return copy_name(step->source, reader, node, "source", section->source);
}

/** Depths before they are taken over. */
typedef struct depth_section {
  double depth_m, equator_m, iris_m, uncertainty_m; /**< NAN: not stated. */
  const cavum_yaml_node *profile;
  const char *source;
} depth_section;

static const cavum_yaml_field depth_fields[] = {
    {.key = "depth_um",
     .offset = offsetof(depth_section, depth_m),
     .unit = CAVUM_UNIT_UM,
     .high = LARGEST_DEPTH_UM},
    {.key = "equator_um",
     .offset = offsetof(depth_section, equator_m),
     .unit = CAVUM_UNIT_UM,
     .low = 1e-6,
     .high = LARGEST_DEPTH_UM},
    {.key = "iris_um",
     .offset = offsetof(depth_section, iris_m),
     .unit = CAVUM_UNIT_UM,
     .high = LARGEST_DEPTH_UM},
    {.key = "profile", .offset = offsetof(depth_section, profile), .kind = CAVUM_YAML_FIELD_LIST},
    {.key = "uncertainty_um",
     .offset = offsetof(depth_section, uncertainty_m),
     .unit = CAVUM_UNIT_UM,
     .high = LARGEST_DEPTH_UM},
    {.key = "source", .offset = offsetof(depth_section, source), .kind = CAVUM_YAML_FIELD_TEXT},
};

/** A place of a profile. */
typedef struct profile_place {
  double z_m, depth_m;
} profile_place;

static const cavum_yaml_field place_fields[] = {
    {.key = "z_mm",
     .offset = offsetof(profile_place, z_m),
     .required = true,
     .unit = CAVUM_UNIT_MM,
     .low = -LARGEST_STRETCH_MM,
     .high = LARGEST_STRETCH_MM},
    {.key = "depth_um",
     .offset = offsetof(profile_place, depth_m),
     .required = true,
     .unit = CAVUM_UNIT_UM,
     .high = LARGEST_DEPTH_UM},
};

// Depths at rising z; the amount of the step is the largest of them.
static cavum_status read_profile(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *list, const char *path) {
  cavum_depth_shape *depth = &step->depth;
  cavum_yaml_table table = CAVUM_YAML_TABLE(place_fields);
  const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list);
  double largest_m = 0.0;
  if (list->num_children < 2 || list->num_children > CAVUM_PROFILE_MOST) {
    return cavum_yaml_reader_fail(reader, list, "%s.profile: expected 2 to %d places", path,
                                  (int)CAVUM_PROFILE_MOST);
  }
  for (int i = 0; node; i++, node = cavum_yaml_reader_next(reader, node)) {
    profile_place place = {0};
    cavum_yaml_path entry = cavum_yaml_path_index(path, i + 1);
    cavum_status status = cavum_yaml_read_fields(&place, reader, node, entry.text, table);
    if (status != CAVUM_OK) return status;
    if (i > 0 && !(place.z_m > depth->z_m[i - 1])) {
      return cavum_yaml_reader_fail(reader, node, "%s.profile: z_mm must rise", path);
    }
    depth->z_m[i] = place.z_m;
    depth->share[i] = place.depth_m;
    depth->num_places = i + 1;
    largest_m = cavum_max(largest_m, place.depth_m);
  }
  if (!(largest_m > 0.0)) {
    return cavum_yaml_reader_fail(reader, list, "%s.profile: all depths are 0", path);
  }
  for (int i = 0; i < depth->num_places; i++) depth->share[i] /= largest_m;
  step->amount_m.value = largest_m;
  return CAVUM_OK;
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
  if (profile) return read_profile(step, reader, section->profile, path);
  step->amount_m.value = uniform ? section->depth_m : section->equator_m;
  if (equator) step->depth.iris_share = section->iris_m / section->equator_m;
  return CAVUM_OK;
}

static cavum_status read_depth(cavum_chain_step *step, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *node, const char *path) {
  depth_section section = {.depth_m = NAN, .equator_m = NAN, .iris_m = NAN};
  cavum_yaml_table table = CAVUM_YAML_TABLE(depth_fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
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
  return copy_name(step->source, reader, node, "source", section.source);
}

static cavum_status read_stretch(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      {.key = "length_mm",
       .offset = offsetof(amount_section, amount_m.value),
       .required = true,
       .unit = CAVUM_UNIT_MM,
       .low = -LARGEST_STRETCH_MM,
       .high = LARGEST_STRETCH_MM},
      {.key = "uncertainty_mm",
       .offset = offsetof(amount_section, amount_m.uncertainty),
       .unit = CAVUM_UNIT_MM,
       .high = LARGEST_STRETCH_MM},
      {.key = "plastic_share", .offset = offsetof(amount_section, plastic_share), .high = 1.0},
      {.key = "source", .offset = offsetof(amount_section, source), .kind = CAVUM_YAML_FIELD_TEXT}};
  amount_section section = {.plastic_share = 1.0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  double length_mm = cavum_in_mm(section.amount_m.value);
  char stays[48] = "";
  if (section.plastic_share != 1.0) {
    snprintf(stays, sizeof stays, ", of which %.4g %% stays",
             cavum_in_unit(section.plastic_share, CAVUM_UNIT_PERCENT));
  }
  snprintf(step->what, sizeof step->what, "%s by %.6g mm%s",
           length_mm < 0.0 ? "squeezed" : "stretched", fabs(length_mm), stays);
  return take_amount(step, reader, node, &section);
}

static const cavum_yaml_word place_words[] = {{"equator", CAVUM_PLACE_EQUATOR},
                                              {"iris", CAVUM_PLACE_IRIS},
                                              {"left iris", CAVUM_PLACE_LEFT_IRIS},
                                              {"right iris", CAVUM_PLACE_RIGHT_IRIS},
                                              {NULL, 0}};

// The metal that a weld or a cut takes off each side.
static cavum_status read_loss(cavum_chain_step *step, const cavum_yaml_reader *reader,
                              const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      {.key = "at",
       .offset = offsetof(amount_section, place),
       .kind = CAVUM_YAML_FIELD_WORD,
       .required = true,
       .words = place_words},
      {.key = "each_side_mm",
       .offset = offsetof(amount_section, amount_m.value),
       .required = true,
       .unit = CAVUM_UNIT_MM,
       .high = LARGEST_STRETCH_MM},
      {.key = "uncertainty_mm",
       .offset = offsetof(amount_section, amount_m.uncertainty),
       .unit = CAVUM_UNIT_MM,
       .high = LARGEST_STRETCH_MM},
      {.key = "source", .offset = offsetof(amount_section, source), .kind = CAVUM_YAML_FIELD_TEXT}};
  amount_section section = {.plastic_share = 1.0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  snprintf(step->what, sizeof step->what, "%.6g mm %s each side at the %s",
           cavum_in_mm(section.amount_m.value),
           step->kind == CAVUM_STEP_TRIM ? "cut off" : "lost in the weld on",
           place_words[section.place].text);
  return take_amount(step, reader, node, &section);
}

// ---- forces

/** A force and what it does; one of the kinds. */
typedef struct force_section {
  double pressure_pa, hz_per_pa, hz_per_pa_uncertainty;
  double gradient, hz_per_gradient2, hz_per_gradient2_uncertainty;
  double force_n, n_per_m, n_per_m_uncertainty;
  const char *source;
} force_section;

static const double LARGEST_MBAR = 1e6, LARGEST_SENSITIVITY = 1e9;

static cavum_status read_pressure(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      {.key = "change_mbar",
       .offset = offsetof(force_section, pressure_pa),
       .required = true,
       .unit = CAVUM_UNIT_MBAR,
       .low = -LARGEST_MBAR,
       .high = LARGEST_MBAR},
      {.key = "sensitivity_Hz_per_mbar",
       .offset = offsetof(force_section, hz_per_pa),
       .required = true,
       .unit = CAVUM_UNIT_HZ_PER_MBAR,
       .low = -LARGEST_SENSITIVITY,
       .high = LARGEST_SENSITIVITY},
      {.key = "sensitivity_uncertainty_Hz_per_mbar",
       .offset = offsetof(force_section, hz_per_pa_uncertainty),
       .unit = CAVUM_UNIT_HZ_PER_MBAR,
       .high = LARGEST_SENSITIVITY},
      {.key = "source", .offset = offsetof(force_section, source), .kind = CAVUM_YAML_FIELD_TEXT}};
  force_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  // An uncertainty has no sign, but two steps of one sensitivity err as their pressures go.
  step->change_hz = (cavum_stated){section.pressure_pa * section.hz_per_pa,
                                   section.pressure_pa * section.hz_per_pa_uncertainty};
  snprintf(step->what, sizeof step->what, "%+.6g mbar on the wall, %.6g Hz/mbar (stated)",
           cavum_in_unit(section.pressure_pa, CAVUM_UNIT_MBAR),
           cavum_in_unit(section.hz_per_pa, CAVUM_UNIT_HZ_PER_MBAR));
  return copy_name(step->source, reader, node, "source", section.source);
}

static cavum_status read_lorentz(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      {.key = "gradient_MV_per_m",
       .offset = offsetof(force_section, gradient),
       .required = true,
       .high = 1e3},
      {.key = "coefficient_Hz_per_MV_per_m_squared",
       .offset = offsetof(force_section, hz_per_gradient2),
       .required = true,
       .low = -LARGEST_SENSITIVITY,
       .high = LARGEST_SENSITIVITY},
      {.key = "coefficient_uncertainty_Hz_per_MV_per_m_squared",
       .offset = offsetof(force_section, hz_per_gradient2_uncertainty),
       .high = LARGEST_SENSITIVITY},
      {.key = "source", .offset = offsetof(force_section, source), .kind = CAVUM_YAML_FIELD_TEXT}};
  force_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  double square = section.gradient * section.gradient;
  step->change_hz = (cavum_stated){square * section.hz_per_gradient2,
                                   square * section.hz_per_gradient2_uncertainty};
  snprintf(step->what, sizeof step->what, "Lorentz force at %.6g MV/m, %.6g Hz/(MV/m)^2 (stated)",
           section.gradient, section.hz_per_gradient2);
  return copy_name(step->source, reader, node, "source", section.source);
}

static cavum_status read_preload(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      {.key = "force_N",
       .offset = offsetof(force_section, force_n),
       .required = true,
       .low = -1e9,
       .high = 1e9},
      {.key = "stiffness_N_per_mm",
       .offset = offsetof(force_section, n_per_m),
       .required = true,
       .low = 1e-3,
       .high = 1e9},
      {.key = "stiffness_uncertainty_N_per_mm",
       .offset = offsetof(force_section, n_per_m_uncertainty),
       .high = 1e9},
      {.key = "source", .offset = offsetof(force_section, source), .kind = CAVUM_YAML_FIELD_TEXT}};
  force_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  double length_mm = section.force_n / section.n_per_m;
  step->amount_m.value = cavum_from_unit(length_mm, CAVUM_UNIT_MM);
  step->amount_m.uncertainty =
      fabs(step->amount_m.value) * section.n_per_m_uncertainty / section.n_per_m;
  step->plastic_share = 1.0;
  snprintf(step->what, sizeof step->what, "%s by %.6g N over %.6g N/mm (stated), %.4g mm",
           section.force_n < 0.0 ? "pressed" : "pulled", fabs(section.force_n), section.n_per_m,
           fabs(length_mm));
  return copy_name(step->source, reader, node, "source", section.source);
}

// ---- an entry

typedef cavum_status read_section(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path);

static cavum_status read_action(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                const cavum_yaml_node *entry, const char *path,
                                const entry_section *section) {
  const struct {
    const cavum_yaml_node *node;
    cavum_step_kind kind;
    read_section *read;
  } actions[] = {{section->change, CAVUM_STEP_CHANGE, read_change},
                 {section->anneal, CAVUM_STEP_ANNEAL, read_change},
                 {section->air, CAVUM_STEP_AIR, read_air},
                 {section->cool, CAVUM_STEP_COOL, read_cool},
                 {section->remove, CAVUM_STEP_REMOVE, read_depth},
                 {section->deposit, CAVUM_STEP_DEPOSIT, read_depth},
                 {section->stretch, CAVUM_STEP_STRETCH, read_stretch},
                 {section->trim, CAVUM_STEP_TRIM, read_loss},
                 {section->weld, CAVUM_STEP_WELD, read_loss},
                 {section->pressure, CAVUM_STEP_PRESSURE, read_pressure},
                 {section->lorentz, CAVUM_STEP_LORENTZ, read_lorentz},
                 {section->preload, CAVUM_STEP_PRELOAD, read_preload}};
  enum { NUM_ACTIONS = sizeof actions / sizeof actions[0] };
  int found = -1, count = 0;
  for (int i = 0; i < NUM_ACTIONS; i++) {
    if (!actions[i].node) continue;
    found = i;
    count++;
  }
  if (count != 1) {
    return cavum_yaml_reader_fail(reader, entry,
                                  "%s: expected exactly one of change, anneal, air, cool, remove, "
                                  "deposit, stretch, trim, weld, pressure, lorentz and preload, "
                                  "found %d",
                                  path, count);
  }
  step->kind = actions[found].kind;
  return actions[found].read(step, reader, actions[found].node,
                             cavum_yaml_path_join(path, cavum_step_kind_name(step->kind)).text);
}

cavum_status cavum_step_entry_read(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                   const cavum_yaml_node *node, const char *path, int number) {
  entry_section section = {.measured_hz = NAN};
  cavum_yaml_table table = CAVUM_YAML_TABLE(entry_fields);
  cavum_status status = cavum_yaml_read_fields(&section, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  const cavum_yaml_node *uncertainty =
      cavum_yaml_reader_child(reader, node, "measured_uncertainty_kHz");
  if (uncertainty && isnan(section.measured_hz)) {
    return cavum_yaml_reader_fail(reader, uncertainty,
                                  "%s.measured_uncertainty_kHz: goes with measured_MHz", path);
  }
  step->line = node->line;
  step->column = node->column;
  step->measured_hz = (cavum_stated){section.measured_hz, section.measured_uncertainty_hz};
  status = copy_name(step->name, reader, node, "name", section.name);
  if (status == CAVUM_OK) status = read_action(step, reader, node, path, &section);
  if (status == CAVUM_OK && !step->name[0]) {
    snprintf(step->name, sizeof step->name, "%d %s", number, cavum_step_kind_name(step->kind));
  }
  return status;
}
