// SPDX-License-Identifier: GPL-3.0-or-later
// `channels` of a test file: what stands between each cavity port and its meter.
#include <stdio.h>
#include <string.h>

#include "coldtest_file/sections.h"

/** The section. */
typedef struct channels_section {
  const cavum_yaml_node *channel[CAVUM_CHANNEL_EXTRA];
  const cavum_yaml_node *extra;
} channels_section;

static const cavum_yaml_field CHANNELS_FIELDS[] = {
    CAVUM_TEST_NODE(channels_section, channel[CAVUM_CHANNEL_FORWARD], "forward",
                    CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(channels_section, channel[CAVUM_CHANNEL_REFLECTED], "reflected",
                    CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(channels_section, channel[CAVUM_CHANNEL_TRANSMITTED], "transmitted",
                    CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(channels_section, channel[CAVUM_CHANNEL_EMITTED], "emitted",
                    CAVUM_YAML_FIELD_MAPPING),
    CAVUM_TEST_NODE(channels_section, extra, "extra", CAVUM_YAML_FIELD_LIST),
};

enum { OWN_UNSAID, OWN_SHARED, OWN_OWN };
static const cavum_yaml_word METER_WORDS[] = {
    {"of_reflected", OWN_SHARED}, {"own", OWN_OWN}, {NULL, 0}};

/** One channel in the units of its keys. */
typedef struct channel_section {
  const char *name;
  int meter;
  const cavum_yaml_node *chain;
  double gain_percent, reading_percent, zero_mw, zero_uncertainty_mw;
} channel_section;

#define CHANNEL_FIELDS                                                                          \
  CAVUM_TEST_NODE(channel_section, chain, "chain", CAVUM_YAML_FIELD_LIST),                      \
      CAVUM_TEST_NUMBER(channel_section, gain_percent, "meter_uncertainty_percent", 0.0, 50.0), \
      CAVUM_TEST_NUMBER(channel_section, reading_percent, "reading_uncertainty_percent", 0.0,   \
                        50.0),                                                                  \
      CAVUM_TEST_NUMBER(channel_section, zero_mw, "zero_mW", -1e6, 1e6),                        \
      CAVUM_TEST_NUMBER(channel_section, zero_uncertainty_mw, "zero_uncertainty_mW", 0.0, 1e6)

static const cavum_yaml_field PLAIN_FIELDS[] = {CHANNEL_FIELDS};
static const cavum_yaml_field EMITTED_FIELDS[] = {
    CAVUM_TEST_WORD(channel_section, meter, "meter", METER_WORDS), CHANNEL_FIELDS};
static const cavum_yaml_field EXTRA_FIELDS[] = {{.key = "name",
                                                 .offset = offsetof(channel_section, name),
                                                 .kind = CAVUM_YAML_FIELD_TEXT,
                                                 .required = true},
                                                CHANNEL_FIELDS};

/** One part of a chain. */
typedef struct part_section {
  const char *part;
  double decibels, uncertainty_db;
} part_section;

static const cavum_yaml_field PART_FIELDS[] = {
    CAVUM_TEST_TEXT(part_section, part, "part"),
    {.key = "dB",
     .offset = offsetof(part_section, decibels),
     .kind = CAVUM_YAML_FIELD_NUMBER,
     .required = true,
     .low = -200.0,
     .high = 200.0},
    CAVUM_TEST_NUMBER(part_section, uncertainty_db, "uncertainty_dB", 0.0, 20.0),
};

// Parts add in dB; their uncertainties are independent.
static cavum_status read_chain(cavum_coldtest_channel *channel, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *list, const char *path) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(PART_FIELDS);
  double sum = 0.0, squares = 0.0;
  cavum_index index = 1;
  for (const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list); node;
       node = cavum_yaml_reader_next(reader, node)) {
    part_section part = {0};
    cavum_yaml_path place = cavum_yaml_path_index(path, index++);
    CAVUM_TRY(cavum_yaml_read_fields(&part, reader, node, place.text, table));
    sum += part.decibels;
    squares += part.uncertainty_db * part.uncertainty_db;
  }
  channel->attenuation_db = sum;
  channel->attenuation_uncertainty_db = sqrt(squares);
done:
  return status;
}

static cavum_status read_channel(cavum_coldtest_channel *channel, channel_section *found,
                                 const cavum_yaml_reader *reader, const cavum_yaml_node *node,
                                 const char *path, cavum_yaml_table table) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_yaml_read_fields(found, reader, node, path, table));
  channel->gain_uncertainty = cavum_from_unit(found->gain_percent, CAVUM_UNIT_PERCENT);
  channel->noise = cavum_from_unit(found->reading_percent, CAVUM_UNIT_PERCENT);
  channel->zero_w = cavum_from_unit(found->zero_mw, CAVUM_UNIT_MILLIWATT);
  channel->zero_uncertainty_w = cavum_from_unit(found->zero_uncertainty_mw, CAVUM_UNIT_MILLIWATT);
  if (found->chain) {
    cavum_yaml_path chain = cavum_yaml_path_join(path, "chain");
    CAVUM_TRY(read_chain(channel, reader, found->chain, chain.text));
  }
