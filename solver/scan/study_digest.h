// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/study_digest.h
 * What makes shapes the same: digests of what a study computes, not of how its file is written.
 *
 * A batch is computed by one process from a fresh start, so its rows follow from two things alone:
 * the settings, and the varied numbers of its shapes in their order. What has the same digest has
 * the same bytes, in whatever study it stands.
 */
#ifndef CAVUM_SCAN_STUDY_DIGEST_H
#define CAVUM_SCAN_STUDY_DIGEST_H

#include "scan/study.h"

/** Bytes of the digest of a batch. */
enum { CAVUM_BATCH_DIGEST_SIZE = 16 };

/** Digest of the shapes of a batch. */
typedef struct cavum_batch_digest {
  unsigned char bytes[CAVUM_BATCH_DIGEST_SIZE];
} cavum_batch_digest;

/**
 * Sets settings and fingerprint of a study.
 *
 * Settings: version, base cell without its title and the layout of its text, mesh file, inputs with
 * their expressions, held frequency, limits, figures, coupling, mode. Fingerprint: settings, batch
 * size, and how the shapes are sampled, or the numbers of their table.
 *
 * @param[in,out] study  All but its layout is set.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_FILE    the mesh file cannot be read.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_study_take_digests(cavum_study *study, cavum_error *error);

/**
 * Digest of shapes.
 * @param[in] study   Open.
 * @param[in] varied  Shape [num_rows, number of varied inputs].
 */
cavum_batch_digest cavum_study_digest_shapes(const cavum_study *study, const double *varied,
                                             int num_rows);

/** The same of computed rows, shape [num_rows, row size]. */
cavum_batch_digest cavum_study_digest_rows(const cavum_study *study, const unsigned char *rows,
                                           int num_rows);

/** True when two digests are the same. */
bool cavum_batch_digest_equal(const cavum_batch_digest *a, const cavum_batch_digest *b);

#endif
