// SPDX-License-Identifier: GPL-3.0-or-later
// Options of the series of a cold test: their defaults, their sizes, their ranges.
#include "coldtest/options.h"

#include <float.h>

#include "base/base.h"

#define SIZED(type, words) \
  { .name = (words), .maker = #type "_default()", .first = sizeof(type), .full = sizeof(type) }

static const cavum_sized DECAY = SIZED(cavum_decay_options, "decay options"),
                         RESISTANCE = SIZED(cavum_resistance_options, "resistance options"),
                         FIELD = SIZED(cavum_resistance_field_options, "resistance field options"),
                         FREQUENCY = SIZED(cavum_frequency_options, "frequency options"),
                         EMISSION = SIZED(cavum_field_emission_options, "field emission options");

const cavum_sized cavum_resistance_field_sized = {.name = "resistance field",
                                                  .first = sizeof(cavum_resistance_field),
                                                  .full = sizeof(cavum_resistance_field)};
const cavum_sized cavum_frequency_fit_sized = {.name = "frequency fit",
                                               .first = sizeof(cavum_frequency_fit),
                                               .full = sizeof(cavum_frequency_fit)};
const cavum_sized cavum_field_emission_sized = {.name = "field emission",
                                                .first = sizeof(cavum_field_emission),
                                                .full = sizeof(cavum_field_emission)};

void cavum_decay_options_set_defaults(cavum_decay_options *options, size_t struct_size) {
  const cavum_decay_options defaults = {.struct_size = struct_size};
  if (options) cavum_sized_give(options, struct_size, &defaults, &DECAY);
}

void cavum_resistance_options_set_defaults(cavum_resistance_options *options, size_t struct_size) {
  const cavum_resistance_options defaults = {.e_acc_tolerance = 0.1};
  if (options) cavum_sized_give(options, struct_size, &defaults, &RESISTANCE);
}

void cavum_resistance_field_options_set_defaults(cavum_resistance_field_options *options,
                                                 size_t struct_size) {
  const cavum_resistance_field_options defaults = {
      .e_acc_tolerance = 0.1, .reference_k = 2.0, .degree = -1};
  if (options) cavum_sized_give(options, struct_size, &defaults, &FIELD);
}

void cavum_frequency_options_set_defaults(cavum_frequency_options *options, size_t struct_size) {
  const cavum_frequency_options defaults = {.struct_size = struct_size};
  if (options) cavum_sized_give(options, struct_size, &defaults, &FREQUENCY);
}

void cavum_field_emission_options_set_defaults(cavum_field_emission_options *options,
                                               size_t struct_size) {
  const cavum_field_emission_options defaults = {.struct_size = struct_size};
  if (options) cavum_sized_give(options, struct_size, &defaults, &EMISSION);
}

cavum_status cavum_field_emission_options_take(cavum_field_emission_options *full,
                                               const cavum_field_emission_options *given,
                                               cavum_error *error) {
  const cavum_field_emission_options defaults = cavum_field_emission_options_default();
  return cavum_sized_take(full, given ? given : &defaults, &EMISSION, error);
}

/** A member with its least value, which is allowed unless `above`. */
typedef struct range {
  const char *name;
  double value, least;
  bool above;
} range;

static cavum_status check(const char *what, const range *ranges, size_t count, cavum_error *error) {
  for (size_t i = 0; i < count; i++) {
    const range *r = &ranges[i];
    bool good = r->above ? r->value > r->least : r->value >= r->least;
    if (good && isfinite(r->value)) continue;
    return cavum_fail(error, CAVUM_ERR_USAGE, "%s: %s is %g, expected a finite number %s %g", what,
                      r->name, r->value, r->above ? "above" : "not below", r->least);
  }
  return CAVUM_OK;
}

#define COUNT(array) (sizeof(array) / sizeof *(array))

cavum_status cavum_decay_options_take(cavum_decay_options *full, const cavum_decay_options *given,
                                      cavum_error *error) {
  const cavum_decay_options defaults = cavum_decay_options_default();
  cavum_decay_options o;
  cavum_status status = cavum_sized_take(&o, given ? given : &defaults, &DECAY, error);
  if (status != CAVUM_OK) return status;
  const range ranges[] = {{"noise", o.noise, 0.0, false},
                          {"floor_w", o.floor_w, 0.0, false},
                          {"first_time_s", o.first_time_s, -DBL_MAX, false},
                          {"last_time_s", o.last_time_s, -DBL_MAX, false},
                          {"num_windows", o.num_windows, 0.0, false}};
  status = check(DECAY.name, ranges, COUNT(ranges), error);
  if (status == CAVUM_OK) *full = o;
  return status;
}

cavum_status cavum_resistance_options_take(cavum_resistance_options *full,
                                           const cavum_resistance_options *given,
                                           cavum_error *error) {
  const cavum_resistance_options defaults = cavum_resistance_options_default();
  cavum_resistance_options o;
  cavum_status status = cavum_sized_take(&o, given ? given : &defaults, &RESISTANCE, error);
  if (status != CAVUM_OK) return status;
  const range ranges[] = {{"e_acc_v_per_m", o.e_acc_v_per_m, 0.0, false},
                          {"e_acc_tolerance", o.e_acc_tolerance, 0.0, false},
                          {"fixed_gap_k", o.fixed_gap_k, 0.0, false},
                          {"run", o.run, 0.0, false}};
  status = check(RESISTANCE.name, ranges, COUNT(ranges), error);
  if (status == CAVUM_OK) *full = o;
  return status;
}

cavum_status cavum_resistance_field_options_take(cavum_resistance_field_options *full,
                                                 const cavum_resistance_field_options *given,
                                                 cavum_error *error) {
  const cavum_resistance_field_options defaults = cavum_resistance_field_options_default();
  cavum_resistance_field_options o;
  cavum_status status = cavum_sized_take(&o, given ? given : &defaults, &FIELD, error);
  if (status != CAVUM_OK) return status;
  const range ranges[] = {{"e_acc_tolerance", o.e_acc_tolerance, 0.0, false},
                          {"fixed_gap_k", o.fixed_gap_k, 0.0, false},
                          {"reference_k", o.reference_k, 0.0, true},
                          {"degree", o.degree, -1.0, false}};
  status = check(FIELD.name, ranges, COUNT(ranges), error);
  for (int i = 0; i < o.num_gradients && i < CAVUM_MAX_GRADIENTS && status == CAVUM_OK; i++) {
    const range gradient = {"a gradient (e_acc_v_per_m)", o.e_acc_v_per_m[i], 0.0, true};
    status = check(FIELD.name, &gradient, 1, error);
  }
  if (status == CAVUM_OK) *full = o;
  return status;
}

cavum_status cavum_frequency_options_take(cavum_frequency_options *full,
                                          const cavum_frequency_options *given,
                                          cavum_error *error) {
  const cavum_frequency_options defaults = cavum_frequency_options_default();
  cavum_frequency_options o;
  cavum_status status = cavum_sized_take(&o, given ? given : &defaults, &FREQUENCY, error);
  if (status != CAVUM_OK) return status;
  const range ranges[] = {{"reading_hz", o.reading_hz, 0.0, false},
                          {"pressure_pa", o.pressure_pa, 0.0, false},
                          {"pressure_scale", o.pressure_scale, 0.0, false},
                          {"stiffness_pa_per_m", o.stiffness_pa_per_m, 0.0, false},
                          {"highest_e_acc_v_per_m", o.highest_e_acc_v_per_m, 0.0, false},
                          {"run", o.run, 0.0, false}};
  status = check(FREQUENCY.name, ranges, COUNT(ranges), error);
  if (status == CAVUM_OK) *full = o;
  return status;
}
