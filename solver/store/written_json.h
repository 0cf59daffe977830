// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/written_json.h
 * What `draw`, `report` and `mesh` wrote, as JSON: the file, its size, and what is in it.
 */
#ifndef CAVUM_STORE_WRITTEN_JSON_H
#define CAVUM_STORE_WRITTEN_JSON_H

#include <stddef.h>

#include "cavum/mesh.h"

/** A word about a picture or a page, and a number; all borrowed. */
typedef struct cavum_written_choice {
  const char *key;
  const char *word; /**< NULL: the number is meant. */
  int number;
} cavum_written_choice;

/** A picture or a page that was made. All is borrowed. */
typedef struct cavum_written_page {
  const char *path, *format; /**< Format: png, svg, pdf or html. */
  const char *bytes;         /**< The whole file; a zero follows. */
  size_t size;
  int num_sources;
  const char *const *sources; /**< Files of ours that it shows, shape [num_sources]. */
  int num_choices;
  const cavum_written_choice *choices; /**< What was chosen, in order, shape [num_choices]. */
} cavum_written_page;

/** A mesh that was written. All is borrowed. */
typedef struct cavum_written_mesh {
  const char *path, *unit;
  int order;
  bool binary;
  const cavum_mesh *mesh;
  const cavum_mesh_notes *notes;
} cavum_written_mesh;

/**
 * A picture: pixels of a PNG, millimetres of SVG and PDF as they say them themselves, what is
 * drawn.
 * @param[out] text   Released with free(); untouched unless CAVUM_OK.
 * @param[in]  page   What was made.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_INPUT  a source that is no file of ours any more.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_written_picture_json(char **text, const cavum_written_page *page,
                                        cavum_error *error);

/** A report: its sections by their anchors, numbers of pictures and tables; as the former. */
cavum_status cavum_written_report_json(char **text, const cavum_written_page *page,
                                       cavum_error *error);

/**
 * A mesh: its size and quality.
 * @param[out] text   Released with free(); untouched unless CAVUM_OK.
 * @param[in]  mesh   What was written.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_written_mesh_json(char **text, const cavum_written_mesh *mesh,
                                     cavum_error *error);

#endif
