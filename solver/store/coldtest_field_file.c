// SPDX-License-Identifier: GPL-3.0-or-later
// Surface resistance and frequency against field as HDF5: names are the keys of the JSON text.
#include "store/coldtest_field_file.h"

#include <stdio.h>

#include "base/base.h"
#include "store/coldtest_write.h"

enum { MOST = CAVUM_MAX_GRADIENTS, NUM_COLUMNS = 10 };

#define GROUP "/surface_resistance_against_field/"

static cavum_estimate plain(double value) {
  return (cavum_estimate){.value = value, .uncertainty = NAN};
}

static cavum_status write_cautions(cavum_hdf5_file *file, const cavum_resistance_field *field,
                                   cavum_error *error) {
  const char *texts[MOST];
  for (int i = 0; i < field->num_points; i++) texts[i] = field->points[i].fit.caution;
  return cavum_hdf5_write_texts(file, GROUP "points/caution", field->num_points, texts,
                                "range of validity of the fit of each series", error);
}

static cavum_status write_points(cavum_hdf5_file *file, const cavum_resistance_field *field,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_estimate columns[NUM_COLUMNS][MOST];
  static const struct {
    const char *name, *units, *long_name;
  } texts[NUM_COLUMNS] = {
      {GROUP "points/gradient_V_per_m", "V m-1", "gradient of the series"},
      {GROUP "points/peak_magnetic_field_T", "T", "peak magnetic field on the wall"},
      {GROUP "points/bcs_ohm", "ohm", "BCS part at the reference temperature, mean over the wall"},
      {GROUP "points/residual_ohm", "ohm", "residual resistance, mean over the wall"},
      {GROUP "points/local_bcs_ohm", "ohm", "BCS part where the field is peak_magnetic_field_T"},
      {GROUP "points/local_residual_ohm", "ohm", "residual where it is peak_magnetic_field_T"},
      {GROUP "points/gap_K", "K", "Delta / k of the series"},
      {GROUP "points/readings", "1", "readings of the series"},
      {GROUP "points/chi_squared", "1", "of the fit of the series; NaN: no own uncertainties"},
      {GROUP "points/degrees_of_freedom", "1", "readings less parameters"}};
  CAVUM_ASSERT(field->num_points > 0);
  for (int i = 0; i < field->num_points; i++) {
    const cavum_resistance_field_point *p = &field->points[i];
    const cavum_estimate row[NUM_COLUMNS] = {p->e_acc_v_per_m,
                                             p->b_peak_t,
                                             p->bcs_ohm,
                                             p->residual_ohm,
                                             p->local_bcs_ohm,
                                             p->local_residual_ohm,
                                             p->fit.gap_k,
                                             plain((double)p->fit.num_readings),
                                             plain(p->fit.chi_squared),
                                             plain(p->fit.degrees_of_freedom)};
    for (int k = 0; k < NUM_COLUMNS; k++) columns[k][i] = row[k];
  }
  for (int k = 0; k < NUM_COLUMNS; k++) {
    double values[MOST];
    for (int i = 0; i < field->num_points; i++) values[i] = columns[k][i].value;
    if (isnan(columns[k][0].uncertainty) && !isnan(values[0])) {
      CAVUM_TRY(cavum_coldtest_write_column(file, texts[k].name, field->num_points, values,
                                            texts[k].units, texts[k].long_name, error));
    } else {
      CAVUM_TRY(cavum_coldtest_write_estimates(file, texts[k].name, field->num_points, columns[k],
                                               texts[k].units, texts[k].long_name, error));
    }
  }
  CAVUM_TRY(write_cautions(file, field, error));
done:
  return status;
}

static cavum_status write_polynomials(cavum_hdf5_file *file, const cavum_resistance_field *field,
                                      cavum_error *error) {
  cavum_status status = CAVUM_OK;
  static const char *const mean_name = "of (B_pk / 0.1 T)^n, mean over the wall";
  static const char *const local_name = "of (B / 0.1 T)^n at a place of the wall";
  const struct {
    const char *path, *long_name;
    const cavum_estimate *coefficients;
  } rows[] = {{GROUP "bcs_ohm_of_mean", mean_name, field->average_ohm[CAVUM_FIELD_BCS]},
              {GROUP "residual_ohm_of_mean", mean_name, field->average_ohm[CAVUM_FIELD_RESIDUAL]},
              {GROUP "bcs_ohm_local", local_name, field->local_ohm[CAVUM_FIELD_BCS]},
              {GROUP "residual_ohm_local", local_name, field->local_ohm[CAVUM_FIELD_RESIDUAL]}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    CAVUM_TRY(cavum_coldtest_write_estimates(file, rows[i].path, field->degree + 1,
                                             rows[i].coefficients, "ohm", rows[i].long_name,
                                             error));
  }
done:
  return status;
}

