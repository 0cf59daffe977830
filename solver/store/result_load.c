// SPDX-License-Identifier: GPL-3.0-or-later
// Reads a whole result file back into a cavum_result, for pictures and reports. Files may come from
// anyone: every size is checked against the others before it is used.
#include "store/result_load.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/sized.h"
#include "cavum/store.h"
#include "element/element_map.h"
#include "figures/stored_figure.h"
#include "hdf5/hdf5_file.h"
#include "store/requirements_file.h"
#include "store/result_private.h"
#include "store/stored_derivative.h"

// A column of a group that may be missing as a whole.
typedef struct column_target {
  const char *name;
  double **values;
} column_target;

// Reads equally long columns; with `optional`, nothing when the first is missing.
static cavum_status read_columns(cavum_index *num_rows, const cavum_hdf5_file *file,
                                 const char *group, int num_columns, const column_target *columns,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[128];
  int64_t rows = 0;
  for (int i = 0; i < num_columns; i++) {
    int64_t count = 0;
    snprintf(path, sizeof path, "%s/%s", group, columns[i].name);
    if (i == 0 && !cavum_hdf5_has(file, path)) return CAVUM_OK;
    CAVUM_TRY(cavum_hdf5_read_doubles(columns[i].values, &count, file, path, error));
    if (i == 0) rows = count;
    if (count != rows) {
      CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT,
                           "result file is damaged: %s has %lld rows, "
                           "expected %lld",
                           path, (long long)count, (long long)rows));
    }
  }
  *num_rows = (cavum_index)rows;
done:
  return status;
}

// A column that earlier files do not have: as long as the first, or nothing.
static cavum_status read_optional(column_target column, const char *first, cavum_index num_rows,
                                  const cavum_hdf5_file *file, const char *group,
                                  cavum_error *error) {
  char path[128];
  snprintf(path, sizeof path, "%s/%s", group, column.name);
  if (!cavum_hdf5_has(file, path)) return CAVUM_OK;
  // With the first column again, so that they are as long.
  double *again = NULL;
  const column_target pair[] = {{first, &again}, column};
  cavum_status status = read_columns(&num_rows, file, group, 2, pair, error);
  free(again);
  return status;
}

