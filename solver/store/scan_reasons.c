// SPDX-License-Identifier: GPL-3.0-or-later
// Reading reasons in blocks.
#include "store/scan_reasons.h"

#include "base/base.h"

static const char *const SHAPE_PATH = "/reasons/shape", *const TEXT_PATH = "/reasons/text";

void cavum_scan_reasons_open(cavum_scan_reasons *reasons, const cavum_hdf5_file *file) {
  int64_t rows = cavum_hdf5_column_rows(file, SHAPE_PATH);
  reasons->file = file;
  reasons->num_reasons = rows > 0 ? rows : 0;
}

void cavum_scan_reasons_close(cavum_scan_reasons *reasons) { free(reasons->texts); }

static cavum_status load_block(cavum_scan_reasons *reasons, cavum_error *error) {
  int64_t left = reasons->num_reasons - reasons->next;
  reasons->first = reasons->next;
  reasons->count = left < CAVUM_SCAN_REASONS_BLOCK ? left : CAVUM_SCAN_REASONS_BLOCK;
  free(reasons->texts);
  reasons->texts = NULL;
  cavum_status status = cavum_hdf5_read_column(reasons->shapes, reasons->file, SHAPE_PATH,
                                               reasons->first, reasons->count, error);
  if (status != CAVUM_OK) return status;
  return cavum_hdf5_read_text_column(&reasons->texts, &reasons->width, reasons->file, TEXT_PATH,
                                     reasons->first, reasons->count, error);
}

cavum_status cavum_scan_reasons_next(cavum_scan_reasons *reasons, int64_t *shape, const char **text,
                                     cavum_error *error) {
  *shape = -1;
  *text = "";
  if (reasons->next >= reasons->num_reasons) return CAVUM_OK;
  if (reasons->next >= reasons->first + reasons->count) {
    cavum_status status = load_block(reasons, error);
    if (status != CAVUM_OK) return status;
  }
  int64_t place = reasons->next++ - reasons->first;
  *shape = cavum_whole(reasons->shapes[place], -1);
  *text = reasons->texts + (size_t)place * reasons->width;
  return CAVUM_OK;
}
