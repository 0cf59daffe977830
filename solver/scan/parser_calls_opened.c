// SPDX-License-Identifier: GPL-3.0-or-later
// muParser opened when it is first needed. For the shared library.
#define CAVUM_PARSER_TABLE_ONLY
#include "base/late.h"
#include "scan/parser_calls.h"

cavum_parser_table cavum_parser_calls;

cavum_status cavum_parser_reach(cavum_error *error) {
  static const char *const names[] = {
#define CAVUM_PARSER_NAME(name) #name,
      CAVUM_PARSER_FUNCTIONS(CAVUM_PARSER_NAME)};
  static cavum_late late = {.file = CAVUM_MUPARSER_FILE,
                            .purpose = "expressions of studies",
                            .count = sizeof names / sizeof names[0],
                            .names = names,
                            .places = &cavum_parser_calls};
  _Static_assert(sizeof cavum_parser_calls == sizeof names, "one place for each name");
  return cavum_late_open(&late, error);
}