static cavum_status fill_profile(cavum_profile *profile, cavum_error *error) {
  cavum_index n = profile->num_points;
  double **missing[] = {&profile->arc_length_m, &profile->r_m, &profile->h_a_per_m};
  for (int i = 0; i < 3; i++) {
    if (!*missing[i]) *missing[i] = cavum_alloc(n, sizeof(double));
    if (!*missing[i]) return cavum_fail_memory(error);
  }
  profile->curve = cavum_alloc(n, sizeof *profile->curve);
  return profile->curve ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status read_axis(cavum_mode_result *mode, const cavum_hdf5_file *file,
                              const char *group, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_profile *axis = &mode->axis;
  const column_target columns[] = {{"axis/z", &axis->z_m}, {"axis/E_z", &axis->e_v_per_m}};
  CAVUM_TRY(read_columns(&axis->num_points, file, group, 2, columns, error));
  if (axis->num_points == 0) return CAVUM_OK;
  CAVUM_TRY(fill_profile(axis, error));
  for (cavum_index i = 0; i < axis->num_points; i++) {
    axis->arc_length_m[i] = axis->z_m[i] - axis->z_m[0];
    axis->curve[i] = -1;
  }
  const column_target uncertainty = {"axis/E_z_uncertainty", &mode->axis_e_uncertainty_v_per_m};
  CAVUM_TRY(read_optional(uncertainty, "axis/z", axis->num_points, file, group, error));
done:
  return status;
}

static cavum_status read_wall(cavum_mode_result *mode, const cavum_hdf5_file *file,
                              const char *group, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double *curve = NULL;
  cavum_profile *wall = &mode->wall;
  const column_target columns[] = {{"wall/arc_length", &wall->arc_length_m},
                                   {"wall/z", &wall->z_m},
                                   {"wall/r", &wall->r_m},
                                   {"wall/E", &wall->e_v_per_m},
                                   {"wall/H", &wall->h_a_per_m},
                                   {"wall/curve", &curve}};
  CAVUM_TRY(read_columns(&wall->num_points, file, group, 6, columns, error));
  if (wall->num_points == 0) return CAVUM_OK;
  CAVUM_TRY(fill_profile(wall, error));
  for (cavum_index i = 0; i < wall->num_points; i++) {
    bool fits = curve[i] >= 0.0 && curve[i] < INT_MAX;
    wall->curve[i] = fits ? (cavum_index)curve[i] : -1;
  }
  const column_target uncertainties[] = {{"wall/E_uncertainty", &mode->wall_e_uncertainty_v_per_m},
                                         {"wall/H_uncertainty", &mode->wall_h_uncertainty_a_per_m}};
  for (int k = 0; k < 2; k++) {
    CAVUM_TRY(read_optional(uncertainties[k], "wall/z", wall->num_points, file, group, error));
  }
done:
  free(curve);
  return status;
}

// Earlier files have none; G and R/Q are there with derivatives alone.
static cavum_status read_density(cavum_mode_result *mode, const cavum_hdf5_file *file,
                                 const char *group, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_wall_density *d = &mode->wall_density;
  double *curve = NULL;
  const column_target columns[] = {
      {"wall_density/arc_length", &d->arc_length_m},
      {"wall_density/z", &d->z_m},
      {"wall_density/r", &d->r_m},
      {"wall_density/normal_z", &d->normal_z},
      {"wall_density/normal_r", &d->normal_r},
      {"wall_density/area", &d->area_m2},
      {"wall_density/radiation_pressure", &d->pressure_pa},
      {"wall_density/frequency", &d->frequency_hz_per_m3},
      {"wall_density/curve", &curve},
      {"wall_density/geometry_factor", &d->geometry_factor_ohm_per_m3},
      {"wall_density/r_over_q_linac", &d->r_over_q_linac_ohm_per_m3},
      {"wall_density/geometry_factor_uncertainty",
       &mode->wall_geometry_factor_uncertainty_ohm_per_m3},
      {"wall_density/r_over_q_linac_uncertainty", &mode->wall_r_over_q_uncertainty_ohm_per_m3}};
  enum { ALWAYS = 9, ALL = sizeof columns / sizeof *columns };
  CAVUM_TRY(read_columns(&d->num_points, file, group, ALWAYS, columns, error));
  if (d->num_points == 0) goto done;
  d->curve = cavum_alloc(d->num_points, sizeof *d->curve);
  if (!d->curve) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < d->num_points; i++) {
    bool fits = curve[i] >= 0.0 && curve[i] < INT_MAX;
    d->curve[i] = fits ? (cavum_index)curve[i] : -1;
  }
  for (int k = ALWAYS; k < ALL; k++) {
    // With the arc length again, so that they are as long.
    CAVUM_TRY(
        read_optional(columns[k], "wall_density/arc_length", d->num_points, file, group, error));
  }
done:
  free(curve);
  return status;
}

static int64_t count_lattice(const cavum_mesh *mesh, int order) {
  int64_t count = 0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    count += cavum_element_lattice_count(mesh->elements[e].num_corners, order);
  }
  return count;
}

static cavum_status read_field(cavum_field_grid *field, const cavum_hdf5_file *file,
                               const cavum_mesh *mesh, const char *group, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[64];
  double order = 0.0;
  const column_target columns[] = {{"field/z", &field->z_m},
                                   {"field/r", &field->r_m},
                                   {"field/H_phi", &field->h_phi_a_per_m},
                                   {"field/E_z", &field->e_z_v_per_m},
                                   {"field/E_r", &field->e_r_v_per_m}};
  CAVUM_TRY(read_columns(&field->num_points, file, group, 5, columns, error));
  if (field->num_points == 0) return CAVUM_OK;
  snprintf(path, sizeof path, "%s/field/order", group);
  CAVUM_TRY(cavum_hdf5_read_number(&order, file, path, error));
  if (!(order >= 1.0 && order <= 64.0) || count_lattice(mesh, (int)order) != field->num_points) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "result file is damaged: %s does not fit the mesh",
                         path));
  }
  field->order = (int)order;
