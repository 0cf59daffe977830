// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/input_kind.h
 * What a file is that a command cannot read, and which command takes it.
 */
#ifndef CAVUM_CLI_INPUT_KIND_H
#define CAVUM_CLI_INPUT_KIND_H

#include "cavum/status.h"

/** Kinds of files, as bits. */
enum {
  CAVUM_INPUT_CELL = 1 << 0,     /**< Cell file. */
  CAVUM_INPUT_STUDY = 1 << 1,    /**< Study of many shapes. */
  CAVUM_INPUT_TEST = 1 << 2,     /**< Test file of a cold test. */
  CAVUM_INPUT_RESULT = 1 << 3,   /**< Result of cavum solve. */
  CAVUM_INPUT_COLDTEST = 1 << 4, /**< Result of cavum coldtest. */
  CAVUM_INPUT_SCAN = 1 << 5,     /**< Result of cavum scan. */
  CAVUM_INPUT_SPREAD = 1 << 6,   /**< Result of cavum tolerances. */
  CAVUM_INPUT_STEPS = 1 << 7,    /**< Result of cavum steps. */
  CAVUM_INPUT_CHAIN = 1 << 8,    /**< Step file. */
  CAVUM_INPUT_AS_BUILT = 1 << 9, /**< Result of cavum as-built. */
  CAVUM_INPUT_GOAL = 1 << 10,    /**< Goal of cavum optimise. */
  CAVUM_INPUT_SHOP = 1 << 11,    /**< Tolerances in a file of their own. */
  CAVUM_INPUT_STORED = CAVUM_INPUT_RESULT | CAVUM_INPUT_COLDTEST | CAVUM_INPUT_SCAN |
                       CAVUM_INPUT_SPREAD | CAVUM_INPUT_STEPS | CAVUM_INPUT_AS_BUILT
};

/** What a file is and which command takes it, "is a cell file; ..."; NULL where that is not seen.
 */
const char *cavum_input_kind_text(const char *path);

/**
 * After a file could not be read: when it is a file of another kind than those that are wanted, the
 * message says what it is and which command takes it. Anything else leaves the message as it was.
 * @param[in]     status  What reading it returned; is returned again.
 * @param[in]     path    The file.
 * @param[in]     wanted  Kinds that the command takes.
 * @param[in,out] error   Message of the failure, about `path`.
 */
cavum_status cavum_input_explain(cavum_status status, const char *path, unsigned wanted,
                                 cavum_error *error);

#endif
