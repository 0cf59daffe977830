// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_read.h
 * What the files about scans share.
 */
#ifndef CAVUM_STORE_SCAN_READ_H
#define CAVUM_STORE_SCAN_READ_H

#include "cavum/scan_store.h"
#include "hdf5/hdf5_file.h"

/** The open file behind a scan; borrowed. */
const cavum_hdf5_file *cavum_stored_scan_file(const cavum_stored_scan *scan);

#endif
