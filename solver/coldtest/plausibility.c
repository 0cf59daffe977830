// SPDX-License-Identifier: GPL-3.0-or-later
// What is stated but can hardly be meant: slips of units, signs and columns, missing uncertainties.
// Remarks are said in words and change no number.
#include <stdio.h>
#include <string.h>

#include "base/units.h"
#include "coldtest/coldtest_private.h"

// Accelerating lengths are some hundredths of half a wavelength (slow particles) to some twenty
// (many cells): a factor 1000 in length or frequency leaves that range from anywhere in it.
static const double SHORTEST = 0.02, LONGEST = 50.0;
// Helium baths end at its critical point, 5.2 K; cryocoolers run cavities at up to some 10 K.
static const double WARMEST_BATH_K = 20.0, COLDEST_BATH_K = 0.1;
// The superheating field of niobium at 0 K: the thermodynamic field of pure niobium, 0.2 T
// [Finnemore1966], times 1.2, as the theory of Ginzburg and Landau has it for kappa about 1
// [Transtrum2011].
static const double LARGEST_B_PEAK_T = 0.24;
// Of accelerating cavities of all speeds: 3.5 to 15 mT/(MV/m) and 1.5 to 6. Teslas for millitesla,
// or a peak over a mean of another length, leave these ranges.
static const double LEAST_BPK_T_PER_V_PER_M = 1e-9, LARGEST_BPK_T_PER_V_PER_M = 50e-9;
static const double LEAST_EPK = 1.0, LARGEST_EPK = 20.0;
// Clean and dirty niobium differ by a factor of about two from the rule of [Padamsee1998].
static const double LEAST_OF_BCS = 0.25;
// Residuals of niobium are 1 to some 100 nohm, diseased or coated walls included up to a microohm.
static const double LARGEST_RESIDUAL_OHM = 1e-6, LARGEST_OF_BCS = 20.0;
// A test that stays below it is rare; powers in a wrong unit are off by a factor 1000.
static const double LEAST_LARGEST_GRADIENT_V_PER_M = 1e6;
// A few milliwatts read as dBm.
static const double NEAR_ZERO_DBM = 0.2;
static const double SMALLEST_Q0 = 1e3, LARGEST_Q0 = 1e13;
static const double SMALLEST_ATTENUATION_DB = -1.0;
static const double LARGEST_FREQUENCY_SPREAD = 0.01;

static double in_half_waves(double length_m, double frequency_hz) {
  return length_m * 2.0 * frequency_hz / 299792458.0;
}

bool cavum_coldtest_length_fits(double length_m, double frequency_hz) {
  double half_waves = in_half_waves(length_m, frequency_hz);
  return half_waves >= SHORTEST && half_waves <= LONGEST;
}

cavum_status cavum_coldtest_check_length(double length_m, double frequency_hz, const char *where,
                                         cavum_error *error) {
  double half_waves = in_half_waves(length_m, frequency_hz);
  if (cavum_coldtest_length_fits(length_m, frequency_hz)) return CAVUM_OK;
  return cavum_fail(
      error, CAVUM_ERR_INPUT,
      "%s: an accelerating length of %g mm is %.3g half wavelengths at %g MHz: a slip "
      "of units in one of them?",
      where, cavum_in_mm(length_m), half_waves, cavum_in_mhz(frequency_hz));
}

static bool is_used(const cavum_coldtest *test, int channel) {
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    if (!isnan(test->readings.items[i].power_w[channel])) return true;
  }
  return false;
}

static bool is_certain(const cavum_coldtest *test, int channel) {
  const double *u = test->inputs.uncertainty;
  int chain = test->setup.channels[channel].chain;
  return u[CAVUM_INPUT_GAIN_FORWARD + chain] == 0.0 &&
         u[CAVUM_INPUT_CABLE_FORWARD + chain] == 0.0 && u[CAVUM_INPUT_COMMON_GAIN] == 0.0 &&
         u[CAVUM_INPUT_ZERO_FORWARD + chain] == 0.0 &&
         u[CAVUM_INPUT_NOISE_FORWARD + channel] == 0.0;
}

