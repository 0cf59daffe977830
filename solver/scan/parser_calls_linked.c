// SPDX-License-Identifier: GPL-3.0-or-later
// muParser linked: the linker fills the table. For the archive and for programs.
#define CAVUM_PARSER_TABLE_ONLY
#include "scan/parser_calls.h"

cavum_parser_table cavum_parser_calls = {
#define CAVUM_PARSER_PLACE(name) .name = &(name),
    CAVUM_PARSER_FUNCTIONS(CAVUM_PARSER_PLACE)};

cavum_status cavum_parser_reach(cavum_error *error) {
  (void)error;
  return CAVUM_OK;
}
