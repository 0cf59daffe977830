// SPDX-License-Identifier: GPL-3.0-or-later
// Names and texts of inputs, results, branches, methods and flags, and the section on hazards.
#include <math.h>

#include "base/base.h"
#include "cavum/coldtest.h"
#include "coldtest/coldtest_private.h"

const char *cavum_coldtest_channel_name(const cavum_coldtest_setup *setup, int channel) {
  static const char *const names[] = {"forward", "reflected", "transmitted", "emitted"};
  if (channel < CAVUM_CHANNEL_EXTRA) return names[channel];
  const char *name = setup->channels[channel].name;
  return name[0] ? name : "extra port";
}

const char *cavum_coldtest_input_key(cavum_coldtest_input input) {
  switch (input) {
#define KEY_CASE(name, key, text) \
  case CAVUM_INPUT_##name:        \
    return key;
    CAVUM_COLDTEST_INPUT_TABLE(KEY_CASE)
#undef KEY_CASE
    default:
      return "unknown";
  }
}

const char *cavum_coldtest_input_text(cavum_coldtest_input input) {
  switch (input) {
#define TEXT_CASE(name, key, text) \
  case CAVUM_INPUT_##name:         \
    return text;
    CAVUM_COLDTEST_INPUT_TABLE(TEXT_CASE)
#undef TEXT_CASE
    default:
      return "unknown";
  }
}

cavum_coldtest_quantity_info cavum_coldtest_describe_quantity(cavum_coldtest_quantity quantity) {
  switch (quantity) {
#define INFO_CASE(name, key, unit, long_name, definition) \
  case CAVUM_QUANTITY_##name:                             \
    return (cavum_coldtest_quantity_info){key, unit, long_name, definition};
    CAVUM_COLDTEST_QUANTITY_TABLE(INFO_CASE)
#undef INFO_CASE
    default:
      return (cavum_coldtest_quantity_info){"unknown", "1", "unknown result", ""};
  }
}

const char *cavum_branch_name(cavum_branch branch) {
  switch (branch) {
    case CAVUM_BRANCH_DECIDE:
      return "decide";
    case CAVUM_BRANCH_OVER:
      return "over";
    case CAVUM_BRANCH_UNDER:
      return "under";
    default:
      return "unknown";
  }
}

const char *cavum_coupling_method_name(cavum_coupling_method method) {
  switch (method) {
    case CAVUM_COUPLING_REFLECTED:
      return "reflected";
    case CAVUM_COUPLING_EMITTED:
      return "emitted";
    case CAVUM_COUPLING_BOTH:
      return "both";
    case CAVUM_COUPLING_AUTO:
      return "auto";
    default:
      return "unknown";
  }
}

const char *cavum_q0_method_name(cavum_q0_method method) {
  switch (method) {
    case CAVUM_Q0_DECAY:
      return "decay";
    case CAVUM_Q0_PICKUP:
      return "pickup";
    case CAVUM_Q0_AUTO:
      return "auto";
    default:
      return "unknown";
  }
}

const char *cavum_coldtest_flag_key(cavum_coldtest_flag flag) {
  switch (flag) {
#define FLAG_CASE(name, key, text) \
  case CAVUM_FLAG_INDEX_##name:    \
    return key;
    CAVUM_COLDTEST_FLAG_TABLE(FLAG_CASE)
#undef FLAG_CASE
    default:
      return "unknown";
  }
}

const char *cavum_coldtest_flag_text(cavum_coldtest_flag flag) {
  switch (flag) {
#define FLAG_CASE(name, key, text) \
  case CAVUM_FLAG_INDEX_##name:    \
    return text;
    CAVUM_COLDTEST_FLAG_TABLE(FLAG_CASE)
#undef FLAG_CASE
    default:
      return "unknown";
  }
}

const char *cavum_coldtest_cautions(void) {
  return "Cautions. These numbers are computed from readings; this program is no safety function, "
         "and\n"
         "limits and trips belong in hardware.\n"
         "  X-rays: field emission makes bremsstrahlung without any source or beam; it rises "
         "steeply with\n"
         "    field and processing events come without warning. Shielding, interlocked access, "
         "survey:\n"
         "    ANSI/HPS N43.1, national law, the site's radiation officer.\n"
         "  Oxygen and cold: helium and nitrogen displace air without warning; cold burns and "
         "makes\n"
         "    materials brittle. Local oxygen-deficiency rules.\n"
         "  Pressure: trapped cryogen, loss of vacuum. ASME Boiler and Pressure Vessel Code, "
         "2014/68/EU,\n"
         "    EN 17527; licensed practice.\n"
         "  RF: open ports and loose flanges radiate. IEEE C95.1; lock out the amplifier; site "
         "rules.\n"
         "  Acid: hydrofluoric-acid mixtures poison through the skin, with delayed pain. The "
         "site's\n"
         "    chemical-hygiene rules.\n"
         "  The numbers: a wrong coupling branch or R/Q convention can make a set gradient 1.4 "
         "times the\n"
         "    intended one. Both are printed with the results: check them.\n";
}

bool cavum_estimate_is_known(const cavum_estimate *estimate) {
  if (!estimate || isnan(estimate->value)) return false;
  return estimate->value != 0.0 || estimate->uncertainty != 0.0;
}