static cavum_status write_resistance(cavum_hdf5_file *file, const cavum_resistance_field *field,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const struct {
    const char *path, *units, *long_name;
    double value;
  } rows[] = {
      {GROUP "reference_temperature_K", "K", "temperature of the BCS part", field->reference_k},
      {GROUP "chi_squared_bcs", "1", "of the polynomial of the BCS part",
       field->chi_squared[CAVUM_FIELD_BCS]},
      {GROUP "chi_squared_residual", "1", "of the polynomial of the residual",
       field->chi_squared[CAVUM_FIELD_RESIDUAL]},
      {GROUP "degrees_of_freedom", "1", "series less coefficients", field->degrees_of_freedom}};
  CAVUM_TRY(write_points(file, field, error));
  CAVUM_TRY(write_polynomials(file, field, error));
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    CAVUM_TRY(cavum_coldtest_write_estimate(file, rows[i].path, plain(rows[i].value), rows[i].units,
                                            rows[i].long_name, error));
  }
  if (field->weighting.known) {
    CAVUM_TRY(cavum_coldtest_write_column(
        file, GROUP "wall_means_of_powers_of_field", CAVUM_NUM_FIELD_TERMS, field->weighting.moment,
        "1", "mean of (H / H_pk)^n over the wall with weight H^2", error));
  }
done:
  return status;
}

static cavum_status write_frequency(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_frequency_fit *fit = &report->frequency;
  double up_to = report->file.frequency.highest_e_acc_v_per_m;
  const struct {
    const char *path, *units, *long_name;
    cavum_estimate estimate;
  } rows[] = {
      {"/frequency/lorentz_Hz_m2_per_V2", "Hz m2 V-2", "df / d(E_acc^2)",
       fit->lorentz_hz_m2_per_v2},
      {"/frequency/pressure_Hz_per_Pa", "Hz Pa-1", "df / dp", fit->pressure_hz_per_pa},
      {"/frequency/frequency_Hz", "Hz", "without field, at the mean pressure", fit->frequency_hz},
      {"/frequency/mean_pressure_Pa", "Pa", "mean bath pressure of the readings",
       plain(fit->mean_pressure_pa)},
      {"/frequency/readings", "1", "readings that were fitted", plain((double)fit->num_readings)},
      {"/frequency/up_to_gradient_V_per_m", "V m-1", "readings above it were left out",
       plain(up_to > 0.0 ? up_to : NAN)},
      {"/frequency/scatter_Hz", "Hz", "standard deviation of the residuals",
       plain(fit->scatter_hz)},
      {"/frequency/chi_squared", "1", "weighted sum of squares", plain(fit->chi_squared)},
      {"/frequency/degrees_of_freedom", "1", "readings less parameters",
       plain(fit->degrees_of_freedom)},
      {"/frequency/expected_lorentz_Hz_m2_per_V2", "Hz m2 V-2",
       "df / d(E_acc^2) by the radiation pressure on a wall of the stated stiffness",
       plain(fit->expected_lorentz_hz_m2_per_v2)},
      {"/frequency/expected_pressure_Hz_per_Pa", "Hz Pa-1", "df / dp of that wall",
       plain(fit->expected_pressure_hz_per_pa)}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    CAVUM_TRY(cavum_coldtest_write_estimate(file, rows[i].path, rows[i].estimate, rows[i].units,
                                            rows[i].long_name, error));
  }
done:
  return status;
}

cavum_status cavum_coldtest_file_write_field(cavum_hdf5_file *file,
                                             const cavum_coldtest_report *report,
                                             cavum_error *error) {
  if (report->has_frequency) {
    cavum_status status = write_frequency(file, report, error);
    if (status != CAVUM_OK) return status;
  }
  return report->has_field ? write_resistance(file, &report->field, error) : CAVUM_OK;
}
