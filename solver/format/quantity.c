// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers with uncertainties for people, and the units in which figures are shown.
#include "format/quantity.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"

// Values outside these limits are shown with an exponent.
static const double SMALLEST_PLAIN = 1e-3, LARGEST_PLAIN = 1e7;
// Digits that a double can hold in any case.
enum { LARGEST_DIGITS = 15 };

static bool is_plain(double size) { return size >= SMALLEST_PLAIN && size < LARGEST_PLAIN; }

// Decimal exponent of the leading digit of a positive number, also where log10 rounds.
static int leading_exponent(double value) {
  int exponent = (int)floor(log10(value));
  if (value / pow(10.0, exponent) >= 10.0) exponent++;
  if (value / pow(10.0, exponent) < 1.0) exponent--;
  return exponent;
}

// Exponent of the last digit to show for an uncertainty: two digits when it starts with 1 or 2.
static int last_exponent(double value, double uncertainty) {
  int leading = leading_exponent(uncertainty);
  // The 1e-6 keeps 3, which scaling may turn into 2.9999999999999996, at one digit.
  int last = uncertainty / pow(10.0, leading) < 3.0 * (1.0 - 1e-6) ? leading - 1 : leading;
  if (value != 0.0) {
    int limit = leading_exponent(fabs(value)) - LARGEST_DIGITS + 1;
    if (last < limit) last = limit;
  }
  return last;
}

// How many steps cover an uncertainty. The 1e-6 keeps 3.0000000001 from becoming 4: rounding noise
// of a sum, not uncertainty.
static double count_steps(double covered, double step) {
  return ceil(covered / step * (1.0 - 1e-6));
}

// The value on the grid of 10^last, as text without exponent, and the uncertainty beside it.
static void format_plain(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty, int last,
                         const char *suffix) {
  double step = pow(10.0, last);
  char digits[40];
  snprintf(digits, sizeof digits, "%.*f", last < 0 ? -last : 0,
           last > 0 ? round(value / step) * step : value);
  double shown = strtod(digits, NULL);
  double count = count_steps(uncertainty + fabs(value - shown), step);
  if (last > 0) count *= step;
  snprintf(text, CAVUM_QUANTITY_SIZE, "%s(%.0f)%s", digits, count, suffix);
}

// Nothing of the value is left beside its uncertainty: 0 +- 0.018, 0 +- 1.3e-5.
static void format_zero(char text[CAVUM_QUANTITY_SIZE], double covered, int last) {
  double step = pow(10.0, last), count = count_steps(covered, step);
  if (is_plain(covered)) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "0 +- %.*f", last < 0 ? -last : 0, count * step);
  } else if (count < 10.0) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "0 +- %.0fe%d", count, last);
  } else {
    snprintf(text, CAVUM_QUANTITY_SIZE, "0 +- %.1fe%d", count / 10.0, last + 1);
  }
}

static void format_scientific(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty,
                              int last) {
  int exponent = leading_exponent(fabs(value) > uncertainty ? fabs(value) : uncertainty);
  double scale = pow(10.0, exponent);
  char suffix[16];
  snprintf(suffix, sizeof suffix, "e%d", exponent);
  format_plain(text, value / scale, uncertainty / scale, last - exponent, suffix);
}

static void format_uncertain(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty) {
  int last = last_exponent(value, uncertainty);
  if (fabs(value) <= 0.5 * pow(10.0, last)) {
    format_zero(text, uncertainty + fabs(value), last);
  } else if (is_plain(fmax(fabs(value), uncertainty))) {
    format_plain(text, value, uncertainty, last, "");
  } else {
    format_scientific(text, value, uncertainty, last);
  }
}

void cavum_quantity_format(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty) {
  if (!isfinite(value)) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "-");
  } else if (!isfinite(uncertainty) || uncertainty < 0.0) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "%.6g(?)", value);
  } else if (uncertainty == 0.0) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "%.12g", value);
  } else {
    format_uncertain(text, value, uncertainty);
  }
}

void cavum_quantity_format_to(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty,
                              double accuracy) {
  double size = fabs(value);
  bool known = isfinite(value) && isfinite(uncertainty) && uncertainty > 0.0 && size > 0.0;
  if (!known || !(accuracy > 0.0) || !(accuracy < 1.0)) {
    cavum_quantity_format(text, value, uncertainty);
    return;
  }
  // The step just below the accuracy; what is less certain than that has its own digits.
  int step = leading_exponent(accuracy * size), last = last_exponent(value, uncertainty);
  if (last >= step || !is_plain(size)) {
    cavum_quantity_format(text, value, uncertainty);
  } else {
    format_plain(text, value, uncertainty, step, "");
  }
}

