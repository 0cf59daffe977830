// SPDX-License-Identifier: GPL-3.0-or-later
// No output of any command may take the place of a file that the command reads, whichever file
// names it and however it is spelt. Names without an ending: nothing but the list of what is read
// can tell.
#include <stdbool.h>
#include <stdlib.h>

#include "program.h"
#include "study_files.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)
#define read_text(name) program_read_text(folder, name)
#define write_text(name, text) program_write_text(folder, name, text)

// A pillbox as it is drawn, and points of its side.
#define DRAWING                                                 \
  "accelerating_length_mm: 100\n"                               \
  "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n"     \
  "  path:\n"                                                   \
  "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"      \
  "    - {line_to: {z_mm: 50, r_mm: 88}, boundary: electric}\n" \
  "    - {line_to: {z_mm: -50, r_mm: 88}, boundary: metal}\n"   \
  "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}\n"
#define MEASURED                                                                  \
  "accelerating_length_mm: 100\n"                                                 \
  "contour: {kind: measured, file: sub/points, drawing: drawing, scatter_um: 2, " \
  "best_fit: none}\n"
#define VARY "vary: {iris_radius_mm: {from: 33.0, to: 36.0, points: 3}}\n"
#define VARY_MEASURED "vary: {beta: {from: 0.9, to: 1.0, points: 2}}\n"
#define GOAL                                             \
  "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n" \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"            \
  "limits: {wall_angle_deg: {least: 5}}\nstarts: 1\n"
#define CHAIN "steps:\n  - {name: bulk, remove: {depth_um: 100}}\n"

static void write_points(void) {
  char path[192];
  snprintf(path, sizeof path, "%s/sub/points", folder);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs("z_mm,r_mm\n", file);
  for (int i = 0; i < 200; i++) fprintf(file, "%g,88.02\n", 0.5 * i - 49.75);
  fclose(file);
}

static void make_files(void) {
  temporary_folder_make(folder);
  ck_assert_int_eq(run("mkdir sub kept"), 0);
  write_points();
  write_text("cell", STUDY_CELL);
  write_text("other", STUDY_CELL);
  write_text("drawing", DRAWING);
  write_text("measured", MEASURED);
  write_text("meshed", "contour: {kind: mesh, file: mesh, unit: mm, axis: x}\n");
  write_text("shop", "tolerances:\n  iris_radius_mm: {normal: 0.1}\n");
  write_text("study", "cell: cell\n" VARY);
  write_text("measured-study", "cell: measured\n" VARY_MEASURED);
  write_text("table", "iris_radius_mm\n34\n35\n");
  write_text("table-study", "cell: cell\ntable: table\n");
  write_text("goal", "cell: cell\n" GOAL "robust: {deviations: 2, tolerances: shop}\n");
  write_text("shared-goal", "cell: cell\ncells: {end: {cell: other}}\n" GOAL);
  write_text("front-goal",
             "cell: cell\nvary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
             "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
             "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
             "front: {epk_over_eacc: {from: 1.9, to: 2.1, points: 2}}\n");
  write_text("chain", "cell: cell\n" CHAIN);
  write_text("measured-chain", "cell: measured\n" CHAIN);
  ck_assert_int_eq(
      run("cp $CELLS/coldtest/readings.csv readings && "
          "cp $CELLS/coldtest/decay.csv decay && "
          "sed 's/readings.csv/readings/; s/decay.csv/decay/' "
          "$CELLS/coldtest/injector-test.yaml >test && "
          "sed 's/^geometry:/geometry: {result: result}\\nignored:/' test | "
          "awk '/^ignored:/{skip = 1; next} /^[a-z]/{skip = 0} !skip' >result-test && "
          "cp test test.yaml && cp result-test result-test.yaml && "
          "for e in svg html; do cp readings readings.$e; cp decay decay.$e; "
          "sed \"s/: readings\\>/&.$e/; s/: decay\\>/&.$e/\" test >$e-test.yaml; done"),
      0);
  // Names that are made of the ones asked for are an input's.
  write_text("new.sources.json", "cell: cell\n" VARY);
  write_text("new-end", STUDY_CELL);
  write_text("new-two-ellipse", STUDY_CELL);
  write_text("derived-goal", "cell: cell\ncells: {end: {cell: new-end}}\n" GOAL);
  write_text("free-goal", "cell: new-two-ellipse\n" GOAL "free_wall: {points: 6, within_mm: 3}\n");
  ck_assert_int_eq(
      run("$CAVUM mesh -q cell -o mesh && $CAVUM solve -q cell -o result && "
          "$CAVUM scan -q study -o scan && $CAVUM coldtest -q --linear test -o tested "
          "&& cp result result-b && cp scan scan-b && cp result result.svg && cp scan scan.html "
          "&& cp scan scan.svg && cp tested tested.svg && cp result result.html"),
      0);
  ck_assert_int_eq(run("for f in * sub/points; do [ -f $f ] || continue; cp $f kept/; "
                       "ln -s ../$f sub/soft-${f##*/}; ln $f sub/hard-${f##*/}; done && "
                       "ln -s further sub/ahead && ln -s ../new sub/further && "
                       "{ md5sum * sub/* 2>&1 | grep -v -e out$ -e err$ -e directory$ >kept/sums; "
                       "} && grep -q sub/hard-cell kept/sums"),
                   0);
}