done:
  return status;
}

// Files of earlier versions have none.
static cavum_status read_field_uncertainty(cavum_mode_result *mode, const cavum_hdf5_file *file,
                                           const cavum_mesh *mesh, const char *group,
                                           cavum_error *error) {
  const column_target columns[] = {{"field/H_phi_uncertainty", &mode->field_h_uncertainty_a_per_m},
                                   {"field/E_uncertainty", &mode->field_e_uncertainty_v_per_m}};
  cavum_index count = mesh->num_elements;
  cavum_status status = read_columns(&count, file, group, 2, columns, error);
  if (status != CAVUM_OK || count == mesh->num_elements) return status;
  return cavum_fail(
      error, CAVUM_ERR_INPUT,
      "result file is damaged: %s/%s has %d rows, expected one for each of %d elements", group,
      columns[0].name, count, mesh->num_elements);
}

static cavum_status read_mode_facts(cavum_mode_result *mode, const cavum_hdf5_file *file,
                                    const char *group, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[64], parity[8];
  double reached = 0.0;
  const struct {
    const char *name;
    double *value;
  } numbers[] = {{"eigenvalue", &mode->k2_per_m2},
                 {"residual", &mode->residual},
                 {"energy_mismatch", &mode->energy_mismatch},
                 {"accuracy_reached", &reached}};
  CAVUM_TRY(cavum_hdf5_read_text(mode->label, sizeof mode->label, file, group, "label", error));
  CAVUM_TRY(cavum_hdf5_read_text(parity, sizeof parity, file, group, "parity", error));
  for (int i = 0; i < 4; i++) {
    snprintf(path, sizeof path, "%s/%s", group, numbers[i].name);
    CAVUM_TRY(cavum_hdf5_read_number(numbers[i].value, file, path, error));
  }
  mode->accuracy_reached = reached != 0.0;
  mode->parity = strcmp(parity, "even") == 0  ? CAVUM_PARITY_EVEN
                 : strcmp(parity, "odd") == 0 ? CAVUM_PARITY_ODD
                                              : CAVUM_PARITY_NONE;
done:
  return status;
}

static cavum_status read_mode(cavum_mode_result *mode, const cavum_hdf5_file *file,
                              const cavum_mesh *mesh, int number, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char group[32], path[128];
  snprintf(group, sizeof group, "/modes/%d", number);
  CAVUM_TRY(read_mode_facts(mode, file, group, error));
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    snprintf(path, sizeof path, "%s/figures/%s", group,
             cavum_figure_describe((cavum_figure_id)id).key);
    CAVUM_TRY(cavum_store_read_figure(&mode->figures[id], file, path, error));
    mode->figures[id] = cavum_stored_figure_read(&mode->figures[id], (cavum_figure_id)id);
  }
  CAVUM_TRY(read_axis(mode, file, group, error));
  CAVUM_TRY(read_wall(mode, file, group, error));
  CAVUM_TRY(read_density(mode, file, group, error));
  CAVUM_TRY(read_field(&mode->field, file, mesh, group, error));
  CAVUM_TRY(read_field_uncertainty(mode, file, mesh, group, error));
  cavum_beta_curve *curve = &mode->beta_curve;
  const column_target columns[] = {
      {"beta_curve/beta", &curve->beta},
      {"beta_curve/voltage", &curve->voltage_v},
      {"beta_curve/r_over_q_linac", &curve->r_over_q_linac_ohm},
      {"beta_curve/r_over_q_linac_uncertainty", &curve->uncertainty_ohm}};
  CAVUM_TRY(read_columns(&curve->num_points, file, group, 4, columns, error));
done:
  return status;
}

