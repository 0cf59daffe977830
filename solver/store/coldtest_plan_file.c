// SPDX-License-Identifier: GPL-3.0-or-later
// Plans and limits as HDF5.
#include "store/coldtest_plan_file.h"

#include <stdio.h>

#include "base/base.h"
#include "store/coldtest_write.h"

enum { PATH_SIZE = CAVUM_COLDTEST_PATH_SIZE };

cavum_status cavum_coldtest_file_write_limits(cavum_hdf5_file *file,
                                              const cavum_coldtest_setup *setup,
                                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const char *names[CAVUM_MAX_LIMITS], *sources[CAVUM_MAX_LIMITS], *quantities[CAVUM_MAX_LIMITS];
  double values[CAVUM_MAX_LIMITS];
  int count = setup->num_limits;
  if (count == 0) return CAVUM_OK;
  for (int i = 0; i < count; i++) {
    names[i] = setup->limits[i].name;
    sources[i] = setup->limits[i].source;
    quantities[i] = cavum_coldtest_describe_quantity(setup->limits[i].quantity).key;
    values[i] = setup->limits[i].value;
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/limits/name", count, names, "stated limits", error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/limits/source", count, sources,
                                   "where the numbers come from", error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/limits/quantity", count, quantities,
                                   "what is limited, a dataset of /points", error));
  CAVUM_TRY(cavum_coldtest_write_column(file, "/limits/value", count, values, NULL,
                                        "limits in the unit that ends the name of the quantity",
                                        error));
done:
  return status;
}

static cavum_status write_inputs(cavum_hdf5_file *file, const cavum_plan *plan, int number,
                                 cavum_error *error) {
  const struct {
    const char *name;
    const cavum_plan_expected *expected;
    cavum_coldtest_input input;
  } rows[] = {{"q0_largest_input_by_decay", &plan->by_decay, plan->by_decay.q0_input},
              {"gradient_largest_input_by_decay", &plan->by_decay, plan->by_decay.e_acc_input},
              {"q0_largest_input_by_pickup", &plan->by_pickup, plan->by_pickup.q0_input},
              {"gradient_largest_input_by_pickup", &plan->by_pickup, plan->by_pickup.e_acc_input}};
  cavum_status status = CAVUM_OK;
  char path[PATH_SIZE];
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    if (!rows[i].expected->possible) continue;
    snprintf(path, sizeof path, "/plans/%d/%s", number, rows[i].name);
    CAVUM_TRY(cavum_coldtest_write_text(file, path, cavum_coldtest_input_key(rows[i].input),
                                        "input with the largest part of the variance", error));
  }
done:
  return status;
}

static cavum_status write_plan(cavum_hdf5_file *file, const cavum_plan *plan,
                               const cavum_plan_request *request, int number, cavum_error *error) {
  const struct {
    const char *name, *units, *long_name;
    double value;
  } rows[] = {
      {"frequency", "Hz", "frequency", request->frequency_hz},
      {"gradient", "V m-1", "gradient that is wanted", request->e_acc_v_per_m},
      {"q0", "1", "Q0 that is assumed", request->q0},
      {"q_external", "1", "external quality factor Q_e of the input coupler", request->q_external},
      {"q_pickup", "1", "Q_t of the pickup; inf: none", request->q_pickup},
      {"emitted_power", "W", "emitted power at switch-off",
       plan->state.power_w[CAVUM_CHANNEL_EMITTED]},
      {"matched_forward_power", "W", "forward power with a critically coupled coupler",
       plan->matched_forward_w},
      {"surface_resistance", "ohm", "surface resistance", plan->surface_resistance_ohm},
      {"forward_power", "W", "forward power", plan->state.power_w[CAVUM_CHANNEL_FORWARD]},
      {"reflected_power", "W", "reflected power", plan->state.power_w[CAVUM_CHANNEL_REFLECTED]},
      {"transmitted_power", "W", "transmitted power",
       plan->state.power_w[CAVUM_CHANNEL_TRANSMITTED]},
      {"wall_power", "W", "dissipated power P_d", plan->state.wall_power_w},
      {"q_loaded", "1", "loaded Q", plan->state.q_loaded},
      {"coupling", "1", "coupling beta*", plan->state.coupling},
      {"decay_time_energy", "s", "energy decay time", plan->state.decay_time_s},
      {"bandwidth", "Hz", "full bandwidth at half power", plan->state.bandwidth_hz},
      {"stored_energy", "J", "stored energy", plan->stored_energy_j},
      {"voltage", "V", "accelerating voltage", plan->voltage_v},
      {"peak_electric_field", "V m-1", "peak electric field", plan->e_peak_v_per_m},
      {"peak_magnetic_field", "T", "peak magnetic field", plan->b_peak_t},
      {"forward_meter", "W", "forward power at the meter", plan->meter_w[CAVUM_CHANNEL_FORWARD]},
      {"reflected_meter", "W", "reflected power at the meter",
       plan->meter_w[CAVUM_CHANNEL_REFLECTED]},
      {"transmitted_meter", "W", "transmitted power at the meter",
       plan->meter_w[CAVUM_CHANNEL_TRANSMITTED]},
      {"emitted_meter", "W", "emitted power at the meter, at switch-off",
       plan->meter_w[CAVUM_CHANNEL_EMITTED]},
      {"q0_relative_uncertainty_by_decay", "1", "expected for Q0, reading with a decay time",
       plan->by_decay.q0_relative},
      {"gradient_relative_uncertainty_by_decay", "1", "expected for E_acc, with a decay time",
       plan->by_decay.e_acc_relative},
      {"q0_relative_uncertainty_by_pickup", "1", "expected for Q0, reading by the pickup",
       plan->by_pickup.q0_relative},
      {"gradient_relative_uncertainty_by_pickup", "1", "expected for E_acc, by the pickup",
       plan->by_pickup.e_acc_relative},
      {"q0_share_of_variance_by_decay", "1", "by the largest input", plan->by_decay.q0_share},
      {"gradient_share_of_variance_by_decay", "1", "by the largest input",
       plan->by_decay.e_acc_share},
      {"q0_share_of_variance_by_pickup", "1", "by the largest input", plan->by_pickup.q0_share},
      {"gradient_share_of_variance_by_pickup", "1", "by the largest input",
       plan->by_pickup.e_acc_share}};
  cavum_status status = CAVUM_OK;
  char path[PATH_SIZE];
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    snprintf(path, sizeof path, "/plans/%d/%s", number, rows[i].name);
    CAVUM_TRY(cavum_coldtest_write_number(file, path, rows[i].value, rows[i].units,
                                          rows[i].long_name, error));
  }
  CAVUM_TRY(write_inputs(file, plan, number, error));
done:
  return status;
}

static cavum_status write_shares(cavum_hdf5_file *file, const cavum_plan *plan, int count,
                                 int number, cavum_error *error) {
  char path[PATH_SIZE];
  if (count == 0) return CAVUM_OK;
  snprintf(path, sizeof path, "/plans/%d/limit_shares", number);
  return cavum_coldtest_write_column(file, path, count, plan->limit_share, "1",
                                     "over each of /limits; NaN: not known", error);
}

cavum_status cavum_coldtest_file_write_plans(cavum_hdf5_file *file,
                                             const cavum_coldtest_report *report,
                                             cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < report->num_plans; i++) {
    const cavum_plan *plan = &report->plans[i];
    CAVUM_TRY(write_plan(file, plan, &report->file.plans[i], i + 1, error));
    CAVUM_TRY(write_shares(file, plan, report->file.setup.num_limits, i + 1, error));
  }
done:
  return status;
}