static cavum_unit unit_of(cavum_figure_id id, double value) {
  switch (id) {
    case CAVUM_FIGURE_FREQUENCY:
      return CAVUM_UNIT_MHZ;
    case CAVUM_FIGURE_TUBE_CUT_FREQUENCY:
      return CAVUM_UNIT_KHZ;
    case CAVUM_FIGURE_R_OVER_Q_LINAC:
    case CAVUM_FIGURE_R_OVER_Q_CIRCUIT:
    case CAVUM_FIGURE_R_OVER_Q_OPTIMUM:
    case CAVUM_FIGURE_TUBE_CUT_R_OVER_Q:
    case CAVUM_FIGURE_GEOMETRY_FACTOR:
      return CAVUM_UNIT_OHM;
    case CAVUM_FIGURE_G_TIMES_R_OVER_Q:
      return CAVUM_UNIT_OHM2;
    case CAVUM_FIGURE_BPK_OVER_EACC:
      return CAVUM_UNIT_MILLITESLA_PER_MV_PER_M;
    case CAVUM_FIGURE_LOSS_FACTOR:
      return CAVUM_UNIT_V_PER_PC;
    case CAVUM_FIGURE_VOLTAGE_AT_1_J:
      return CAVUM_UNIT_MV;
    case CAVUM_FIGURE_EACC_AT_1_J:
      return CAVUM_UNIT_MV_PER_M;
    case CAVUM_FIGURE_SURFACE_RESISTANCE:
      // Superconductors have nanoohms, normal metals milliohms.
      return fabs(value) < 1e-4 ? CAVUM_UNIT_NOHM : CAVUM_UNIT_MILLIOHM;
    case CAVUM_FIGURE_SHUNT_IMPEDANCE:
      return CAVUM_UNIT_MEGAOHM;
    case CAVUM_FIGURE_WALL_POWER:
      return CAVUM_UNIT_W;
    case CAVUM_FIGURE_EPK_OVER_EACC:
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR:
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS:
    case CAVUM_FIGURE_BETA_OPTIMUM:
    case CAVUM_FIGURE_Q0:
    case CAVUM_NUM_FIGURES:
      break;
  }
  return CAVUM_UNIT_SI;
}

// Units of one quantity with their prefixes, the largest first.
typedef struct unit_family {
  cavum_figure_id id;
  cavum_unit units[7];
  int count;
} unit_family;

static const unit_family FAMILIES[] = {
    {CAVUM_FIGURE_TUBE_CUT_FREQUENCY,
     {CAVUM_UNIT_MHZ, CAVUM_UNIT_KHZ, CAVUM_UNIT_HZ, CAVUM_UNIT_MILLIHERTZ},
     4},
    {CAVUM_FIGURE_TUBE_CUT_R_OVER_Q, {CAVUM_UNIT_OHM, CAVUM_UNIT_MILLIOHM, CAVUM_UNIT_MICROOHM}, 3},
    {CAVUM_FIGURE_LOSS_FACTOR, {CAVUM_UNIT_V_PER_PC, CAVUM_UNIT_V_PER_NC, CAVUM_UNIT_V_PER_UC}, 3},
    {CAVUM_FIGURE_VOLTAGE_AT_1_J, {CAVUM_UNIT_MV, CAVUM_UNIT_KV, CAVUM_UNIT_VOLT}, 3},
    {CAVUM_FIGURE_EACC_AT_1_J, {CAVUM_UNIT_MV_PER_M, CAVUM_UNIT_KV_PER_M}, 2},
    {CAVUM_FIGURE_SURFACE_RESISTANCE,
     {CAVUM_UNIT_OHM, CAVUM_UNIT_MILLIOHM, CAVUM_UNIT_MICROOHM, CAVUM_UNIT_NOHM},
     4},
    {CAVUM_FIGURE_SHUNT_IMPEDANCE,
     {CAVUM_UNIT_TERAOHM, CAVUM_UNIT_GIGAOHM, CAVUM_UNIT_MEGAOHM, CAVUM_UNIT_KILOOHM,
      CAVUM_UNIT_OHM},
     5},
    {CAVUM_FIGURE_WALL_POWER,
     {CAVUM_UNIT_KILOWATT, CAVUM_UNIT_W, CAVUM_UNIT_MILLIWATT, CAVUM_UNIT_MICROWATT},
     4},
};

