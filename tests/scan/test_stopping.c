// SPDX-License-Identifier: GPL-3.0-or-later
// A scan that is told to stop ends soon, whatever its batches take, with all its processes, and
// leaves no temporary file.
#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/prctl.h>
#include <time.h>
#include <unistd.h>

#include "program.h"
#include "study_files.h"
#include "support.h"

enum { EXIT_STOPPED = 3 };

// Ten modes with both pairs of ends at high accuracy: a batch of this takes minutes, a shape less
// than a second.
#define SLOW_STUDY                                                                        \
  "cell: cell.yaml\nvary: {iris_radius_mm: {from: 31.0, to: 40.0}}\nmodes: {count: 10}\n" \
  "sampling: {kind: halton, points: 4096}\ncoupling: yes\nbatch: 1024\n"
#define SLOW_CELL \
  TEST_CELL "modes: {count: 10}\naccuracy: {frequency: 1.0e-11, other_figures: 1.0e-8}\n"

// All of these are excluded before anything is solved: there is much to gather at little cost.
#define LONG_STUDY                                                                     \
  "cell: cell.yaml\nvary: {iris_radius_mm: {from: 31.0, to: 40.0}}\nsampling: {kind: " \
  "sobol, points: 40000}\nlimits: {where: [iris_radius_mm < 1]}\n"

static study_files files;

#define run(...) program_run(files.folder, __VA_ARGS__)

static void tear_down(void) { temporary_folder_delete(files.folder); }

static void sleep_ms(double milliseconds) {
  struct timespec pause = {.tv_nsec = (long)(1e6 * milliseconds)};
  nanosleep(&pause, NULL);
}

static pid_t start(const char *option, const char *value) {
  char errors[192];
  snprintf(errors, sizeof errors, "%s/err", files.folder);
  pid_t process = fork();
  ck_assert_int_ge(process, 0);
  if (process == 0) {
    int log = open(errors, O_WRONLY | O_CREAT | O_TRUNC, 0666);
    dup2(log, STDERR_FILENO);
    execl(CAVUM_PROGRAM, "cavum", "scan", files.study, "-o", files.output, "-q", option, value,
          (char *)NULL);
    _exit(127);
  }
  return process;
}

static int count_workers(pid_t workers[8], pid_t process) {
  char path[96], line[256] = "", *next = line;
  int count = 0;
  snprintf(path, sizeof path, "/proc/%d/task/%d/children", (int)process, (int)process);
  FILE *children = fopen(path, "r");
  if (!children) return 0;
  if (!fgets(line, sizeof line, children)) line[0] = '\0';
  fclose(children);
  for (long worker; count < 8 && (worker = strtol(next, &next, 10)) > 0;) {
    workers[count++] = (pid_t)worker;
  }
  return count;
}

static void wait_for_workers(pid_t workers[8], pid_t process, int wanted) {
  int found = 0;
  for (int k = 0; k < 20000 && found < wanted; k++) {
    sleep_ms(1.0);
    found = count_workers(workers, process);
  }
  ck_assert_int_eq(found, wanted);
}

static bool is_temporary(const char *name) {
  size_t length = strlen(name);
  return length > 4 && strcmp(name + length - 4, ".tmp") == 0;
}

// Temporary files in the folder and in that of the parts.
static int count_temporaries(void) {
  char parts[224];
  int count = 0;
  snprintf(parts, sizeof parts, "%s.parts", files.output);
  const char *const folders[] = {files.folder, parts};
  for (int i = 0; i < 2; i++) {
    DIR *folder = opendir(folders[i]);
    for (struct dirent *entry; folder && (entry = readdir(folder));) {
      count += is_temporary(entry->d_name);
    }
    if (folder) closedir(folder);
  }
  return count;
}

START_TEST(a_long_batch_is_left) {
  int status = 0;
  pid_t workers[8];
  study_files_make(&files, SLOW_CELL, SLOW_STUDY);
  pid_t process = start("--workers", "2");
  wait_for_workers(workers, process, 2);
  sleep_ms(800.0);  // into the solves
  kill(process, SIGTERM);
  ck_assert_int_eq(waitpid(process, &status, 0), process);
  ck_assert(WIFEXITED(status) && WEXITSTATUS(status) == EXIT_STOPPED);
  const char *message = program_read_text(files.folder, "err");
  printf("%s", message);
  ck_assert_ptr_nonnull(strstr(message, "stopped with 0 of 4 batches stored; the same command"));
  ck_assert_int_eq(program_count_lines(message), 1);
}
END_TEST

