// SPDX-License-Identifier: GPL-3.0-or-later
// Errors, checked allocation and small helpers that every room uses.
#include "base/base.h"

#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <time.h>

#include "base/units.h"
#include "base/utf8.h"

const char *cavum_status_text(cavum_status status) {
  switch (status) {
#define TEXT_CASE(name, exit_status, text) \
  case CAVUM_##name:                       \
    return text;
    CAVUM_STATUS_TABLE(TEXT_CASE)
#undef TEXT_CASE
  }
  return "unknown status";
}

int cavum_status_exit(cavum_status status) {
  switch (status) {
#define EXIT_CASE(name, exit_status, text) \
  case CAVUM_##name:                       \
    return exit_status;
    CAVUM_STATUS_TABLE(EXIT_CASE)
#undef EXIT_CASE
  }
  return 1;
}

void cavum_free(void *memory) { free(memory); }

const char *cavum_version(void) { return CAVUM_VERSION; }

// What is quoted from files and file names may hold anything: a message is one line of UTF-8.
static void make_line(char *text) {
  for (size_t length = strlen(text); length > 0;) {
    int step = cavum_utf8_length(text, length);
    if (step == 0) *text = '?';
    if ((unsigned char)*text < ' ' || *text == 0x7f) *text = ' ';
    text += step > 0 ? step : 1;
    length -= step > 0 ? (size_t)step : 1;
  }
}

// Leaves out the middle of a line that is too long: the name of a file is in front, and the reason
// behind it.
static void take_ends(char message[CAVUM_MESSAGE_SIZE], const char *line) {
  enum { HEAD = 200, TAIL = CAVUM_MESSAGE_SIZE - HEAD - 4 };
  size_t length = strlen(line), head = HEAD, from = length - TAIL;
  while (cavum_utf8_is_inside(line[head])) head--;
  while (cavum_utf8_is_inside(line[from])) from++;
  memcpy(message, line, head);
  memset(message + head, '.', 3);
  memcpy(message + head + 3, line + from, length - from + 1);
}

void cavum_error_write(cavum_error *error, cavum_status status, const char *format, ...) {
  enum { LONGEST = 8192 };  // two names of files as long as they may be
  char line[LONGEST];
  if (!error) return;
  va_list arguments;
  error->status = status;
  va_start(arguments, format);
  vsnprintf(line, sizeof line, format, arguments);
  va_end(arguments);
  make_line(line);
  if (strlen(line) < CAVUM_MESSAGE_SIZE) {
    memcpy(error->message, line, strlen(line) + 1);
  } else {
    take_ends(error->message, line);
  }
}

// Asks for large pages in a block that is large itself: a fault for each small one costs more than
// the work on it. Only advice: nothing depends on it.
static void *advise(void *block, size_t bytes) {
#ifdef MADV_HUGEPAGE
  enum { PAGE = 1 << 21, LARGE = 2 << 20 };
  if (!block || bytes < LARGE) return block;
  uintptr_t from = ((uintptr_t)block + PAGE - 1) / PAGE * PAGE;
  uintptr_t to = ((uintptr_t)block + bytes) / PAGE * PAGE;
  if (to > from) (void)madvise((void *)from, to - from, MADV_HUGEPAGE);
#else
  (void)bytes;
#endif
  return block;
}

void *cavum_alloc(int64_t count, size_t size) {
  size_t bytes;
  if (count < 0 || __builtin_mul_overflow((size_t)count, size, &bytes)) return NULL;
  return advise(calloc(bytes > 0 ? bytes : 1, 1), bytes);
}

void *cavum_alloc_aligned(int64_t count, size_t size) {
  size_t bytes;
  if (count < 0 || __builtin_mul_overflow((size_t)count, size, &bytes)) return NULL;
  if (bytes > SIZE_MAX - 64) return NULL;
  return advise(aligned_alloc(64, bytes > 0 ? (bytes + 63) / 64 * 64 : 64), bytes);
}

bool cavum_grow(void **array, int64_t *capacity, int64_t wanted, size_t size) {
  if (wanted <= *capacity) return true;
  int64_t larger = *capacity > 0 ? *capacity : 8;
  while (larger < wanted) {
    if (__builtin_mul_overflow(larger, (int64_t)2, &larger)) return false;
  }
  size_t bytes;
  if (__builtin_mul_overflow((size_t)larger, size, &bytes)) return false;
  void *grown = realloc(*array, bytes);
  if (!grown) return false;
  *array = grown;
  *capacity = larger;
  return true;
}

char *cavum_copy_text(const char *text) { return strdup(text ? text : ""); }

char *cavum_format_text(const char *format, ...) {
  char *text = NULL;
  va_list arguments;
  va_start(arguments, format);
  int length = vasprintf(&text, format, arguments);
  va_end(arguments);
  return length < 0 ? NULL : text;
}

bool cavum_to_int(int *out, int64_t value) {
  if (value < INT_MIN || value > INT_MAX) return false;
  *out = (int)value;
  return true;
}

int64_t cavum_whole(double value, int64_t otherwise) {
  // Beyond 2^53 doubles are whole, but not each whole number is one.
  return fabs(value) <= 0x1p53 && value == floor(value) ? (int64_t)value : otherwise;
}

int cavum_whole_int(double value, int otherwise) {
  int whole = otherwise;
  cavum_to_int(&whole, cavum_whole(value, otherwise));
  return whole;
}

double cavum_seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (double)now.tv_sec + cavum_from_unit((double)now.tv_nsec, CAVUM_UNIT_NS);
}
