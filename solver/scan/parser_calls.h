// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/parser_calls.h
 * muParser through pointers, as HDF5 (hdf5/hdf5_calls.h): it brings the library of C++, which a
 * program without studies does not need.
 *
 * Included by expression.c alone, which calls cavum_parser_reach() before it makes a parser.
 */
#ifndef CAVUM_SCAN_PARSER_CALLS_H
#define CAVUM_SCAN_PARSER_CALLS_H

#include <muParserDLL.h>

#include "base/late.h"

// clang-format off
/** The functions. */
#define CAVUM_PARSER_FUNCTIONS(X) \
  X(mupCreate) X(mupDefineNameChars) X(mupError) X(mupErrorReset) X(mupEval) X(mupGetErrorMsg) \
  X(mupGetErrorPos) X(mupRelease) X(mupSetExpr) X(mupSetVarFactory)
// clang-format on

/** Where each of them is: pointers only. */
typedef struct cavum_parser_table {
  CAVUM_PARSER_FUNCTIONS(CAVUM_LATE_MEMBER)
} cavum_parser_table;

/** Complete once cavum_parser_reach() gave CAVUM_OK, and never changed again. */
extern cavum_parser_table cavum_parser_calls;

/**
 * Makes sure that muParser can be called.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_LIBRARY  its library is missing on this machine or is another one.
 */
cavum_status cavum_parser_reach(cavum_error *error);

#ifndef CAVUM_PARSER_TABLE_ONLY
#define mupCreate (*cavum_parser_calls.mupCreate)
#define mupDefineNameChars (*cavum_parser_calls.mupDefineNameChars)
#define mupError (*cavum_parser_calls.mupError)
#define mupErrorReset (*cavum_parser_calls.mupErrorReset)
#define mupEval (*cavum_parser_calls.mupEval)
#define mupGetErrorMsg (*cavum_parser_calls.mupGetErrorMsg)
#define mupGetErrorPos (*cavum_parser_calls.mupGetErrorPos)
#define mupRelease (*cavum_parser_calls.mupRelease)
#define mupSetExpr (*cavum_parser_calls.mupSetExpr)
#define mupSetVarFactory (*cavum_parser_calls.mupSetVarFactory)
#endif

#endif
