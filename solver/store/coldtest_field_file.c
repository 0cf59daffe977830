// SPDX-License-Identifier: GPL-3.0-or-later
// Surface resistance against field as HDF5: a column and one of its uncertainties for each number.
#include "store/coldtest_field_file.h"

#include <stdio.h>

#include "base/base.h"

enum { PATH_SIZE = 128, MOST = CAVUM_MAX_GRADIENTS };

// Two columns, `name` and `name_uncertainty`; nothing where the first is no number.
static cavum_status write_estimates(cavum_hdf5_file *file, const char *name, int count,
                                    const cavum_estimate *estimates, const char *units,
                                    const char *long_name, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double value[MOST], uncertainty[MOST];
  char path[PATH_SIZE];
  if (count < 1 || isnan(estimates[0].value)) return CAVUM_OK;
  for (int i = 0; i < count; i++) {
    value[i] = estimates[i].value;
    uncertainty[i] = estimates[i].uncertainty;
  }
  cavum_hdf5_array array = {.path = path,
                            .rank = 1,
                            .extent = {count, 1},
                            .data = value,
                            .units = units,
                            .long_name = long_name};
  snprintf(path, sizeof path, "%s", name);
  CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
  snprintf(path, sizeof path, "%s_uncertainty", name);
  array.data = uncertainty;
  CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
done:
  return status;
}

#define GROUP "/resistance_against_field/"

static cavum_status write_points(cavum_hdf5_file *file, const cavum_resistance_field *field,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_estimate columns[7][MOST];
  static const struct {
    const char *name, *units, *long_name;
  } texts[] = {{GROUP "gradient", "V m-1", "gradient of the series"},
               {GROUP "peak_magnetic_field", "T", "peak magnetic field on the wall"},
               {GROUP "bcs", "ohm", "BCS part at the reference temperature, mean over the wall"},
               {GROUP "residual", "ohm", "residual resistance, mean over the wall"},
               {GROUP "local_bcs", "ohm", "BCS part where the field is peak_magnetic_field"},
               {GROUP "local_residual", "ohm", "residual where the field is peak_magnetic_field"},
               {GROUP "gap", "K", "Delta / k of the series"}};
  for (int i = 0; i < field->num_points; i++) {
    const cavum_resistance_field_point *point = &field->points[i];
    const cavum_estimate row[] = {
        point->e_acc_v_per_m, point->b_peak_t,           point->bcs_ohm,  point->residual_ohm,
        point->local_bcs_ohm, point->local_residual_ohm, point->fit.gap_k};
    for (int k = 0; k < 7; k++) columns[k][i] = row[k];
  }
  for (int k = 0; k < 7; k++) {
    CAVUM_TRY(write_estimates(file, texts[k].name, field->num_points, columns[k], texts[k].units,
                              texts[k].long_name, error));
  }
done:
  return status;
}

static cavum_status write_resistance(cavum_hdf5_file *file, const cavum_resistance_field *field,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  static const struct {
    const char *mean, *local;
  } names[CAVUM_NUM_FIELD_PARTS] = {
      {GROUP "bcs_coefficients_of_mean", GROUP "bcs_coefficients_local"},
      {GROUP "residual_coefficients_of_mean", GROUP "residual_coefficients_local"}};
  CAVUM_TRY(write_points(file, field, error));
  for (int part = 0; part < CAVUM_NUM_FIELD_PARTS; part++) {
    CAVUM_TRY(write_estimates(file, names[part].mean, field->degree + 1, field->average_ohm[part],
                              "ohm", "of (B_pk / 0.1 T)^n, mean over the wall", error));
    CAVUM_TRY(write_estimates(file, names[part].local, field->degree + 1, field->local_ohm[part],
                              "ohm", "of (B / 0.1 T)^n at a place of the wall", error));
  }
  cavum_hdf5_array reference = {.path = GROUP "reference_temperature",
                                .data = &field->reference_k,
                                .units = "K",
                                .long_name = "temperature of the BCS part"};
  CAVUM_TRY(cavum_hdf5_write_array(file, &reference, error));
  cavum_hdf5_array moments = {.path = GROUP "wall_means_of_powers_of_field",
                              .rank = 1,
                              .extent = {CAVUM_NUM_FIELD_TERMS, 1},
                              .data = field->weighting.moment,
                              .units = "1",
                              .long_name = "mean of (H / H_pk)^n over the wall with weight H^2"};
  if (field->weighting.known) CAVUM_TRY(cavum_hdf5_write_array(file, &moments, error));
done:
  return status;
}

// A number with its uncertainty as an attribute; absent when it is no number.
static cavum_status write_one(cavum_hdf5_file *file, const char *path, cavum_estimate estimate,
                              const char *units, const char *long_name, cavum_error *error) {
  cavum_hdf5_attribute attribute = {
      .name = "uncertainty", .numbers = &estimate.uncertainty, .count = 1};
  cavum_hdf5_array array = {.path = path,
                            .data = &estimate.value,
                            .units = units,
                            .long_name = long_name,
                            .attributes = &attribute,
                            .num_attributes = isnan(estimate.uncertainty) ? 0 : 1};
  return isnan(estimate.value) ? CAVUM_OK : cavum_hdf5_write_array(file, &array, error);
}

static cavum_status write_frequency(cavum_hdf5_file *file, const cavum_frequency_fit *fit,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const struct {
    const char *path, *units, *long_name;
    cavum_estimate estimate;
  } rows[] = {{"/frequency/lorentz", "Hz m2 V-2", "df / d(E_acc^2)", fit->lorentz_hz_m2_per_v2},
              {"/frequency/pressure", "Hz Pa-1", "df / dp", fit->pressure_hz_per_pa},
              {"/frequency/frequency", "Hz", "without field", fit->frequency_hz},
              {"/frequency/mean_pressure",
               "Pa",
               "mean bath pressure of the readings",
               {.value = fit->mean_pressure_pa, .uncertainty = NAN}},
              {"/frequency/expected_lorentz",
               "Hz m2 V-2",
               "df / d(E_acc^2) by the radiation pressure on a wall of the stated stiffness",
               {.value = fit->expected_lorentz_hz_m2_per_v2, .uncertainty = NAN}},
              {"/frequency/expected_pressure",
               "Hz Pa-1",
               "df / dp of that wall",
               {.value = fit->expected_pressure_hz_per_pa, .uncertainty = NAN}}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    CAVUM_TRY(
        write_one(file, rows[i].path, rows[i].estimate, rows[i].units, rows[i].long_name, error));
  }
done:
  return status;
}

cavum_status cavum_coldtest_file_write_field(cavum_hdf5_file *file,
                                             const cavum_coldtest_report *report,
                                             cavum_error *error) {
  if (report->has_frequency) {
    cavum_status status = write_frequency(file, &report->frequency, error);
    if (status != CAVUM_OK) return status;
  }
  return report->has_field ? write_resistance(file, &report->field, error) : CAVUM_OK;
}
