// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_nearest.h
 * The column of a scan that a mistyped name was meant to be.
 */
#ifndef CAVUM_STORE_SCAN_NEAREST_H
#define CAVUM_STORE_SCAN_NEAREST_H

#include "base/base.h"
#include "base/nearest_word.h"
#include "cavum/scan_store.h"

/** ", did you mean 'COLUMN'?", or "" where no column of the scan is near; returns text. */
CAVUM_BETWEEN const char *cavum_stored_scan_nearest(char text[CAVUM_NEAREST_SIZE],
                                                    const cavum_stored_scan *scan,
                                                    const char *typed);

#endif
