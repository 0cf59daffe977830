// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/requirements.h
 * Reading one requirement: what a key stands for, and its bounds.
 */
#ifndef CAVUM_DESIGN_REQUIREMENTS_H
#define CAVUM_DESIGN_REQUIREMENTS_H

#include "cavum/requirement.h"
#include "cavum/solve.h"
#include "yaml/reader.h"

/** The figure of the shape of a kind; CAVUM_NUM_GEOMETRY_FIGURES: it is none. */
int cavum_requirement_geometry(cavum_requirement_kind kind);

/** Whether a figure of this kind may be below 0. */
bool cavum_requirement_may_be_negative(const cavum_requirement *r);

/**
 * What a key stands for: a figure of a mode, of the shape, or k_cc.
 * @param[out] r      Key, kind, figure and unit are set.
 * @param[in]  key    Of the figure.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT  no such figure.
 */
cavum_status cavum_requirement_find(cavum_requirement *r, const char *key, cavum_error *error);

/**
 * Whether a key stands for a radius of curvature of the splines of a wall.
 * @param[out] r    Key, kind and unit are set if it does.
 * @param[in]  key  Of a limit.
 */
bool cavum_requirement_find_radius(cavum_requirement *r, const char *key);

/**
 * The same of a key in a file.
 * @param[out] r        Key, kind, figure and unit are set.
 * @param[in]  reader   The file.
 * @param[in]  node     For messages.
 * @param[in]  key      Of the figure.
 * @param[in]  section  For messages.
 * @retval CAVUM_ERR_INPUT  no such figure.
 */
cavum_status cavum_requirement_take_key(cavum_requirement *r, const cavum_yaml_reader *reader,
                                        const cavum_yaml_node *node, const char *key,
                                        const char *section);

/**
 * Its bounds, {least: A}, {most: B}, both, or {is: C, within: D}.
 * @param[in,out] r             With its key; the bounds are set.
 * @param[in]     reader        The file.
 * @param[in]     node          The mapping.
 * @param[in]     section       For messages.
 * @param[in]     may_be_exact  {is: C} alone will do.
 * @retval CAVUM_ERR_INPUT  anything else.
 */
cavum_status cavum_requirement_take_bounds(cavum_requirement *r, const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *node, const char *section,
                                           bool may_be_exact);

/**
 * What is made with R_s of a fit is no more certain than the fit: its uncertainty goes in.
 * @param[in] figure  That is required, present, in SI; numerical uncertainty.
 * @param[in] result  Of it.
 * @param[in] mode    Whose R_s, from 0.
 * @return figure as it is where it is made with no fit.
 */
cavum_figure cavum_requirement_with_fit(cavum_figure figure, const cavum_result *result, int mode);

#endif
