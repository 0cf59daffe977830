// SPDX-License-Identifier: GPL-3.0-or-later
// The accuracies are those of a cell that asks for none: a result does not say what was asked.
#include "picture/known_digits.h"

#include <string.h>

#include "base/base.h"
#include "canvas/ticks.h"
#include "format/quantity.h"

static const double OF_FREQUENCY = 1e-6, OF_OTHERS = 1e-4;
// Digits of a number that the table writes in another way, with an exponent or as 0 +- 0.01.
enum { PLAIN_DIGITS = 5, TICK_SIZE = 24 };

void cavum_known_digits_format(char text[64], const cavum_figure *figure, cavum_figure_id id,
                               cavum_unit unit) {
  double value = cavum_in_unit(figure->value, unit);
  double accuracy = id == CAVUM_FIGURE_FREQUENCY ? OF_FREQUENCY : OF_OTHERS;
  char number[CAVUM_QUANTITY_SIZE], plain[TICK_SIZE];
  cavum_quantity_format_to(number, value, cavum_in_unit(figure->uncertainty, unit), accuracy);
  size_t length = strcspn(number, "(");
  if (number[length] && !strchr(number, 'e') && number[0] != '-') {
    memcpy(text, number, length);
    text[length] = '\0';
    return;
  }
  // What is nothing but its uncertainty is 0.
  cavum_ticks_format(plain, value, PLAIN_DIGITS);
  const char *shown = number[0] == '0' && number[1] == ' ' ? "0" : plain;
  memcpy(text, shown, strlen(shown) + 1);
}
