// SPDX-License-Identifier: GPL-3.0-or-later
// Units of figures in files.
#include "figures/stored_figure.h"

cavum_unit cavum_stored_figure_unit(cavum_figure_id id) {
  cavum_unit unit = cavum_unit_of_key(cavum_figure_describe(id).key);
  return cavum_in_unit(1.0, unit) == 1.0 ? CAVUM_UNIT_SI : unit;
}

const char *cavum_stored_figure_unit_name(cavum_figure_id id) {
  cavum_unit unit = cavum_stored_figure_unit(id);
  return unit == CAVUM_UNIT_SI ? cavum_figure_describe(id).unit : cavum_unit_symbol(unit);
}

cavum_figure cavum_stored_figure_make(const cavum_figure *figure, cavum_figure_id id) {
  cavum_figure stored = *figure;
  cavum_unit unit = cavum_stored_figure_unit(id);
  stored.value = cavum_in_unit(figure->value, unit);
  stored.uncertainty = cavum_in_unit(figure->uncertainty, unit);
  return stored;
}

cavum_figure cavum_stored_figure_read(const cavum_figure *stored, cavum_figure_id id) {
  cavum_figure figure = *stored;
  cavum_unit unit = cavum_stored_figure_unit(id);
  figure.value = cavum_from_unit(stored->value, unit);
  figure.uncertainty = cavum_from_unit(stored->uncertainty, unit);
  return figure;
}
