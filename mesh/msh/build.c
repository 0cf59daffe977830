// SPDX-License-Identifier: GPL-3.0-or-later
// Errors of the steps that make a mesh.
#include "msh/build.h"

#include <stdarg.h>
#include <stdio.h>

cavum_status cavum_msh_refuse(const cavum_msh_build *build, const char *format, ...) {
  char text[CAVUM_MESSAGE_SIZE];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  return cavum_fail(build->error, CAVUM_ERR_INPUT, "%s: %s", build->source->path, text);
}
