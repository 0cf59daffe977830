// SPDX-License-Identifier: GPL-3.0-or-later
// Marks of axes.
#include "canvas/ticks.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"

#define MINUS "\xe2\x88\x92"

// Puts a true minus sign in front of a number that printf has written.
static void set_label(char label[24], const char *number) {
  if (number[0] == '-') {
    snprintf(label, 24, MINUS "%.20s", number + 1);
  } else {
    snprintf(label, 24, "%.23s", number);
  }
}

void cavum_ticks_format(char text[24], double value, int digits) {
  char number[48];
  double size = fabs(value);
  if (!isfinite(value)) {
    snprintf(text, 24, MINUS);
  } else if (size == 0.0 || (size >= 1e-4 && size < 1e6)) {
    int whole = size >= 1.0 ? (int)floor(log10(size)) + 1 : 0;
    int leading = size > 0.0 && size < 1.0 ? (int)-floor(log10(size)) - 1 : 0;
    int decimals = digits - whole + leading;
    snprintf(number, sizeof number, "%.*f", decimals > 0 ? decimals : 0, value);
    set_label(text, number);
  } else {
    int exponent = (int)floor(log10(size));
    snprintf(number, sizeof number,
             "%.*f\xc3\x97"
             "10^{%s%d}",
             digits - 1, value / pow(10.0, exponent), exponent < 0 ? MINUS : "", abs(exponent));
    set_label(text, number);
  }
}

static double round_step(double rough) {
  double decade = pow(10.0, floor(log10(rough)));
  double share = rough / decade;
  return decade * (share <= 1.0001 ? 1.0 : share <= 2.0001 ? 2.0 : share <= 5.0001 ? 5.0 : 10.0);
}

void cavum_ticks_linear(cavum_ticks *ticks, double low, double high, int wanted) {
  memset(ticks, 0, sizeof *ticks);
  if (!(high > low) || !isfinite(high - low)) return;
  double step = round_step((high - low) / (wanted > 1 ? wanted : 2));
  // On a short axis a step may pass by all marks but one: the next smaller one, until two are
  // there.
  for (int k = 0; k < 4 && floor(high / step + 1e-9) - ceil(low / step - 1e-9) < 0.5; k++) {
    step = round_step(0.4 * step);
  }
  int decimals = (int)cavum_max(0.0, ceil(-log10(step) - 1e-9));
  bool exponent = fabs(low) >= 1e6 || fabs(high) >= 1e6 || step < 1e-4;
  for (double k = ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k += 1.0) {
    if (ticks->count == CAVUM_TICKS_MOST) return;
    char number[48];
    double value = k == 0.0 ? 0.0 : k * step;
    ticks->value[ticks->count] = value;
    // Beside powers of ten zero is a zero alone.
    snprintf(number, sizeof number, "%.*f", exponent ? 0 : decimals, value);
    if (exponent && value != 0.0) {
      int digits = 1 + (int)cavum_max(0.0, floor(log10(fabs(value))) - floor(log10(step) + 1e-9));
      cavum_ticks_format(ticks->label[ticks->count], value, digits);
    } else {
      set_label(ticks->label[ticks->count], number);
    }
    ticks->count++;
  }
}

static void add_logarithmic(cavum_ticks *ticks, double value, int exponent, int factor,
                            bool labelled) {
  if (ticks->count == CAVUM_TICKS_MOST) return;
  char *label = ticks->label[ticks->count];
  ticks->value[ticks->count++] = value;
  if (!labelled) return;
  if (exponent >= -2 && exponent <= 3) {
    snprintf(label, 24, "%g", value);
  } else {
    char power[16];
    snprintf(power, sizeof power, "10^{%s%d}", exponent < 0 ? MINUS : "", abs(exponent) % 1000);
    if (factor == 1) snprintf(label, 24, "%s", power);
    if (factor != 1) snprintf(label, 24, "%d\xc3\x97%s", factor, power);
  }
}

static int count_labels(const cavum_ticks *ticks) {
  int labels = 0;
  for (int i = 0; i < ticks->count; i++) labels += ticks->label[i][0] != '\0';
  return labels;
}

// `stride`: every so many powers of ten have a label; `few`: so have 2 and 5 times them.
static void fill_logarithmic(cavum_ticks *ticks, double low, double high, int stride, bool few) {
  int first = (int)floor(log10(low) + 1e-9), last = (int)ceil(log10(high) - 1e-9);
  double decades = log10(high / low);
  memset(ticks, 0, sizeof *ticks);
  for (int exponent = first; exponent <= last; exponent++) {
    for (int factor = 1; factor < 10; factor++) {
      double value = factor * pow(10.0, exponent);
      if (value < low * (1.0 - 1e-9) || value > high * (1.0 + 1e-9)) continue;
      bool power = factor == 1 && exponent % stride == 0;
      bool between = (few && (factor == 2 || factor == 5)) ||
                     (decades < 1.2 && (factor == 3 || factor == 4 || factor == 7));
      bool dense = decades < 0.5;
      if (factor != 1 && decades > 8.0) continue;
      add_logarithmic(ticks, value, exponent, factor, power || between || dense);
    }
  }
}

void cavum_ticks_logarithmic(cavum_ticks *ticks, double low, double high, int wanted) {
  // By two numbers alone nobody reads a third on a logarithmic axis.
  enum { LEAST_LABELS = 3, MOST_WANTED = 16 };
  memset(ticks, 0, sizeof *ticks);
  if (!(low > 0.0) || !(high > low) || !isfinite(high)) return;
  double decades = log10(high / low);
  int stride = (int)ceil(decades / (wanted > 1 ? wanted : 2));
  fill_logarithmic(ticks, low, high, stride > 1 ? stride : 1, decades < 2.0);
  if (count_labels(ticks) < LEAST_LABELS) fill_logarithmic(ticks, low, high, 1, decades < 2.0);
  if (count_labels(ticks) < LEAST_LABELS) fill_logarithmic(ticks, low, high, 1, true);
  // On part of a decade, as from 1.1e10 to 1.8e10, round numbers of a linear axis.
  for (int k = wanted; count_labels(ticks) < LEAST_LABELS && k <= MOST_WANTED; k++) {
    cavum_ticks_linear(ticks, low, high, k);
  }
}

void cavum_ticks_widen(double *low, double *high, double margin) {
  double span = *high - *low;
  if (!(span > 0.0)) span = *high != 0.0 ? fabs(*high) : 1.0;
  *low -= margin * span;
  *high += margin * span;
}

const char *cavum_ticks_sign(double change) { return change < 0.0 ? MINUS : "+"; }
