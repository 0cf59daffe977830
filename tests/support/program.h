// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file program.h
 * Running the real program in a test's folder, and the texts that go in and come out.
 */
#ifndef CAVUM_TEST_PROGRAM_H
#define CAVUM_TEST_PROGRAM_H

#include <check.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

/**
 * Runs a shell command in a folder, with $CAVUM the program, $CELLS the cells of the tests and
 * $DEMO those of the demo; its outputs go to the files out and err there. Returns its exit status.
 */
__attribute__((format(printf, 2, 3))) static inline int program_run(const char *folder,
                                                                    const char *format, ...) {
  char command[1024], line[2048];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(command, sizeof command, format, arguments);
  va_end(arguments);
  snprintf(line, sizeof line, "cd '%s' && CAVUM='%s' CELLS='%s' DEMO='%s' && { %s; } >out 2>err",
           folder, CAVUM_PROGRAM, CAVUM_CELLS_FOLDER, CAVUM_DEMO_FOLDER, command);
  int status = system(line);
  ck_assert_msg(WIFEXITED(status), "'%s' was killed", command);
  printf("%s: exit %d\n", command, WEXITSTATUS(status));
  return WEXITSTATUS(status);
}

/** Before a limit on the size of files, and before a SIGKILL: a build that counts lines
 * (CAVUM_COVERAGE) writes no counts, which would be cut. */
#define SMALL_FILES "export LLVM_PROFILE_FILE=/dev/null; "

/** Text of a file of the folder, up to a megabyte; valid until the next call. */
static inline const char *program_read_text(const char *folder, const char *name) {
  static char text[1 << 20];
  char path[256];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, "r");
  ck_assert_msg(file != NULL, "%s cannot be opened", path);
  size_t size = fread(text, 1, sizeof text - 1, file);
  fclose(file);
  text[size] = '\0';
  return text;
}

/** Makes a file of the folder. */
static inline void program_write_text(const char *folder, const char *name, const char *text) {
  char path[256];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs(text, file);
  ck_assert_int_eq(fclose(file), 0);
}

/** Number of line ends. */
static inline int program_count_lines(const char *text) {
  int lines = 0;
  for (; *text; text++) lines += *text == '\n';
  return lines;
}

#endif
