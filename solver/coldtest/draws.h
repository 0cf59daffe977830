// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/draws.h
 * Draws of Q0, E_acc and R_s of one point from the distributions of all inputs.
 */
#ifndef CAVUM_COLDTEST_DRAWS_H
#define CAVUM_COLDTEST_DRAWS_H

#include "coldtest/coldtest_private.h"

/** Draws are made in chunks of this many, which fit the first-level cache. */
enum { CAVUM_CHUNK = 500 };

/** A source of draws of one point; opaque. */
typedef struct cavum_draw_source cavum_draw_source;

/**
 * A source for one point of a test.
 * @param[out] source  New source (cavum_draw_source_destroy()); untouched unless CAVUM_OK.
 * @param[in]  test    Borrowed, must outlive the source.
 * @param[in]  index   Point, from 0.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_draw_source_create(cavum_draw_source **source, const cavum_coldtest *test,
                                      int64_t index, cavum_error *error);

/** Frees a source and sets the pointer to NULL; NULL is accepted. */
void cavum_draw_source_destroy(cavum_draw_source **source);

/**
 * One chunk of draws. Draws that no cavity can give are left out.
 * @param[out] results  By CAVUM_MC_..., shape [CAVUM_NUM_MC][CAVUM_CHUNK]; the first returned many.
 * @returns How many of CAVUM_CHUNK draws are possible.
 */
int cavum_draw_chunk(cavum_draw_source *source, double results[CAVUM_NUM_MC][CAVUM_CHUNK]);

#endif
