// SPDX-License-Identifier: GPL-3.0-or-later
// Studies that grow, through the real program: what was computed is used again, also from a result
// that was gathered, and the bytes are those of a study that was computed at once.
#include "program.h"
#include "study_files.h"
#include "support.h"

enum { EXIT_REFUSED = 2, EXIT_MISSING = 1 };

// Some of these shapes cannot exist, so reasons are at stake too.
#define STUDY_OF(points)                                     \
  "cell: cell.yaml\n"                                        \
  "vary:\n"                                                  \
  "  iris_radius_mm: {from: 31.0, to: 50.0}\n"               \
  "  half_length_mm: {from: 40.0, to: 60.0}\n"               \
  "linked: ['iris_ellipse.axial_mm = iris_radius_mm / 3']\n" \
  "sampling: {kind: sobol, points: " points                  \
  ", seed: 3}\n"                                             \
  "hold: {frequency_MHz: 1300.0, by: equator_radius_mm}\nbatch: 4\n"

static study_files files;

#define run(...) program_run(files.folder, __VA_ARGS__)

static void set_up(void) {
  study_files_make(&files, STUDY_CELL, STUDY_OF("18"));
  program_write_text(files.folder, "grown.yaml", "# more\ntitle: Grown\n" STUDY_OF("31"));
  program_write_text(files.folder, "words.yaml", "# as before\ntitle: Words\n" STUDY_OF("18"));
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf -q --workers 1"), 0);
}

static void tear_down(void) { temporary_folder_delete(files.folder); }

// 18 shapes are four batches of four and two more: 16 of the 31 are there already.
START_TEST(a_gathered_study_grows) {
  ck_assert_int_eq(run("$CAVUM scan grown.yaml -o at-once.hdf -q --workers 1 && "
                       "$CAVUM scan grown.yaml -o out.hdf --json - >progress"),
                   0);
  ck_assert_int_eq(run("grep -q '\"shapes_before\":16,' progress"), 0);
  ck_assert_int_eq(run("cmp out.hdf at-once.hdf && [ ! -e out.hdf.parts ]"), 0);
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --csv out.csv | grep -q no-shape"), 0);
}
END_TEST

START_TEST(it_grows_in_parts) {
  ck_assert_int_eq(run("$CAVUM scan grown.yaml -o at-once.hdf -q --workers 1 && "
                       "$CAVUM scan grown.yaml -o out.hdf -q --part 2/3"),
                   0);
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf | grep -q '^18 shapes'"), 0);
  ck_assert_int_eq(run("$CAVUM scan grown.yaml -o out.hdf -q --gather"), EXIT_MISSING);
  ck_assert_int_eq(run("$CAVUM scan grown.yaml -o out.hdf -q --part 1/3 && "
                       "$CAVUM scan grown.yaml -o out.hdf -q --part 3/3 && "
                       "$CAVUM scan grown.yaml -o out.hdf -q --gather && "
                       "cmp out.hdf at-once.hdf && [ ! -e out.hdf.parts ]"),
                   0);
}
END_TEST

// Nothing is computed for other words, but the result has them.
START_TEST(other_words_compute_nothing) {
  ck_assert_int_eq(run("$CAVUM scan words.yaml -o at-once.hdf -q --workers 1 && "
                       "$CAVUM scan words.yaml -o out.hdf --json - >progress"),
                   0);
  ck_assert_int_eq(run("grep -q '\"solves\":0,' progress && cmp out.hdf at-once.hdf && "
                       "$CAVUM scan words.yaml -o out.hdf 2>&1 | grep -q complete"),
                   0);
}
END_TEST

// Fewer shapes, or others, would throw rows away: that must be asked for.
START_TEST(a_result_does_not_shrink) {
  program_write_text(files.folder, "fewer.yaml", STUDY_OF("17"));
  program_write_text(files.folder, "shifted.yaml",
                     STUDY_OF("18") "mode: 1\nlimits: {wall_angle_deg: 2}\n");
  ck_assert_int_eq(run("cp out.hdf before.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM scan fewer.yaml -o out.hdf -q"), EXIT_REFUSED);
  ck_assert_ptr_nonnull(strstr(program_read_text(files.folder, "err"),
                               "of another study (sampling.points was 18, is 17 now)"));
  ck_assert_int_eq(run("$CAVUM scan shifted.yaml -o out.hdf -q"), EXIT_REFUSED);
  ck_assert_ptr_nonnull(strstr(program_read_text(files.folder, "err"),
                               "(limits.wall_angle_deg was not there, is 2 now)"));
  ck_assert_int_eq(
      run("sed 's/^  half_length_mm:.*/  half_length_mm: 57.8/' cell.yaml >longer.yaml "
          "&& sed 's/cell.yaml/longer.yaml/' words.yaml >longer-study.yaml && $CAVUM "
          "scan longer-study.yaml -o out.hdf -q"),
      EXIT_REFUSED);
  ck_assert_ptr_nonnull(strstr(program_read_text(files.folder, "err"),
                               "(cell: contour.half_length_mm was 57.7, is 57.8 now)"));
  ck_assert_int_eq(run("cmp out.hdf before.hdf && [ ! -e out.hdf.parts ]"), 0);
  ck_assert_int_eq(run("$CAVUM scan fewer.yaml -o out.hdf -q --overwrite"), 0);
}
END_TEST

// What was not gathered yet is used as well.
START_TEST(records_of_a_study_that_grew) {
  ck_assert_int_eq(run("$CAVUM scan grown.yaml -o at-once.hdf -q --workers 1 && "
                       "$CAVUM scan study.yaml -o n.hdf -q --part 1/2 && "
                       "$CAVUM scan grown.yaml -o n.hdf --json - >progress && "
                       "cmp n.hdf at-once.hdf"),
                   0);
  // Batches 1 and 3; the fifth had two shapes and has four now.
  ck_assert_int_eq(run("grep -q '\"shapes_before\":8,' progress"), 0);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, a_gathered_study_grows);
  tcase_add_test(tests, it_grows_in_parts);
  tcase_add_test(tests, other_words_compute_nothing);
  tcase_add_test(tests, a_result_does_not_shrink);
  tcase_add_test(tests, records_of_a_study_that_grew);
}

CAVUM_TEST_MAIN("growth", add)
