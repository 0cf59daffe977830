// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file yaml/copy.h
 * Sections of one file for another.
 */
#ifndef CAVUM_YAML_COPY_H
#define CAVUM_YAML_COPY_H

#include <stddef.h>

#include "cavum/status.h"

/**
 * The sections of a text that have these keys at its top, as text of their own, with the same
 * values and without comments; "" where it has none of them.
 *
 * @param[out] copied    Owned, free(); untouched unless CAVUM_OK.
 * @param[in]  text      YAML.
 * @param[in]  keys      Shape [num_keys], in the order in which they are written.
 * @param[in]  num_keys  At least 1.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_INPUT   no YAML.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_yaml_copy_sections(char **copied, const char *text, const char *const keys[],
                                      size_t num_keys, cavum_error *error);

#endif