static cavum_status read_modes(cavum_result *result, const cavum_hdf5_file *file,
                               cavum_error *error) {
  enum { LARGEST_MODE_COUNT = 100000 };
  cavum_status status = CAVUM_OK;
  char group[32];
  double *limits = NULL;
  int64_t num_limits = 0;
  int count = 0;
  for (; count < LARGEST_MODE_COUNT; count++) {
    snprintf(group, sizeof group, "/modes/%d", count + 1);
    if (!cavum_hdf5_has(file, group)) break;
  }
  result->modes = cavum_alloc(count, sizeof *result->modes);
  if (!result->modes) CAVUM_TRY(cavum_fail_memory(error));
  result->num_modes = count;
  for (int i = 0; i < count; i++) {
    CAVUM_TRY(read_mode(&result->modes[i], file, &result->mesh, i + 1, error));
  }
  if (cavum_hdf5_has(file, "/modes/complete_between")) {
    CAVUM_TRY(
        cavum_hdf5_read_doubles(&limits, &num_limits, file, "/modes/complete_between", error));
    if (num_limits == 2) result->complete_above_hz = limits[0];
    if (num_limits == 2) result->complete_below_hz = limits[1];
  }
done:
  free(limits);
  return status;
}

static cavum_status read_steps(cavum_result *result, const cavum_hdf5_file *file,
                               cavum_error *error) {
  enum { COLUMNS = 6 };
  cavum_status status = CAVUM_OK;
  double *values[COLUMNS] = {0}, reached = 0.0;
  cavum_index rows = 0;
  const column_target columns[COLUMNS] = {
      {"degree", &values[0]},    {"elements", &values[1]},         {"unknowns", &values[2]},
      {"frequency", &values[3]}, {"frequency_change", &values[4]}, {"figure_change", &values[5]}};
  CAVUM_TRY(cavum_hdf5_read_number(&reached, file, "/convergence/accuracy_reached", error));
  result->accuracy_reached = reached != 0.0;
  CAVUM_TRY(read_columns(&rows, file, "/convergence", COLUMNS, columns, error));
  result->steps = cavum_alloc(rows, sizeof *result->steps);
  if (!result->steps) CAVUM_TRY(cavum_fail_memory(error));
  result->num_steps = rows;
  // Before 0.2 the first step, which has none before it, had changes of 0.
  for (cavum_index i = 0; i < rows; i++) {
    result->steps[i] =
        (cavum_convergence_step){.degree = (int)cavum_min(values[0][i], 1e6),
                                 .num_elements = (cavum_index)cavum_min(values[1][i], 2e9),
                                 .num_unknowns = (cavum_index)cavum_min(values[2][i], 2e9),
                                 .frequency_hz = values[3][i],
                                 .frequency_change = i == 0 ? NAN : values[4][i],
                                 .figure_change = i == 0 ? NAN : values[5][i]};
  }
done:
  for (int i = 0; i < COLUMNS; i++) free(values[i]);
  return status;
}

// A frequency of the coupling; earlier files have no uncertainty of it.
static cavum_status read_coupled(double *frequency_hz, double *uncertainty_hz,
                                 const cavum_hdf5_file *file, const char *path,
                                 cavum_error *error) {
  cavum_status status = cavum_hdf5_read_number(frequency_hz, file, path, error);
  if (status == CAVUM_OK && cavum_hdf5_has_attribute(file, path, "uncertainty")) {
    status = cavum_hdf5_read_numbers_attribute(uncertainty_hz, 1, file, path, "uncertainty", error);
  }
  return status;
}

