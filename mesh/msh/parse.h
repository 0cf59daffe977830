// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file msh/parse.h
 * The parser of MSH files: from bytes to what the file says.
 */
#ifndef CAVUM_MSH_PARSE_H
#define CAVUM_MSH_PARSE_H

#include "msh/raw.h"

/**
 * Parses a file in memory into `raw`, which the caller clears also on failure.
 * Checks form and counts; node tags of elements are not looked up.
 */
cavum_status cavum_msh_parse(cavum_msh_raw *raw, cavum_msh_cursor *cursor);

/** @name Steps of the parser, one file a version; each stands behind the `$Section` word. */
/** @{ */
cavum_status cavum_msh_parse_nodes_2(cavum_msh_raw *raw, cavum_msh_cursor *cursor, bool parametric);
cavum_status cavum_msh_parse_elements_2(cavum_msh_raw *raw, cavum_msh_cursor *cursor);
cavum_status cavum_msh_parse_entities_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                        bool partitioned);
cavum_status cavum_msh_parse_nodes_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor);
cavum_status cavum_msh_parse_elements_4(cavum_msh_raw *raw, cavum_msh_cursor *cursor);
/** @} */

/** Refuses a tag, the number read last, that is not positive. */
cavum_status cavum_msh_check_tag(const cavum_msh_cursor *cursor, int64_t tag, const char *what);

/** Looks up an element type, and refuses those that cannot be used with a message that says why. */
cavum_status cavum_msh_check_type(cavum_msh_type *type, const cavum_msh_cursor *cursor,
                                  int64_t number);

/** Reads the node tags of one element and stores it in the last block; points are dropped. */
cavum_status cavum_msh_read_element(cavum_msh_raw *raw, cavum_msh_cursor *cursor,
                                    const cavum_msh_type *type, int64_t tag);

#endif
