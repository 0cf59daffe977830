// SPDX-License-Identifier: GPL-3.0-or-later
// Each allocation in turn fails: a clean error, outputs untouched, nothing leaked, no file begun
// and left, an old file as it was.
#include <hdf5.h>
#include <limits.h>
#include <string.h>
#include <sys/stat.h>

#include "base/base.h"
#include "cavum/cavum.h"
#include "failing_memory.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"

// Allocations that fail each in turn; beyond these, where a library repeats the same thousands of
// times, the steps grow by a part in so many. CAVUM_EVERY_ALLOCATION=1 leaves none out.
#ifdef CAVUM_SANITIZED
enum { EACH_UNTIL = 100, STEP_PART = 8 };  // ten times slower
#else
enum { EACH_UNTIL = 500, STEP_PART = 15 };
#endif

// What all scenarios share: inputs that are ready, and outputs that must stay as they are.
static struct scene {
  char folder[128], result_path[192], json_path[192];
  cavum_cell cell;
  cavum_result *result;
} scene;

// Does one thing and releases what it got. The error is the only thing that is left of a failure.
typedef cavum_status scenario(cavum_error *error);

static const char small_cell[] =
    "title: Pillbox\n"
    "accelerating_length_mm: 100.0\n"
    "contour:\n"
    "  kind: path\n"
    "  start: {z_mm: -50.0, r_mm: 0.0}\n"
    "  path:\n"
    "    - {line_to: {z_mm: 50.0, r_mm: 0.0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 50.0, r_mm: 100.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: -50.0, r_mm: 100.0}, boundary: metal}\n"
    "    - {line_to: {z_mm: -50.0, r_mm: 0.0}, boundary: metal}\n"
    "modes: {count: 2}\n"
    "accuracy: {frequency: 1.0e-4, other_figures: 1.0e-2}\n"
    "wall: {kind: metal, conductivity_S_per_m: 5.8e7}\n";

static long next_allocation(long n) {
  if (n < EACH_UNTIL || getenv("CAVUM_EVERY_ALLOCATION")) return n + 1;
  return n + n / STEP_PART;
}

// A library that ran out of memory may only say that it failed.
static bool is_clean(cavum_status status, const cavum_error *error) {
  if (status == CAVUM_OK) return true;
  if (error->status != status || error->message[0] == '\0') return false;
  return status == CAVUM_ERR_MEMORY || strstr(error->message, "memory") != NULL;
}

static void check_files(int expected_count) {
  ck_assert_int_eq(temporary_folder_count(scene.folder), expected_count);
}

// Blocks; HDF5 keeps some for later, so there it is what it holds open for us.
static long count_live(void) {
  if (!failing_memory.own_only) return failing_memory.live;
  return (long)H5Fget_obj_count((hid_t)H5F_OBJ_ALL, H5F_OBJ_ALL);
}

// How a scenario ended: with an error, or well although an allocation failed.
typedef struct outcome {
  long failures, survived;
} outcome;

static outcome fail_in_turn(const char *name, scenario *run, bool all_then, int num_files) {
  outcome of = {0, 0};
  long n = 1;
  for (;; n = next_allocation(n)) {
    cavum_error error = {0};
    long live = count_live();
    failing_memory_arm(n, all_then);
    cavum_status status = run(&error);
    bool failed = failing_memory_disarm();
    if (!is_clean(status, &error) || count_live() != live) {
      ck_abort_msg("%s, allocation %ld%s: status %d, '%s', %ld blocks leaked", name, n,
                   all_then ? " and all that follow" : "", (int)status, error.message,
                   count_live() - live);
    }
    check_files(num_files);
    of.failures += status != CAVUM_OK;
    of.survived += failed && status == CAVUM_OK && !failing_memory.by_library;
    if (!failed) break;
  }
  printf("%s: %ld allocations, %ld failures, %ld survived%s\n", name, n - 1, of.failures,
         of.survived, all_then ? ", all that follow fail too" : "");
  return of;
}