// Scatter alone: attenuations and meters, which move all readings together, are never exact.
static void remark_on_shared_uncertainty(cavum_coldtest *test) {
  const double *u = test->inputs.uncertainty;
  bool any = u[CAVUM_INPUT_COMMON_GAIN] > 0.0, all_certain = true;
  for (int channel = 0; channel < CAVUM_CHANNEL_EXTRA + test->setup.num_extra; channel++) {
    if (!is_used(test, channel)) continue;
    int chain = test->setup.channels[channel].chain;
    any = any || u[CAVUM_INPUT_GAIN_FORWARD + chain] > 0.0 ||
          u[CAVUM_INPUT_CABLE_FORWARD + chain] > 0.0;
    all_certain = all_certain && is_certain(test, channel);
  }
  if (any || all_certain) return;
  cavum_coldtest_remark(test,
                        "no uncertainty of any meter or chain is stated: what moves all readings "
                        "together is missing in the uncertainties of E_acc and Q0");
}

static void remark_on_uncertainty(cavum_coldtest *test) {
  bool any = false;
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) any = any || test->inputs.uncertainty[i] > 0.0;
  if (!any) {
    cavum_coldtest_remark(
        test,
        "no uncertainty is stated for any input: the uncertainties of the results are meaningless");
    return;
  }
  remark_on_shared_uncertainty(test);
  char names[160] = "";
  int used = 0;
  for (int channel = 0; channel < CAVUM_CHANNEL_EXTRA + test->setup.num_extra; channel++) {
    if (!is_used(test, channel) || !is_certain(test, channel)) continue;
    used += snprintf(names + used, sizeof names - (size_t)used, "%s%s", used > 0 ? ", " : "",
                     cavum_coldtest_channel_name(&test->setup, channel));
    if (used >= (int)sizeof names) break;
  }
  if (used > 0) {
    cavum_coldtest_remark(
        test, "channels without uncertainty (chain, meter, reading and zero are all exact): %s",
        names);
  }
  bool decays = false;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    decays = decays || !isnan(test->readings.items[i].decay_time_s);
  }
  const double *u = test->inputs.uncertainty;
  if (decays && u[CAVUM_INPUT_DECAY] == 0.0 && u[CAVUM_INPUT_NOISE_DECAY] == 0.0) {
    cavum_coldtest_remark(test, "decay times without uncertainty");
  }
}

static void remark_on_figures(cavum_coldtest *test) {
  double bpk = test->setup.bpk_over_eacc_t_per_v_per_m.value;
  double epk = test->setup.epk_over_eacc.value;
  if (bpk > 0.0 && !(bpk >= LEAST_BPK_T_PER_V_PER_M && bpk <= LARGEST_BPK_T_PER_V_PER_M)) {
    cavum_coldtest_remark(
        test, "B_pk/E_acc of %.4g mT/(MV/m): cavities have 3 to 15: a slip of units?", 1e9 * bpk);
  }
  if (epk > 0.0 && !(epk >= LEAST_EPK && epk <= LARGEST_EPK)) {
    cavum_coldtest_remark(test, "E_pk/E_acc of %.4g: cavities have 1.5 to 6", epk);
  }
}

#define AMPLIFIES \
  "channel %s: its chain of %g dB amplifies: an attenuation is a positive number of dB"

static void remark_on_chains(cavum_coldtest *test) {
  for (int channel = 0; channel < CAVUM_CHANNEL_EXTRA + test->setup.num_extra; channel++) {
    const cavum_coldtest_channel *chain = &test->setup.channels[channel];
    if (chain->chain != channel || !is_used(test, channel)) continue;
    if (chain->attenuation_db < SMALLEST_ATTENUATION_DB) {
      cavum_coldtest_remark(test, AMPLIFIES, cavum_coldtest_channel_name(&test->setup, channel),
                            chain->attenuation_db);
    }
  }
}