static cavum_status read_coupling(cavum_result *result, const cavum_hdf5_file *file,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (!cavum_hdf5_has(file, "/coupling/k_cc")) return CAVUM_OK;
  CAVUM_TRY(cavum_store_read_figure(&result->coupling, file, "/coupling/k_cc", error));
  CAVUM_TRY(read_coupled(&result->zero_mode_hz, &result->zero_mode_uncertainty_hz, file,
                         "/coupling/zero_mode_frequency", error));
  CAVUM_TRY(read_coupled(&result->pi_mode_hz, &result->pi_mode_uncertainty_hz, file,
                         "/coupling/pi_mode_frequency", error));
  if (cavum_hdf5_has(file, "/coupling/without_tubes")) {
    double without_tubes = 0.0;
    CAVUM_TRY(cavum_hdf5_read_number(&without_tubes, file, "/coupling/without_tubes", error));
    result->coupling_without_tubes = without_tubes != 0.0;
  }
done:
  return status;
}

// Result structs hold a static text here: the words that a solve can give.
static const char *known_origin(const char *text) {
  static const char *const words[] = {"given",
                                      "2 x half_length",
                                      "left half_length + right half_length",
                                      "2 x half_length, moved",
                                      "left half_length + right half_length, moved",
                                      "beta lambda / 2"};
  for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
    if (strcmp(text, words[i]) == 0) return words[i];
  }
  return "from the file";
}

static cavum_status read_header(cavum_result *result, const cavum_hdf5_file *file,
                                cavum_error *error) {
  const char *length = "/input/accelerating_length";
  cavum_status status = CAVUM_OK;
  char from[64];
  result->accelerating_length.value_m = NAN;
  CAVUM_TRY(cavum_hdf5_read_first_text(&result->title, file, "/input/title", error));
  CAVUM_TRY(cavum_hdf5_read_number(&result->beta, file, "/input/beta", error));
  if (cavum_hdf5_has(file, length)) {
    CAVUM_TRY(cavum_hdf5_read_number(&result->accelerating_length.value_m, file, length, error));
    CAVUM_TRY(cavum_hdf5_read_text(from, sizeof from, file, length, "from", error));
    result->accelerating_length.from = known_origin(from);
  }
  if (cavum_hdf5_has(file, "/warnings")) {
    CAVUM_TRY(
        cavum_hdf5_read_texts(&result->warnings, &result->num_warnings, file, "/warnings", error));
  }
done:
  return status;
}

// Earlier versions wrote the accuracy of the other figures under another name.
static const char *accuracy_path(const cavum_hdf5_file *file) {
  static const char *const former = "/input/accuracy_peak_field";
  return cavum_hdf5_has(file, former) ? former : "/input/accuracy_other_figures";
}

static cavum_status read_origin(cavum_stored_origin *origin, const cavum_hdf5_file *file,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double modes = 0.0, degree = 0.0, refinement = 0.0, symmetry = 0.0, coupling = 0.0,
         inner_cell = 0.0;
  const struct {
    const char *path;
    double *value;
  } numbers[] = {{"/input/number_of_modes", &modes},
                 {"/input/near_frequency", &origin->near_hz},
                 {"/input/accuracy_frequency", &origin->accuracy_frequency},
                 {accuracy_path(file), &origin->accuracy_other_figures},
                 {"/input/option_degree", &degree},
                 {"/input/option_refinement", &refinement},
                 {"/input/option_use_symmetry", &symmetry},
                 {"/input/option_coupling", &coupling}};
  if (cavum_hdf5_has(file, "/input/option_coupling_of_inner_cell")) {
    CAVUM_TRY(
        cavum_hdf5_read_number(&inner_cell, file, "/input/option_coupling_of_inner_cell", error));
  }
  cavum_stored_requirements requirements = {0};
  CAVUM_TRY(cavum_hdf5_read_first_text(&origin->cell_text, file, "/input/cell_file", error));
  CAVUM_TRY(cavum_stored_requirements_read(&requirements, file, error));
  origin->num_requirements = requirements.count;
  origin->requirements = requirements.list;
  CAVUM_TRY(cavum_hdf5_read_first_text(&origin->cell_sha256, file, "/input/cell_sha256", error));
  CAVUM_TRY(
      cavum_hdf5_read_first_text(&origin->version_cavum, file, "/input/version_cavum", error));
  CAVUM_TRY(cavum_hdf5_read_first_text(&origin->version_hdf5, file, "/input/version_hdf5", error));
  for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
    CAVUM_TRY(cavum_hdf5_read_number(numbers[i].value, file, numbers[i].path, error));
  }
  origin->options = cavum_alloc(1, sizeof *origin->options);
  if (!origin->options) CAVUM_TRY(cavum_fail_memory(error));
  *origin->options = cavum_solve_options_default();
  origin->options->refinement = refinement;
  origin->modes_wanted = (int)cavum_max(0.0, cavum_min(modes, 1e6));
  origin->options->degree = (int)cavum_max(0.0, cavum_min(degree, 1e3));
  origin->options->use_symmetry = symmetry != 0.0;
  origin->options->coupling_of_inner_cell = inner_cell != 0.0;
  origin->options->coupling = coupling != 0.0;
