// SPDX-License-Identifier: GPL-3.0-or-later
// Texts of cell files by libyaml's emitter.
#include "yaml/writer.h"

#include <errno.h>
#include <limits.h>
#include <locale.h>
#include <stdio.h>
#include <string.h>
#include <yaml.h>

#include "base/base.h"

struct cavum_writer {
  yaml_emitter_t emitter;
  bool has_emitter, failed, lacks_memory;
  char *text;  // owned, shape [capacity], zero-terminated
  size_t length;
  int64_t capacity;
  locale_t number_locale;
};

static int take_bytes(void *data, unsigned char *bytes, size_t size) {
  cavum_writer *w = data;
  void *text = w->text;
  bool grown = cavum_grow(&text, &w->capacity, (int64_t)(w->length + size + 1), 1);
  w->text = text;
  w->lacks_memory = w->lacks_memory || !grown;
  if (!grown) return 0;
  memcpy(w->text + w->length, bytes, size);
  w->length += size;
  w->text[w->length] = '\0';
  return 1;
}

// Hands an event over to the emitter, which frees it. Events without a text fail for want of memory
// alone.
static void emit(cavum_writer *w, yaml_event_t *event, int made) {
  w->lacks_memory = w->lacks_memory || (!made && !w->failed);
  w->failed = w->failed || !made;
  if (w->failed) {
    if (made) yaml_event_delete(event);
    return;
  }
  w->failed = !yaml_emitter_emit(&w->emitter, event);
}

cavum_writer *cavum_writer_create(void) {
  yaml_event_t event;
  cavum_writer *w = cavum_alloc(1, sizeof *w);
  if (!w) return NULL;
  w->number_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
  w->has_emitter = yaml_emitter_initialize(&w->emitter) != 0;
  if (!w->has_emitter || !w->number_locale) {
    cavum_writer_destroy(&w);
    return NULL;
  }
  yaml_emitter_set_output(&w->emitter, take_bytes, w);
  yaml_emitter_set_encoding(&w->emitter, YAML_UTF8_ENCODING);
  yaml_emitter_set_unicode(&w->emitter, 1);
  yaml_emitter_set_width(&w->emitter, -1);
  emit(w, &event, yaml_stream_start_event_initialize(&event, YAML_UTF8_ENCODING));
  emit(w, &event, yaml_document_start_event_initialize(&event, NULL, NULL, NULL, 1));
  return w;
}

void cavum_writer_destroy(cavum_writer **writer) {
  if (!writer || !*writer) return;
  if ((*writer)->has_emitter) yaml_emitter_delete(&(*writer)->emitter);
  if ((*writer)->number_locale) freelocale((*writer)->number_locale);
  free((*writer)->text);
  free(*writer);
  *writer = NULL;
}

static void scalar(cavum_writer *w, const char *text, yaml_scalar_style_t style) {
  yaml_event_t event;
  errno = 0;
  int made = yaml_scalar_event_initialize(&event, NULL, NULL, (const yaml_char_t *)text,
                                          (int)strlen(text), 1, 1, style);
  // A text that is no UTF-8 fails as well: libyaml does not tell, malloc does.
  if (!made && errno != ENOMEM) w->failed = true;
  emit(w, &event, made);
}

void cavum_writer_word(cavum_writer *writer, const char *word) {
  scalar(writer, word, YAML_PLAIN_SCALAR_STYLE);
}

void cavum_writer_text(cavum_writer *writer, const char *text) {
  scalar(writer, text, YAML_DOUBLE_QUOTED_SCALAR_STYLE);
}

void cavum_writer_words(cavum_writer *writer, const char *key, const char *text) {
  enum { LINE = 72 };
  cavum_writer_word(writer, key);
  yaml_emitter_set_width(&writer->emitter, LINE);
  cavum_writer_word(writer, text);
  yaml_emitter_set_width(&writer->emitter, INT_MAX);
}

static bool reads_back(const char *text, double value_si, cavum_unit unit) {
  return cavum_from_unit(strtod(text, NULL), unit) == value_si;
}

// YAML 1.1 has numbers with an exponent only where there is a point: 1.0e-06.
static void write_point(char text[CAVUM_WRITER_NUMBER_SIZE]) {
  char *at = strchr(text, 'e');
  if (!at || strchr(text, '.') || strlen(text) + 3 > CAVUM_WRITER_NUMBER_SIZE) return;
  memmove(at + 2, at, strlen(at) + 1);
  at[0] = '.';
  at[1] = '0';
}

