// SPDX-License-Identifier: GPL-3.0-or-later
// The real program under fire: SIGKILL at random moments, SIGTERM, a full disk, parts; the same
// bytes come out every time.
#include <fcntl.h>
#include <signal.h>
#include <time.h>
#include <unistd.h>

#include "program.h"
#include "study_files.h"
#include "support.h"

// With sanitizers everything takes ten times as long.
#ifdef CAVUM_SANITIZED
enum { KILLS = 10, STOPS = 4, LONG_FACTOR = 1 };
#define SHAPES "40"
#define CSV_LINES "41"
#else
enum { KILLS = 20, STOPS = 5, LONG_FACTOR = 3 };
#define SHAPES "200"
#define CSV_LINES "201"
#endif
enum { EXIT_STOPPED = 3, EXIT_FILE = 2, EXIT_MISSING = 1 };

// Some shapes of this study cannot exist, so reasons are at stake too.
#define STUDY                                              \
  "cell: cell.yaml\n"                                      \
  "vary:\n"                                                \
  "  iris_radius_mm: {from: 31.0, to: 50.0}\n"             \
  "  half_length_mm: {from: 40.0, to: 60.0}\n"             \
  "sampling: {kind: halton, points: " SHAPES               \
  ", seed: 7}\n"                                           \
  "hold: {frequency_MHz: 1300.0, by: equator_radius_mm}\n" \
  "batch: 4\n"

// CAVUM_LONG_TESTS=1 asks for more.
static int some_of(int count) { return getenv("CAVUM_LONG_TESTS") ? count * LONG_FACTOR : count; }

static study_files files;
// Where the result of an undisturbed run is; made once for all tests.
static char reference_folder[128];

#define run(...) program_run(files.folder, __VA_ARGS__)

static void make_reference(void) {
  study_files_make(&files, STUDY_CELL, STUDY);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o reference.hdf --workers 1 -q"), 0);
  memcpy(reference_folder, files.folder, sizeof reference_folder);
}

static void delete_reference(void) { temporary_folder_delete(reference_folder); }

static void set_up(void) {
  study_files_make(&files, STUDY_CELL, STUDY);
  ck_assert_int_eq(run("cp %s/reference.hdf .", reference_folder), 0);
}

static void tear_down(void) { temporary_folder_delete(files.folder); }

static pid_t start(void) {
  pid_t process = fork();
  ck_assert_int_ge(process, 0);
  if (process == 0) {
    int log = open("/dev/null", O_WRONLY);
    dup2(log, STDERR_FILENO);
    execl(CAVUM_PROGRAM, "cavum", "scan", files.study, "-o", files.output, "--workers", "2", "-q",
          (char *)NULL);
    _exit(127);
  }
  return process;
}

// One of the workers of a process; 0 when it has none at the moment.
static pid_t a_worker_of(pid_t process, unsigned pick) {
  char path[96];
  int workers[8], count = 0;
  snprintf(path, sizeof path, "/proc/%d/task/%d/children", (int)process, (int)process);
  FILE *children = fopen(path, "r");
  if (!children) return 0;
  while (count < 8 && fscanf(children, "%d", &workers[count]) == 1) count++;
  fclose(children);
  return count > 0 ? workers[pick % (unsigned)count] : 0;
}

static void sleep_ms(double milliseconds) {
  struct timespec pause = {.tv_nsec = (long)(1e6 * milliseconds)};
  nanosleep(&pause, NULL);
}

// On a busy machine a program takes long to start.
static void wait_for_a_worker(pid_t process) {
  for (int k = 0; k < 5000 && a_worker_of(process, 0) <= 0; k++) sleep_ms(1.0);
}

// Runs until it ends by itself or is killed; counts the kills.
static bool run_under_fire(unsigned *seed, int *kills) {
  pid_t process = start();
  for (;;) {
    int status = 0;
    sleep_ms(1.0 + 60.0 * rand_r(seed) / RAND_MAX);
    if (waitpid(process, &status, WNOHANG) == process) {
      ck_assert_msg(WIFEXITED(status) && WEXITSTATUS(status) == 0, "status %x", status);
      return true;
    }
    if (*kills >= some_of(KILLS)) continue;
    bool the_watcher = rand_r(seed) % 2 == 0;
    pid_t victim = the_watcher ? process : a_worker_of(process, (unsigned)rand_r(seed));
    if (victim <= 0) continue;
    kill(victim, SIGKILL);
    ++*kills;
    if (!the_watcher) continue;
    waitpid(process, &status, 0);
    return false;
  }
}

