// SPDX-License-Identifier: GPL-3.0-or-later
// Reads plans back: numbers by name, inputs that dominate as words.
#include "store/coldtest_load_plans.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/coldtest_file.h"

enum { PATH_SIZE = 128 };

static double read_number(const cavum_hdf5_file *file, int number, const char *name,
                          const char *ending) {
  char path[PATH_SIZE];
  double value = NAN;
  snprintf(path, sizeof path, "/plans/%d/%s%s", number, name, ending);
  if (cavum_hdf5_has(file, path)) cavum_hdf5_read_number(&value, file, path, NULL);
  return value;
}

static const char *read_input(const cavum_hdf5_file *file, int number, const char *name,
                              const char *ending) {
  char path[PATH_SIZE], key[64] = "";
  snprintf(path, sizeof path, "/plans/%d/%s%s", number, name, ending);
  if (cavum_hdf5_has(file, path)) cavum_hdf5_read_text(key, sizeof key, file, path, NULL, NULL);
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) {
    if (strcmp(key, cavum_coldtest_input_key((cavum_coldtest_input)i)) == 0) {
      return cavum_coldtest_input_text((cavum_coldtest_input)i);
    }
  }
  return "";
}

static void read_expected(cavum_stored_expected *out, const cavum_hdf5_file *file, int number,
                          const char *way) {
  out->q0_relative = read_number(file, number, "q0_relative_uncertainty", way);
  out->gradient_relative = read_number(file, number, "gradient_relative_uncertainty", way);
  out->q0_share = read_number(file, number, "q0_share_of_variance", way);
  out->gradient_share = read_number(file, number, "gradient_share_of_variance", way);
  out->q0_input = read_input(file, number, "q0_largest_input", way);
  out->gradient_input = read_input(file, number, "gradient_largest_input", way);
}

static void read_numbers(cavum_stored_plan *plan, const cavum_hdf5_file *file, int number) {
  const struct {
    const char *name;
    double *value;
  } rows[] = {{"gradient", &plan->gradient_v_per_m},
              {"q0", &plan->q0},
              {"q_external", &plan->q_external},
              {"q_pickup", &plan->q_pickup},
              {"forward_power", &plan->forward_w},
              {"wall_power", &plan->wall_power_w},
              {"coupling", &plan->coupling},
              {"q_loaded", &plan->q_loaded},
              {"decay_time_energy", &plan->decay_time_s},
              {"bandwidth", &plan->bandwidth_hz},
              {"forward_meter", &plan->forward_meter_w},
              {"reflected_meter", &plan->reflected_meter_w},
              {"transmitted_meter", &plan->transmitted_meter_w},
              {"emitted_meter", &plan->emitted_meter_w}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    *rows[i].value = read_number(file, number, rows[i].name, "");
  }
  read_expected(&plan->expected[CAVUM_STORED_BY_DECAY_TIME], file, number, "_by_decay");
  read_expected(&plan->expected[CAVUM_STORED_BY_PICKUP], file, number, "_by_pickup");
}

static cavum_status read_shares(cavum_stored_plan *plan, int num_limits,
                                const cavum_hdf5_file *file, int number, cavum_error *error) {
  char path[PATH_SIZE];
  int64_t count = 0;
  snprintf(path, sizeof path, "/plans/%d/limit_shares", number);
  if (num_limits == 0 || !cavum_hdf5_has(file, path)) return CAVUM_OK;
  cavum_status status = cavum_hdf5_read_doubles(&plan->limit_share, &count, file, path, error);
  if (status != CAVUM_OK || count == num_limits) return status;
  return cavum_fail(error, CAVUM_ERR_INPUT, "cold-test file is damaged: shape of %s", path);
}

cavum_status cavum_stored_coldtest_read_plans(cavum_stored_coldtest *test,
                                              const cavum_hdf5_file *file, cavum_error *error) {
  char path[PATH_SIZE];
  int count = 0;
  for (int i = 1; i <= CAVUM_MAX_PLANS; i++) {
    snprintf(path, sizeof path, "/plans/%d", i);
    if (!cavum_hdf5_has(file, path)) break;
    count = i;
  }
  if (count == 0) return CAVUM_OK;
  test->plans = cavum_alloc(count, sizeof *test->plans);
  if (!test->plans) return cavum_fail_memory(error);
  test->num_plans = count;
  for (int i = 0; i < count; i++) {
    read_numbers(&test->plans[i], file, i + 1);
    cavum_status status = read_shares(&test->plans[i], test->num_limits, file, i + 1, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

void cavum_stored_coldtest_clear_plans(cavum_stored_coldtest *test) {
  for (int i = 0; i < test->num_plans; i++) free(test->plans[i].limit_share);
  free(test->plans);
}
