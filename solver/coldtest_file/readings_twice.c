// SPDX-License-Identifier: GPL-3.0-or-later
// A table of hashes with open addresses, at most half full.
#include "coldtest_file/readings_twice.h"

#include <string.h>

#include "base/base.h"

enum { NUM_NUMBERS = CAVUM_NUM_CHANNELS + 5 };

/** What makes two readings the same record. */
typedef struct record {
  double number[NUM_NUMBERS];
  int32_t run;
  cavum_branch branch;
  const char *note;
} record;

static record record_of(const cavum_coldtest_readings *readings, int64_t index) {
  const cavum_coldtest_reading *r = &readings->items[index];
  record out = {.run = r->run, .branch = r->branch};
  out.note = r->note > 0 ? readings->notes + r->note : "";
  memcpy(out.number, r->power_w, sizeof r->power_w);
  double *more = out.number + CAVUM_NUM_CHANNELS;
  more[0] = r->decay_time_s;
  more[1] = r->frequency_hz;
  more[2] = r->bath_temperature_k;
  more[3] = r->radiation_sv_per_h;
  more[4] = r->bath_pressure_pa;
  return out;
}

static bool equal(const record *a, const record *b) {
  for (int i = 0; i < NUM_NUMBERS; i++) {
    bool same = a->number[i] == b->number[i] || (isnan(a->number[i]) && isnan(b->number[i]));
    if (!same) return false;
  }
  return a->run == b->run && a->branch == b->branch && strcmp(a->note, b->note) == 0;
}

// FNV-1a over the bytes of the numbers; what was not read has one pattern.
static uint64_t hash(const record *r) {
  uint64_t sum = 14695981039346656037u;
  for (int i = 0; i < NUM_NUMBERS; i++) {
    double number = isnan(r->number[i]) ? -1.0 : r->number[i];
    unsigned char bytes[sizeof number];
    memcpy(bytes, &number, sizeof number);
    for (size_t k = 0; k < sizeof bytes; k++) sum = (sum ^ bytes[k]) * 1099511628211u;
  }
  return sum;
}

cavum_status cavum_readings_seen_create(cavum_readings_seen *seen, int64_t count,
                                        cavum_error *error) {
  int64_t size = 16;
  while (size < 2 * count) size *= 2;
  seen->place = cavum_alloc(size, sizeof *seen->place);
  if (!seen->place) return cavum_fail_memory(error);
  seen->size = size;
  return CAVUM_OK;
}

void cavum_readings_seen_clear(cavum_readings_seen *seen) {
  free(seen->place);
  *seen = (cavum_readings_seen){0};
}

int64_t cavum_readings_seen_add(cavum_readings_seen *seen,
                                const cavum_coldtest_readings *readings) {
  record last = record_of(readings, readings->num_readings - 1);
  int64_t mask = seen->size - 1, at = (int64_t)(hash(&last) & (uint64_t)mask);
  for (; seen->place[at] > 0; at = (at + 1) & mask) {
    record other = record_of(readings, seen->place[at] - 1);
    if (equal(&last, &other)) return seen->place[at] - 1;
  }
  seen->place[at] = readings->num_readings;
  return -1;
}
