// SPDX-License-Identifier: GPL-3.0-or-later
// The table of units, and names looked up in it.
#include "base/units.h"

#include <string.h>

#include "base/base.h"

typedef struct unit_row {
  const char *symbol;
  double times, over;  // One unit is times / over SI units.
} unit_row;

static const unit_row rows[CAVUM_NUM_UNITS] = {
#define UNIT_ROW(name, symbol, times, over) [CAVUM_UNIT_##name] = {symbol, times, over},
    CAVUM_UNIT_TABLE(UNIT_ROW)
#undef UNIT_ROW
};

const char *cavum_unit_symbol(cavum_unit unit) { return rows[unit].symbol; }

double cavum_in_unit(double value_si, cavum_unit unit) {
  return value_si * rows[unit].over / rows[unit].times;
}

double cavum_from_unit(double value, cavum_unit unit) {
  return value * rows[unit].times / rows[unit].over;
}

long double cavum_in_unit_long(double value_si, cavum_unit unit) {
  return (long double)value_si * (long double)rows[unit].over / (long double)rows[unit].times;
}

double cavum_from_unit_long(long double value, cavum_unit unit) {
  return (double)(value * (long double)rows[unit].times / (long double)rows[unit].over);
}

bool cavum_unit_power_of_ten(int *power, cavum_unit unit) {
  double of_ten = 1.0;
  for (int k = 0; k <= 15; k++, of_ten *= 10.0) {
    bool down = rows[unit].times == 1.0 && rows[unit].over == of_ten;
    if (!down && !(rows[unit].over == 1.0 && rows[unit].times == of_ten)) continue;
    *power = down ? -k : k;
    return true;
  }
  return false;
}

bool cavum_unit_find_length(cavum_unit *unit, const char *name) {
  static const cavum_unit lengths[] = {CAVUM_UNIT_M, CAVUM_UNIT_CM, CAVUM_UNIT_MM, CAVUM_UNIT_UM,
                                       CAVUM_UNIT_INCH};
  for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
    if (strcmp(rows[lengths[i]].symbol, name) != 0) continue;
    *unit = lengths[i];
    return true;
  }
  return false;
}

// Bytes at the end of a key that spell a unit, '/' as "_per_" and without parentheses, with the '_'
// before them; or 0.
static size_t match_ending(const char *key, size_t length, const char *symbol) {
  static const char per[] = "_per_";
  size_t k = strlen(symbol), from = length;
  while (k-- > 0) {
    if (symbol[k] == '(' || symbol[k] == ')') continue;
    size_t size = symbol[k] == '/' ? sizeof per - 1 : 1;
    const char *text = symbol[k] == '/' ? per : &symbol[k];
    if (from < size || memcmp(key + from - size, text, size) != 0) return 0;
    from -= size;
  }
  return from >= 2 && from < length && key[from - 1] == '_' ? length - from + 1 : 0;
}

cavum_unit cavum_unit_split_key(size_t *length, const char *key) {
  cavum_unit found = CAVUM_UNIT_SI;
  size_t whole = strlen(key), longest = 0;
  for (int i = 0; i < CAVUM_NUM_UNITS; i++) {
    size_t size = match_ending(key, whole, rows[i].symbol);
    if (size <= longest) continue;
    longest = size;
    found = (cavum_unit)i;
  }
  *length = whole - longest;
  return found;
}

cavum_unit cavum_unit_of_key(const char *key) {
  size_t length;
  return cavum_unit_split_key(&length, key);
}
