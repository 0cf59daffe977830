// SPDX-License-Identifier: GPL-3.0-or-later
// Record files: what was appended comes back; what is cut off or damaged does not.
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/base.h"
#include "scan/record_writer.h"
#include "scan/records.h"
#include "study_files.h"
#include "support.h"

static const cavum_division whole = {1, 1};
static study_files files;
static cavum_study *study;

static void set_up(void) {
  study_files_make(&files, STUDY_CELL,
                   "cell: cell.yaml\nbatch: 4\n"
                   "vary: {iris_radius_mm: {from: 30, to: 40, points: 22}}\n");
  study = study_files_open(&files);
  ck_assert_int_eq(cavum_study_num_batches(study), 6);
  ck_assert_int_eq(cavum_records_make_folder(files.output, whole, NULL), CAVUM_OK);
}

static void tear_down(void) {
  cavum_study_close(&study);
  temporary_folder_delete(files.folder);
}

// Puts the varied numbers of the study into rows: by these a record is known again.
static void put_inputs(unsigned char *rows, int64_t batch, int num_rows) {
  size_t offset = study->layout.columns[study->layout.first_input].offset;
  for (int i = 0; i < num_rows; i++) {
    double value = 0.0;
    int64_t shape = batch * cavum_study_batch_size(study) + i;
    ck_assert_int_eq(cavum_study_sample(&value, study, shape, NULL), CAVUM_OK);
    memcpy(rows + (size_t)i * cavum_study_row_size(study) + offset, &value, sizeof value);
  }
}