static void fail_each(const char *name, scenario *run, long most_survived) {
  cavum_error error = {0};
  // What libraries set up once and keep is no leak.
  for (int i = 0; i < 2; i++) ck_assert_msg(run(&error) == CAVUM_OK, "%s: %s", name, error.message);
  int num_files = temporary_folder_count(scene.folder);
  outcome alone = fail_in_turn(name, run, false, num_files);
  ck_assert_int_gt(alone.failures, 0);
  ck_assert_int_le(alone.survived, most_survived);
  ck_assert_int_gt(fail_in_turn(name, run, true, num_files).failures, 0);
}

static void fail_each_allocation(const char *name, scenario *run) { fail_each(name, run, 0); }

static void set_up(void) {
  cavum_error error = {0};
  temporary_folder_make(scene.folder);
  snprintf(scene.result_path, sizeof scene.result_path, "%s/result.hdf", scene.folder);
  snprintf(scene.json_path, sizeof scene.json_path, "%s/result.json", scene.folder);
  cavum_cell_set_defaults(&scene.cell);
  ck_assert_msg(cavum_cell_read_text(&scene.cell, small_cell, strlen(small_cell), "small.yaml",
                                     &error) == CAVUM_OK,
                "%s", error.message);
}

static void tear_down(void) {
  cavum_result_destroy(&scene.result);
  cavum_cell_clear(&scene.cell);
  temporary_folder_delete(scene.folder);
}

static void solve_scene(void) {
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = 2;
  ck_assert_msg(cavum_solve(&scene.result, &scene.cell, &options, &error) == CAVUM_OK, "%s",
                error.message);
}

static cavum_status read_cell(cavum_error *error) {
  cavum_cell cell, before;
  memset(&cell, 0, sizeof cell);
  cavum_cell_set_defaults(&cell);
  memcpy(&before, &cell, sizeof cell);
  cavum_status status =
      cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/injector-cell.yaml", error);
  if (status != CAVUM_OK && memcmp(&cell, &before, sizeof cell) != 0) return CAVUM_ERR_INTERNAL;
  cavum_cell_clear(&cell);
  return status;
}

