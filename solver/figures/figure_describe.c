// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of the figure table.
#include "base/base.h"
#include "cavum/figures.h"

cavum_figure_info cavum_figure_describe(cavum_figure_id id) {
  static const cavum_figure_info table[CAVUM_NUM_FIGURES] = {
#define INFO_ROW(name, key, unit, long_name, definition) {key, unit, long_name, definition},
      CAVUM_FIGURE_TABLE(INFO_ROW)
#undef INFO_ROW
  };
  static const cavum_figure_info unknown = {"unknown", "1", "unknown figure", ""};
  return (int)id >= 0 && id < CAVUM_NUM_FIGURES ? table[id] : unknown;
}
