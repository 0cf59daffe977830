// SPDX-License-Identifier: GPL-3.0-or-later
// A chain of steps as HDF5: a row a step, a row a source, and the matrix of one by the other.
#include "store/chain_file.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/units.h"
#include "figures/stored_figure.h"
#include "store/matrix.h"

enum { MOST = CAVUM_STEPS_MOST };

static const struct {
  const char *name, *units, *long_name;
  size_t offset;
} COLUMNS[] = {
    {"frequency", "Hz", "frequency after the step, from the drawing",
     offsetof(cavum_step, frequency_hz)},
    {"uncertainty", "Hz", "standard uncertainty of frequency",
     offsetof(cavum_step, uncertainty_hz)},
    {"change", "Hz", "change of the frequency by the step", offsetof(cavum_step, change_hz)},
    {"change_uncertainty", "Hz", "standard uncertainty of change",
     offsetof(cavum_step, change_uncertainty_hz)},
    {"derivative_change", "Hz",
     "change of the frequency to first order, by the derivative before the step",
     offsetof(cavum_step, estimate_hz)},
    {"aim", "Hz", "frequency to aim for after the step, so that the target is reached",
     offsetof(cavum_step, aim_hz)},
    {"aim_uncertainty", "Hz", "standard uncertainty of the aim, from the steps that follow",
     offsetof(cavum_step, aim_uncertainty_hz)},
    {"tolerance", "Hz", "tolerance of the aim, to either side", offsetof(cavum_step, tolerance_hz)},
    {"measured", "Hz", "frequency measured after the step, from the step file",
     offsetof(cavum_step, measured_hz)},
    {"measured_uncertainty", "Hz", "standard uncertainty of measured",
     offsetof(cavum_step, measured_uncertainty_hz)},
    {"expected", "Hz", "expected frequency after the step, from all measurements",
     offsetof(cavum_step, expected_hz)},
    {"expected_uncertainty", "Hz", "standard uncertainty of expected",
     offsetof(cavum_step, expected_uncertainty_hz)},
    {"amount", "m", "amount of a step that moves the wall", offsetof(cavum_step, amount)},
    {"amount_uncertainty", "m", "standard uncertainty of amount",
     offsetof(cavum_step, amount_uncertainty)},
    {"slope", "Hz/m", "change of the frequency with the amount",
     offsetof(cavum_step, slope_hz_per_m)},
    {"next_amount", "m", "amount of the step that would reach the target by itself",
     offsetof(cavum_step, next_amount)},
    {"next_amount_uncertainty", "m", "standard uncertainty of next_amount",
     offsetof(cavum_step, next_amount_uncertainty)},
    {"found_amount", "m", "amount that was done, according to the measurements",
     offsetof(cavum_step, found_amount)},
    {"found_amount_uncertainty", "m", "standard uncertainty of found_amount",
     offsetof(cavum_step, found_amount_uncertainty)},
    {"zero_mode", "Hz", "frequency of the 0 mode of two halves joined at the iris, between plates",
     offsetof(cavum_step, zero_hz)},
    {"zero_mode_uncertainty", "Hz", "standard uncertainty of zero_mode",
     offsetof(cavum_step, zero_uncertainty_hz)},
    {"zero_mode_aim", "Hz", "aim for zero_mode", offsetof(cavum_step, zero_aim_hz)},
    {"pi_mode", "Hz", "frequency of the pi mode of two halves joined at the iris, between plates",
     offsetof(cavum_step, pi_hz)},
    {"pi_mode_uncertainty", "Hz", "standard uncertainty of pi_mode",
     offsetof(cavum_step, pi_uncertainty_hz)},
    {"pi_mode_aim", "Hz", "aim for pi_mode", offsetof(cavum_step, pi_aim_hz)},
    {"measured_zero_mode", "Hz", "measured frequency of the 0 mode, from the step file",
     offsetof(cavum_step, measured_zero_hz)},
    {"measured_pi_mode", "Hz", "measured frequency of the pi mode, from the step file",
     offsetof(cavum_step, measured_pi_hz)},
    {"k_cc", "1", "coupling 2 (f_pi - f_0) / (f_pi + f_0) from zero_mode and pi_mode",
     offsetof(cavum_step, coupling)},
    {"zero_mode_expected", "Hz", "expected frequency of the 0 mode, from all measurements",
     offsetof(cavum_step, zero_expected_hz)},
    {"zero_mode_expected_uncertainty", "Hz", "standard uncertainty of zero_mode_expected",
     offsetof(cavum_step, zero_expected_uncertainty_hz)},
    {"pi_mode_expected", "Hz", "expected frequency of the pi mode, from all measurements",
     offsetof(cavum_step, pi_expected_hz)},
    {"pi_mode_expected_uncertainty", "Hz", "standard uncertainty of pi_mode_expected",
     offsetof(cavum_step, pi_expected_uncertainty_hz)}};
