// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/claim.h
 * One run at a time for each part of a study.
 *
 * A claim is a record lock (fcntl) on a file beside the records, part-KKKKK.lock. The system lifts
 * it when the process ends, however it ends, on network file systems too; no clock decides. Where a
 * file system has no locks, there are no claims, which the progress of a scan tells: two runs then
 * compute the same batches, which costs time only.
 */
#ifndef CAVUM_SCAN_CLAIM_H
#define CAVUM_SCAN_CLAIM_H

#include "scan/record_writer.h"

/**
 * Claims a part; its folder has to exist.
 * @param[out] claim     Give back with cavum_scan_claim_drop(); -1 where there are no locks.
 * @param[in]  output    Name of the result file.
 * @param[in]  division  Part.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_FILE  another run has it, the folder cannot be written to, or locking fails.
 */
cavum_status cavum_scan_claim_take(int *claim, const char *output, cavum_division division,
                                   cavum_error *error);

/** Gives a claim back; -1 is accepted. */
void cavum_scan_claim_drop(int claim);

#endif
