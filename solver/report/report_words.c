// SPDX-License-Identifier: GPL-3.0-or-later
// Names of figures and dimensions in the words of the trade, where files have keys.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/units.h"
#include "cavum/geometry.h"
#include "format/key_words.h"
#include "format/quantity.h"
#include "report/report_private.h"

void cavum_report_name_requirement(char name[CAVUM_REPORT_NAME_SIZE], const cavum_requirement *r) {
  const char *long_name = r->key, *unit = "";
  if (r->kind == CAVUM_REQUIRE_FIGURE) {
    cavum_unit of_key = cavum_unit_of_key(r->key);
    bool frequency = r->figure == CAVUM_FIGURE_FREQUENCY;
    long_name = cavum_figure_describe(r->figure).long_name;
    unit = frequency ? cavum_unit_symbol(of_key) : cavum_quantity_unit_of(r->figure, 1.0).name;
    if (frequency && of_key == CAVUM_UNIT_SI) unit = "Hz";
    // Another unit than the shown one: the key alone says which.
    double shown = cavum_from_unit(1.0, cavum_quantity_unit_of(r->figure, 1.0).conversion);
    if (!frequency && fabs(shown - r->unit_si) > 1e-9 * shown) long_name = r->key, unit = "";
  } else if (r->kind != CAVUM_REQUIRE_K_CC) {
    for (int i = 0; i < CAVUM_NUM_GEOMETRY_FIGURES; i++) {
      cavum_geometry_info d = cavum_geometry_describe((cavum_geometry_id)i);
      if (strcmp(d.key, r->key) != 0) continue;
      long_name = d.long_name;
      unit = d.file_unit;
    }
  }
  char shown_unit[48];
  cavum_html_beautify(shown_unit, sizeof shown_unit, strcmp(unit, "1") == 0 ? "" : unit);
  snprintf(name, CAVUM_REPORT_NAME_SIZE, "%.150s%s%s", long_name, shown_unit[0] ? " in " : "",
           shown_unit);
}

void cavum_report_name_dimension(char name[CAVUM_REPORT_NAME_SIZE], const char *key, bool unit) {
  char words[CAVUM_CELL_KEY_SIZE];
  const char *symbol = unit ? cavum_unit_symbol(cavum_unit_of_key(key)) : "";
  cavum_key_words(words, sizeof words, key);
  snprintf(name, CAVUM_REPORT_NAME_SIZE, "%s%s%s", words, symbol[0] ? " in " : "", symbol);
}