// A half model with curved walls and a tube, to an accuracy that costs little.
static void use_injector_cell(void) {
  cavum_error error = {0};
  cavum_cell_clear(&scene.cell);
  cavum_status status =
      cavum_cell_read_file(&scene.cell, CAVUM_CELLS_FOLDER "/injector-cell.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  scene.cell.num_modes = 2;
  scene.cell.accuracy_frequency = 1e-3;
  scene.cell.accuracy_other_figures = 1e-1;
}

static cavum_status make_mesh(cavum_error *error) {
  cavum_contour contour = {0};
  cavum_mesh mesh = {0};
  cavum_status status = cavum_cell_make_contour(&contour, &scene.cell, CAVUM_PART_WHOLE, error);
  if (status == CAVUM_OK) status = cavum_mesh_from_contour(&mesh, &contour, NULL, error);
  if (status != CAVUM_OK && (mesh.elements || mesh.num_elements)) status = CAVUM_ERR_INTERNAL;
  cavum_mesh_clear(&mesh);
  cavum_contour_clear(&contour);
  return status;
}

static cavum_status read_mesh(const char *name, cavum_error *error) {
  cavum_mesh mesh = {0};
  cavum_mesh_notes notes = {0};
  char path[256];
  snprintf(path, sizeof path, "%s/msh/data/%s", CAVUM_TEST_FOLDER, name);
  cavum_mesh_source source = {.path = path, .unit_m = 1e-3, .axis = 'x'};
  cavum_status status = cavum_mesh_read_msh(&mesh, &notes, &source, error);
  if (status != CAVUM_OK && (mesh.elements || mesh.num_elements)) status = CAVUM_ERR_INTERNAL;
  cavum_mesh_clear(&mesh);
  return status;
}

static cavum_status read_mesh_2(cavum_error *error) {
  return read_mesh("disc-mixed-2-22t.msh", error);
}

static cavum_status read_mesh_4(cavum_error *error) {
  return read_mesh("disc-mixed-2-41b.msh", error);
}

// A mesh that is in memory alone, to text and back, and to another cell by a key.
static cavum_status carry_a_mesh(cavum_error *error) {
  char *text = NULL, data[100] = "no mesh, which no text and no cell looks at";
  cavum_cell cell, read;
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_MESH_FILE;
  cell.mesh.unit_m = 1e-3;
  cell.mesh.axis = 'x';
  cell.mesh_data = data;
  cell.mesh_size = sizeof data;
  cavum_status status = cavum_cell_to_text(&text, &cell, error);
  if (status != CAVUM_OK) return text ? CAVUM_ERR_INTERNAL : status;
  status = cavum_cell_read_text(&read, text, strlen(text), NULL, error);
  cavum_free(text);
  if (status != CAVUM_OK) return status;
  status = cavum_cell_set(&read, "beta", 0.5, error);
  if (read.mesh_size != sizeof data || memcmp(read.mesh_data, data, sizeof data) != 0) {
    status = CAVUM_ERR_INTERNAL;
  }
  cavum_cell_clear(&read);
  return status;
}

static cavum_status solve(cavum_error *error) {
  cavum_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = 2;
  cavum_status status = cavum_solve(&result, &scene.cell, &options, error);
  bool good = result && result->num_modes == 2 && result->accuracy_reached;
  if (status == CAVUM_OK ? !good : result != NULL) status = CAVUM_ERR_INTERNAL;
  cavum_result_destroy(&result);
  return status;
}

// All derivatives of one mode.
static cavum_status differentiate(cavum_error *error) {
  cavum_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  scene.cell.num_modes = 1;
  cavum_status status = cavum_solve(&result, &scene.cell, &options, error);
  bool good = result && result->num_dimensions > 0 &&
              cavum_result_derivative(result, 0, 0, CAVUM_FIGURE_R_OVER_Q_LINAC).state ==
                  CAVUM_FIGURE_PRESENT;
  if (status == CAVUM_OK ? !good : result != NULL) status = CAVUM_ERR_INTERNAL;
  cavum_result_destroy(&result);
  return status;
}

// Tunes a copy: it is the old one, to the bit, unless it was tuned.
static cavum_status tune(cavum_error *error) {
  cavum_result *result = NULL;
  cavum_solver *solver = NULL;
  cavum_cell cell;
  cavum_tune_request request = cavum_tune_request_default();
  request.key = "path[2].line_to.r_mm";
  request.frequency_hz = 1.2e9;
  cavum_status status = cavum_cell_read_text(&cell, small_cell, strlen(small_cell), NULL, error);
  if (status != CAVUM_OK) return status;
  uint64_t before = cavum_cell_digest(&cell);
  status = cavum_solver_create(&solver, NULL, error);
  if (status == CAVUM_OK) status = cavum_tune(&result, &cell, solver, &request, error);
  bool untouched = result == NULL && cavum_cell_digest(&cell) == before;
  if (status == CAVUM_OK ? untouched : !untouched) status = CAVUM_ERR_INTERNAL;
  cavum_result_destroy(&result);
  cavum_solver_destroy(&solver);
  cavum_cell_clear(&cell);
  return status;
}

static const char readings_text[] =
    "forward_W,reflected_W,transmitted_mW,note,run\n50,5,1,first,a\n60,6,1.2,,b\n";

static cavum_status read_readings_text(cavum_error *error) {
  cavum_coldtest_readings readings = {0};
  cavum_coldtest_setup setup = cavum_coldtest_setup_default();
  cavum_status status = cavum_coldtest_read_readings_text(
      &readings, readings_text, strlen(readings_text), NULL, &setup, error);
  if (status == CAVUM_OK ? readings.num_readings != 2 : readings.items != NULL) {
    status = CAVUM_ERR_INTERNAL;
  }
  cavum_coldtest_readings_clear(&readings);
  return status;
}

// Identifies the file behind a name: a new one is written beside it and renamed.
static ino_t file_number(const char *path) {
  struct stat info;
  return stat(path, &info) == 0 ? info.st_ino : 0;
}

static cavum_status write_result(cavum_error *error) {
  cavum_solve_options options = cavum_solve_options_default();
  ino_t old = file_number(scene.result_path);
  cavum_status status =
      cavum_store_write_result(scene.result_path, scene.result, &scene.cell, &options, error);
  return status != CAVUM_OK && file_number(scene.result_path) != old ? CAVUM_ERR_INTERNAL : status;
}

static cavum_status write_json(cavum_error *error) {
  char *text = NULL;
  cavum_status status = cavum_store_result_to_json(&text, scene.result, error);
  ino_t old = file_number(scene.json_path);
  if (status != CAVUM_OK && text) return CAVUM_ERR_INTERNAL;
  if (status == CAVUM_OK) status = cavum_store_write_text(scene.json_path, text, error);
  free(text);
  return status != CAVUM_OK && file_number(scene.json_path) != old ? CAVUM_ERR_INTERNAL : status;
}

static cavum_status evaluate_cold_test(cavum_error *error) {
  cavum_coldtest_file file = {0};
  cavum_coldtest_report *report = NULL;
  cavum_coldtest_run_options options = {.struct_size = sizeof options, .no_monte_carlo = true};
  char *json = NULL, *csv = NULL;
  cavum_status status =
      cavum_coldtest_file_read(&file, CAVUM_CELLS_FOLDER "/coldtest/injector-test.yaml", error);
  if (status == CAVUM_OK) status = cavum_coldtest_run(&report, &file, &options, error);
  if (status != CAVUM_OK && report) status = CAVUM_ERR_INTERNAL;
  if (status == CAVUM_OK) status = cavum_store_coldtest_to_json(&json, report, error);
  if (status == CAVUM_OK) status = cavum_store_coldtest_to_csv(&csv, report, error);
  free(json);
  free(csv);
  cavum_coldtest_report_destroy(&report);
  cavum_coldtest_file_clear(&file);
  return status;
}

static cavum_status ask_field(cavum_error *error) {
  cavum_mode_field *field = NULL;
  const double z_m[] = {0.0, 0.01}, r_m[] = {0.01, 0.02};
  double e_z[2];
  cavum_status status = cavum_mode_field_create(&field, scene.result, 0, error);
  if (status != CAVUM_OK && field) status = CAVUM_ERR_INTERNAL;
  if (status == CAVUM_OK) {
    status = cavum_mode_field_at(field, 2, z_m, r_m, NULL, e_z, NULL, NULL, error);
  }
  if (status == CAVUM_OK) {
    status = cavum_mode_field_uncertainty_at(field, 2, z_m, r_m, NULL, e_z, error);
  }
  cavum_mode_field_destroy(&field);
  return status;
}

// A coordinate of a path is set by way of the text of its cell.
static cavum_status set_by_key(cavum_error *error) {
  uint64_t before = cavum_cell_digest(&scene.cell);
  double radius_mm = scene.cell.path.curves[1].end.r_m < 0.095 ? 100.0 : 90.0;
  cavum_status status = cavum_cell_set(&scene.cell, "path[2].line_to.r_mm", radius_mm, error);
  bool changed = cavum_cell_digest(&scene.cell) != before;
  return changed == (status == CAVUM_OK) ? status : CAVUM_ERR_INTERNAL;
}

static cavum_status open_study(cavum_error *error) {
  static const char text[] = "vary:\n  path[2].line_to.r_mm: {from: 90, to: 91, points: 2}\n";
  cavum_study *study = NULL;
  cavum_status status =
      cavum_study_open_text(&study, text, sizeof text - 1, NULL, &scene.cell, error);
  if ((study != NULL) != (status == CAVUM_OK)) status = CAVUM_ERR_INTERNAL;
  cavum_study_close(&study);
  return status;
}

static cavum_status take_goal(const char *text, cavum_error *error) {
  cavum_goal *goal = NULL;
  cavum_status status = cavum_goal_open_text(&goal, text, strlen(text), NULL, &scene.cell, error);
  if ((goal != NULL) != (status == CAVUM_OK)) status = CAVUM_ERR_INTERNAL;
  cavum_goal_close(&goal);
  return status;
}

#define GOAL_TEXT                                                    \
  "title: Gap\nvary:\n  path[2].line_to.r_mm: {from: 90, to: 110}\n" \
  "maximise: {r_over_q_linac_ohm: 1, geometry_factor_ohm: 1}\n"      \
  "limits: {epk_over_eacc: {most: 3}}\nsteps: {\"path[2].line_to.r_mm\": 0.1}\n"

static cavum_status open_goal(cavum_error *error) { return take_goal(GOAL_TEXT, error); }

static cavum_status open_linked_goal(cavum_error *error) {
  return take_goal(GOAL_TEXT "linked: [\"path[3].line_to.r_mm = path[2].line_to.r_mm\"]\n", error);
}

// One start of one dimension, with one solve at most.
static cavum_status with_parts(cavum_status use(cavum_goal *goal, cavum_error *error),
                               cavum_error *error) {
  static const char text[] = GOAL_TEXT "starts: 1\nsolves: 1\n";
  cavum_goal *goal = NULL;
  cavum_status status =
      cavum_goal_open_text(&goal, text, sizeof text - 1, NULL, &scene.cell, error);
  if (status == CAVUM_OK) status = use(goal, error);
  cavum_goal_close(&goal);
  return status;
}

static cavum_status run_part(cavum_goal *goal, cavum_error *error) {
  return cavum_optimise_part(goal, scene.result_path, 0, 1, NULL, error);
}

static cavum_status gather(cavum_goal *goal, cavum_error *error) {
  cavum_optimum *optimum = NULL;
  cavum_status status = cavum_optimise_gather(&optimum, goal, scene.result_path, NULL, error);
  // One solve proves no shape best, and the gathered search comes with that.
  if (status == CAVUM_ERR_NOT_CONVERGED && optimum) status = CAVUM_OK;
  cavum_optimum_destroy(&optimum);
  return status;
}

static cavum_status search_part(cavum_error *error) {
  cavum_status status = with_parts(run_part, error);
  failing_memory.until = 0;  // what follows only tidies up
  cavum_status removed = cavum_scan_records_remove(scene.result_path, NULL);
  return removed == CAVUM_OK || status != CAVUM_OK ? status : removed;
}

static cavum_status take_kept_part(cavum_error *error) { return with_parts(run_part, error); }

static cavum_status gather_parts(cavum_error *error) { return with_parts(gather, error); }

static cavum_status open_steps(cavum_error *error) {
  static const char text[] =
      "cell: " CAVUM_CELLS_FOLDER
      "/pillbox.yaml\ntitle: Series\nmode: 1\n"
      "drawing: {uncertainty_kHz: 300, equator_allowance_mm: 1}\n"
      "target: {frequency_MHz: 1300, tolerance_kHz: 50}\nsteps:\n"
      "  - {name: bench, air: {temperature_C: 21, humidity_percent: 45}, measured_MHz: 1299}\n"
      "  - {remove: {profile: [{z_mm: -50, depth_um: 80}, {z_mm: 50, depth_um: 90}]}}\n"
      "  - {pressure: {change_mbar: 20, deflection: [{z_mm: -50, um_per_mbar: 0.01}, "
      "{z_mm: 50, um_per_mbar: 0.02}]}}\n"
      "  - {cool: {material: niobium, from_K: 293, to_K: 2}}\n";
  cavum_steps *steps = NULL;
  cavum_status status = cavum_steps_open_text(&steps, text, sizeof text - 1, NULL, error);
  if ((steps != NULL) != (status == CAVUM_OK)) status = CAVUM_ERR_INTERNAL;
  cavum_steps_close(&steps);
  return status;
}

// Read, differentiated by all its numbers, and written behind one more step.
static cavum_status move_cell(cavum_error *error) {
  static const char text[] =
      "contour: {kind: path, start: {z_mm: -50, r_mm: 0}, path: [{line_to: {z_mm: 50, r_mm: 0}, "
      "boundary: axis}, {line_to: {z_mm: 50, r_mm: 88}, boundary: metal}, {line_to: {z_mm: -50, "
      "r_mm: 88}, boundary: metal}, {line_to: {z_mm: -50, r_mm: 0}, boundary: metal}], "
      "moved: [{offset_mm: 0.1}, {longer_mm: 1}]}\n";
  static const char chain[] =
      "cell: " CAVUM_CELLS_FOLDER "/pillbox.yaml\nsteps: [{remove: {depth_um: 20}}]\n";
  cavum_cell cell, shape;
  cavum_geometry *geometry = NULL;
  cavum_steps *steps = NULL;
  char *written = NULL;
  cavum_status status = cavum_cell_read_text(&cell, text, sizeof text - 1, NULL, error);
  if (status != CAVUM_OK) return status;
  status = cavum_geometry_measure(&geometry, &cell, true, error);
  cavum_geometry_destroy(&geometry);
  cavum_cell_clear(&cell);
  if (status == CAVUM_OK) {
    status = cavum_steps_open_text(&steps, chain, sizeof chain - 1, NULL, error);
  }
  if (status == CAVUM_OK) status = cavum_steps_shape(&shape, steps, 1, error);
  if (status == CAVUM_OK) {
    status = cavum_cell_to_text(&written, &shape, error);
    cavum_cell_clear(&shape);
  }
  cavum_free(written);
  cavum_steps_close(&steps);
  return status;
}

// A side between plates, 60 points of it, and the cell that names both.
static void write_measured_wall(void) {
  static const char side[] =
      "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n"
      "  path:\n    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 50, r_mm: 88}, boundary: electric}\n"
      "    - {line_to: {z_mm: -50, r_mm: 88}, boundary: metal}\n"
      "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}\n";
  static const char built[] =
      "accelerating_length_mm: 100\ncontour: {kind: measured, file: points.csv, drawing: "
      "side.yaml, "
      "scatter_um: 2, best_fit: none}\naccuracy: {frequency: 1.0e-4, other_figures: 1.0e-2}\n";
  char path[192];
  program_write_text(scene.folder, "side.yaml", side);
  program_write_text(scene.folder, "built.yaml", built);
  snprintf(path, sizeof path, "%s/points.csv", scene.folder);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs("z_mm,r_mm\n", file);
  for (int i = 0; i < 60; i++) fprintf(file, "%g,%g\n", (i + 0.5) / 0.6 - 50.0, 88.02);
  ck_assert_int_eq(fclose(file), 0);
}

static cavum_status compare_as_built(cavum_error *error) {
  char path[192];
  cavum_as_built_choices choices;
  cavum_as_built *built = NULL;
  cavum_as_built_choices_set_defaults(&choices, sizeof choices);
  snprintf(path, sizeof path, "%s/built.yaml", scene.folder);
  cavum_status status = cavum_as_built_run(&built, path, &choices, NULL, error);
  if ((built != NULL) != (status == CAVUM_OK)) status = CAVUM_ERR_INTERNAL;
  cavum_as_built_destroy(&built);
  return status;
}

START_TEST(opening_a_step_file) { fail_each_allocation("step file", open_steps); }
END_TEST

START_TEST(moving_a_cell) { fail_each_allocation("moved cell", move_cell); }
END_TEST

START_TEST(comparing_as_built) {
  write_measured_wall();
  fail_each_allocation("measured wall", compare_as_built);
}
END_TEST

START_TEST(setting_by_key) { fail_each_allocation("number by its key", set_by_key); }
END_TEST

START_TEST(opening_a_goal_from_memory) {
  fail_each_allocation("goal as text", open_goal);
  // muParser throws where it has no memory.
  failing_memory.own_only = true;
  fail_each_allocation("goal with links", open_linked_goal);
}
END_TEST

// Files of parts: nothing is left half-written, and what is kept stays.
START_TEST(parts_of_a_search) {
  cavum_error error = {0};
  fail_each_allocation("part that searches", search_part);
  ck_assert_msg(take_kept_part(&error) == CAVUM_OK, "%s", error.message);
  fail_each_allocation("part that is kept", take_kept_part);
  fail_each_allocation("gathered parts", gather_parts);
}
END_TEST

START_TEST(opening_a_study_from_memory) { fail_each_allocation("study as text", open_study); }
END_TEST

START_TEST(reading_a_cell) { fail_each_allocation("cell file", read_cell); }
END_TEST

START_TEST(meshes_in_memory) { fail_each_allocation("mesh in memory", carry_a_mesh); }
END_TEST

START_TEST(meshing) {
  fail_each_allocation("mesh of a pillbox", make_mesh);
  use_injector_cell();
  fail_each_allocation("mesh of an injector cell", make_mesh);
}
END_TEST

START_TEST(reading_a_mesh) {
  fail_each_allocation("MSH 2.2", read_mesh_2);
  fail_each_allocation("MSH 4.1", read_mesh_4);
}
END_TEST

START_TEST(solving) {
  fail_each_allocation("pillbox", solve);
  use_injector_cell();
  fail_each_allocation("injector cell", solve);
}
END_TEST

START_TEST(differentiating) { fail_each_allocation("derivatives", differentiate); }
END_TEST

// A solver whose memory may be at fault forgets it and solves once more (cavum_problem_solve()):
// all but its first solve survive one failure.
START_TEST(tuning) { fail_each("tuning of a pillbox", tune, LONG_MAX); }
END_TEST

START_TEST(readings_from_memory) { fail_each_allocation("readings", read_readings_text); }
END_TEST

START_TEST(field_at_points) {
  solve_scene();
  fail_each_allocation("field at points", ask_field);
}
END_TEST

START_TEST(writing_json) {
  solve_scene();
  fail_each_allocation("JSON", write_json);
}
END_TEST

START_TEST(writing_hdf5) {
  solve_scene();
  failing_memory.own_only = true;
  fail_each_allocation("HDF5", write_result);
}
END_TEST

START_TEST(evaluating_a_cold_test) { fail_each_allocation("cold test", evaluate_cold_test); }
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, reading_a_cell);
  tcase_add_test(tests, setting_by_key);
  tcase_add_test(tests, opening_a_study_from_memory);
  tcase_add_test(tests, opening_a_step_file);
  tcase_add_test(tests, moving_a_cell);
  tcase_add_test(tests, comparing_as_built);
  tcase_add_test(tests, opening_a_goal_from_memory);
  tcase_add_test(tests, parts_of_a_search);
  tcase_add_test(tests, meshes_in_memory);
  tcase_add_test(tests, meshing);
  tcase_add_test(tests, reading_a_mesh);
  tcase_add_test(tests, solving);
  tcase_add_test(tests, differentiating);
  tcase_add_test(tests, tuning);
  tcase_add_test(tests, readings_from_memory);
  tcase_add_test(tests, field_at_points);
  tcase_add_test(tests, writing_json);
  tcase_add_test(tests, writing_hdf5);
  tcase_add_test(tests, evaluating_a_cold_test);
}

CAVUM_TEST_MAIN("memory.failing", add_tests)
