// SPDX-License-Identifier: GPL-3.0-or-later
// The result file: what was asked (/input), how it was solved (/mesh, /convergence, /warnings) and
// what came out (/modes/<n>, /coupling). Names, units and shapes are listed in REFERENCE.md; a
// figure that a mode does not have has no dataset.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/sha256.h"
#include "cavum/cell_text.h"
#include "cavum/store.h"
#include "cell/cell.h"
#include "cell/cell_digest.h"
#include "figures/stored_figure.h"
#include "format/quantity.h"
#include "hdf5/hdf5_file.h"
#include "solve/options.h"
#include "store/columns.h"
#include "store/geometry_file.h"
#include "store/requirements_file.h"
#include "store/result_private.h"
#include "store/stored_derivative.h"

// One scalar of a table of scalars.
typedef struct scalar_row {
  const char *path;
  double value;
  const char *units, *long_name;
} scalar_row;

static cavum_status write_scalars(cavum_hdf5_file *file, int count, const scalar_row *scalars,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < count; i++) {
    cavum_hdf5_array array = {.path = scalars[i].path,
                              .data = &scalars[i].value,
                              .units = scalars[i].units,
                              .long_name = scalars[i].long_name};
    CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
  }
done:
  return status;
}

static cavum_status write_text(cavum_hdf5_file *file, const char *path, const char *text,
                               const char *long_name, cavum_error *error) {
  return cavum_hdf5_write_texts(file, path, 0, &text, long_name, error);
}

static cavum_status write_input_texts(cavum_hdf5_file *file, const cavum_result *result,
                                      const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *text = NULL;
  char fingerprint[65], version[32];
  CAVUM_TRY(cavum_cell_to_text(&text, cell, error));
  cavum_sha256(fingerprint, text, strlen(text));
  cavum_hdf5_version(version);
  CAVUM_TRY(write_text(file, "/input/title", result->title ? result->title : "",
                       "title of the cell", error));
  CAVUM_TRY(write_text(
      file, "/input/cell_file", text,
      "a cell file of the cell that was solved: as it was read, if it was not changed since",
      error));
  CAVUM_TRY(write_text(file, "/input/cell_sha256", fingerprint, "SHA-256 of the text in cell_file",
                       error));
  CAVUM_TRY(write_text(file, "/input/version_cavum", cavum_version(),
                       "version of cavum that solved and wrote this", error));
  CAVUM_TRY(write_text(file, "/input/version_hdf5", version,
                       "version of the HDF5 library that wrote this", error));
done:
  free(text);
  return status;
}

static cavum_status write_input(cavum_hdf5_file *file, const cavum_result *result,
                                const cavum_cell *cell, const cavum_solve_options *options,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const scalar_row scalars[] = {
      {"/input/beta", result->beta, "1", "particle speed over c"},
      {"/input/number_of_modes", cell->num_modes, "1", "modes asked for"},
      {"/input/near_frequency", cell->near_hz, "Hz",
       "frequency near which modes were asked for; 0: the lowest modes"},
      {"/input/accuracy_frequency", cell->accuracy_frequency, "1",
       "relative accuracy asked for, frequency"},
      {"/input/accuracy_other_figures", cell->accuracy_other_figures, "1",
       "relative accuracy asked for, every other figure"},
      {"/input/option_degree", options->degree, "1", "degree asked for; 0: chosen"},
      {"/input/option_refinement", options->refinement, "1",
       "divisor of all element sizes asked for; 0: chosen"},
      {"/input/option_use_symmetry", options->use_symmetry, "1",
       "1: the mirror plane of a symmetric cell may be used"},
      {"/input/option_coupling", options->coupling, "1", "1: cell-to-cell coupling was asked for"},
      {"/input/option_coupling_of_inner_cell", options->coupling_of_inner_cell, "1",
       "1: planes stand in for tubes there"},
      {"/input/option_derivatives", options->derivatives, "1",
       "1: derivatives by the dimensions were asked for"},
  };
  CAVUM_TRY(write_input_texts(file, result, cell, error));
  CAVUM_TRY(write_scalars(file, (int)(sizeof scalars / sizeof scalars[0]), scalars, error));
  CAVUM_TRY(cavum_stored_dimensions_write(file, result, error));
  if (result->accelerating_length.value_m > 0.0) {
    const char *from = result->accelerating_length.from;
    cavum_hdf5_attribute origin = {.name = "from", .text = from ? from : ""};
    cavum_hdf5_array array = {.path = "/input/accelerating_length",
                              .data = &result->accelerating_length.value_m,
                              .units = "m",
                              .long_name = "accelerating length L_acc, of the first mode",
                              .attributes = &origin,
                              .num_attributes = 1};
    CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
  }
done:
  return status;
}

