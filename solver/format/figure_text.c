// SPDX-License-Identifier: GPL-3.0-or-later
// A figure as one text: value, uncertainty, unit.
#include "cavum/figure_text.h"

#include <stdio.h>

#include "format/quantity.h"

void cavum_figure_to_text(char text[CAVUM_FIGURE_TEXT_SIZE], const cavum_figure *figure,
                          cavum_figure_id id) {
  char number[CAVUM_QUANTITY_SIZE], basis[CAVUM_BASIS_SIZE];
  if (!text) return;
  bool known = (int)id >= 0 && id < CAVUM_NUM_FIGURES;
  if (!figure || !known || figure->state != CAVUM_FIGURE_PRESENT) {
    bool unbounded = figure && known && figure->state == CAVUM_FIGURE_UNBOUNDED;
    snprintf(text, CAVUM_FIGURE_TEXT_SIZE, "%s", unbounded ? "unbounded" : "absent");
    return;
  }
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit(id, figure->value);
  cavum_quantity_format(number, cavum_in_unit(figure->value, unit.conversion),
                        cavum_in_unit(figure->uncertainty, unit.conversion));
  cavum_quantity_basis(basis, figure);
  snprintf(text, CAVUM_FIGURE_TEXT_SIZE, "%.40s%s%.24s%s%.26s%s", number, *unit.name ? " " : "",
           unit.name, *basis ? " (" : "", basis, *basis ? ")" : "");
}
