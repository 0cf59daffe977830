// SPDX-License-Identifier: GPL-3.0-or-later
// Runs as HDF5, by the names of the JSON. NaN marks what a run does not have.
#include "store/coldtest_runs_file.h"

#include <stdio.h>

#include "base/base.h"
#include "store/coldtest_write.h"

enum { NUM_COLUMNS = 8 };

static cavum_status write_columns(cavum_hdf5_file *file,
                                  const cavum_coldtest_run_summary runs[CAVUM_MAX_RUNS], int count,
                                  cavum_error *error) {
  static const struct {
    const char *path, *units, *long_name;
  } texts[NUM_COLUMNS] = {
      {"/runs/readings", "1", "readings of the run"},
      {"/runs/lowest_gradient_V_per_m", "V m-1", "lowest gradient"},
      {"/runs/highest_gradient_V_per_m", "V m-1", "highest gradient"},
      {"/runs/lowest_bath_temperature_K", "K", "lowest bath temperature"},
      {"/runs/highest_bath_temperature_K", "K", "highest bath temperature"},
      {"/runs/q0_over_first_run", "1", "Q0 over that of the first run"},
      {"/runs/q0_over_first_run_uncertainty", "1", "standard uncertainty of that"},
      {"/runs/ratio_gradient_V_per_m", "V m-1", "gradient where it is taken"}};
  cavum_status status = CAVUM_OK;
  double work[CAVUM_MAX_RUNS];
  for (int k = 0; k < NUM_COLUMNS; k++) {
    for (int i = 0; i < count; i++) {
      const cavum_coldtest_run_summary *run = &runs[i];
      const double row[NUM_COLUMNS] = {(double)run->num_points,    run->lowest_e_acc_v_per_m,
                                       run->highest_e_acc_v_per_m, run->lowest_temperature_k,
                                       run->highest_temperature_k, run->q0_ratio.value,
                                       run->q0_ratio.uncertainty,  run->ratio_e_acc_v_per_m};
      work[i] = row[k];
    }
    CAVUM_TRY(cavum_coldtest_write_column(file, texts[k].path, count, work, texts[k].units,
                                          texts[k].long_name, error));
  }
done:
  return status;
}

static cavum_status write_fits(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const char *cautions[CAVUM_MAX_RUNS];
  for (int k = 0; k < CAVUM_NUM_RUN_QUANTITIES; k++) {
    cavum_run_quantity quantity = (cavum_run_quantity)k;
    cavum_estimate column[CAVUM_MAX_RUNS];
    cavum_run_quantity_info info = cavum_run_quantity_describe(quantity);
    char path[CAVUM_COLDTEST_PATH_SIZE];
    for (int i = 0; i < report->num_run_fits; i++) {
      column[i] = cavum_run_fit_get(&report->run_fits[i], quantity);
    }
    snprintf(path, sizeof path, "/runs/%s", info.key);
    CAVUM_TRY(cavum_coldtest_write_estimates(file, path, report->num_run_fits, column, info.unit,
                                             info.text, error));
  }
  if (report->num_run_fits == 0) return CAVUM_OK;
  for (int i = 0; i < report->num_run_fits; i++) cautions[i] = report->run_fits[i].caution;
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/runs/fit_caution", report->num_run_fits, cautions,
                                   "why a fit of a run is missing, or a caution about it", error));
done:
  return status;
}

cavum_status cavum_coldtest_file_write_runs(cavum_hdf5_file *file,
                                            const cavum_coldtest_report *report,
                                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_coldtest *test = report->test;
  const char *names[CAVUM_MAX_RUNS];
  cavum_coldtest_run_summary runs[CAVUM_MAX_RUNS];
  int count = cavum_coldtest_num_runs(test);
  if (count == 0) return CAVUM_OK;
  for (int i = 0; i < count; i++) {
    names[i] = cavum_coldtest_get_run_name(test, i + 1);
    CAVUM_TRY(cavum_coldtest_summarise_run(&runs[i], test, i + 1, error));
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/runs/name", count, names, "names of the runs", error));
  CAVUM_TRY(write_columns(file, runs, count, error));
  CAVUM_TRY(write_fits(file, report, error));
done:
  return status;
}