static cavum_status write_figure(cavum_hdf5_file *file, const char *path,
                                 const cavum_figure *figure, const cavum_figure_info *info,
                                 cavum_error *error) {
  bool unbounded = figure->state == CAVUM_FIGURE_UNBOUNDED;
  double value = unbounded ? HUGE_VAL : figure->value;
  double position[2] = {figure->at.z_m, figure->at.r_m};
  cavum_hdf5_attribute attributes[5] = {{.name = "definition", .text = info->definition}};
  int count = 1;
  if (unbounded) {
    attributes[count++] =
        (cavum_hdf5_attribute){.name = "reason", .text = CAVUM_STORE_UNBOUNDED_REASON};
  } else {
    attributes[count++] =
        (cavum_hdf5_attribute){.name = "uncertainty", .numbers = &figure->uncertainty, .count = 1};
  }
  const char *basis = cavum_basis_word(figure->basis);
  if (*basis) attributes[count++] = (cavum_hdf5_attribute){.name = "basis", .text = basis};
  if (figure->has_position) {
    attributes[count++] =
        (cavum_hdf5_attribute){.name = "position_z_r_m", .numbers = position, .count = 2};
  }
  cavum_hdf5_array array = {.path = path,
                            .data = &value,
                            .units = info->unit,
                            .long_name = info->long_name,
                            .attributes = attributes,
                            .num_attributes = count};
  return cavum_hdf5_write_array(file, &array, error);
}

static cavum_status write_profile(cavum_hdf5_file *file, const char *group,
                                  const cavum_mode_result *mode, bool is_wall, cavum_error *error) {
  const cavum_profile *profile = is_wall ? &mode->wall : &mode->axis;
  const cavum_store_column axis[] = {
      {"z", CAVUM_HDF5_DOUBLE, profile->z_m, "m", "position along the axis"},
      {"E_z", CAVUM_HDF5_DOUBLE, profile->e_v_per_m, "V m-1",
       "E_z on the axis, peak phasor, at a stored energy of 1 J"},
      {"E_z_uncertainty", CAVUM_HDF5_DOUBLE, mode->axis_e_uncertainty_v_per_m, "V m-1",
       "numerical uncertainty of E_z"},
  };
  const cavum_store_column wall[] = {
      {"arc_length", CAVUM_HDF5_DOUBLE, profile->arc_length_m, "m", "arc length along the wall"},
      {"z", CAVUM_HDF5_DOUBLE, profile->z_m, "m", "position along the axis"},
      {"r", CAVUM_HDF5_DOUBLE, profile->r_m, "m", "distance from the axis"},
      {"E", CAVUM_HDF5_DOUBLE, profile->e_v_per_m, "V m-1",
       "normal E into the domain, peak phasor, at a stored energy of 1 J"},
      {"H", CAVUM_HDF5_DOUBLE, profile->h_a_per_m, "A m-1",
       "H_phi on the wall, peak phasor, at a stored energy of 1 J"},
      {"curve", CAVUM_HDF5_INT32, profile->curve, "1", "curve of the contour, or -1"},
      {"E_uncertainty", CAVUM_HDF5_DOUBLE, mode->wall_e_uncertainty_v_per_m, "V m-1",
       "numerical uncertainty of E; infinite at sharp edges of metal, where E has no limit"},
      {"H_uncertainty", CAVUM_HDF5_DOUBLE, mode->wall_h_uncertainty_a_per_m, "A m-1",
       "numerical uncertainty of H"},
  };
  if (profile->num_points == 0) return CAVUM_OK;
  return is_wall ? cavum_store_write_columns(file, group, profile->num_points,
                                             (int)(sizeof wall / sizeof *wall), wall, error)
                 : cavum_store_write_columns(file, group, profile->num_points,
                                             (int)(sizeof axis / sizeof *axis), axis, error);
}

