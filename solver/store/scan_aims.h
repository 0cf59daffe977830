// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_aims.h
 * Aims of programs that were built with this or another version of the headers.
 */
#ifndef CAVUM_STORE_SCAN_AIMS_H
#define CAVUM_STORE_SCAN_AIMS_H

#include "cavum/scan_store.h"

/**
 * The full aims of a program's.
 * @retval CAVUM_ERR_USAGE  a size that is none, or members that are not known.
 */
cavum_status cavum_scan_aims_take(cavum_scan_aims *full, const cavum_scan_aims *given,
                                  cavum_error *error);

#endif
