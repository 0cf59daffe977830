// SPDX-License-Identifier: GPL-3.0-or-later
// A figure as one text: value, uncertainty, unit.
#include "cavum/figure_text.h"

#include <stdio.h>
#include <string.h>

#include "format/quantity.h"

// Whether there is a number; else the word that stands for it is written.
static bool has_number(char text[CAVUM_FIGURE_TEXT_SIZE], const cavum_figure *figure,
                       cavum_figure_id id) {
  bool known = (int)id >= 0 && id < CAVUM_NUM_FIGURES;
  if (figure && known && figure->state == CAVUM_FIGURE_PRESENT) return true;
  bool unbounded = figure && known && figure->state == CAVUM_FIGURE_UNBOUNDED;
  snprintf(text, CAVUM_FIGURE_TEXT_SIZE, "%s", unbounded ? "unbounded" : "absent");
  return false;
}

static void write_text(char text[CAVUM_FIGURE_TEXT_SIZE], const cavum_figure *figure, double value,
                       double uncertainty, const char *unit) {
  char number[CAVUM_QUANTITY_SIZE], basis[CAVUM_BASIS_SIZE];
  cavum_quantity_format(number, value, uncertainty);
  cavum_quantity_basis(basis, figure);
  snprintf(text, CAVUM_FIGURE_TEXT_SIZE, "%.40s%s%.24s%s%.26s%s", number, *unit ? " " : "", unit,
           *basis ? " (" : "", basis, *basis ? ")" : "");
}

void cavum_figure_to_text(char text[CAVUM_FIGURE_TEXT_SIZE], const cavum_figure *figure,
                          cavum_figure_id id) {
  if (!text || !has_number(text, figure, id)) return;
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit(id, figure->value);
  write_text(text, figure, cavum_in_unit(figure->value, unit.conversion),
             cavum_in_unit(figure->uncertainty, unit.conversion), unit.name);
}

void cavum_figure_to_text_in(char text[CAVUM_FIGURE_TEXT_SIZE], const cavum_figure *figure,
                             cavum_figure_id id, double unit_si, const char *unit) {
  if (!text || !has_number(text, figure, id)) return;
  bool pure = !unit || strcmp(unit, "1") == 0;
  write_text(text, figure, figure->value / unit_si, figure->uncertainty / unit_si,
             pure ? "" : unit);
}