static cavum_status write_density(cavum_hdf5_file *file, const char *group,
                                  const cavum_mode_result *mode, cavum_error *error) {
  const cavum_wall_density *d = &mode->wall_density;
  const cavum_store_column columns[] = {
      {"arc_length", CAVUM_HDF5_DOUBLE, d->arc_length_m, "m", "arc length along the wall"},
      {"z", CAVUM_HDF5_DOUBLE, d->z_m, "m", "position along the axis"},
      {"r", CAVUM_HDF5_DOUBLE, d->r_m, "m", "distance from the axis"},
      {"normal_z", CAVUM_HDF5_DOUBLE, d->normal_z, "1", "unit vector into the metal, along z"},
      {"normal_r", CAVUM_HDF5_DOUBLE, d->normal_r, "1", "unit vector into the metal, along r"},
      {"area", CAVUM_HDF5_DOUBLE, d->area_m2, "m2",
       "part of the wall that the point stands for: weights of an integral over the wall"},
      {"curve", CAVUM_HDF5_INT32, d->curve, "1", "curve of the contour, or -1"},
      {"radiation_pressure", CAVUM_HDF5_DOUBLE, d->pressure_pa, "Pa",
       "(mu0 H^2 - eps0 E^2) / 4 at a stored energy of 1 J, positive: outwards"},
      {"frequency", CAVUM_HDF5_DOUBLE, d->frequency_hz_per_m3, "Hz m-3",
       "change of the frequency by volume of metal removed there"},
      {"geometry_factor", CAVUM_HDF5_DOUBLE, d->geometry_factor_ohm_per_m3, "ohm m-3",
       "change of G by volume of metal removed there"},
      {"r_over_q_linac", CAVUM_HDF5_DOUBLE, d->r_over_q_linac_ohm_per_m3, "ohm m-3",
       "change of R/Q, linac convention, by volume of metal removed there"},
      {"geometry_factor_uncertainty", CAVUM_HDF5_DOUBLE,
       mode->wall_geometry_factor_uncertainty_ohm_per_m3, "ohm m-3",
       "numerical uncertainty of geometry_factor at a point"},
      {"r_over_q_linac_uncertainty", CAVUM_HDF5_DOUBLE, mode->wall_r_over_q_uncertainty_ohm_per_m3,
       "ohm m-3",
       "numerical uncertainty of r_over_q_linac at a point; infinite on edges of the mesh with an "
       "end where metal meets the axis, where it has no limit: only sums over the points are of "
       "use"},
  };
  if (d->num_points == 0) return CAVUM_OK;
  return cavum_store_write_columns(file, group, d->num_points,
                                   (int)(sizeof columns / sizeof *columns), columns, error);
}

