// SPDX-License-Identifier: GPL-3.0-or-later
// muParser linked: the linker fills the table. For the archive and for programs.
#define CAVUM_PARSER_TABLE_ONLY
#include "scan/parser_calls.h"

CAVUM_LATE_LINKED(cavum_parser_table, cavum_parser_calls, cavum_parser_reach,
                  CAVUM_PARSER_FUNCTIONS)