void cavum_coldtest_explain_rows(cavum_error *error, const cavum_coldtest_setup *setup) {
  size_t used = error ? strlen(error->message) : 0;
  for (int channel = 0; error && channel < CAVUM_CHANNEL_EXTRA + setup->num_extra; channel++) {
    const cavum_coldtest_channel *chain = &setup->channels[channel];
    if (chain->chain != channel || !(chain->attenuation_db < SMALLEST_ATTENUATION_DB)) continue;
    snprintf(error->message + used, sizeof error->message - used, "; " AMPLIFIES,
             cavum_coldtest_channel_name(setup, channel), chain->attenuation_db);
    return;
  }
}

// Another mode of the cell, or another cell: cooling and tuning change less than 1 %.
static void remark_on_cell(cavum_coldtest *test, double lowest_hz, double highest_hz) {
  double cell_hz = test->setup.cell_frequency_hz, other_hz = lowest_hz;
  if (!(cell_hz > 0.0) || !(highest_hz >= lowest_hz)) return;
  if (fabs(highest_hz - cell_hz) > fabs(lowest_hz - cell_hz)) other_hz = highest_hz;
  if (fabs(other_hz - cell_hz) <= LARGEST_FREQUENCY_SPREAD * cell_hz) return;
  cavum_coldtest_remark(
      test,
      "a frequency of %.7g MHz, where the figures are of a mode at %.7g MHz: another mode or cell?",
      cavum_in_mhz(other_hz), cavum_in_mhz(cell_hz));
}

static void remark_on_readings(cavum_coldtest *test) {
  double lowest_hz = INFINITY, highest_hz = 0.0;
  int64_t warm = -1, cold = -1, count = test->readings.num_readings;
  for (int64_t i = 0; i < count; i++) {
    const cavum_coldtest_reading *reading = &test->readings.items[i];
    double hz = isnan(reading->frequency_hz) ? test->setup.frequency_hz : reading->frequency_hz;
    lowest_hz = cavum_min(lowest_hz, hz);
    highest_hz = cavum_max(highest_hz, hz);
    if (warm < 0 && reading->bath_temperature_k > WARMEST_BATH_K) warm = i;
    if (cold < 0 && reading->bath_temperature_k < COLDEST_BATH_K) cold = i;
  }
  if (test->setup.frequency_hz > 0.0) {
    lowest_hz = cavum_min(lowest_hz, test->setup.frequency_hz);
    highest_hz = cavum_max(highest_hz, test->setup.frequency_hz);
  }
  if (highest_hz > (1.0 + LARGEST_FREQUENCY_SPREAD) * lowest_hz) {
    cavum_coldtest_remark(
        test, "frequencies from %.7g to %.7g MHz: one cavity changes by far less than 1 %%",
        cavum_in_mhz(lowest_hz), cavum_in_mhz(highest_hz));
  }
  remark_on_cell(test, lowest_hz, highest_hz);
  int64_t odd = warm >= 0 ? warm : cold;
  if (odd >= 0) {
    cavum_coldtest_remark(
        test,
        "reading %lld: a bath of %g K; the bath of a cold test is between %g and %g K, and the fit "
        "of R_s(T) leaves out what is above T_c",
        (long long)odd + 1, test->readings.items[odd].bath_temperature_k, COLDEST_BATH_K,
        WARMEST_BATH_K);
  }
}

static int64_t first_outside(const cavum_coldtest *test, cavum_coldtest_quantity quantity,
                             double low, double high) {
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    double value = test->points[i].value[quantity];
    if (value < low || value > high) return i;
  }
  return -1;
}

// R_BCS = 2e-4 ohm K / T (f / 1.5 GHz)^2 exp(-17.67 K / T) below T_c / 2 [Padamsee1998] ch. 4.
static double niobium_resistance_ohm(double temperature_k, double frequency_hz) {
  double ratio = frequency_hz / 1.5e9;
  return 2e-4 / temperature_k * ratio * ratio * exp(-17.67 / temperature_k);
}