static cavum_status write_beta_curve(cavum_hdf5_file *file, const char *group,
                                     const cavum_beta_curve *curve, cavum_error *error) {
  const cavum_store_column columns[] = {
      {"beta", CAVUM_HDF5_DOUBLE, curve->beta, "1", "particle speed over c"},
      {"voltage", CAVUM_HDF5_DOUBLE, curve->voltage_v, "V",
       "accelerating voltage at a stored energy of 1 J"},
      {"r_over_q_linac", CAVUM_HDF5_DOUBLE, curve->r_over_q_linac_ohm, "ohm",
       "R/Q, linac convention, V^2 / (omega U)"},
      {"r_over_q_linac_uncertainty", CAVUM_HDF5_DOUBLE, curve->uncertainty_ohm, "ohm",
       "numerical uncertainty of r_over_q_linac"},
  };
  if (curve->num_points == 0) return CAVUM_OK;
  return cavum_store_write_columns(file, group, curve->num_points, 4, columns, error);
}

static bool same_positions(const cavum_field_grid *a, const cavum_field_grid *b) {
  size_t bytes = (size_t)a->num_points * sizeof *a->z_m;
  return a->num_points > 0 && a->num_points == b->num_points &&
         memcmp(a->z_m, b->z_m, bytes) == 0 && memcmp(a->r_m, b->r_m, bytes) == 0;
}

// The positions are the same for every mode: they are stored once, under as many names as needed.
static cavum_status write_field(cavum_hdf5_file *file, int number, const cavum_result *result,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mode_result *mode = &result->modes[number - 1];
  const cavum_field_grid *grid = &mode->field;
  bool shared = number > 1 && same_positions(&result->modes[0].field, grid);
  const cavum_store_column columns[] = {
      {"z", CAVUM_HDF5_DOUBLE, shared ? NULL : grid->z_m, "m", "position along the axis"},
      {"r", CAVUM_HDF5_DOUBLE, shared ? NULL : grid->r_m, "m", "distance from the axis"},
      {"H_phi", CAVUM_HDF5_DOUBLE, grid->h_phi_a_per_m, "A m-1",
       "azimuthal magnetic field, peak phasor, at a stored energy of 1 J"},
      {"E_z", CAVUM_HDF5_DOUBLE, grid->e_z_v_per_m, "V m-1",
       "axial electric field, a quarter period behind H_phi: E = -j (E_z, E_r)"},
      {"E_r", CAVUM_HDF5_DOUBLE, grid->e_r_v_per_m, "V m-1",
       "radial electric field, a quarter period behind H_phi: E = -j (E_z, E_r)"},
  };
  const cavum_store_column uncertainties[] = {
      {"H_phi_uncertainty", CAVUM_HDF5_DOUBLE, mode->field_h_uncertainty_a_per_m, "A m-1",
       "numerical uncertainty of H_phi in each element of the mesh"},
      {"E_uncertainty", CAVUM_HDF5_DOUBLE, mode->field_e_uncertainty_v_per_m, "V m-1",
       "numerical uncertainty of E as a vector in each element of the mesh; infinite beside "
       "corners "
       "where E has no limit"},
  };
  char group[32], path[96];
  if (grid->num_points == 0) return CAVUM_OK;
  snprintf(group, sizeof group, "/modes/%d/field", number);
  CAVUM_TRY(cavum_store_write_columns(file, group, grid->num_points, 5, columns, error));
  CAVUM_TRY(
      cavum_store_write_columns(file, group, result->mesh.num_elements, 2, uncertainties, error));
  for (int i = 0; shared && i < 2; i++) {
    snprintf(path, sizeof path, "%s/%s", group, columns[i].name);
    CAVUM_TRY(cavum_hdf5_link(file, i == 0 ? "/modes/1/field/z" : "/modes/1/field/r", path, error));
  }
  snprintf(path, sizeof path, "%s/order", group);
  const scalar_row order = {path, grid->order, "1",
                            "order of the equispaced lattice of points in each element"};
  CAVUM_TRY(write_scalars(file, 1, &order, error));
done:
  return status;
}

