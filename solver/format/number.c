// SPDX-License-Identifier: GPL-3.0-or-later
// The shortest decimal text of a double that reads back as the same double.
#include "format/number.h"

#include <float.h>
#include <locale.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// A program that embeds the library may have chosen a decimal comma, of one byte or of several.
static void use_decimal_point(char *text) {
  const char *mark = localeconv()->decimal_point;
  size_t length = strlen(mark);
  char *found = length > 0 && strcmp(mark, ".") != 0 ? strstr(text, mark) : NULL;
  if (!found) return;
  *found = '.';
  memmove(found + 1, found + length, strlen(found + length) + 1);
}

// The largest power of ten that 64 bits hold exactly: 5^27 < 2^64.
enum { MOST_EXACT_POWER = 27, MOST_DIGITS = 17 };
// What two roundings to 64 bits may have done to a number, relative to it, twice over.
#define SCALING_ERROR 0x1p-62L

/** A decimal number 0.DIGITS x 10^(exponent + 1). */
typedef struct decimal {
  uint64_t digits;  // without zeros at the end
  int count;        // of its digits
  int exponent;     // of the first digit
} decimal;

static const long double exact_power[MOST_EXACT_POWER + 1] = {
    1e0L,  1e1L,  1e2L,  1e3L,  1e4L,  1e5L,  1e6L,  1e7L,  1e8L,  1e9L,
    1e10L, 1e11L, 1e12L, 1e13L, 1e14L, 1e15L, 1e16L, 1e17L, 1e18L, 1e19L,
    1e20L, 1e21L, 1e22L, 1e23L, 1e24L, 1e25L, 1e26L, 1e27L};

// A positive number times 10^power, with two roundings at most.
static long double scale(double value, int power) {
  if (power < 0) return (long double)value / exact_power[-power];
  if (power <= MOST_EXACT_POWER) return (long double)value * exact_power[power];
  return (long double)value * exact_power[MOST_EXACT_POWER] * exact_power[power - MOST_EXACT_POWER];
}

static void drop_zeros(decimal *number) {
  while (number->count > 1 && number->digits % 10 == 0) {
    number->digits /= 10;
    number->count--;
  }
}

// The fewest digits by arithmetic with more bits than a double has: the value as an integer of 17
// digits with a fraction, and half the distance to the next double beside it. A number of 15 digits
// or fewer that reads back is the nearest one of 15. False where more bits would be needed to tell,
// or this machine has no such arithmetic. Numbers that were floats often lie in the middle of two
// decimals: that matters only where those read back.
static bool find_digits(decimal *number, double value) {
  static const uint64_t steps[] = {100, 10, 1};
  int binary = 0;
  double mantissa = frexp(value, &binary);
  int exponent = (int)floor(log10(value)), power = MOST_DIGITS - 1 - exponent;
  if (LDBL_MANT_DIG < 64 || mantissa == 0.5) return false;  // below 2^n doubles are closer
  if (power < 1 - MOST_EXACT_POWER || power > 2 * MOST_EXACT_POWER - 1) return false;
  long double scaled = scale(value, power);
  if (scaled >= 1e17L) scaled = scale(value, MOST_DIGITS - 1 - ++exponent);
  if (scaled < 1e16L) scaled = scale(value, MOST_DIGITS - 1 - --exponent);
  long double half_gap = scaled * (long double)(0x1p-54 / mantissa);
  long double rounding = scaled * SCALING_ERROR;
  uint64_t whole = (uint64_t)scaled;
  for (int i = 0; i < 3; i++) {
    uint64_t step = steps[i], below = whole - whole % step;
    long double left = scaled - (long double)below, middle = 0.5L * (long double)step;
    uint64_t nearest = left < middle ? below : below + step;
    long double off = fabsl(scaled - (long double)nearest);
    if (i < 2 && off > half_gap + rounding) continue;
    if (i < 2 && off > half_gap - rounding) return false;
    if (i > 0 && fabsl(left - middle) < rounding) return false;
    if (nearest >= UINT64_C(100000000000000000)) return false;  // one digit more
    *number = (decimal){nearest, MOST_DIGITS, exponent};
    drop_zeros(number);
    return true;
  }
  return false;
}

static char *put_digits(char *to, const char *digits, int count) {
  memcpy(to, digits, (size_t)count);
  return to + count;
}

static char *put_zeros(char *to, int count) {
  memset(to, '0', (size_t)count);
  return to + count;
}

// As printf's %g with as many digits.
static void write_decimal(char *text, const decimal *number) {
  char digits[MOST_DIGITS];
  uint64_t rest = number->digits;
  int count = number->count, exponent = number->exponent;
  for (int i = count - 1; i >= 0; i--, rest /= 10) digits[i] = (char)('0' + rest % 10);
  if (exponent < -4 || exponent >= count) {
    text = put_digits(text, digits, 1);
    if (count > 1) *text++ = '.';
    text = put_digits(text, digits + 1, count - 1);
    int size = exponent < 0 ? -exponent : exponent;  // below 100, else nothing gets here
    *text++ = 'e';
    *text++ = exponent < 0 ? '-' : '+';
    *text++ = (char)('0' + size / 10);
    *text++ = (char)('0' + size % 10);
  } else if (exponent < 0) {
    text = put_digits(text, "0.", 2);
    text = put_zeros(text, -exponent - 1);
    text = put_digits(text, digits, count);
  } else {
    text = put_digits(text, digits, exponent + 1);
    if (count > exponent + 1) *text++ = '.';
    text = put_digits(text, digits + exponent + 1, count - exponent - 1);
  }
  *text = '\0';
}

// The first number of digits from `digits` on that reads back; 17 always suffice.
static void try_digits(char text[CAVUM_STORE_NUMBER_SIZE], double value, int digits) {
  for (; digits <= MOST_DIGITS; digits++) {
    snprintf(text, CAVUM_STORE_NUMBER_SIZE, "%.*g", digits, value);
    if (strtod(text, NULL) == value) break;
  }
  use_decimal_point(text);
}

void cavum_store_format_number(char text[CAVUM_STORE_NUMBER_SIZE], double value) {
  decimal number;
  if (isnormal(value) && find_digits(&number, fabs(value))) {
    if (value < 0.0) *text++ = '-';
    write_decimal(text, &number);
    return;
  }
  if (isnormal(value)) {
    try_digits(text, value, DBL_DIG);  // what has fewer is that, with zeros that are left out
    return;
  }
  cavum_store_format_number_by_trial(text, value);
}

void cavum_store_format_number_by_trial(char text[CAVUM_STORE_NUMBER_SIZE], double value) {
  if (!isfinite(value)) {
    snprintf(text, CAVUM_STORE_NUMBER_SIZE, "null");
    return;
  }
  try_digits(text, value, 1);
}
