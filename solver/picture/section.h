// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/section.h
 * The cell to scale: fields, walls and ends; and its mesh.
 */
#ifndef CAVUM_PICTURE_SECTION_H
#define CAVUM_PICTURE_SECTION_H

#include "canvas/flow.h"
#include "cavum/picture.h"
#include "picture/field_map.h"

/** Where the parts of a section stand on the page. */
typedef struct cavum_section {
  cavum_plot plot;         /**< Frame in mm; the vertical axis is r, negative below the axis. */
  double scale_z, scale_r; /**< Points per metre along both axes. */
  double total_width;      /**< With everything around the frame. */
  double total_height;     /**< Without the keys. */
  cavum_picture_field field;
  int num_colours; /**< Of each map. */
  int num_lines;   /**< Electric field lines between zero and the largest flux. */
  double line_width;
  cavum_picture_along_wall along_wall; /**< What is drawn behind the wall. */
  bool is_mesh;                        /**< Elements instead of fields: the half plane alone. */
} cavum_section;

/**
 * The largest section to scale that fits.
 * @param[in] scene       The cell.
 * @param[in] field       Which fields.
 * @param[in] is_mesh     Elements instead of fields.
 * @param[in] along_wall  What is drawn behind the wall; not with is_mesh.
 * @param[in] x           Left end.
 * @param[in] y           Top.
 * @param[in] max_width   Room for the frame and all around it.
 * @param[in] max_height  The same.
 */
cavum_section cavum_section_fit(const cavum_scene *scene, cavum_picture_field field, bool is_mesh,
                                cavum_picture_along_wall along_wall, double x, double y,
                                double max_width, double max_height);

/**
 * By how much numbers and labels of the colour scales reach beyond the room that a section has for
 * them, as powers of ten do; 0 where they do not.
 */
double cavum_section_excess(cavum_canvas *canvas, const cavum_section *section,
                            const cavum_scene *scene);

/** Draws a section. */
cavum_status cavum_section_draw(cavum_canvas *canvas, cavum_scene *scene,
                                const cavum_section *section, cavum_error *error);

/**
 * Keys of a section: kinds of boundary, lines, densities, peaks with their values.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_section_add_keys(cavum_flow *flow, const cavum_scene *scene,
                                    const cavum_section *section, cavum_error *error);

/** Key of the mark of a peak, with its value or how many sharp corners there are; none without. */
void cavum_section_add_peak_key(cavum_flow *flow, const cavum_scene *scene,
                                cavum_field_choice choice);

#endif