START_TEST(killed_at_random_moments) {
  unsigned seed = 20240607;  // any
  int kills = 0, finished = 0;
  setenv("LLVM_PROFILE_FILE", "/dev/null", 1);  // counts of lines that a kill would cut
  while (kills < some_of(KILLS) || finished == 0) {
    if (!run_under_fire(&seed, &kills)) continue;
    finished++;
    ck_assert_int_eq(run("cmp out.hdf reference.hdf && rm out.hdf && [ ! -e out.hdf.parts ]"), 0);
  }
  printf("%d kills, %d whole scans, the same bytes each time\n", kills, finished);
  // A worker of a killed run may still be finishing its batch in the folder.
  sleep_ms(500.0);
}
END_TEST

START_TEST(told_to_stop) {
  int stops = 0;
  for (unsigned i = 0; i < 50 && stops < some_of(STOPS); i++) {
    int status = 0;
    pid_t process = start();
    if (i >= 10) wait_for_a_worker(process);
    sleep_ms(30.0 + 3.0 * i);
    kill(process, i % 2 ? SIGTERM : SIGINT);
    waitpid(process, &status, 0);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0) break;
    // Before the handlers stand, a signal ends the program as any other.
    bool early = WIFSIGNALED(status);
    ck_assert_msg(early || (WIFEXITED(status) && WEXITSTATUS(status) == EXIT_STOPPED), "%x",
                  status);
    stops += !early;
  }
  printf("stopped %d times\n", stops);
  ck_assert_int_gt(stops, 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf -q && cmp out.hdf reference.hdf"), 0);
}
END_TEST

// Schedulers send a signal to a process group more than once: the batches in flight are finished
// all the same.
START_TEST(told_to_stop_more_than_once) {
  int stops = 0;
  for (unsigned i = 0; i < 20 && stops < some_of(STOPS); i++) {
    int status = 0;
    pid_t process = start();
    wait_for_a_worker(process);
    sleep_ms(3.0 * i);
    for (int k = 0; k < 3; k++) {
      kill(process, k % 2 ? SIGHUP : SIGTERM);
      sleep_ms(0.3);
      kill(process, k % 2 ? SIGHUP : SIGTERM);
    }
    waitpid(process, &status, 0);
    ck_assert_msg(WIFEXITED(status), "killed by signal %d", WTERMSIG(status));
    if (WEXITSTATUS(status) == 0) break;
    ck_assert_int_eq(WEXITSTATUS(status), EXIT_STOPPED);
    stops++;
  }
  printf("stopped %d times\n", stops);
  ck_assert_int_gt(stops, 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf -q && cmp out.hdf reference.hdf"), 0);
}
END_TEST

// A worker that dies of its own fault (here it only looks so) costs the shape at hand, which
// becomes a row, and nothing else.
START_TEST(a_shape_that_kills_its_worker_is_a_row) {
  int crashed = 0;
  for (unsigned i = 0; i < 50 && !crashed; i++) {
    int status = 0;
    pid_t process = start(), victim = 0;
    for (int k = 0; k < 200 && victim <= 0; k++) {
      sleep_ms(5.0);
      victim = a_worker_of(process, i);
    }
    sleep_ms(10.0 + i);
    if (victim > 0) kill(victim, SIGABRT);
    waitpid(process, &status, 0);
    ck_assert(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    crashed =
        run("$CAVUM scan --summary out.hdf --json - | grep -qE '\"crashed\": 1([,}]|$)'") == 0;
    ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --csv rows.csv -q && "
                         "[ $(wc -l <rows.csv) = " CSV_LINES " ] && rm out.hdf"),
                     0);
  }
  ck_assert(crashed);
}
END_TEST

