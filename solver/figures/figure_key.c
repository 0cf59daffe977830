// SPDX-License-Identifier: GPL-3.0-or-later
#include "figures/figure_key.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/nearest_word.h"
#include "base/units.h"

const char *cavum_key_behind_mode(int *mode, const char *key) {
  static const char before[] = "modes[", after[] = "].";
  static const long most = 999;  // as many modes as a cell may have
  *mode = -1;
  if (strncmp(key, before, strlen(before)) != 0) return key;
  const char *digits = key + strlen(before);
  char *end = NULL;
  long number = *digits >= '0' && *digits <= '9' ? strtol(digits, &end, 10) : -1;
  if (number < 0 || number > most || strncmp(end, after, strlen(after)) != 0) return NULL;
  *mode = (int)number;
  return end + strlen(after);
}

cavum_figure_id cavum_figure_of_key(int *mode, const char *key) {
  int found = -1;
  const char *name = cavum_key_behind_mode(&found, key);
  for (int id = 0; name && id < CAVUM_NUM_FIGURES; id++) {
    if (strcmp(name, cavum_figure_describe((cavum_figure_id)id).key) != 0) continue;
    if (mode) *mode = found;
    return (cavum_figure_id)id;
  }
  return CAVUM_NUM_FIGURES;
}

// Whether two units measure the same quantity: those of a row, which CAVUM_UNIT_SI ends.
static bool measure_the_same(cavum_unit a, cavum_unit b) {
  enum { MOST = 8 };
  static const cavum_unit rows[][MOST] = {
      {CAVUM_UNIT_MILLIHERTZ, CAVUM_UNIT_HZ, CAVUM_UNIT_KHZ, CAVUM_UNIT_MHZ, CAVUM_UNIT_GHZ},
      {CAVUM_UNIT_NOHM, CAVUM_UNIT_MICROOHM, CAVUM_UNIT_MILLIOHM, CAVUM_UNIT_OHM,
       CAVUM_UNIT_KILOOHM, CAVUM_UNIT_MEGAOHM, CAVUM_UNIT_GIGAOHM, CAVUM_UNIT_TERAOHM},
      {CAVUM_UNIT_MICROWATT, CAVUM_UNIT_MILLIWATT, CAVUM_UNIT_W, CAVUM_UNIT_KILOWATT},
      {CAVUM_UNIT_VOLT, CAVUM_UNIT_KV, CAVUM_UNIT_MV},
      {CAVUM_UNIT_V_PER_M, CAVUM_UNIT_KV_PER_M, CAVUM_UNIT_MV_PER_M},
      {CAVUM_UNIT_V_PER_C, CAVUM_UNIT_V_PER_UC, CAVUM_UNIT_V_PER_NC, CAVUM_UNIT_V_PER_PC}};
  for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
    bool has_a = false, has_b = false;
    for (int i = 0; i < MOST && rows[r][i] != CAVUM_UNIT_SI; i++) {
      has_a = has_a || rows[r][i] == a;
      has_b = has_b || rows[r][i] == b;
    }
    if (has_a && has_b) return true;
  }
  return a == b;
}

static bool is_other_unit_of(const char *key, const char *known) {
  size_t length, known_length;
  cavum_unit unit = cavum_unit_split_key(&length, key);
  cavum_unit known_unit = cavum_unit_split_key(&known_length, known);
  return length == known_length && strncmp(key, known, length) == 0 &&
         measure_the_same(unit, known_unit);
}

// Offers a known key, with the unit that was typed where both measure the same: who types
// frequncy_MHz means frequency_MHz.
static void offer_key(cavum_nearest *nearest, const char *typed, const char *known) {
  char word[CAVUM_NEAREST_LONGEST + 1];
  size_t typed_stem, known_stem;
  cavum_unit typed_unit = cavum_unit_split_key(&typed_stem, typed);
  cavum_unit known_unit = cavum_unit_split_key(&known_stem, known);
  bool same = typed_unit != CAVUM_UNIT_SI && measure_the_same(typed_unit, known_unit);
  snprintf(word, sizeof word, "%.*s%s", (int)known_stem, known,
           same ? typed + typed_stem : known + known_stem);
  cavum_nearest_offer(nearest, typed, word);
}

// A key but for its unit: a frequency is then meant in MHz, as cell files and tables have it.
static bool lacks_unit(const char **ending, const char *typed, const char *known) {
  size_t stem;
  cavum_unit unit = cavum_unit_split_key(&stem, known);
  if (unit == CAVUM_UNIT_SI || strlen(typed) != stem || strncmp(typed, known, stem) != 0) {
    return false;
  }
  *ending = unit == CAVUM_UNIT_HZ ? "_MHz" : known + stem;
  return true;
}

cavum_status cavum_figure_find(cavum_figure_id *id, double *unit_si, const char *key,
                               cavum_error *error) {
  if (!id || !unit_si || !key) return cavum_fail_null(error, __func__);
  cavum_nearest nearest = {0};
  char hint[CAVUM_NEAREST_SIZE];
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    const char *known = cavum_figure_describe((cavum_figure_id)i).key;
    if (strcmp(known, key) == 0 || is_other_unit_of(key, known)) {
      *id = (cavum_figure_id)i;
      *unit_si = cavum_from_unit(1.0, cavum_unit_of_key(key));
      return CAVUM_OK;
    }
    const char *ending;
    if (lacks_unit(&ending, key, known)) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "'%.80s' is not a figure: the unit is missing, write '%.80s%s'", key, key,
                        ending);
    }
    offer_key(&nearest, key, known);
  }
  return cavum_fail(error, CAVUM_ERR_INPUT, "'%.80s' is not a figure%s", key,
                    cavum_nearest_write(hint, &nearest, ""));
}