static bool remark_on_one_resistance(cavum_coldtest *test, int64_t i) {
  const cavum_coldtest_reading *reading = &test->readings.items[i];
  double hz = isnan(reading->frequency_hz) ? test->setup.frequency_hz : reading->frequency_hz;
  double found = test->points[i].value[CAVUM_QUANTITY_SURFACE_RESISTANCE];
  double temperature_k = reading->bath_temperature_k;
  if (!(temperature_k > COLDEST_BATH_K) || !(temperature_k < 4.6) || !(hz > 0.0)) return false;
  double expected = niobium_resistance_ohm(temperature_k, hz);
  bool small = found < LEAST_OF_BCS * expected;
  bool large = found > LARGEST_OF_BCS * expected + LARGEST_RESIDUAL_OHM;
  if (!small && !large) return false;
  cavum_coldtest_remark(
      test,
      "reading %lld: R_s of %.3g nohm at %.4g K: niobium has some %.3g nohm by the BCS part%s",
      (long long)i + 1, 1e9 * found, temperature_k, 1e9 * expected,
      small ? " alone: another temperature, G, frequency, or a chain?"
            : ", and a residual of 1 to some 100: the unit of the decay time, a chain, or a bad "
              "surface?");
  return true;
}

static void remark_on_resistance(cavum_coldtest *test) {
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    if (remark_on_one_resistance(test, i)) return;
  }
}

static void remark_on_low_power(cavum_coldtest *test) {
  double largest = 0.0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    largest = cavum_max(largest, test->points[i].value[CAVUM_QUANTITY_E_ACC]);
  }
  if (!(largest < LEAST_LARGEST_GRADIENT_V_PER_M) || !(largest > 0.0)) return;
  cavum_coldtest_remark(test,
                        "no reading is above %.3g MV/m: the unit of the powers or of the decay "
                        "time, or an attenuation that is missing?",
                        cavum_in_mv_per_m(largest));
}

// Watts in a column of dBm are a few milliwatts: 0 dBm in every row and channel.
static void remark_on_milliwatts(cavum_coldtest *test) {
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    for (int channel = 0; channel < CAVUM_CHANNEL_EXTRA; channel++) {
      double power_w = test->readings.items[i].power_w[channel];
      if (fabs(10.0 * log10(1e3 * power_w)) > NEAR_ZERO_DBM) return;
    }
  }
  cavum_coldtest_remark(test,
                        "every meter shows 1 mW, within %g dB, in every reading: watts in columns "
                        "of dBm?",
                        NEAR_ZERO_DBM);
}

static void remark_on_results(cavum_coldtest *test) {
  int64_t i =
      first_outside(test, CAVUM_QUANTITY_E_ACC, 0.0, CAVUM_COLDTEST_LARGEST_GRADIENT_V_PER_M);
  if (i >= 0) {
    cavum_coldtest_remark(
        test,
        "reading %lld: E_acc of %.4g MV/m: no cavity has reached 100 MV/m: length, R/Q or a chain?",
        (long long)i + 1, cavum_in_mv_per_m(test->points[i].value[CAVUM_QUANTITY_E_ACC]));
  }
  i = first_outside(test, CAVUM_QUANTITY_B_PEAK, 0.0, LARGEST_B_PEAK_T);
  if (i >= 0) {
    cavum_coldtest_remark(
        test,
        "reading %lld: B_pk of %.4g mT: niobium is not superconducting above some 240 mT, 1.2 "
        "times its thermodynamic field",
        (long long)i + 1,
        cavum_in_unit(test->points[i].value[CAVUM_QUANTITY_B_PEAK], CAVUM_UNIT_MILLITESLA));
  }
  i = first_outside(test, CAVUM_QUANTITY_Q0, SMALLEST_Q0, LARGEST_Q0);
  if (i >= 0) {
    cavum_coldtest_remark(test, "reading %lld: Q0 of %.4g: decay time, frequency or a chain?",
                          (long long)i + 1, test->points[i].value[CAVUM_QUANTITY_Q0]);
  }
}

void cavum_coldtest_remark_on(cavum_coldtest *test) {
  remark_on_uncertainty(test);
  remark_on_figures(test);
  remark_on_chains(test);
  remark_on_readings(test);
  remark_on_results(test);
  remark_on_resistance(test);
  remark_on_low_power(test);
  remark_on_milliwatts(test);
  cavum_coldtest_remark_on_bath(test);
}