// The limit stands in for a full disk: writes beyond it fail. 8 blocks, of half a kilobyte or a
// whole one, hold a batch or two.
START_TEST(full_disk_stops_and_resumes) {
  ck_assert_int_eq(run(SMALL_FILES "ulimit -f 8; $CAVUM scan study.yaml -o out.hdf --workers 2 -q"),
                   EXIT_FILE);
  const char *message = program_read_text(files.folder, "err");
  ck_assert_msg(strstr(message, "cannot be written"), "%s", message);
  ck_assert_int_eq(run("[ ! -e out.hdf ]"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --json - >progress"), 0);
  ck_assert_int_eq(run("cmp out.hdf reference.hdf && grep -q shapes_before progress && "
                       "! grep -q '\"shapes_before\":0,' progress"),
                   0);
}
END_TEST

// Wherever the disk is full while the result is written, one line says so, and the parts are kept.
START_TEST(gathering_onto_a_full_disk) {
  int full = 0, status = EXIT_FILE;
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --part 1/2 -q"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --part 2/2 -q"), 0);
  for (int blocks = 1; status != 0 && blocks < 100000; blocks += 1 + blocks / 3) {
    status = run(SMALL_FILES "ulimit -f %d; $CAVUM scan study.yaml -o out.hdf --gather -q", blocks);
    if (status == 0) break;
    ck_assert_int_eq(status, EXIT_FILE);
    const char *message = program_read_text(files.folder, "err");
    ck_assert_msg(strstr(message, "out.hdf") && strstr(message, "cannot be written"), "%s",
                  message);
    ck_assert_int_eq(program_count_lines(message), 1);
    ck_assert_int_eq(
        run("[ ! -e out.hdf ] && [ -e out.hdf.parts ] && [ -z \"$(ls -A | grep tmp)\" ]"), 0);
    full++;
  }
  ck_assert_int_gt(full, 5);
  ck_assert_int_eq(run("cmp out.hdf reference.hdf"), 0);
}
END_TEST

START_TEST(any_division_gives_the_same_bytes) {
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --part 2/3 -q"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --gather -q"), EXIT_MISSING);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --part 5/7 --workers 3 -q"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --part 1/3 -q"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --part 3/3 -q"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --gather -q"), 0);
  ck_assert_int_eq(run("cmp out.hdf reference.hdf && [ ! -e out.hdf.parts ]"), 0);
  // What is complete is not computed again.
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf 2>&1 | grep -q complete"), 0);
}
END_TEST

// A second run of what is being computed ends at once; parts run side by side.
START_TEST(two_runs_at_once) {
  int status = 0;
  pid_t process = start();
  wait_for_a_worker(process);
  kill(process, SIGSTOP);  // it holds its claim however long the second takes to start
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf -q"), EXIT_FILE);
  const char *message = program_read_text(files.folder, "err");
  ck_assert_msg(strstr(message, "another run computes it already (process"), "%s", message);
  kill(process, SIGCONT);
  waitpid(process, &status, 0);
  ck_assert(WIFEXITED(status) && WEXITSTATUS(status) == 0);
  ck_assert_int_eq(run("cmp out.hdf reference.hdf && [ ! -e out.hdf.parts ] && rm out.hdf"), 0);
  ck_assert_int_eq(
      run("$CAVUM scan study.yaml -o out.hdf --part 1/2 -q & a=$!; "
          "$CAVUM scan study.yaml -o out.hdf --part 2/2 -q && wait $a && "
          "$CAVUM scan study.yaml -o out.hdf --gather -q && cmp out.hdf reference.hdf"),
      0);
}
END_TEST

// In a process group of its own, so that its workers can be held as well.
static pid_t start_group(const char *option, const char *value) {
  pid_t process = fork();
  ck_assert_int_ge(process, 0);
  if (process == 0) {
    int log = open("/dev/null", O_WRONLY);
    dup2(log, STDERR_FILENO);
    setpgid(0, 0);
    execl(CAVUM_PROGRAM, "cavum", "scan", files.study, "-o", files.output, "-q", option, value,
          (char *)NULL);
    _exit(127);
  }
  setpgid(process, process);
  return process;
}