done:
  return status;
}

// The emitted power normally comes back through the coupler and meter of the reflected power.
static cavum_status read_emitted(cavum_coldtest_setup *setup, const cavum_yaml_reader *reader,
                                 const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(EMITTED_FIELDS);
  cavum_coldtest_channel *channel = &setup->channels[CAVUM_CHANNEL_EMITTED];
  channel_section found = {0};
  CAVUM_TRY(read_channel(channel, &found, reader, node, "channels.emitted", table));
  bool described = found.chain || found.gain_percent > 0.0 || found.zero_mw != 0.0 ||
                   found.zero_uncertainty_mw > 0.0;
  if (found.meter != OWN_OWN && described) {
    return cavum_yaml_reader_fail(
        reader, node,
        "channels.emitted: chain, meter and zero go with meter: own; without "
        "it they are those of reflected");
  }
  channel->chain = found.meter == OWN_OWN ? CAVUM_CHANNEL_EMITTED : CAVUM_CHANNEL_REFLECTED;
done:
  return status;
}

// By what a name is taken: "a column of the readings", "another extra port", or NULL.
static const char *find_taken(const cavum_coldtest_setup *setup, const char *name) {
  static const char *const reserved[] = {
      "forward",        "reflected",     "transmitted", "emitted", "frequency", "bath_temperature",
      "radiation",      "bath_pressure", "note",        "use",     "decay",     "decay_energy",
      "decay_amplitude"};
  for (size_t i = 0; i < sizeof reserved / sizeof *reserved; i++) {
    if (strcmp(name, reserved[i]) == 0) return "a column of the readings";
  }
  for (int i = 0; i < setup->num_extra; i++) {
    if (strcmp(name, setup->channels[CAVUM_CHANNEL_EXTRA + i].name) == 0)
      return "another extra port";
  }
  return NULL;
}

static cavum_status read_extra(cavum_coldtest_setup *setup, const cavum_yaml_reader *reader,
                               const cavum_yaml_node *list) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(EXTRA_FIELDS);
  for (const cavum_yaml_node *node = cavum_yaml_reader_first(reader, list); node;
       node = cavum_yaml_reader_next(reader, node)) {
    if (setup->num_extra == CAVUM_MAX_EXTRA) {
      return cavum_yaml_reader_fail(reader, node, "channels.extra: more than %d extra ports",
                                    CAVUM_MAX_EXTRA);
    }
    cavum_coldtest_channel *channel = &setup->channels[CAVUM_CHANNEL_EXTRA + setup->num_extra];
    cavum_yaml_path path = cavum_yaml_path_index("channels.extra", setup->num_extra + 1);
    channel_section found = {0};
    CAVUM_TRY(read_channel(channel, &found, reader, node, path.text, table));
    const char *taken = find_taken(setup, found.name);
    if (!*found.name) {
      return cavum_yaml_reader_fail(reader, node, "%s.name: expected a name, found none",
                                    path.text);
    }
    if (taken) {
      return cavum_yaml_reader_fail(reader, node,
                                    "%s.name: '%.60s' is %s already; expected another name",
                                    path.text, found.name, taken);
    }
    CAVUM_TRY(cavum_test_file_copy(channel->name, sizeof channel->name, reader, node,
                                   cavum_yaml_path_join(path.text, "name").text, found.name));
    setup->num_extra++;
  }
done:
  return status;
}

cavum_status cavum_test_file_read_channels(cavum_coldtest_setup *setup,
                                           const cavum_yaml_reader *reader,
                                           const cavum_yaml_node *node) {
  cavum_status status = CAVUM_OK;
  const cavum_yaml_table table = CAVUM_YAML_TABLE(CHANNELS_FIELDS);
  const cavum_yaml_table plain = CAVUM_YAML_TABLE(PLAIN_FIELDS);
  static const char *const paths[] = {"channels.forward", "channels.reflected",
                                      "channels.transmitted"};
  channels_section found = {0};
  CAVUM_TRY(cavum_yaml_read_fields(&found, reader, node, "channels", table));
  for (int i = 0; i < CAVUM_CHANNEL_EMITTED; i++) {
    channel_section section = {0};
    if (!found.channel[i]) continue;
    CAVUM_TRY(
        read_channel(&setup->channels[i], &section, reader, found.channel[i], paths[i], plain));
  }
  if (found.channel[CAVUM_CHANNEL_EMITTED]) {
    CAVUM_TRY(read_emitted(setup, reader, found.channel[CAVUM_CHANNEL_EMITTED]));
  }
  if (found.extra) CAVUM_TRY(read_extra(setup, reader, found.extra));
done:
  return status;
}
