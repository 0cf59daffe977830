// SPDX-License-Identifier: GPL-3.0-or-later
// muParser opened when it is first needed. For the shared library.
#define CAVUM_PARSER_TABLE_ONLY
#include "scan/parser_calls.h"

CAVUM_LATE_OPENED(cavum_parser_table, cavum_parser_calls, cavum_parser_reach,
                  CAVUM_PARSER_FUNCTIONS, CAVUM_MUPARSER_FILE, "expressions of studies")
