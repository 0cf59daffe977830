// SPDX-License-Identifier: GPL-3.0-or-later
// Finds and starts the second program.
#include "cli/second_program.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "cavum/status.h"
#include "cli/process.h"

enum { NUM_PLACES = 2 };
// From the folder of this program.
static const char *const places[NUM_PLACES] = {"cavum-more", CAVUM_SECOND_PROGRAM_PLACE};

// Folder of this program with a slash at its end; false when it is not known.
static bool find_own_folder(char folder[PATH_MAX]) {
  ssize_t length = readlink("/proc/self/exe", folder, PATH_MAX - 1);
  if (length <= 0) return false;
  folder[length] = '\0';
  char *slash = strrchr(folder, '/');
  if (!slash) return false;
  slash[1] = '\0';
  return true;
}

int cavum_second_program_run(int argc, char **argv) {
  (void)argc;
  char folder[PATH_MAX], path[PATH_MAX + sizeof CAVUM_SECOND_PROGRAM_PLACE] = "cavum-more";
  char reason[128];
  cavum_error error;
  if (find_own_folder(folder)) {
    for (int i = 0; i < NUM_PLACES; i++) {
      snprintf(path, sizeof path, "%s%s", folder, places[i]);
      execv(path, argv);
      if (errno != ENOENT) break;
    }
  }
  snprintf(reason, sizeof reason, "cannot be run: %s", strerror(errno));
  return cavum_process_report(cavum_process_fail(&error, CAVUM_ERR_FILE, path, reason), &error);
}
