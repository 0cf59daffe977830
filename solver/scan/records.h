// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/records.h
 * Finding and reading finished batches; record_format.h says what is on disk.
 */
#ifndef CAVUM_SCAN_RECORDS_H
#define CAVUM_SCAN_RECORDS_H

#include "scan/record_format.h"

/**
 * Like cavum_scan_records_open(), for one part: files of the same division that belong to other
 * parts are not opened, so that ten thousand parts do not each read ten thousand files.
 */
cavum_status cavum_records_open_part(cavum_scan_records **records, const cavum_study *study,
                                     const char *output, cavum_division division,
                                     cavum_error *error);

/** True when a batch is stored. */
bool cavum_records_has(const cavum_scan_records *records, int64_t batch);

#endif
