// SPDX-License-Identifier: GPL-3.0-or-later
// Sentences that the screen and the report share.
#include "format/spread_text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/units.h"

// Below it a spread that does not hold lacks shapes (is_curved of cavum_figure_spread).
static const double LARGE_DEPARTURE = 0.1;
// Above it a share says nothing: the figure has an extremum here, or hardly a derivative.
static const double WHOLE_DEPARTURE = 10.0;

void cavum_spread_write_value(char text[CAVUM_SPREAD_VALUE_SIZE], double value, double deviation) {
  enum { FEWEST = 4, USUAL = 6, MOST = 12 };
  int digits = USUAL;
  if (deviation > 0.0 && value != 0.0) {
    digits = (int)(floor(log10(fabs(value))) - floor(log10(deviation))) + FEWEST;
    digits = digits < FEWEST ? FEWEST : digits > MOST ? MOST : digits;
  }
  snprintf(text, CAVUM_SPREAD_VALUE_SIZE, deviation > 0.0 ? "%#.*g" : "%.*g", digits, value);
  size_t length = strlen(text);
  if (length > 0 && text[length - 1] == '.') text[length - 1] = '\0';
}

// In how many of the random shapes a figure is not; "" where it is in all.
static void write_missing(char text[CAVUM_SPREAD_TEXT_SIZE], const cavum_figure_spread *f,
                          const cavum_spread *spread) {
  text[0] = '\0';
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (f != &spread->figures[id] || spread->num_missing[id] == 0) continue;
    snprintf(text, CAVUM_SPREAD_TEXT_SIZE, "%d of the %d random shapes do not have it",
             spread->num_missing[id], spread->num_samples);
  }
}

void cavum_spread_write_why_curved(char text[CAVUM_SPREAD_TEXT_SIZE], const cavum_figure_spread *f,
                                   const cavum_spread *spread) {
  char missing[CAVUM_SPREAD_TEXT_SIZE];
  int used = 0;
  text[0] = '\0';
  if (f->has_linear && !f->is_curved) return;
  write_missing(missing, f, spread);
  if (f->has_linear && f->departure > WHOLE_DEPARTURE) {
    used = snprintf(text, CAVUM_SPREAD_TEXT_SIZE,
                    "the linear part is negligible beside the nonlinear part");
  } else if (f->has_linear && f->departure > LARGE_DEPARTURE) {
    used = snprintf(text, CAVUM_SPREAD_TEXT_SIZE, "the nonlinear part is %.0f %% of the deviation",
                    cavum_in_percent(f->departure));
  } else if (f->has_linear && !missing[0]) {
    snprintf(missing, sizeof missing, "some random shapes do not exist or do not have it");
  }
  if (!missing[0]) return;
  snprintf(text + used, CAVUM_SPREAD_TEXT_SIZE - (size_t)used, "%s%.200s", used > 0 ? "; " : "",
           missing);
}

double cavum_spread_correlation(const cavum_spread *spread, int i, int k) {
  int n = spread->num_dimensions;
  const double *c = spread->covariance;
  return c[i * n + k] / sqrt(c[i * n + i] * c[k * n + k]);
}

void cavum_spread_write_correlations(char text[CAVUM_SPREAD_LIST_SIZE],
                                     const cavum_spread *spread) {
  size_t used = 0;
  text[0] = '\0';
  for (int i = 0; i < spread->num_dimensions; i++) {
    for (int k = i + 1; k < spread->num_dimensions; k++) {
      char one[2 * CAVUM_CELL_KEY_SIZE + 32];
      double c = cavum_spread_correlation(spread, i, k);
      if (c == 0.0) continue;
      snprintf(one, sizeof one, "%s%s and %s %.4g", used > 0 ? ", " : "", spread->tolerances[i].key,
               spread->tolerances[k].key, c);
      if (used + strlen(one) + sizeof ", ..." > CAVUM_SPREAD_LIST_SIZE) {
        snprintf(text + used, CAVUM_SPREAD_LIST_SIZE - used, ", ...");
        return;
      }
      used += (size_t)snprintf(text + used, CAVUM_SPREAD_LIST_SIZE - used, "%s", one);
    }
  }
}

void cavum_spread_write_band_caution(char text[CAVUM_SPREAD_TEXT_SIZE],
                                     const cavum_figure_spread *f, const cavum_spread *spread) {
  char list[CAVUM_SPREAD_LIST_SIZE];
  int used = 0;
  text[0] = '\0';
  if (!f->has_linear) return;
  if (f->is_curved) {
    used = snprintf(text, CAVUM_SPREAD_TEXT_SIZE,
                    "These come from the linear spread, WHICH DOES NOT HOLD.");
    if (isfinite(f->sampled_deviation) && f->deviation > 0.0) {
      used += snprintf(text + used, CAVUM_SPREAD_TEXT_SIZE - (size_t)used,
                       " The random shapes spread %.3g times as far.",
                       f->sampled_deviation / f->deviation);
    }
  }
  cavum_spread_write_correlations(list, spread);
  if (!list[0]) return;
  snprintf(text + used, CAVUM_SPREAD_TEXT_SIZE - (size_t)used,
           "%sEqual shares count correlations that widen the spread, not those that narrow it.",
           used > 0 ? " " : "");
}

void cavum_spread_write_shares(char text[CAVUM_SPREAD_TEXT_SIZE], const char *name,
                               const cavum_figure_spread *f) {
  text[0] = '\0';
  if (!f->has_shares) return;
  if (f->has_sampled_shares) {
    snprintf(text, CAVUM_SPREAD_TEXT_SIZE,
             "%s: parts in the sampled variance, since the linear spread does not hold.", name);
  } else if (f->is_curved) {
    snprintf(text, CAVUM_SPREAD_TEXT_SIZE, "%s: parts of the linear spread, WHICH DOES NOT HOLD.",
             name);
  }
}

void cavum_spread_write_trust(char text[CAVUM_SPREAD_TEXT_SIZE], const cavum_spread *spread) {
  int used = 0, drawn = spread->num_samples;
  text[0] = '\0';
  if (spread->samples_error > 0.0) {
    used = snprintf(text, CAVUM_SPREAD_TEXT_SIZE,
                    "The random shapes are solved with polynomials of degree %d; that changes the "
                    "spread of no figure by more than %.2g %%. ",
                    spread->samples_degree, cavum_in_percent(spread->samples_error));
  }
  if (drawn < 2) {
    if (used > 0) text[used - 1] = '\0';
    return;
  }
  // Of a normal distribution [JCGM100], E.4.3.
  snprintf(text + used, CAVUM_SPREAD_TEXT_SIZE - (size_t)used,
           "A sampled deviation of %d shapes is known to about %.2g %% of itself, 1 / sqrt(2 N).",
           drawn, cavum_in_percent(1.0 / sqrt(2.0 * drawn)));
}