static void delete_files(void) { temporary_folder_delete(folder); }

/** A command with the options that name its outputs and the files that it reads. */
typedef struct kept_row {
  const char *command, *options, *inputs;
} kept_row;

static const kept_row rows[] = {
    {"solve cell", "-o --json", "cell"},
    {"solve meshed", "-o --json", "meshed mesh"},
    {"solve measured", "-o --json", "measured sub/points drawing"},
    {"mesh meshed", "-o", "meshed mesh"},
    {"mesh measured", "-o", "measured sub/points drawing"},
    {"mesh -o new measured", "--json", "measured sub/points drawing"},
    {"as-built measured", "-o --json", "measured sub/points drawing"},
    {"tolerances cell --from shop", "-o --json", "cell shop"},
    {"tolerances measured --from shop", "-o --json", "measured sub/points drawing shop"},
    {"tune cell --set frequency_MHz=1300 --by iris_radius_mm", "-o --json", "cell"},
    {"tune measured --set frequency_MHz=1300 --by beta", "-o --json",
     "measured sub/points drawing"},
    {"steps chain", "-o --json --cell", "chain cell"},
    {"steps measured-chain", "-o --json --cell", "measured-chain measured sub/points drawing"},
    {"optimise goal", "-o --cell --json", "goal cell shop"},
    {"optimise shared-goal", "-o --cell --json", "shared-goal cell other"},
    {"optimise front-goal", "-o", "front-goal cell"},
    {"optimise --part 1/2 goal", "-o", "goal cell shop"},
    {"optimise --gather goal -o new", "--cell --json", "goal cell shop"},
    {"scan study -o made", "--csv --json", "study cell"},
    {"scan --estimate measured-study", "--json", "measured-study measured sub/points drawing"},
    {"scan table-study", "-o", "table-study table cell"},
    {"scan --part 1/2 table-study", "-o", "table-study table cell"},
    {"scan --gather study -o new", "--csv", "study cell"},
    {"scan measured-study", "-o", "measured-study measured sub/points drawing"},
    {"scan measured-study -o new", "--csv", "measured-study measured sub/points drawing"},
    {"scan --summary scan", "--csv --json", "scan"},
    {"scan --shape 1 scan", "-o", "scan"},
    {"scan --merge scan scan-b", "-o", "scan scan-b"},
    {"coldtest --linear test", "-o --json --csv --report", "test readings decay"},
    {"coldtest --linear result-test", "-o --json --csv --report", "result-test result readings"},
    {"coldtest --plan test", "-o --json", "test"},
    {"report result", "-o", "result"},
    {"report result -o new", "--json", "result"},
    {"draw result -o n.png", "--json", "result"},
    {"compare result result-b", "--json", "result result-b"},
    {"compare scan scan-b", "--json", "scan scan-b"},
    // Pictures and pages have their ending, which an input may have as well.
    {"draw result.svg", "-o", "result.svg"},
    {"report scan.html", "-o", "scan.html"},
    {"compare result.svg result-b", "-o", "result.svg"},
    {"draw result result.svg", "-o", "result.svg"},
    {"draw scan.svg", "-o", "scan.svg"},
    {"draw tested.svg", "-o", "tested.svg"},
    {"report result.html", "-o", "result.html"},
    {"compare scan.html scan-b", "-o", "scan.html"},
    {"compare result result.html", "-o", "result.html"},
    {"coldtest --linear svg-test.yaml", "--picture", "readings.svg decay.svg"},
    {"coldtest --plan svg-test.yaml", "--picture", "readings.svg"},
    {"coldtest --linear html-test.yaml", "--report", "readings.html decay.html"},
    {"compare test.yaml svg-test.yaml", "-o", "readings.svg decay.svg"},
    {"compare html-test.yaml test.yaml", "-o", "readings.html decay.html"},
    {"compare test.yaml result-test.yaml", "--json --csv",
     "test.yaml readings decay result-test.yaml result"},
};

enum { MOST_WORDS = 8, WORD_SIZE = 64 };

// Words of a list with blanks; gives their number.
static int split(char words[MOST_WORDS][WORD_SIZE], const char *list) {
  int count = 0, length = 0;
  for (; sscanf(list, "%63s%n", words[count], &length) == 1; list += length) count++;
  return count;
}

