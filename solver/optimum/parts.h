// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/parts.h
 * What the parts of a search leave on disk until it is gathered.
 *
 *     OUTPUT.parts/of-NNNNN/start-IIIII.search     an ended search, by the number of its start
 *     OUTPUT.parts/of-NNNNN/segment-KKKKK.search   the points of a front that part K of N walked
 *     OUTPUT.parts/of-NNNNN/part-KKKKK.lock        part K is being computed (scan/claim.h)
 *
 * Each file is whole or not there. It holds a digest of all that decides what is in it (version,
 * goal, the files that it names), so that nothing of another goal is taken for ours.
 */
#ifndef CAVUM_OPTIMUM_PARTS_H
#define CAVUM_OPTIMUM_PARTS_H

#include "optimum/search_record.h"
#include "scan/record_format.h"

enum { CAVUM_PARTS_DIGEST_SIZE = 65, CAVUM_PARTS_NAME_SIZE = 32 };

/** A goal and where its parts are kept. */
typedef struct cavum_parts {
  const char *output; /**< Borrowed: name of the result. */
  char digest[CAVUM_PARTS_DIGEST_SIZE];
  cavum_division division; /**< Of the part that is computed; of what is gathered, 0. */
  int num_divisions;
  int64_t *divisions; /**< Owned: N of each division that is there, the smallest first. */
} cavum_parts;

/**
 * Finds out what there is of a goal.
 * @param[out] parts     Release with cavum_parts_clear(), also after a failure.
 * @param[in]  goal
 * @param[in]  output    Name of the result.
 * @param[in]  division  Part; {0, 0}: all are gathered.
 * @retval CAVUM_ERR_FILE    a file that the goal names cannot be read any more.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_parts_open(cavum_parts *parts, const cavum_goal *goal, const char *output,
                              cavum_division division, cavum_error *error);

/** Frees what it owns. */
void cavum_parts_clear(cavum_parts *parts);

/** Names of the files of a start and of a segment. */
void cavum_parts_name_start(char name[CAVUM_PARTS_NAME_SIZE], int index);
/** Likewise. */
void cavum_parts_name_segment(char name[CAVUM_PARTS_NAME_SIZE], int64_t part);

/**
 * Writes a file of the division; all of it or nothing.
 * @retval CAVUM_ERR_FILE    cannot be written.
 * @retval CAVUM_ERR_MEMORY  also when the bytes say so.
 */
cavum_status cavum_parts_write(const cavum_parts *parts, const char *name,
                               const cavum_record_bytes *bytes, cavum_error *error);

/** Whether a file is there, in the division of N parts; 0: in any. */
bool cavum_parts_has(const cavum_parts *parts, const char *name, int64_t num_parts);

/**
 * Reads a file that is there; one that is damaged counts as none.
 * @param[out] bytes      Zeroed before; free(bytes->data), also after a failure.
 * @param[out] found      Whether there is one.
 * @param[in]  num_parts  As above.
 * @retval CAVUM_ERR_INPUT  of another goal, cell or version.
 * @retval CAVUM_ERR_FILE   cannot be read.
 */
cavum_status cavum_parts_read(cavum_record_bytes *bytes, bool *found, const cavum_parts *parts,
                              const char *name, int64_t num_parts, cavum_error *error);

/** What is wrong with a file whose bytes were read and make no sense. */
cavum_status cavum_parts_fail(const cavum_parts *parts, const char *name, cavum_status status,
                              cavum_error *error);

#endif