static const char *parity_word(cavum_parity parity) {
  switch (parity) {
    case CAVUM_PARITY_EVEN:
      return "even";
    case CAVUM_PARITY_ODD:
      return "odd";
    case CAVUM_PARITY_NONE:
      break;
  }
  return "";
}

static cavum_status write_mode_facts(cavum_hdf5_file *file, const char *group,
                                     const cavum_mode_result *mode, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char paths[4][64];
  const char *names[4] = {"eigenvalue", "residual", "energy_mismatch", "accuracy_reached"};
  for (int i = 0; i < 4; i++) snprintf(paths[i], sizeof paths[i], "%s/%s", group, names[i]);
  const scalar_row scalars[] = {
      {paths[0], mode->k2_per_m2, "m-2", "eigenvalue (w / c)^2"},
      {paths[1], mode->residual, "1", "|K x - k^2 M x| / (k^2 |M x|) of the discrete problem"},
      {paths[2], mode->energy_mismatch, "1", "|U_E - U_H| / U_H of the stored energies"},
      {paths[3], mode->accuracy_reached, "1", "1: all figures are as accurate as asked for"},
  };
  CAVUM_TRY(cavum_hdf5_make_group(file, group, error));
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, group, "label", mode->label, error));
  CAVUM_TRY(
      cavum_hdf5_write_text_attribute(file, group, "parity", parity_word(mode->parity), error));
  CAVUM_TRY(write_scalars(file, 4, scalars, error));
done:
  return status;
}

static cavum_status write_mode(cavum_hdf5_file *file, int number, const cavum_result *result,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mode_result *mode = &result->modes[number - 1];
  char group[32], path[128];
  snprintf(group, sizeof group, "/modes/%d", number);
  CAVUM_TRY(write_mode_facts(file, group, mode, error));
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    if (mode->figures[id].state == CAVUM_FIGURE_ABSENT) continue;
    snprintf(path, sizeof path, "%s/figures/%s", group, info.key);
    cavum_figure stored = cavum_stored_figure_make(&mode->figures[id], (cavum_figure_id)id);
    info.unit = cavum_stored_figure_unit_name((cavum_figure_id)id);
    CAVUM_TRY(write_figure(file, path, &stored, &info, error));
  }
  snprintf(path, sizeof path, "%s/axis", group);
  CAVUM_TRY(write_profile(file, path, mode, false, error));
  snprintf(path, sizeof path, "%s/wall", group);
  CAVUM_TRY(write_profile(file, path, mode, true, error));
  snprintf(path, sizeof path, "%s/wall_density", group);
  CAVUM_TRY(write_density(file, path, mode, error));
  snprintf(path, sizeof path, "%s/beta_curve", group);
  CAVUM_TRY(write_beta_curve(file, path, &mode->beta_curve, error));
  CAVUM_TRY(write_field(file, number, result, error));
  CAVUM_TRY(cavum_stored_derivatives_write(file, result, number - 1, error));
done:
  return status;
}

static cavum_status write_coupling(cavum_hdf5_file *file, const cavum_result *result,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_figure_info info = {"k_cc", "1", "cell-to-cell coupling k_cc",
                                  CAVUM_STORE_COUPLING_DEFINITION};
  static const cavum_figure_info zero_info = {"zero_mode_frequency", "Hz",
                                              "frequency with both ends electric", "f_0"},
                                 pi_info = {"pi_mode_frequency", "Hz",
                                            "frequency with both ends magnetic", "f_pi"};
  const cavum_figure zero = {.state = CAVUM_FIGURE_PRESENT,
                             .value = result->zero_mode_hz,
                             .uncertainty = result->zero_mode_uncertainty_hz},
                     pi = {.state = CAVUM_FIGURE_PRESENT,
                           .value = result->pi_mode_hz,
                           .uncertainty = result->pi_mode_uncertainty_hz};
  const scalar_row without_tubes = {"/coupling/without_tubes", result->coupling_without_tubes, "1",
                                    "1: planes at the irises stood in for the tubes"};
  if (result->coupling.state == CAVUM_FIGURE_ABSENT) return CAVUM_OK;
  CAVUM_TRY(write_figure(file, "/coupling/k_cc", &result->coupling, &info, error));
  CAVUM_TRY(write_figure(file, "/coupling/zero_mode_frequency", &zero, &zero_info, error));
  CAVUM_TRY(write_figure(file, "/coupling/pi_mode_frequency", &pi, &pi_info, error));
  CAVUM_TRY(write_scalars(file, 1, &without_tubes, error));
  CAVUM_TRY(cavum_stored_coupling_derivatives_write(file, result, error));
done:
  return status;
}

