// SPDX-License-Identifier: GPL-3.0-or-later
// The text of a moved cell is what says how it came to its path.
#include "cell/moved_cell.h"

#include <string.h>

#include "base/base.h"
#include "cavum/cell_text.h"
#include "cell/cell_digest.h"
#include "cell/cell_edit.h"
#include "cell/file.h"
#include "cell/inner_cell.h"
#include "cell/place.h"

void cavum_text_path_clear(cavum_text_path *known) {
  free(known->text);
  *known = (cavum_text_path){0};
}

// What of the text is known then; a text that cannot be read has no path.
static cavum_status read_path(cavum_text_path *known, const char *text, cavum_error *error) {
  cavum_cell read;
  cavum_text_path_clear(known);
  cavum_status status = cavum_cell_read_text(&read, text, strlen(text), NULL, NULL);
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  if (status != CAVUM_OK) return CAVUM_OK;
  known->is_path = read.kind == CAVUM_CONTOUR_PATH;
  known->digest = cavum_path_digest(&read.path);
  if (read.files.num_paths == 0) {
    known->text = cavum_copy_text(text);
    if (!known->text) status = cavum_fail_memory(error);
  }
  cavum_cell_clear(&read);
  return status;
}

cavum_status cavum_cell_has_path_of_known(bool *same, cavum_text_path *known,
                                          const cavum_cell *cell, cavum_error *error) {
  bool is_path = cell->text && cell->kind == CAVUM_CONTOUR_PATH;
  bool is_known = is_path && known->text && strcmp(known->text, cell->text) == 0;
  if (is_path && !is_known) {
    cavum_status status = read_path(known, cell->text, error);
    if (status != CAVUM_OK) return status;
  }
  *same = is_path && known->is_path && known->digest == cavum_path_digest(&cell->path);
  return CAVUM_OK;
}

cavum_status cavum_cell_has_path_of_text(bool *same, const cavum_cell *cell, cavum_error *error) {
  cavum_text_path known = {0};
  cavum_status status = cavum_cell_has_path_of_known(same, &known, cell, error);
  cavum_text_path_clear(&known);
  return status;
}

static bool has_list(const cavum_cell *cell, cavum_error *error, cavum_status *status) {
  cavum_place_finder finder = {0};
  if (!strstr(cell->text, "moved")) return false;
  *status = cavum_place_finder_open(&finder, cell, "of the cell", error);
  if (*status != CAVUM_OK) return false;
  const cavum_yaml_node *file = &finder.reader.tree.nodes[0];
  const cavum_yaml_node *contour = cavum_yaml_reader_child(&finder.reader, file, "contour");
  bool has = contour && cavum_yaml_reader_child(&finder.reader, contour, "moved");
  cavum_place_finder_clear(&finder);
  return has;
}

cavum_status cavum_moved_cell_look(cavum_moved_cell *moved, const cavum_cell *cell,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_moved_cell found = {.is_one = false};
  cavum_cell read;
  bool same = false;
  *moved = found;
  if (cell->kind != CAVUM_CONTOUR_PATH || !cell->text) return CAVUM_OK;
  if (!has_list(cell, error, &status)) return status;
  CAVUM_TRY(cavum_cell_has_path_of_text(&same, cell, error));
  if (!same) return CAVUM_OK;
  CAVUM_TRY(cavum_cell_read_text(&read, cell->text, strlen(cell->text), NULL, error));
  double length_m = read.accelerating_length_m;
  cavum_cell_clear(&read);
  CAVUM_TRY(cavum_cell_file_read_base(&found.base, cell->text, error));
  found.is_one = true;
  found.keeps_length =
      found.base.accelerating_length_m > 0.0 || cell->accelerating_length_m != length_m;
  found.base.beta = cell->beta;
  found.base.accelerating_length_m = found.keeps_length ? cell->accelerating_length_m : 0.0;
  *moved = found;
done:
  return status;
}

cavum_status cavum_moved_cell_has_moved_length(bool *moved, const cavum_cell *cell,
                                               cavum_error *error) {
  cavum_moved_cell found;
  // The base is kept by a cell that was moved: others are left without reading their text.
  bool may_be = cell->kind == CAVUM_CONTOUR_PATH && cell->text && cell->left.half_length_m > 0.0;
  if (!may_be) {
    *moved = false;
    return CAVUM_OK;
  }
  cavum_status status = cavum_moved_cell_look(&found, cell, error);
  if (status != CAVUM_OK) return status;
  *moved = found.is_one && !found.keeps_length && found.base.kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  cavum_moved_cell_clear(&found);
  return CAVUM_OK;
}

void cavum_moved_cell_clear(cavum_moved_cell *moved) {
  if (!moved) return;
  if (moved->is_one) cavum_cell_clear(&moved->base);
  *moved = (cavum_moved_cell){.is_one = false};
}

static cavum_status write_ends(char **text, const char *of_cell, const char *word,
                               cavum_error *error) {
  char *left = NULL;
  cavum_status status = cavum_cell_edit_put(&left, of_cell, "ends.left.kind", word, error);
  if (status == CAVUM_OK) status = cavum_cell_edit_put(text, left, "ends.right.kind", word, error);
  free(left);
  return status;
}

cavum_status cavum_moved_cell_close(cavum_cell *other, const cavum_cell *cell, cavum_end_kind kind,
                                    cavum_error *error) {
  char *text = NULL;
  cavum_cell read;
  const char *word = kind == CAVUM_END_ELECTRIC ? "electric" : "magnetic";
  bool tubes = cell->left_end.kind == CAVUM_END_TUBE || cell->right_end.kind == CAVUM_END_TUBE;
  cavum_status status = tubes ? cavum_inner_cell_write(&text, cell, kind, error)
                              : write_ends(&text, cell->text, word, error);
  if (status == CAVUM_OK) status = cavum_cell_file_read_near(&read, text, error);
  free(text);
  if (status != CAVUM_OK) return status;
  *other = *cell;
  other->path = read.path;
  other->text = read.text;
  other->left_end = read.left_end;
  other->right_end = read.right_end;
  read.path = (cavum_contour){0};
  read.text = NULL;
  cavum_cell_clear(&read);
  return CAVUM_OK;
}

void cavum_moved_cell_free_other(cavum_cell *other) {
  cavum_contour_clear(&other->path);
  free(other->text);
  other->text = NULL;
}