enum { NUM_COLUMNS = sizeof COLUMNS / sizeof COLUMNS[0], NUM_COLUMNS_FIRST = 19 };

// Texts that files of earlier versions may not have.
static const struct {
  const char *path, *long_name;
  size_t offset;
} TEXTS[] = {
    {"/steps/next_amount_obstacle", "why next_amount is impossible",
     offsetof(cavum_step, next_obstacle)},
    {"/steps/next_amount_caution", "caution about next_amount", offsetof(cavum_step, next_caution)},
    {"/steps/found_amount_obstacle", "why found_amount is impossible",
     offsetof(cavum_step, found_obstacle)}};
enum { NUM_TEXTS = sizeof TEXTS / sizeof TEXTS[0] };
// Which measured frequencies contradict the others.
static const struct {
  const char *path, *long_name;
  size_t offset;
} MARKS[] = {{"/measured/contradicts",
              "1: the measured frequency contradicts the others, one value for each step",
              offsetof(cavum_step, contradicts)},
             {"/steps/uncertainty_not_stated",
              "1: the uncertainty of the step, or of the drawing, is not stated and taken as 0",
              offsetof(cavum_step, uncertainty_not_stated)},
             {"/measured/zero_mode_contradicts", "1: measured_zero_mode contradicts the others",
              offsetof(cavum_step, zero_contradicts)},
             {"/measured/pi_mode_contradicts", "1: measured_pi_mode contradicts the others",
              offsetof(cavum_step, pi_contradicts)}};
enum { NUM_MARKS = sizeof MARKS / sizeof MARKS[0] };
static const char AGREEMENT[] = "/measured/agreement", CONTRADICTION[] = "/measured/contradiction",
                  NOT_STATED[] = "/input/uncertainty_not_stated";
enum { NUM_AGREEMENT = 4 };

// ---- write