// A mesh file has no exact outline.
static cavum_status write_geometry(cavum_hdf5_file *file, const cavum_result *result,
                                   const cavum_cell *cell, cavum_error *error) {
  cavum_geometry *geometry = NULL;
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) return CAVUM_OK;
  cavum_status status = cavum_geometry_measure(&geometry, cell, result->num_dimensions > 0, error);
  if (status == CAVUM_OK) status = cavum_geometry_file_write(file, geometry, error);
  cavum_geometry_destroy(&geometry);
  return status;
}

static cavum_status write_requirements(cavum_hdf5_file *file, const cavum_result *result,
                                       const cavum_cell *cell, cavum_error *error) {
  cavum_stored_requirements requirements = {0};
  cavum_status status = cavum_stored_requirements_judge(&requirements, result, cell, error);
  if (status == CAVUM_OK)
    status = cavum_stored_requirements_write(file, &requirements, result, cell, error);
  cavum_stored_requirements_clear(&requirements);
  return status;
}

static cavum_status write_all(cavum_hdf5_file *file, const cavum_result *result,
                              const cavum_cell *cell, const cavum_solve_options *options,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, "/", "format", CAVUM_STORE_FORMAT, error));
  CAVUM_TRY(write_input(file, result, cell, options, error));
  CAVUM_TRY(cavum_store_write_mesh(file, result, error));
  CAVUM_TRY(cavum_store_write_convergence(file, result, error));
  for (int number = 1; number <= result->num_modes; number++) {
    CAVUM_TRY(write_mode(file, number, result, error));
  }
  CAVUM_TRY(write_coupling(file, result, error));
  CAVUM_TRY(write_geometry(file, result, cell, error));
  CAVUM_TRY(write_requirements(file, result, cell, error));
  CAVUM_TRY(cavum_store_write_vtk(file, result, error));
done:
  return status;
}

cavum_status cavum_store_write_result_with(const char *path, const cavum_result *result,
                                           const cavum_cell *cell,
                                           const cavum_solve_options *options,
                                           const cavum_result_part *part, cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  cavum_status status = CAVUM_OK;
  cavum_cell full;
  cavum_solve_options choices;
  CAVUM_TRY(cavum_sized_take(&full, cell, &cavum_cell_sized, error));
  if (result->cell_digest != 0 && result->cell_digest != cavum_cell_digest_full(&full)) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "%s: the cell is not the one that this result was solved for", path);
  }
  CAVUM_TRY(cavum_solve_options_take(&choices, options, error));
  CAVUM_TRY(cavum_hdf5_create(&file, error));
  CAVUM_TRY(write_all(file, result, &full, &choices, error));
  if (part) CAVUM_TRY(part->write(file, part->data, error));
  CAVUM_TRY(cavum_hdf5_save(file, path, part ? "optimum" : "result", error));
done:
  cavum_hdf5_destroy(&file);
  return status;
}

cavum_status cavum_store_write_result(const char *path, const cavum_result *result,
                                      const cavum_cell *cell, const cavum_solve_options *options,
                                      cavum_error *error) {
  if (!path || !result) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "no path or no result to write was given");
  }
  return cavum_store_write_result_with(path, result, cell, options, NULL, error);
}