// Another run gathers, and removes the records, in the middle of a run: that one ends well too,
// since the result is there, whether it was to compute all of it or a part.
START_TEST(gathered_by_another_run_meanwhile) {
  const char *const options[][2] = {{"--workers", "1"}, {"--part", "2/3"}};
  int status = 0;
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --part 1/2 -q"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --part 2/2 -q"), 0);
  ck_assert_int_eq(run("mv out.hdf.parts kept"), 0);
  pid_t process = start_group(options[_i][0], options[_i][1]);
  wait_for_a_worker(process);
  kill(-process, SIGSTOP);
  ck_assert_int_eq(run("cp -r kept/of-00002 out.hdf.parts/"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --gather -q"), 0);
  kill(-process, SIGCONT);
  waitpid(process, &status, 0);
  ck_assert_msg(WIFEXITED(status) && WEXITSTATUS(status) == 0, "%x", status);
  ck_assert_int_eq(run("cmp out.hdf reference.hdf"), 0);
}
END_TEST

// While another run computes, a gather says what is missing and takes nothing away.
START_TEST(gathering_while_another_run_computes) {
  int status = 0;
  pid_t process = start_group("--workers", "1");
  wait_for_a_worker(process);
  kill(-process, SIGSTOP);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --gather -q"), EXIT_MISSING);
  const char *message = program_read_text(files.folder, "err");
  ck_assert_ptr_nonnull(strstr(message, "batches are missing"));
  ck_assert_int_eq(program_count_lines(message), 1);
  ck_assert_int_eq(run("[ -e out.hdf.parts ] && [ ! -e out.hdf ]"), 0);
  kill(-process, SIGCONT);
  waitpid(process, &status, 0);
  ck_assert_msg(WIFEXITED(status) && WEXITSTATUS(status) == 0, "%x", status);
  ck_assert_int_eq(run("cmp out.hdf reference.hdf && [ ! -e out.hdf.parts ]"), 0);
}
END_TEST

// A run that crashed leaves the file of its lock, and no lock.
START_TEST(no_lock_outlives_a_crash) {
  int status = 0;
  pid_t process = start();
  wait_for_a_worker(process);
  kill(process, SIGKILL);
  waitpid(process, &status, 0);
  ck_assert(WIFSIGNALED(status));
  ck_assert_int_eq(run("ls out.hdf.parts/of-00001/*.lock"), 0);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf -q && cmp out.hdf reference.hdf"), 0);
}
END_TEST

// A study without a single shape that is done is no success; its reasons are whole and counted.
START_TEST(nothing_done_is_no_success) {
  program_write_text(files.folder, "hopeless.yaml",
                     "cell: cell.yaml\nvary: {iris_radius_mm: [140.0, 141.5, 143.0]}\n");
  for (int k = 0; k < 2; k++) {  // the second time the result is there already
    ck_assert_int_eq(run("$CAVUM scan hopeless.yaml -o h.hdf --csv h.csv -q"), EXIT_MISSING);
    ck_assert_ptr_nonnull(strstr(program_read_text(files.folder, "err"), "no shape is done"));
  }
  ck_assert_int_eq(run("tail -n 1 h.csv | grep -q '\"left half: the iris radius (143 mm) must be "
                       "smaller than the equator radius (103.3 mm)\"$'"),
                   0);
  ck_assert_int_eq(run("$CAVUM scan --summary h.hdf | grep -q ' 3  *0  left half: the iris radius "
                       "(# mm) must be'"),
                   0);
}
END_TEST

START_TEST(csv_and_summary) {
  ck_assert_int_eq(run("$CAVUM scan --summary reference.hdf --csv rows.csv >summary"), 0);
  ck_assert_int_eq(run("[ $(wc -l <rows.csv) = " CSV_LINES " ] && head -n 1 rows.csv | grep -q "
                       "'^shape,status,solves,contour.iris_radius_mm,'"),
                   0);
  ck_assert_int_eq(run("grep -q no-shape rows.csv && grep -q 'Non-dominated' summary"), 0);
  ck_assert_int_eq(run("$CAVUM scan --summary reference.hdf --aims nothing"), EXIT_FILE);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_unchecked_fixture(tests, make_reference, delete_reference);
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, killed_at_random_moments);
  tcase_add_test(tests, told_to_stop);
  tcase_add_test(tests, told_to_stop_more_than_once);
  tcase_add_test(tests, a_shape_that_kills_its_worker_is_a_row);
  tcase_add_test(tests, full_disk_stops_and_resumes);
  tcase_add_test(tests, gathering_onto_a_full_disk);
  tcase_add_test(tests, any_division_gives_the_same_bytes);
  tcase_add_test(tests, two_runs_at_once);
  tcase_add_loop_test(tests, gathered_by_another_run_meanwhile, 0, 2);
  tcase_add_test(tests, gathering_while_another_run_computes);
  tcase_add_test(tests, no_lock_outlives_a_crash);
  tcase_add_test(tests, nothing_done_is_no_success);
  tcase_add_test(tests, csv_and_summary);
}

CAVUM_TEST_MAIN("durability", add)