// Appends a batch whose other bytes are all `mark`, with a reason for its second row.
static void append(cavum_record_writer *writer, int64_t batch, int mark) {
  int rows = cavum_study_batch_rows(study, batch);
  char reason[32];
  char *reasons[4] = {NULL, rows > 1 ? reason : NULL, NULL, NULL};
  cavum_error error = {0};
  snprintf(reason, sizeof reason, "mark %d", mark);
  unsigned char *row = cavum_record_writer_begin(writer, rows);
  ck_assert_ptr_nonnull(row);
  memset(row, mark, (size_t)rows * cavum_study_row_size(study));
  put_inputs(row, batch, rows);
  cavum_status status = cavum_record_writer_append(writer, batch, rows, reasons, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
}

static cavum_scan_records *open_records(void) {
  cavum_scan_records *records = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_scan_records_open(&records, study, files.output, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%lld batches, %lld conflicts, %lld bytes ignored\n",
         (long long)cavum_scan_records_num_stored(records),
         (long long)cavum_scan_records_num_conflicts(records),
         (long long)cavum_scan_records_bytes_ignored(records));
  return records;
}

// Writes batches 0 to 5 with their number as mark; gives the path of the file.
static void write_all(char path[256]) {
  cavum_record_writer writer;
  cavum_record_writer_open(&writer, study, files.output, whole);
  for (int batch = 0; batch < 6; batch++) append(&writer, batch, batch);
  snprintf(path, 256, "%s", writer.path);
  ck_assert_int_eq(cavum_record_writer_close(&writer, NULL), CAVUM_OK);
}

START_TEST(rows_and_reasons_come_back) {
  char path[256];
  write_all(path);
  cavum_scan_records *records = open_records();
  ck_assert_int_eq(cavum_scan_records_num_stored(records), 6);
  ck_assert_int_eq(cavum_scan_records_bytes_ignored(records), 0);
  for (int64_t i = 5; i >= 0; i--) {
    cavum_scan_batch batch;
    char expected[32];
    ck_assert_int_eq(cavum_scan_records_read(&batch, records, i, NULL), CAVUM_OK);
    ck_assert_int_eq(batch.first_shape, 4 * i);
    ck_assert_int_eq(batch.num_rows, i == 5 ? 2 : 4);
    ck_assert_int_eq(batch.rows[(size_t)batch.num_rows * cavum_study_row_size(study) - 1], i);
    ck_assert_int_eq(batch.num_reasons, 1);
    ck_assert_int_eq(batch.reasons[0].shape, 4 * i + 1);
    snprintf(expected, sizeof expected, "mark %d", (int)i);
    ck_assert_str_eq(batch.reasons[0].text, expected);
  }
  cavum_scan_records_close(&records);
}
END_TEST

// Cut anywhere: exactly the records that are whole count, and nothing is misread. Of the lengths
// every seventh is tried, and all about the ends of the file and of its head.
START_TEST(a_file_cut_anywhere_keeps_its_whole_records) {
  char path[256];
  struct stat found;
  write_all(path);
  ck_assert_int_eq(stat(path, &found), 0);
  int64_t last = 6;
  for (off_t size = found.st_size; size >= 0;
       size -= size > found.st_size - 50 || size < 100 ? 1 : 7) {
    ck_assert_int_eq(truncate(path, size), 0);
    cavum_scan_records *records = NULL;
    ck_assert_int_eq(cavum_scan_records_open(&records, study, files.output, NULL), CAVUM_OK);
    int64_t stored = cavum_scan_records_num_stored(records);
    ck_assert(stored == last || stored == last - 1);
    if (size == found.st_size) ck_assert_int_eq(stored, 6);
    for (int64_t i = 0; i < 6; i++) ck_assert(cavum_records_has(records, i) == (i < stored));
    last = stored;
    cavum_scan_records_close(&records);
  }
  ck_assert_int_eq(last, 0);
}
END_TEST

// One byte wrong, anywhere: at most the record that holds it, or those behind a head that cannot be
// trusted, are lost.
START_TEST(a_wrong_byte_costs_its_record) {
  char path[256];
  struct stat found;
  write_all(path);
  ck_assert_int_eq(stat(path, &found), 0);
  size_t record = CAVUM_RECORD_HEADER + 4 * cavum_study_row_size(study) + 2 * 4 + 6;
  for (off_t place = CAVUM_RECORD_FILE_HEADER; place < found.st_size; place += 61) {
    FILE *file = fopen(path, "r+b");
    ck_assert_ptr_nonnull(file);
    fseeko(file, place, SEEK_SET);
    int byte = fgetc(file);
    fseeko(file, place, SEEK_SET);
    fputc(byte ^ 0x10, file);
    fclose(file);
    cavum_scan_records *records = NULL;
    ck_assert_int_eq(cavum_scan_records_open(&records, study, files.output, NULL), CAVUM_OK);
    int64_t hit = (int64_t)((size_t)(place - CAVUM_RECORD_FILE_HEADER) / record);
    bool in_head = (size_t)(place - CAVUM_RECORD_FILE_HEADER) % record < CAVUM_RECORD_HEADER;
    for (int64_t i = 0; i < 6; i++) {
      bool expected = i < hit || (i > hit && !in_head);
      ck_assert_msg(cavum_records_has(records, i) == expected, "byte %lld, batch %lld",
                    (long long)place, (long long)i);
    }
    cavum_scan_records_close(&records);
    file = fopen(path, "r+b");
    fseeko(file, place, SEEK_SET);
    fputc(byte, file);
    fclose(file);
  }
}
END_TEST

START_TEST(the_same_batch_twice) {
  cavum_record_writer writer;
  for (int i = 0; i < 2; i++) {
    cavum_record_writer_open(&writer, study, files.output, whole);
    append(&writer, 2, 7);
    append(&writer, 3, i);
    ck_assert_int_eq(cavum_record_writer_close(&writer, NULL), CAVUM_OK);
  }
  cavum_scan_records *records = open_records();
  ck_assert_int_eq(cavum_scan_records_num_files(records), 2);
  ck_assert_int_eq(cavum_scan_records_num_stored(records), 2);
  ck_assert_int_eq(cavum_scan_records_num_conflicts(records), 1);
  cavum_scan_records_close(&records);
}
END_TEST

#define BATCHES "cell: cell.yaml\nbatch: 4\n"
#define SHAPES "vary: {iris_radius_mm: {from: 30, to: 40, points: 22}}\n"

// Other shapes, more in between, fewer, or anything else that decides what is in a row.
static const char *const other_studies[] = {
    BATCHES "vary: {iris_radius_mm: [30, 31]}\n",
    BATCHES "vary: {iris_radius_mm: {from: 30, to: 40, points: 23}}\n",
    BATCHES "vary: {iris_radius_mm: {from: 30, to: 40, points: 21}}\n",
    BATCHES "vary: {half_length_mm: {from: 30, to: 40, points: 22}}\n",
    "cell: cell.yaml\nbatch: 8\n" SHAPES,
    BATCHES SHAPES "coupling: yes\n",
    BATCHES SHAPES "figures: [epk_over_eacc]\n",
    BATCHES SHAPES "linked: [half_length_mm = iris_radius_mm + 22]\n",
    BATCHES SHAPES "limits: {wall_angle_deg: 1.0}\n",
    BATCHES SHAPES "hold: {frequency_MHz: 1300.0, by: equator_radius_mm}\n",
};

START_TEST(records_of_another_study_are_refused) {
  char path[256];
  cavum_error error = {0};
  cavum_scan_records *records = NULL;
  write_all(path);
  cavum_study_close(&study);
  study_files_write(files.study, other_studies[_i]);
  study = study_files_open(&files);
  ck_assert_int_eq(cavum_scan_records_open(&records, study, files.output, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_null(records);
}
END_TEST

// The same shapes in other words.
static const char *const same_studies[] = {
    "# a comment\ntitle: Irises\n" BATCHES SHAPES,
    BATCHES "vary:\n  contour.iris_radius_mm: {to: 4.0e1, points: 22, from: 30.0}\n",
    "batch: 4\ncell: copy.yaml\n" SHAPES "sampling: {kind: grid}\n",
};

START_TEST(records_of_the_same_shapes_are_used) {
  char path[256], copy[256], cell[2048];
  char fingerprint[65];
  write_all(path);
  snprintf(fingerprint, sizeof fingerprint, "%s", cavum_study_fingerprint(study));
  cavum_study_close(&study);
  snprintf(copy, sizeof copy, "%s/copy.yaml", files.folder);
  snprintf(cell, sizeof cell, "# a copy\ntitle: Another title\n%s", strchr(STUDY_CELL, '\n') + 1);
  study_files_write(copy, cell);
  study_files_write(files.study, same_studies[_i]);
  study = study_files_open(&files);
  ck_assert_str_eq(cavum_study_fingerprint(study), fingerprint);
  cavum_scan_records *records = open_records();
  ck_assert_int_eq(cavum_scan_records_num_stored(records), 6);
  cavum_scan_records_close(&records);
}
END_TEST

// Whole batches stay; the last one, of two shapes, has grown and is computed anew.
START_TEST(a_study_grows_behind_its_last_shape) {
  char list[512] = "cell: cell.yaml\nbatch: 4\nvary: {iris_radius_mm: [30";
  for (int i = 1; i < 10; i++) snprintf(list + strlen(list), 64, ", %d", 30 + i);
  cavum_study_close(&study);
  study_files_write(files.study, strcat(strcpy((char[600]){0}, list), "]}\n"));
  study = study_files_open(&files);
  cavum_record_writer writer;
  cavum_record_writer_open(&writer, study, files.output, whole);
  for (int batch = 0; batch < 3; batch++) append(&writer, batch, batch);
  ck_assert_int_eq(cavum_record_writer_close(&writer, NULL), CAVUM_OK);
  cavum_study_close(&study);
  study_files_write(files.study, strcat(strcpy((char[600]){0}, list), ", 40, 41, 42, 43]}\n"));
  study = study_files_open(&files);
  cavum_scan_records *records = open_records();
  ck_assert_int_eq(cavum_study_num_batches(study), 4);
  ck_assert_int_eq(cavum_scan_records_num_stored(records), 2);
  ck_assert(cavum_records_has(records, 0) && cavum_records_has(records, 1));
  cavum_scan_records_close(&records);
}
END_TEST

// Records of exactly this study are known by its fingerprint: its shapes are not all sampled again,
// which a table shows that is not read.
START_TEST(the_same_study_is_not_sampled_again) {
  char table[600] = "iris_radius_mm\n", path[300];
  cavum_study_close(&study);
  for (int i = 0; i < 10; i++) snprintf(table + strlen(table), 64, "%d\n", 30 + i);
  snprintf(path, sizeof path, "%s/shapes.csv", files.folder);
  study_files_write(path, table);
  study_files_write(files.study, "cell: cell.yaml\nbatch: 4\ntable: shapes.csv\n");
  for (int grown = 0; grown < 2; grown++) {
    study = study_files_open(&files);
    if (grown == 0) {
      cavum_record_writer writer;
      cavum_record_writer_open(&writer, study, files.output, whole);
      for (int batch = 0; batch < 3; batch++) append(&writer, batch, batch);
      ck_assert_int_eq(cavum_record_writer_close(&writer, NULL), CAVUM_OK);
      cavum_study_close(&study);
      study = study_files_open(&files);
    }
    cavum_scan_records *records = open_records();
    ck_assert_int_eq(cavum_scan_records_num_stored(records), grown ? 2 : 3);
    ck_assert_int_eq(study->table.block >= 0, grown);
    cavum_scan_records_close(&records);
    cavum_study_close(&study);
    snprintf(table + strlen(table), 64, "41\n");
    study_files_write(path, table);
  }
  study = study_files_open(&files);
}
END_TEST

// A part reads its own files and those of other divisions, not those of other parts of its own.
START_TEST(a_part_reads_what_it_needs) {
  static const cavum_division divisions[] = {{1, 2}, {2, 2}, {1, 3}};
  for (int i = 0; i < 3; i++) {
    cavum_record_writer writer;
    cavum_record_writer_open(&writer, study, files.output, divisions[i]);
    ck_assert_int_eq(cavum_records_make_folder(files.output, divisions[i], NULL), CAVUM_OK);
    append(&writer, i, i);
    ck_assert_int_eq(cavum_record_writer_close(&writer, NULL), CAVUM_OK);
  }
  cavum_scan_records *records = NULL;
  ck_assert_int_eq(cavum_records_open_part(&records, study, files.output, divisions[1], NULL),
                   CAVUM_OK);
  ck_assert(!cavum_records_has(records, 0));
  ck_assert(cavum_records_has(records, 1));
  ck_assert(cavum_records_has(records, 2));
  cavum_scan_records_close(&records);
  ck_assert_int_eq(cavum_scan_records_remove(files.output, NULL), CAVUM_OK);
  ck_assert_int_eq(temporary_folder_count(files.folder), 2);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, rows_and_reasons_come_back);
  tcase_add_test(tests, a_file_cut_anywhere_keeps_its_whole_records);
  tcase_add_test(tests, a_wrong_byte_costs_its_record);
  tcase_add_test(tests, the_same_batch_twice);
  tcase_add_loop_test(tests, records_of_another_study_are_refused, 0,
                      sizeof other_studies / sizeof *other_studies);
  tcase_add_loop_test(tests, records_of_the_same_shapes_are_used, 0,
                      sizeof same_studies / sizeof *same_studies);
  tcase_add_test(tests, a_study_grows_behind_its_last_shape);
  tcase_add_test(tests, the_same_study_is_not_sampled_again);
  tcase_add_test(tests, a_part_reads_what_it_needs);
}

CAVUM_TEST_MAIN("records", add)
