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

void cavum_spread_write_why_curved(char text[CAVUM_SPREAD_TEXT_SIZE],
                                   const cavum_figure_spread *f) {
  text[0] = '\0';
  if (!f->has_linear || !f->is_curved) return;
  if (f->departure > WHOLE_DEPARTURE) {
    snprintf(text, CAVUM_SPREAD_TEXT_SIZE,
             "the linear part is negligible beside the nonlinear part");
    return;
  }
  if (f->departure > LARGE_DEPARTURE) {
    snprintf(text, CAVUM_SPREAD_TEXT_SIZE, "the nonlinear part is %.0f %% of the deviation",
             cavum_in_percent(f->departure));
    return;
  }
  snprintf(text, CAVUM_SPREAD_TEXT_SIZE, "some random shapes do not exist or do not have it");
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