// From 0.1 of a unit on: people say 0.24 V/pC and 0.98 MV.
static const double SMALLEST_IN_A_UNIT = 0.1;

cavum_quantity_unit cavum_quantity_unit_to_fit(cavum_figure_id id, double value) {
  for (size_t f = 0; f < sizeof FAMILIES / sizeof *FAMILIES; f++) {
    const unit_family *family = &FAMILIES[f];
    if (family->id != id || !(fabs(value) > 0.0)) continue;
    cavum_unit unit = family->units[0];
    for (int i = 1; i < family->count; i++) {
      if (fabs(cavum_in_unit(value, unit)) < SMALLEST_IN_A_UNIT) unit = family->units[i];
    }
    return (cavum_quantity_unit){cavum_unit_symbol(unit), unit};
  }
  return cavum_quantity_unit_of(id, value);
}

cavum_quantity_unit cavum_quantity_unit_of(cavum_figure_id id, double value) {
  cavum_unit unit = unit_of(id, value);
  return (cavum_quantity_unit){cavum_unit_symbol(unit), unit};
}

static const char *const BASIS_WORDS[] = {
    [CAVUM_BASIS_COMPUTED] = "",
    [CAVUM_BASIS_STATED] = "stated",
    [CAVUM_BASIS_FIT] = "fit",
    [CAVUM_BASIS_WITH_FIT] = "with R_s of the fit",
    [CAVUM_BASIS_END_OF_RANGE] = "at the end of the range",
};
enum { NUM_BASES = sizeof BASIS_WORDS / sizeof *BASIS_WORDS };

const char *cavum_basis_word(cavum_figure_basis basis) {
  return (int)basis >= 0 && (int)basis < NUM_BASES ? BASIS_WORDS[basis] : "";
}

cavum_figure_basis cavum_basis_of_word(const char *word) {
  for (int basis = 0; word && basis < NUM_BASES; basis++) {
    if (strcmp(word, BASIS_WORDS[basis]) == 0) return (cavum_figure_basis)basis;
  }
  return CAVUM_BASIS_COMPUTED;
}

void cavum_quantity_basis(char text[CAVUM_BASIS_SIZE], const cavum_figure *figure) {
  const char *word = cavum_basis_word(figure->basis);
  if (figure->basis == CAVUM_BASIS_FIT && figure->value != 0.0) {
    snprintf(text, CAVUM_BASIS_SIZE, "%s, about %.2g %%", word,
             cavum_in_percent(fabs(figure->uncertainty / figure->value)));
  } else {
    snprintf(text, CAVUM_BASIS_SIZE, "%s", word);
  }
}

// All that is made with R_s goes with it or with its inverse: parts of both are alike.
double cavum_quantity_shown_uncertainty(const cavum_figure *figures, cavum_figure_id id) {
  const cavum_figure *figure = &figures[id], *fit = &figures[CAVUM_FIGURE_SURFACE_RESISTANCE];
  bool with_fit = figure->basis == CAVUM_BASIS_WITH_FIT && fit->state == CAVUM_FIGURE_PRESENT;
  if (!with_fit || !(fabs(fit->value) > 0.0)) return figure->uncertainty;
  return hypot(figure->uncertainty, figure->value * fit->uncertainty / fit->value);
}

cavum_figure cavum_quantity_shown_figure(const cavum_figure *figures, cavum_figure_id id) {
  cavum_figure shown = figures[id];
  shown.uncertainty = cavum_quantity_shown_uncertainty(figures, id);
  return shown;
}

void cavum_quantity_bounds(char text[CAVUM_BOUNDS_SIZE], double least, double most) {
  if (!isfinite(least)) {
    snprintf(text, CAVUM_BOUNDS_SIZE, "at most %.9g", most);
  } else if (!isfinite(most)) {
    snprintf(text, CAVUM_BOUNDS_SIZE, "at least %.9g", least);
  } else {
    snprintf(text, CAVUM_BOUNDS_SIZE, "%.9g to %.9g", least, most);
  }
}

void cavum_quantity_format_solved(char text[CAVUM_QUANTITY_SIZE], double value, double numerical) {
  static const double large = 1e7;
  bool exponent = fabs(value) >= large;
  int decimals = 6;
  if (numerical > 0.0) {
    double digits = exponent ? floor(log10(fabs(value) / numerical)) : ceil(-log10(numerical));
    decimals = (int)cavum_min(cavum_max(digits, exponent ? 1.0 : 0.0), 6.0);
  }
  snprintf(text, CAVUM_QUANTITY_SIZE, exponent ? "%.*e" : "%.*f", decimals, value);
}