// A double of few digits in the unit of the file, if there is one.
static bool write_double(char text[CAVUM_WRITER_NUMBER_SIZE], double value_si, cavum_unit unit) {
  enum { FEWEST = 15, MOST = 17 };
  double near = cavum_in_unit(value_si, unit);
  const double candidates[] = {near, nextafter(near, -HUGE_VAL), nextafter(near, HUGE_VAL)};
  for (int digits = FEWEST; digits <= MOST; digits++) {
    for (int i = 0; i < 3; i++) {
      snprintf(text, CAVUM_WRITER_NUMBER_SIZE, "%.*g", digits, candidates[i]);
      if (!reads_back(text, value_si, unit)) continue;
      write_point(text);
      return true;
    }
  }
  return false;
}

// The digits of the number in SI, one more than a double has so that they are known from others,
// with another exponent. Else 21 digits, with which a long double of 64 bits comes back: the
// conversion errs by less than 2^-62 then, a thousandth of what separates two doubles.
static void write_exact(char text[CAVUM_WRITER_NUMBER_SIZE], double value_si, cavum_unit unit) {
  int power;
  if (!cavum_unit_power_of_ten(&power, unit)) {
    snprintf(text, CAVUM_WRITER_NUMBER_SIZE, "%.20Le", cavum_in_unit_long(value_si, unit));
    return;
  }
  snprintf(text, CAVUM_WRITER_NUMBER_SIZE, "%.17e", value_si);
  char *at = strchr(text, 'e');
  if (!at) return;  // no number
  long exponent = strtol(at + 1, NULL, 10) - power;
  snprintf(at, CAVUM_WRITER_NUMBER_SIZE - (size_t)(at - text), "e%+03ld", exponent);
}

void cavum_writer_number_text(char text[CAVUM_WRITER_NUMBER_SIZE], double value_si,
                              cavum_unit unit) {
  locale_t c = newlocale(LC_NUMERIC_MASK, "C", (locale_t)0);
  locale_t before = c ? uselocale(c) : (locale_t)0;
  if (!write_double(text, value_si, unit)) write_exact(text, value_si, unit);
  if (c) {
    uselocale(before);
    freelocale(c);
  }
}

void cavum_writer_number(cavum_writer *writer, const char *key, double value_si, cavum_unit unit) {
  char text[CAVUM_WRITER_NUMBER_SIZE];
  locale_t before = uselocale(writer->number_locale);
  if (!write_double(text, value_si, unit)) write_exact(text, value_si, unit);
  uselocale(before);
  cavum_writer_word(writer, key);
  cavum_writer_word(writer, text);
}

void cavum_writer_open_mapping(cavum_writer *writer, bool one_line) {
  yaml_event_t event;
  emit(writer, &event,
       yaml_mapping_start_event_initialize(
           &event, NULL, NULL, 1, one_line ? YAML_FLOW_MAPPING_STYLE : YAML_BLOCK_MAPPING_STYLE));
}

void cavum_writer_close_mapping(cavum_writer *writer) {
  yaml_event_t event;
  emit(writer, &event, yaml_mapping_end_event_initialize(&event));
}

void cavum_writer_open_list(cavum_writer *writer) {
  yaml_event_t event;
  emit(writer, &event,
       yaml_sequence_start_event_initialize(&event, NULL, NULL, 1, YAML_BLOCK_SEQUENCE_STYLE));
}

void cavum_writer_close_list(cavum_writer *writer) {
  yaml_event_t event;
  emit(writer, &event, yaml_sequence_end_event_initialize(&event));
}

cavum_status cavum_writer_finish(char **text, cavum_writer *writer, cavum_error *error) {
  yaml_event_t event;
  emit(writer, &event, yaml_document_end_event_initialize(&event, 1));
  emit(writer, &event, yaml_stream_end_event_initialize(&event));
  if (!writer->failed) writer->failed = !yaml_emitter_flush(&writer->emitter);
  if (writer->lacks_memory || writer->emitter.error == YAML_MEMORY_ERROR) {
    return cavum_fail_memory(error);
  }
  if (writer->failed || !writer->text) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the cell has a text that no cell file can hold");
  }
  *text = writer->text;
  writer->text = NULL;
  return CAVUM_OK;
}
