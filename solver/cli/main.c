// SPDX-License-Identifier: GPL-3.0-or-later
// The command line: a table of commands and their dispatch.
#include <stdio.h>

#include "cavum/cavum.h"

int main(void) {
  printf("cavum %s\n", cavum_version());
  return 0;
}
