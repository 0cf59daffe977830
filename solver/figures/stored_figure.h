// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/stored_figure.h
 * Figures in files. A figure is in SI; JSON, HDF5 and the rows of a scan have it in the unit that
 * ends its key, "bpk_over_eacc_mT_per_MV_per_m".
 */
#ifndef CAVUM_FIGURES_STORED_FIGURE_H
#define CAVUM_FIGURES_STORED_FIGURE_H

#include "base/units.h"
#include "cavum/figures.h"

/** Unit of a figure in files, for conversions; CAVUM_UNIT_SI where that is the SI unit. */
cavum_unit cavum_stored_figure_unit(cavum_figure_id id);

/** Its name, as the attribute `units` of a file has it; static. */
const char *cavum_stored_figure_unit_name(cavum_figure_id id);

/** A figure with value and uncertainty in the unit of files. */
cavum_figure cavum_stored_figure_make(const cavum_figure *figure, cavum_figure_id id);

/** A figure in SI, from a file. */
cavum_figure cavum_stored_figure_read(const cavum_figure *stored, cavum_figure_id id);

#endif
