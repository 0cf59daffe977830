// SPDX-License-Identifier: GPL-3.0-or-later
// Faults for a whole program, by LD_PRELOAD: scripts/torture compiles this. CAVUM_FAULT_LOCK is the
// number of the error that every record lock fails with; CAVUM_FAULT_CLOCK the seconds by which
// every clock jumps, forward or back, at every look at it.
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdlib.h>
#include <sys/time.h>
#include <time.h>

typedef int fcntl_function(int, int, ...);
typedef int clock_function(clockid_t, struct timespec *);

static int lock_error(int command) {
  const char *number = getenv("CAVUM_FAULT_LOCK");
  return command == F_SETLK && number ? atoi(number) : 0;
}

static int control(const char *name, int descriptor, int command, void *argument) {
  errno = lock_error(command);
  if (errno != 0) return -1;
  fcntl_function *real = (fcntl_function *)dlsym(RTLD_NEXT, name);
  return real(descriptor, command, argument);
}

int fcntl(int descriptor, int command, ...) {
  va_list list;
  va_start(list, command);
  void *argument = va_arg(list, void *);
  va_end(list);
  return control("fcntl", descriptor, command, argument);
}

int fcntl64(int descriptor, int command, ...) {
  va_list list;
  va_start(list, command);
  void *argument = va_arg(list, void *);
  va_end(list);
  return control("fcntl64", descriptor, command, argument);
}

static time_t jump(void) {
  static unsigned looks;
  const char *size = getenv("CAVUM_FAULT_CLOCK");
  if (!size) return 0;
  looks = looks * 1103515245U + 12345U;
  long long largest = atoll(size);
  return (time_t)(largest * ((long long)(looks >> 16 & 255U) - 128) / 128);
}

int clock_gettime(clockid_t clock, struct timespec *now) {
  clock_function *real = (clock_function *)dlsym(RTLD_NEXT, "clock_gettime");
  int result = real(clock, now);
  if (result == 0) now->tv_sec += jump();
  return result;
}

time_t time(time_t *now) {
  struct timespec told = {0};
  (void)clock_gettime(CLOCK_REALTIME, &told);
  if (now) *now = told.tv_sec;
  return told.tv_sec;
}

int gettimeofday(struct timeval *restrict now, void *restrict zone) {
  struct timespec told = {0};
  (void)zone;
  (void)clock_gettime(CLOCK_REALTIME, &told);
  *now = (struct timeval){told.tv_sec, told.tv_nsec / 1000};
  return 0;
}