// How an input is spelt as an output: in turn as it is, by two detours, by links.
static void spell(char text[2 * WORD_SIZE], const char *input, int way) {
  static const char *const forms[] = {"%s", "./%s", "sub/../%s", "sub/soft-%s", "sub/hard-%s"};
  const char *slash = strrchr(input, '/'), *name = slash && way >= 3 ? slash + 1 : input;
  snprintf(text, 2 * WORD_SIZE, forms[way], name);
}

enum { NUM_WAYS = 5 };

// True when the command is refused in one line that says why, and all files are as they were.
static bool is_refused(const char *command, const char *option, const char *target,
                       const char *words, const char *last) {
  int status = run("$CAVUM %s %s %s %s", command, option, target, last);
  const char *message = read_text("err");
  bool good = status == 2 && program_count_lines(message) == 1 && strstr(message, words);
  if (!good) printf("  not refused in one line: exit %d, '%.300s'\n", status, message);
  int same =
      run("md5sum --status -c kept/sums || { for f in kept/*; do n=${f##*/}; "
          "[ -f $n ] || n=sub/$n; cmp $f $n || cp $f $n; done; false; }");
  return good && same == 0;
}

// With --overwrite every input is tried and every output; each with each, and in all spellings,
// when long tests are asked for: a command declares one list for all its outputs, and what is the
// same file does not depend on who asks.
START_TEST(no_output_replaces_an_input) {
  char options[MOST_WORDS][WORD_SIZE], inputs[MOST_WORDS][WORD_SIZE], target[2 * WORD_SIZE];
  const kept_row *row = &rows[_i];
  int num_options = split(options, row->options), num_inputs = split(inputs, row->inputs);
  bool all = getenv("CAVUM_LONG_TESTS") != NULL, good = true;
  int longest = num_options > num_inputs ? num_options : num_inputs;
  int count = all ? num_options * num_inputs * NUM_WAYS : longest;
  for (int k = 0; k < count; k++) {
    int option = all ? k / NUM_WAYS / num_inputs : k % num_options;
    int input = all ? k / NUM_WAYS % num_inputs : k % num_inputs;
    spell(target, inputs[input], all ? k % NUM_WAYS : (_i + k) % NUM_WAYS);
    good &= is_refused(row->command, options[option], target, "which this command reads",
                       "--overwrite");
  }
  good &= is_refused(row->command, options[0], inputs[num_inputs - 1], "", "");
  ck_assert_int_ne(run("[ -e new ]"), 0);
  ck_assert_msg(good, "cavum %s: see above", row->command);
}
END_TEST

// What one name makes others of: those are guarded as it is itself.
START_TEST(no_derived_name_replaces_an_input) {
  static const struct {
    const char *command, *option;
  } makers[] = {{"scan new.sources.json", "-o"},
                {"optimise derived-goal", "--cell"},
                {"optimise free-goal", "--cell"}};
  bool good = is_refused(makers[_i].command, makers[_i].option, "new", "which this command reads",
                         "--overwrite");
  ck_assert_int_ne(run("[ -e new ]"), 0);
  ck_assert_msg(good, "cavum %s: see above", makers[_i].command);
}
END_TEST

// Two outputs in one file, by a detour, by a link to what is still to come, and by a name that
// some file systems take for the same: the second would replace the first.
START_TEST(no_output_replaces_another) {
  char options[MOST_WORDS][WORD_SIZE], rest[2 * WORD_SIZE];
  const kept_row *row = &rows[_i];
  int num_options = split(options, row->options);
  bool good = true;
  bool all = getenv("CAVUM_LONG_TESTS") != NULL;
  for (int k = 0; k < (num_options - 1) * (all ? 3 : 1); k++) {
    static const char *const spelt[] = {"sub/../new", "sub/ahead", "./NEW"};
    int o = 1 + k % (num_options - 1), way = all ? k / (num_options - 1) : (_i + o) % 3;
    snprintf(rest, sizeof rest, "%s %s", options[o], spelt[way]);
    good &= is_refused(row->command, options[0], "new", " as well", rest);
  }
  ck_assert_msg(good, "cavum %s: see above", row->command);
  ck_assert_int_ne(run("[ -e new ]"), 0);
}
END_TEST

static void add_tests(TCase *tests) {
  const int count = sizeof rows / sizeof rows[0];
  tcase_add_unchecked_fixture(tests, make_files, delete_files);
  tcase_add_loop_test(tests, no_output_replaces_an_input, 0, count);
  tcase_add_loop_test(tests, no_output_replaces_another, 0, count);
  tcase_add_loop_test(tests, no_derived_name_replaces_an_input, 0, 3);
}

CAVUM_TEST_MAIN("inputs kept", add_tests)
