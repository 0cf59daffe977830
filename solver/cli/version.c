// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/version.h"

#include <H5public.h>
#include <cholmod.h>
#include <gsl/gsl_version.h>
#include <jansson.h>
#include <openblas_config.h>
#include <string.h>
#include <yaml.h>
#include <zlib.h>

#include "cavum/status.h"

// " OpenBLAS 0.3.21 " as the header has it.
static void print_openblas(FILE *stream) {
  const char *number = strpbrk(OPENBLAS_VERSION, "0123456789");
  fprintf(stream, ", OpenBLAS %.*s", number ? (int)strcspn(number, " ") : 0, number ? number : "");
}

void cavum_version_print(FILE *stream, struct argp_state *state) {
  (void)state;
  fprintf(stream, "cavum %s\n", cavum_version());
  fprintf(stream, "compiled for HDF5 %d.%d.%d, CHOLMOD %d.%d.%d", H5_VERS_MAJOR, H5_VERS_MINOR,
          H5_VERS_RELEASE, CHOLMOD_MAIN_VERSION, CHOLMOD_SUB_VERSION, CHOLMOD_SUBSUB_VERSION);
  print_openblas(stream);
  fprintf(stream, ", GSL %s, Jansson %s, zlib %s, libyaml %s\n", GSL_VERSION, JANSSON_VERSION,
          ZLIB_VERSION, yaml_get_version_string());
}