static cavum_status write_columns(cavum_hdf5_file *file, const cavum_steps_result *result,
                                  cavum_error *error) {
  double column[MOST];
  char path[64];
  for (int c = 0; c < NUM_COLUMNS; c++) {
    for (int i = 0; i < result->num_steps; i++) {
      memcpy(&column[i], (const char *)result->steps[i] + COLUMNS[c].offset, sizeof column[i]);
    }
    snprintf(path, sizeof path, "/steps/%s", COLUMNS[c].name);
    cavum_status status =
        cavum_matrix_write(file, (cavum_matrix_name){path, COLUMNS[c].units, COLUMNS[c].long_name},
                           result->num_steps, 0, column, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// Figures of the shapes that were solved; NaN behind other steps.
static cavum_status write_figures(cavum_hdf5_file *file, const cavum_steps_result *result,
                                  cavum_error *error) {
  double column[MOST];
  char path[128];
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit((cavum_figure_id)id));
    cavum_figure_info what = cavum_figure_describe((cavum_figure_id)id);
    bool any = false;
    for (int i = 0; i < result->num_steps; i++) {
      const cavum_figure *f = &result->steps[i]->figures[id];
      bool there = result->steps[i]->solved && f->state == CAVUM_FIGURE_PRESENT;
      column[i] = there ? f->value / unit : NAN;
      any = any || there;
    }
    if (!any) continue;
    snprintf(path, sizeof path, "/figures/%s", what.key);
    cavum_status status =
        cavum_matrix_write(file, (cavum_matrix_name){path, "as the key says", what.long_name},
                           result->num_steps, 0, column, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status write_texts(cavum_hdf5_file *file, const cavum_steps_result *result,
                                cavum_error *error) {
  const char *names[MOST], *kinds[MOST], *what[MOST], *reasons[MOST];
  int n = result->num_steps;
  for (int i = 0; i < n; i++) {
    names[i] = result->steps[i]->name;
    kinds[i] = cavum_step_kind_name(result->steps[i]->kind);
    what[i] = result->steps[i]->what;
    reasons[i] = result->steps[i]->reason;
  }
  cavum_status status = cavum_hdf5_write_texts(file, "/steps/name", n, names, "step", error);
  if (status == CAVUM_OK) {
    status = cavum_hdf5_write_texts(file, "/steps/kind", n, kinds, "kind of step", error);
  }
  if (status == CAVUM_OK) {
    status = cavum_hdf5_write_texts(file, "/steps/what", n, what, "what the step does", error);
  }
  if (status == CAVUM_OK) {
    status = cavum_hdf5_write_texts(file, "/steps/reason", n, reasons,
                                    "why change and derivative_change differ", error);
  }
  for (int t = 0; status == CAVUM_OK && t < NUM_TEXTS; t++) {
    for (int i = 0; i < n; i++) what[i] = (const char *)result->steps[i] + TEXTS[t].offset;
    status = cavum_hdf5_write_texts(file, TEXTS[t].path, n, what, TEXTS[t].long_name, error);
  }
  return status;
}

static cavum_status write_agreement(cavum_hdf5_file *file, const cavum_steps_result *result,
                                    cavum_error *error) {
  const double numbers[NUM_AGREEMENT] = {result->chi_square, result->chi_square_freedom,
                                         result->chi_square_probability, result->odd_step + 1};
  const char *sentence = result->contradiction;
  cavum_status status = cavum_matrix_write(
      file,
      (cavum_matrix_name){
          AGREEMENT, "1",
          "agreement of the measurements: chi-square, degrees of freedom, probability of one as "
          "large, and the step that fits least, from 1; 0: none"},
      NUM_AGREEMENT, 0, numbers, error);
  if (status != CAVUM_OK) return status;
  status =
      cavum_hdf5_write_texts(file, CONTRADICTION, 0, &sentence,
                             "sentence on how measured frequencies contradict each other", error);
  if (status != CAVUM_OK) return status;
  sentence = result->not_stated;
  return cavum_hdf5_write_texts(file, NOT_STATED, 0, &sentence,
                                "steps whose uncertainty is not stated, as a sentence; empty: none",
                                error);
}

static cavum_status write_marks(cavum_hdf5_file *file, const cavum_steps_result *result,
                                cavum_error *error) {
  double column[MOST];
  for (int m = 0; m < NUM_MARKS; m++) {
    for (int i = 0; i < result->num_steps; i++) {
      column[i] = *(const bool *)((const char *)result->steps[i] + MARKS[m].offset) ? 1.0 : 0.0;
    }
    cavum_status status =
        cavum_matrix_write(file, (cavum_matrix_name){MARKS[m].path, "1", MARKS[m].long_name},
                           result->num_steps, 0, column, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status write_sources(cavum_hdf5_file *file, const cavum_steps_result *result,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int n = result->num_sources;
  if (n == 0) return CAVUM_OK;
  const char **names = cavum_alloc(n, sizeof *names);
  double *found = cavum_alloc(2 * (int64_t)n, sizeof *found);
  if (!names || !found) CAVUM_TRY(cavum_fail_memory(error));
  for (int s = 0; s < n; s++) {
    names[s] = result->sources[s]->name;
    found[s] = result->sources[s]->found;
    found[n + s] = result->sources[s]->found_uncertainty;
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/sources/name", n, names, "source", error));
  CAVUM_TRY(cavum_matrix_write(
      file,
      (cavum_matrix_name){
          "/sources/found", "1",
          "deviation of the source according to the measurements, in its standard deviations"},
      n, 0, found, error));
  CAVUM_TRY(
      cavum_matrix_write(file,
                         (cavum_matrix_name){"/sources/found_uncertainty", "1",
                                             "standard uncertainty of found; 1: nothing is known"},
                         n, 0, found + n, error));
  CAVUM_TRY(cavum_matrix_write(
      file,
      (cavum_matrix_name){
          "/sources/sensitivity", "Hz",
          "change of the frequency after a step by one standard deviation of a source"},
      result->num_steps, n, result->sensitivity_hz, error));
done:
  free(names);
  free(found);
  return status;
}

static cavum_status write_all(cavum_hdf5_file *file, const cavum_steps_result *result,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const char *version = cavum_version(), *title = result->title;
  const double target[2] = {result->target_hz, result->target_tolerance_hz};
  const double mode = result->mode + 1;
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, "/", "format", CAVUM_STORE_STEPS_FORMAT, error));
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, "/", "label", result->label, error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/input/title", 0, &title, "title of the chain", error));
  CAVUM_TRY(
      cavum_hdf5_write_texts(file, "/input/version_cavum", 0, &version, "version of cavum", error));
  CAVUM_TRY(cavum_matrix_write(file, (cavum_matrix_name){"/input/mode", "1", "mode, from 1"}, 1, 0,
                               &mode, error));
  CAVUM_TRY(cavum_matrix_write(
      file,
      (cavum_matrix_name){"/input/target", "Hz",
                          "target after the last step, and its tolerance to either side"},
      2, 0, target, error));
  CAVUM_TRY(write_texts(file, result, error));
  CAVUM_TRY(write_columns(file, result, error));
  CAVUM_TRY(write_figures(file, result, error));
  CAVUM_TRY(write_sources(file, result, error));
  CAVUM_TRY(write_agreement(file, result, error));
  CAVUM_TRY(write_marks(file, result, error));
done:
  return status;
}

cavum_status cavum_store_write_steps(const char *path, const cavum_steps_result *result,
                                     cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  cavum_status status = CAVUM_OK;
  if (!path || !result) return cavum_fail_null(error, __func__);
  CAVUM_TRY(cavum_hdf5_create(&file, error));
  CAVUM_TRY(write_all(file, result, error));
  CAVUM_TRY(cavum_hdf5_save(file, path, "steps", error));
done:
  cavum_hdf5_destroy(&file);
  return status;
}

// ---- read

// A text of each step into a member of so many bytes.
static cavum_status read_member(cavum_steps_result *made, size_t offset, size_t size,
                                const cavum_hdf5_file *file, const char *path, cavum_error *error) {
  char **texts = NULL;
  int count = 0;
  cavum_status status = cavum_hdf5_read_texts(&texts, &count, file, path, error);
  if (status == CAVUM_OK && count != made->num_steps)
    status = cavum_matrix_fail_damaged(path, error);
  for (int i = 0; status == CAVUM_OK && i < count; i++) {
    snprintf((char *)made->steps[i] + offset, size, "%s", texts[i]);
  }
  cavum_hdf5_free_texts(texts, count);
  return status;
}

static cavum_step_kind kind_of_name(const char *name) {
  for (int kind = CAVUM_STEP_DRAWING; kind <= CAVUM_STEP_PRELOAD; kind++) {
    if (strcmp(cavum_step_kind_name((cavum_step_kind)kind), name) == 0) {
      return (cavum_step_kind)kind;
    }
  }
  return CAVUM_STEP_CHANGE;
}

static cavum_status make_steps(cavum_steps_result *made, const cavum_hdf5_file *file,
                               cavum_error *error) {
  char **kinds = NULL;
  int count = 0;
  cavum_status status = cavum_hdf5_read_texts(&kinds, &count, file, "/steps/kind", error);
  if (status == CAVUM_OK && (count < 1 || count > MOST)) {
    status = cavum_matrix_fail_damaged("/steps/kind", error);
  }
  if (status != CAVUM_OK) goto done;
  made->steps = cavum_alloc(count, sizeof *made->steps);
  if (!made->steps) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < count; i++) {
    made->steps[i] = cavum_alloc(1, sizeof *made->steps[i]);
    if (!made->steps[i]) CAVUM_TRY(cavum_fail_memory(error));
    made->num_steps = i + 1;
    made->steps[i]->kind = kind_of_name(kinds[i]);
  }
done:
  cavum_hdf5_free_texts(kinds, count);
  return status;
}

static cavum_status read_steps(cavum_steps_result *made, const cavum_hdf5_file *file,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double column[MOST];
  char path[64];
  CAVUM_TRY(make_steps(made, file, error));
  CAVUM_TRY(read_member(made, offsetof(cavum_step, name), CAVUM_STEP_NAME_SIZE, file, "/steps/name",
                        error));
  CAVUM_TRY(read_member(made, offsetof(cavum_step, what), CAVUM_STEP_LINE_SIZE, file, "/steps/what",
                        error));
  CAVUM_TRY(read_member(made, offsetof(cavum_step, reason), CAVUM_STEP_LINE_SIZE, file,
                        "/steps/reason", error));
  for (int t = 0; t < NUM_TEXTS; t++) {
    if (!cavum_hdf5_has(file, TEXTS[t].path)) continue;
    CAVUM_TRY(read_member(made, TEXTS[t].offset, CAVUM_STEP_LINE_SIZE, file, TEXTS[t].path, error));
  }
  for (int c = 0; c < NUM_COLUMNS; c++) {
    snprintf(path, sizeof path, "/steps/%s", COLUMNS[c].name);
    bool there = c < NUM_COLUMNS_FIRST || cavum_hdf5_has(file, path);  // else an earlier version's
    for (int i = 0; !there && i < made->num_steps; i++) column[i] = NAN;
    if (there) CAVUM_TRY(cavum_matrix_read(column, made->num_steps, file, path, error));
    for (int i = 0; i < made->num_steps; i++) {
      memcpy((char *)made->steps[i] + COLUMNS[c].offset, &column[i], sizeof column[i]);
    }
  }
done:
  return status;
}

// A shape that was solved has figures, whose uncertainties are not in the file.
static cavum_status read_figures(cavum_steps_result *made, const cavum_hdf5_file *file,
                                 cavum_error *error) {
  double column[MOST];
  char path[128];
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit((cavum_figure_id)id));
    snprintf(path, sizeof path, "/figures/%s", cavum_figure_describe((cavum_figure_id)id).key);
    if (!cavum_hdf5_has(file, path)) continue;
    cavum_status status = cavum_matrix_read(column, made->num_steps, file, path, error);
    if (status != CAVUM_OK) return status;
    for (int i = 0; i < made->num_steps; i++) {
      if (isnan(column[i])) continue;
      made->steps[i]->solved = true;
      made->steps[i]->figures[id] = (cavum_figure){
          .state = CAVUM_FIGURE_PRESENT, .value = unit * column[i], .uncertainty = NAN};
    }
  }
  return CAVUM_OK;
}

static cavum_status read_sources(cavum_steps_result *made, const cavum_hdf5_file *file,
                                 cavum_error *error) {
  char **names = NULL;
  double *found = NULL;
  int count = 0;
  cavum_status status = CAVUM_OK;
  if (!cavum_hdf5_has(file, "/sources/name")) return CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_read_texts(&names, &count, file, "/sources/name", error));
  if (count < 1 || count > 4 * MOST) CAVUM_TRY(cavum_matrix_fail_damaged("/sources/name", error));
  found = cavum_alloc(2 * (int64_t)count, sizeof *found);
  made->sources = cavum_alloc(count, sizeof *made->sources);
  made->sensitivity_hz = cavum_alloc((int64_t)count * made->num_steps, sizeof(double));
  if (!found || !made->sources || !made->sensitivity_hz) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_matrix_read(found, count, file, "/sources/found", error));
  CAVUM_TRY(cavum_matrix_read(found + count, count, file, "/sources/found_uncertainty", error));
  CAVUM_TRY(cavum_matrix_read(made->sensitivity_hz, count * made->num_steps, file,
                              "/sources/sensitivity", error));
  for (int s = 0; s < count; s++) {
    made->sources[s] = cavum_alloc(1, sizeof *made->sources[s]);
    if (!made->sources[s]) CAVUM_TRY(cavum_fail_memory(error));
    made->num_sources = s + 1;
    snprintf(made->sources[s]->name, CAVUM_STEP_NAME_SIZE, "%s", names[s]);
    made->sources[s]->found = found[s];
    made->sources[s]->found_uncertainty = found[count + s];
  }
done:
  cavum_hdf5_free_texts(names, count);
  free(found);
  return status;
}

static cavum_status read_agreement(cavum_steps_result *made, const cavum_hdf5_file *file,
                                   cavum_error *error) {
  double numbers[NUM_AGREEMENT];
  made->chi_square = made->chi_square_probability = NAN;
  made->odd_step = -1;
  if (!cavum_hdf5_has(file, AGREEMENT)) return CAVUM_OK;
  cavum_status status = cavum_matrix_read(numbers, NUM_AGREEMENT, file, AGREEMENT, error);
  if (status != CAVUM_OK) return status;
  made->chi_square = numbers[0];
  made->chi_square_freedom = cavum_whole_int(numbers[1], 0);
  made->chi_square_probability = numbers[2];
  int odd = cavum_whole_int(numbers[3], 0);
  made->odd_step = odd >= 1 && odd <= made->num_steps ? odd - 1 : -1;
  cavum_hdf5_read_text(made->contradiction, sizeof made->contradiction, file, CONTRADICTION, NULL,
                       NULL);
  if (!cavum_hdf5_has(file, NOT_STATED)) return CAVUM_OK;
  cavum_hdf5_read_text(made->not_stated, sizeof made->not_stated, file, NOT_STATED, NULL, NULL);
  return CAVUM_OK;
}

static cavum_status read_marks(cavum_steps_result *made, const cavum_hdf5_file *file,
                               cavum_error *error) {
  double column[MOST];
  for (int m = 0; m < NUM_MARKS; m++) {
    if (!cavum_hdf5_has(file, MARKS[m].path)) continue;  // an earlier version's
    cavum_status status = cavum_matrix_read(column, made->num_steps, file, MARKS[m].path, error);
    if (status != CAVUM_OK) return status;
    for (int i = 0; i < made->num_steps; i++) {
      *(bool *)((char *)made->steps[i] + MARKS[m].offset) = column[i] == 1.0;
    }
  }
  return CAVUM_OK;
}

static cavum_status read_all(cavum_steps_result *made, const cavum_hdf5_file *file,
                             cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double target[2], mode = 1.0;
  char title[1024] = "";
  CAVUM_TRY(cavum_hdf5_read_text(made->label, sizeof made->label, file, "/", "label", error));
  CAVUM_TRY(cavum_hdf5_read_text(title, sizeof title, file, "/input/title", NULL, error));
  CAVUM_TRY(cavum_matrix_read(&mode, 1, file, "/input/mode", error));
  CAVUM_TRY(cavum_matrix_read(target, 2, file, "/input/target", error));
  made->title = cavum_copy_text(title);
  if (!made->title) CAVUM_TRY(cavum_fail_memory(error));
  made->mode = cavum_whole_int(mode - 1.0, 0);
  made->target_hz = target[0];
  made->target_tolerance_hz = target[1];
  CAVUM_TRY(read_steps(made, file, error));
  CAVUM_TRY(read_figures(made, file, error));
  CAVUM_TRY(read_sources(made, file, error));
  CAVUM_TRY(read_agreement(made, file, error));
  CAVUM_TRY(read_marks(made, file, error));
done:
  return status;
}

cavum_status cavum_stored_steps_read(cavum_steps_result **result, const char *path,
                                     cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  char format[64] = "";
  cavum_status status = CAVUM_OK;
  cavum_steps_result *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_hdf5_open(&file, path, error));
  cavum_hdf5_read_text(format, sizeof format, file, "/", "format", NULL);
  if (strcmp(format, CAVUM_STORE_STEPS_FORMAT) != 0) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: no file of cavum steps", path));
  }
  CAVUM_TRY(read_all(made, file, error));
  *result = made;
  made = NULL;
done:
  cavum_hdf5_destroy(&file);
  cavum_steps_result_destroy(&made);
  return status;
}
