// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_mode.h
 * Whose figures a stored scan has under plain keys.
 */
#ifndef CAVUM_STORE_SCAN_MODE_H
#define CAVUM_STORE_SCAN_MODE_H

#include "base/base.h"
#include "cavum/scan_store.h"

/** Mode whose figures have plain keys, counted from 1 as in the study. */
int cavum_stored_scan_mode(const cavum_stored_scan *scan);

/** Room for the words about it. */
enum { CAVUM_SCAN_MODE_TEXT_SIZE = 64 };

/** "mode 2" behind some words, or "" for the first mode, which need not be named. */
CAVUM_BETWEEN const char *cavum_stored_scan_mode_text(char text[CAVUM_SCAN_MODE_TEXT_SIZE],
                                                      const cavum_stored_scan *scan,
                                                      const char *before);

#endif
