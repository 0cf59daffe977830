// SPDX-License-Identifier: GPL-3.0-or-later
// What every command does the same way.
#include "cli/process.h"

#include <argp.h>
#include <errno.h>
#include <malloc.h>
#include <math.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "cli/colour.h"
#include "cli/cores.h"
#include "cli/version.h"

enum { EXIT_BAD_USAGE = 2 };
// Room for a small cell with its result file.
enum { HEAP_BYTES = 16 << 20, LARGEST_HEAP_ARRAY_BYTES = 32 << 20 };

// Runs at exit: a table that went to a full disk must not look like success.
static void check_standard_output(void) {
  bool failed = ferror(stdout) != 0;
  errno = 0;
  if (fflush(stdout) == 0 && !failed) return;
  // What was wrong with a write before this one is not known any more.
  fprintf(stderr, "cavum: standard output: cannot be written%s%s\n", errno ? ": " : "",
          errno ? strerror(errno) : "");
  _exit(EXIT_BAD_USAGE);
}

void cavum_process_start(void) {
  cavum_cores_restore();
  argp_err_exit_status = EXIT_BAD_USAGE;
  argp_program_version_hook = cavum_version_print;
  // A file size limit then fails the write, which is reported, instead of killing the process.
  signal(SIGXFSZ, SIG_IGN);
  // Without room for the handler the check is lost, and with it nothing else.
  (void)atexit(check_standard_output);
}

int cavum_process_report(cavum_status status, const cavum_error *error) {
  if (status == CAVUM_OK) return 0;
  const char *message = error && error->message[0] ? error->message : cavum_status_text(status);
  fprintf(stderr, "%scavum:%s %s\n", cavum_colour(stderr, CAVUM_PRINT_BAD),
          cavum_colour(stderr, CAVUM_PRINT_END), message);
  return cavum_status_exit(status);
}

void cavum_process_print_shell_word(FILE *out, const char *word) {
  static const char plain[] =
      "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_-./+,:@%";
  bool quoted = word[0] == '\0' || word[strspn(word, plain)] != '\0';
  if (quoted) fputc('\'', out);
  if (word[0] == '-') fputs("./", out);
  for (const char *c = word; *c; c++) {
    if (*c == '\'') {
      fputs("'\\''", out);  // out of the quotes, the quote itself, in again
    } else {
      fputc(*c, out);
    }
  }
  if (quoted) fputc('\'', out);
}

void cavum_process_note(const char *text) {
  if (!*text) return;
  fprintf(stderr, "%scavum: note:%s %s\n", cavum_colour(stderr, CAVUM_PRINT_CAUTION),
          cavum_colour(stderr, CAVUM_PRINT_END), text);
}

cavum_status cavum_process_fail(cavum_error *error, cavum_status status, const char *subject,
                                const char *what) {
  if (error) {
    error->status = status;
    snprintf(error->message, sizeof error->message, "%s: %s", subject, what);
  }
  return status;
}

void cavum_process_reserve_memory(void) {
  // Larger arrays are mapped and given back one by one, with new page faults each time.
  if (!mallopt(M_MMAP_THRESHOLD, LARGEST_HEAP_ARRAY_BYTES) ||
      !mallopt(M_TRIM_THRESHOLD, LARGEST_HEAP_ARRAY_BYTES) || !mallopt(M_TOP_PAD, HEAP_BYTES)) {
    return;
  }
  uintptr_t start = (uintptr_t)sbrk(0);
  void *volatile room = malloc(HEAP_BYTES);  // compilers leave out a pair that does nothing
  free(room);
  uintptr_t page = (uintptr_t)sysconf(_SC_PAGESIZE), end = (uintptr_t)sbrk(0);
  start = (start + page - 1) / page * page;
  if (end > start) (void)madvise((void *)start, end - start, MADV_HUGEPAGE);
}

bool cavum_process_read_integer(int *value, const char *text, int smallest, int largest) {
  char *end = NULL;
  errno = 0;
  long read = strtol(text, &end, 10);
  if (end == text || *end != '\0' || errno != 0 || read < smallest || read > largest) return false;
  *value = (int)read;
  return true;
}

bool cavum_process_read_number(double *value, const char *text) {
  char *end = NULL;
  double read = strtod(text, &end);
  if (end == text || *end != '\0' || !isfinite(read)) return false;
  *value = read;
  return true;
}

cavum_status cavum_process_check_output(const char *path, cavum_error *error) {
  if (!path || strcmp(path, "-") == 0) return CAVUM_OK;
  char *file = cavum_file_behind_links(path);
  if (!file) return cavum_fail_memory(error);
  char *slash = strrchr(file, '/');
  if (slash) slash[1] = '\0';
  bool good = access(slash ? file : ".", W_OK | X_OK) == 0;
  int cause = errno;
  free(file);
  if (good) return CAVUM_OK;
  char reason[128];
  snprintf(reason, sizeof reason, "cannot be written: %s", strerror(cause));
  return cavum_process_fail(error, CAVUM_ERR_FILE, path, reason);
}