done:
  return status;
}

// Bytes in the first version of the interface.
enum { FIRST_SIZE = offsetof(cavum_stored_origin, options) + sizeof(void *) };

static const cavum_sized SIZED = {.name = "origin",
                                  .maker = "cavum_store_read_result()",
                                  .first = FIRST_SIZE,
                                  .full = sizeof(cavum_stored_origin)};

static bool has_requirements(size_t struct_size) {
  return struct_size >= offsetof(cavum_stored_origin, requirements) + sizeof(void *);
}

void cavum_stored_origin_clear(cavum_stored_origin *origin) {
  if (!origin) return;
  free(origin->cell_text);
  free(origin->cell_sha256);
  free(origin->version_cavum);
  free(origin->version_hdf5);
  free(origin->options);
  // One that was never filled is at least as long as in the first version.
  size_t known = cavum_sized_known(origin->struct_size, &SIZED);
  if (has_requirements(known)) free(origin->requirements);
  memset(origin, 0, known);
}

static cavum_status load(cavum_result *result, cavum_stored_origin *origin,
                         const cavum_hdf5_file *file, const char *path, bool derivatives,
                         cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_store_check_format(file, path, error));
  CAVUM_TRY(read_header(result, file, error));
  CAVUM_TRY(cavum_store_read_mesh(result, file, error));
  CAVUM_TRY(read_modes(result, file, error));
  CAVUM_TRY(read_steps(result, file, error));
  CAVUM_TRY(read_coupling(result, file, error));
  CAVUM_TRY(read_origin(origin, file, error));
  if (derivatives) CAVUM_TRY(cavum_stored_derivatives_read(result, file, error));
done:
  return status;
}

static cavum_status read_file(cavum_result **result, cavum_stored_origin *origin, const char *path,
                              bool derivatives, cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  cavum_result *read = cavum_alloc(1, sizeof *read);
  cavum_status status = CAVUM_OK;
  if (!read) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_hdf5_open(&file, path, error));
  CAVUM_TRY(load(read, origin, file, path, derivatives, error));
  *result = read;
  read = NULL;
done:
  cavum_hdf5_destroy(&file);
  cavum_result_destroy(&read);
  return status;
}

cavum_status cavum_store_read_result_sized(cavum_result **result, cavum_stored_origin *origin,
                                           size_t struct_size, const char *path,
                                           cavum_error *error) {
  if (!result || !path) return cavum_fail_null(error, __func__);
  cavum_stored_origin read_origin_of = {.struct_size = sizeof read_origin_of};
  cavum_status status = read_file(result, &read_origin_of, path, true, error);
  if (status == CAVUM_OK && origin) {
    cavum_sized_give(origin, struct_size, &read_origin_of, &SIZED);
    if (!has_requirements(struct_size)) free(read_origin_of.requirements);
    memset(&read_origin_of, 0, sizeof read_origin_of);
  }
  cavum_stored_origin_clear(&read_origin_of);
  return status;
}

cavum_status cavum_store_read_fields(cavum_result **result, const char *path, cavum_error *error) {
  cavum_stored_origin origin = {.struct_size = sizeof origin};
  cavum_status status = read_file(result, &origin, path, false, error);
  cavum_stored_origin_clear(&origin);
  return status;
}