// Orphans come to this process: each must have been killed, or have ended before it began because
// its watcher was gone; none have gone on and stored a batch.
START_TEST(no_worker_outlives_its_run) {
  int status = 0, first = _i == 0 ? SIGINT : SIGKILL;
  pid_t workers[8];
  ck_assert_int_eq(prctl(PR_SET_CHILD_SUBREAPER, 1), 0);
  study_files_make(&files, SLOW_CELL, SLOW_STUDY);
  pid_t process = start("--workers", "2");
  wait_for_workers(workers, process, 2);
  kill(process, first);
  kill(process, SIGINT);
  waitpid(process, &status, 0);
  if (WIFSIGNALED(status)) {
    for (int i = 0; i < 2; i++) {
      ck_assert_int_eq(waitpid(workers[i], &status, 0), workers[i]);
      ck_assert_msg(WIFSIGNALED(status) || WEXITSTATUS(status) == 0, "a worker ended with %d",
                    WEXITSTATUS(status));
    }
  } else {  // both signals came as one
    ck_assert_int_eq(WEXITSTATUS(status), EXIT_STOPPED);
  }
  ck_assert_int_eq(waitpid(-1, &status, WNOHANG), -1);  // there is nobody left
  ck_assert_int_ne(run("$CAVUM scan study.yaml -q -o out.hdf --gather"), 0);
  const char *message = program_read_text(files.folder, "err");
  ck_assert_msg(strstr(message, "4 of 4 batches are missing"), "%s", message);
}
END_TEST

// Stops a gathering once its temporary file is there; true when it was stopped.
static bool stop_gathering(int signal_number) {
  int status = 0;
  pid_t process = start("--gather", NULL);
  while (count_temporaries() == 0 && waitpid(process, &status, WNOHANG) == 0) sleep_ms(0.2);
  kill(process, signal_number);
  waitpid(process, &status, 0);
  if (signal_number == SIGKILL) return WIFSIGNALED(status);
  ck_assert_msg(WIFEXITED(status), "ended by signal %d", WTERMSIG(status));
  ck_assert_int_eq(count_temporaries(), 0);
  if (WEXITSTATUS(status) == 0) return false;
  ck_assert_int_eq(WEXITSTATUS(status), EXIT_STOPPED);
  const char *message = program_read_text(files.folder, "err");
  ck_assert_ptr_nonnull(strstr(message, "stopped while its parts were gathered; they are kept"));
  ck_assert_int_eq(program_count_lines(message), 1);
  return true;
}

START_TEST(gathering_is_stopped) {
  const int signals[] = {SIGTERM, SIGINT, SIGHUP, SIGKILL};
  bool stopped = false;
  study_files_make(&files, STUDY_CELL, LONG_STUDY);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf -q --keep-parts"), 1);  // none is done
  ck_assert_int_eq(run("mv out.hdf reference.hdf"), 0);
  for (int i = 0; i < 20 && !stopped; i++) {
    ck_assert_int_eq(run("rm -f out.hdf; [ -e out.hdf.parts ] || $CAVUM scan study.yaml -o out.hdf "
                         "-q --part 1/1"),
                     0);
    stopped = stop_gathering(signals[_i]);
  }
  ck_assert(stopped);
  ck_assert_int_eq(run("[ ! -e out.hdf ] && $CAVUM scan study.yaml -o out.hdf -q --gather"), 1);
  ck_assert_int_eq(run("cmp out.hdf reference.hdf && [ ! -e out.hdf.parts ]"), 0);
  ck_assert_int_eq(count_temporaries(), 0);
}
END_TEST

// Part 1 of 1 is a part like any other: it is computed, and gathered by --gather alone.
START_TEST(the_only_part_is_not_gathered) {
  study_files_make(&files, STUDY_CELL,
                   "cell: cell.yaml\nvary: {iris_radius_mm: [34, 35, 36]}\nbatch: 1\n");
  ck_assert_int_eq(run("$CAVUM scan study.yaml -q -o out.hdf --part 1/1"), 0);
  ck_assert_int_eq(run("[ ! -e out.hdf ] && [ -e out.hdf.parts ]"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -q -o out.hdf --part 1/1 --csv rows.csv"), 2);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -q -o out.hdf --part 1/1 --gather"), 2);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -q -o out.hdf --gather && [ -e out.hdf ]"), 0);
  ck_assert_int_eq(run("[ ! -e out.hdf.parts ]"), 0);
}
END_TEST

// A link and the file behind it are one output, whether that file is there yet or not.
START_TEST(a_link_is_the_same_output) {
  pid_t workers[8];
  int status = 0;
  study_files_make(&files, SLOW_CELL, SLOW_STUDY);
  ck_assert_int_eq(run("mkdir there && ln -s ../out.hdf there/link.hdf"), 0);
  pid_t process = start("--workers", "1");
  wait_for_workers(workers, process, 1);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -q -o there/link.hdf"), 2);
  const char *message = program_read_text(files.folder, "err");
  ck_assert_msg(strstr(message, "another run computes it already"), "%s", message);
  ck_assert_int_eq(run("[ \"$(ls there)\" = link.hdf ]"), 0);
  kill(process, SIGKILL);
  waitpid(process, &status, 0);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, NULL, tear_down);
  tcase_add_test(tests, a_long_batch_is_left);
  tcase_add_loop_test(tests, no_worker_outlives_its_run, 0, 2);
  tcase_add_loop_test(tests, gathering_is_stopped, 0, 4);
  tcase_add_test(tests, the_only_part_is_not_gathered);
  tcase_add_test(tests, a_link_is_the_same_output);
}

CAVUM_TEST_MAIN("stopping", add)
