// SPDX-License-Identifier: GPL-3.0-or-later
// The text of field emission.
#include "cli/coldtest_table_emission.h"

#include <math.h>

#include "base/units.h"
#include "format/quantity.h"

static void print_row(FILE *out, const char *name, cavum_estimate estimate, cavum_unit unit,
                      const char *more) {
  char text[CAVUM_QUANTITY_SIZE];
  if (!isfinite(estimate.value)) return;
  cavum_quantity_format(text, cavum_in_unit(estimate.value, unit),
                        cavum_in_unit(estimate.uncertainty, unit));
  const char *symbol = cavum_unit_symbol(unit);
  fprintf(out, "  %-36s%s%s%s%s\n", name, text, symbol[0] ? " " : "", symbol, more);
}

static void print_fit(FILE *out, const char *name, const cavum_emission_fit *fit) {
  char more[96] = "";
  if (!fit->found) return;
  if (isfinite(fit->chi_squared)) {
    snprintf(more, sizeof more, ", chi2 %.3g with %d degrees of freedom", fit->chi_squared,
             fit->degrees_of_freedom);
  }
  print_row(out, name, fit->enhancement, CAVUM_UNIT_SI, more);
}

static void print_power(FILE *out, const cavum_coldtest_report *report) {
  const cavum_field_emission *e = &report->emission;
  char name[96];
  if (e->strongest < 0) return;
  const cavum_coldtest_point *point = cavum_coldtest_get_point(report->test, e->strongest);
  snprintf(name, sizeof name, "power of electrons at %.4g MV/m",
           cavum_in_mv_per_m(point->value[CAVUM_QUANTITY_E_ACC]));
  print_row(out, name, e->power_w[e->strongest], CAVUM_UNIT_W, "");
  fprintf(out, "  of %.4g W in all; walls: Q0 of %lld readings below %.4g MV/m",
          point->value[CAVUM_QUANTITY_WALL_POWER], (long long)e->num_below,
          cavum_in_mv_per_m(e->wall_below_v_per_m));
  if (isfinite(e->bath_temperature_k)) fprintf(out, " at %.4g K", e->bath_temperature_k);
  fprintf(out, ", %d term%s continued\n", e->wall_terms, e->wall_terms > 1 ? "s" : "");
  if (e->wall_scaling > 1.0) {
    fprintf(out, "  they scatter %.3g times as much as their uncertainties say, which counts\n",
            e->wall_scaling);
  }
}

void cavum_coldtest_table_print_emission(FILE *out, const cavum_coldtest_report *report) {
  const cavum_field_emission *e = &report->emission;
  char criterion[64];
  if (!report->has_emission) return;
  fprintf(out, "\nField emission, %lld readings of radiation\n",
          (long long)e->radiation.num_readings);
  print_row(out, "background", e->background_sv_per_h, CAVUM_UNIT_MICROSIEVERT_PER_H, "");
  snprintf(criterion, sizeof criterion, ", emission %.3g uSv/h",
           cavum_in_unit(e->onset_sv_per_h.value, CAVUM_UNIT_MICROSIEVERT_PER_H));
  print_row(out, "onset, E_acc", e->onset_e_acc_v_per_m, CAVUM_UNIT_MV_PER_M, criterion);
  print_row(out, "onset, E_pk", e->onset_e_peak_v_per_m, CAVUM_UNIT_MV_PER_M, "");
  print_fit(out, "enhancement beta_FN, radiation", &e->radiation);
  print_fit(out, "enhancement beta_FN, power", &e->power);
  if (e->radiation.found) {
    fprintf(out, "  for a work function of %.3g eV (niobium: 4.0 to 4.3 eV, common practice)\n",
            e->work_function_ev.value);
  }
  print_power(out, report);
  if (e->caution[0]) fprintf(out, "  caution: %s\n", e->caution);
  fputs("  X-rays come without source or beam: shielding, interlocks and survey by local rules\n",
        out);
}
