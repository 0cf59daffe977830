// SPDX-License-Identifier: GPL-3.0-or-later
// Field emission as HDF5: numbers with their uncertainty, and a column a point.
#include "store/coldtest_emission_file.h"

#include <stdio.h>

#include "base/base.h"
#include "store/coldtest_write.h"

#define GROUP "/field_emission/"

/** A number to write. */
typedef struct row {
  const char *name, *units, *long_name;
  cavum_estimate estimate;
} row;

static cavum_estimate plain(double value) {
  return (cavum_estimate){.value = value, .uncertainty = NAN};
}

static cavum_status write_rows(cavum_hdf5_file *file, const char *group, const row *rows,
                               size_t count, cavum_error *error) {
  for (size_t i = 0; i < count; i++) {
    char path[CAVUM_COLDTEST_PATH_SIZE];
    snprintf(path, sizeof path, GROUP "%s%s", group, rows[i].name);
    cavum_status status = cavum_coldtest_write_estimate(file, path, rows[i].estimate, rows[i].units,
                                                        rows[i].long_name, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status write_fit(cavum_hdf5_file *file, const char *group,
                              const cavum_emission_fit *fit, const char *level, const char *units,
                              cavum_error *error) {
  double readings = (double)fit->num_readings;
  const row rows[] = {
      {"readings", "1", "readings that were fitted", plain(readings)},
      {"reference_gradient_V_per_m", "V m-1", "gradient of the level",
       plain(fit->reference_v_per_m)},
      {level, units, "emission at the reference gradient", fit->level},
      {"slope_V_per_m", "V m-1", "of -ln(I / E_acc^2.5) over 1 / E_acc", fit->slope_v_per_m},
      {"field_enhancement", "1", "beta_FN for the work function", fit->enhancement},
      {"scatter", "1", "relative standard deviation about the fit", plain(fit->scatter)},
      {"chi_squared", "1", "weighted sum of squares", plain(fit->chi_squared)},
      {"degrees_of_freedom", "1", "readings less parameters", plain(fit->degrees_of_freedom)}};
  // Where it was not found, the number of readings says that it was looked for.
  return write_rows(file, group, rows, fit->found ? sizeof rows / sizeof *rows : 1, error);
}

static cavum_status write_curve(cavum_hdf5_file *file, const cavum_field_emission *e,
                                cavum_error *error) {
  const row rows[] = {
      {"readings", "1", "readings of the curve", plain((double)e->num_below)},
      {"below_gradient_V_per_m", "V m-1", "readings below it make the curve",
       plain(e->wall_below_v_per_m)},
      {"reference_gradient_V_per_m", "V m-1", "E_b of the coefficients",
       plain(e->wall_reference_v_per_m)},
      {"bath_temperature_K", "K", "of those readings", plain(e->bath_temperature_k)},
      {"chi_squared", "1", "weighted sum of squares", plain(e->wall_chi_squared)},
      {"degrees_of_freedom", "1", "readings less coefficients", plain(e->wall_degrees_of_freedom)},
      {"scaling_of_uncertainties", "1", "of those of readings", plain(e->wall_scaling)}};
  if (e->num_below == 0) return CAVUM_OK;
  cavum_status status = write_rows(file, "q0_curve/", rows, sizeof rows / sizeof *rows, error);
  if (status != CAVUM_OK) return status;
  return cavum_coldtest_write_column(
      file, GROUP "q0_curve/inverse_q0_coefficients", e->wall_terms, e->wall_coefficient, "1",
      "1/Q0 of the walls: sum of these times (E_acc / E_b)^n", error);
}

static cavum_status write_points(cavum_hdf5_file *file, const cavum_field_emission *e,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double *work = cavum_alloc(3 * e->num_points + 1, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  double *power = work, *uncertainty = work + e->num_points, *number = uncertainty + e->num_points;
  for (int64_t i = 0; i < e->num_points; i++) {
    number[i] = (double)i + 1.0;
    power[i] = e->power_w[i].value;
    uncertainty[i] = e->power_w[i].uncertainty;
  }
  const struct {
    const char *path, *units, *long_name;
    const double *data;
  } columns[] = {
      {GROUP "points/point", "1", "number of the point, from 1", number},
      {GROUP "points/radiation_less_background_Sv_per_h", "Sv h-1", "emission; NaN: not read",
       e->excess_sv_per_h},
      {GROUP "points/radiation_less_background_Sv_per_h_uncertainty", "Sv h-1",
       "standard uncertainty without the calibration", e->excess_uncertainty_sv_per_h},
      {GROUP "points/electron_power_W", "W", "power of the electrons; NaN: below the onset", power},
      {GROUP "points/electron_power_W_uncertainty", "W", "standard uncertainty", uncertainty}};
  for (size_t i = 0; i < sizeof columns / sizeof *columns; i++) {
    CAVUM_TRY(cavum_coldtest_write_column(file, columns[i].path, e->num_points, columns[i].data,
                                          columns[i].units, columns[i].long_name, error));
  }
done:
  free(work);
  return status;
}

cavum_status cavum_coldtest_file_write_emission(cavum_hdf5_file *file,
                                                const cavum_coldtest_report *report,
                                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_field_emission *e = &report->emission;
  if (!report->has_emission) return CAVUM_OK;
  const row rows[] = {
      {"work_function_eV", "eV", "work function", e->work_function_ev},
      {"background_Sv_per_h", "Sv h-1", "dose rate without emission", e->background_sv_per_h},
      {"onset_emission_Sv_per_h", "Sv h-1", "emission at the onset", e->onset_sv_per_h},
      {"onset_gradient_V_per_m", "V m-1", "onset: E_acc at which the emission reaches that level",
       e->onset_e_acc_v_per_m},
      {"onset_peak_electric_field_V_per_m", "V m-1", "the same on the wall",
       e->onset_e_peak_v_per_m},
      {"strongest_point", "1", "reading of the highest gradient with a power, from 1",
       plain(e->strongest >= 0 ? (double)e->strongest + 1.0 : NAN)},
      {"strongest_electron_power_W", "W", "power of the electrons there",
       e->strongest >= 0 ? e->power_w[e->strongest] : plain(NAN)}};
  CAVUM_TRY(write_rows(file, "", rows, sizeof rows / sizeof *rows, error));
  CAVUM_TRY(write_fit(file, "by_radiation/", &e->radiation, "level_Sv_per_h", "Sv h-1", error));
  CAVUM_TRY(write_fit(file, "by_power/", &e->power, "level_A", "A", error));
  CAVUM_TRY(write_curve(file, e, error));
  CAVUM_TRY(write_points(file, e, error));
  CAVUM_TRY(cavum_coldtest_write_text(file, GROUP "caution", e->caution, "cautions", error));
done:
  return status;
}
