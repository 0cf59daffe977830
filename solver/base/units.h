// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/units.h
 * The one table of units. Numbers are SI inside the program; files, screen, pictures and reports
 * have units of their own, and every conversion is one of the functions here.
 *
 * Prefixes as in the SI Brochure, 9th edition, table 7; the inch is 25.4 mm (1959 agreement,
 * exact).
 */
#ifndef CAVUM_BASE_UNITS_H
#define CAVUM_BASE_UNITS_H

#include <stdbool.h>
#include <stddef.h>

/**
 * Rows: name, symbol, how many SI units one is, as a quotient of two numbers that a double holds
 * exactly (but for pi). Values are multiplied by the first and divided by the second, so
 * that 42 mm become the double nearest to 0.042 m. Milli is spelled out where M is mega elsewhere.
 */
#define CAVUM_UNIT_TABLE(X)                   \
  X(SI, "", 1.0, 1.0)                         \
  X(M, "m", 1.0, 1.0)                         \
  X(CM, "cm", 1.0, 1e2)                       \
  X(MM, "mm", 1.0, 1e3)                       \
  X(UM, "um", 1.0, 1e6)                       \
  X(INCH, "inch", 254.0, 1e4)                 \
  X(DEGREE, "degree", CAVUM_PI, 180.0)        \
  X(MILLIRADIAN, "mrad", 1.0, 1e3)            \
  X(MILLIHERTZ, "mHz", 1.0, 1e3)              \
  X(HZ, "Hz", 1.0, 1.0)                       \
  X(KHZ, "kHz", 1e3, 1.0)                     \
  X(MHZ, "MHz", 1e6, 1.0)                     \
  X(GHZ, "GHz", 1e9, 1.0)                     \
  X(S, "s", 1.0, 1.0)                         \
  X(MS, "ms", 1.0, 1e3)                       \
  X(US, "us", 1.0, 1e6)                       \
  X(NS, "ns", 1.0, 1e9)                       \
  X(K, "K", 1.0, 1.0)                         \
  X(MILLIKELVIN, "mK", 1.0, 1e3)              \
  X(PA, "Pa", 1.0, 1.0)                       \
  X(KPA, "kPa", 1e3, 1.0)                     \
  X(MBAR, "mbar", 1e2, 1.0)                   \
  X(HZ_PER_MBAR, "Hz/mbar", 1.0, 1e2)         \
  X(HZ_PER_MV2, "Hz/(MV/m)^2", 1.0, 1e12)     \
  X(GPA_PER_M, "GPa/m", 1e9, 1.0)             \
  X(KHZ_PER_UM, "kHz/um", 1e9, 1.0)           \
  X(W, "W", 1.0, 1.0)                         \
  X(KILOWATT, "kW", 1e3, 1.0)                 \
  X(MILLIWATT, "mW", 1.0, 1e3)                \
  X(MICROWATT, "uW", 1.0, 1e6)                \
  X(J, "J", 1.0, 1.0)                         \
  X(VOLT, "V", 1.0, 1.0)                      \
  X(KV, "kV", 1e3, 1.0)                       \
  X(MV, "MV", 1e6, 1.0)                       \
  X(V_PER_M, "V/m", 1.0, 1.0)                 \
  X(KV_PER_M, "kV/m", 1e3, 1.0)               \
  X(MV_PER_M, "MV/m", 1e6, 1.0)               \
  X(MILLITESLA, "mT", 1.0, 1e3)               \
  X(MICROTESLA, "uT", 1.0, 1e6)               \
  X(OHM, "ohm", 1.0, 1.0)                     \
  X(OHM2, "ohm^2", 1.0, 1.0)                  \
  X(OHM_K, "ohm K", 1.0, 1.0)                 \
  X(MILLIOHM, "mohm", 1.0, 1e3)               \
  X(MICROOHM, "uohm", 1.0, 1e6)               \
  X(KILOOHM, "kohm", 1e3, 1.0)                \
  X(MEGAOHM, "Mohm", 1e6, 1.0)                \
  X(GIGAOHM, "Gohm", 1e9, 1.0)                \
  X(TERAOHM, "Tohm", 1e12, 1.0)               \
  X(NOHM, "nohm", 1.0, 1e9)                   \
  X(S_PER_M, "S/m", 1.0, 1.0)                 \
  X(V_PER_C, "V/C", 1.0, 1.0)                 \
  X(V_PER_PC, "V/pC", 1e12, 1.0)              \
  X(V_PER_NC, "V/nC", 1e9, 1.0)               \
  X(V_PER_UC, "V/uC", 1e6, 1.0)               \
  X(NOHM_PER_MICROTESLA, "nohm/uT", 1.0, 1e3) \
  X(SV_PER_H, "Sv/h", 1.0, 1.0)               \
  X(MILLISIEVERT_PER_H, "mSv/h", 1.0, 1e3)    \
  X(MICROSIEVERT_PER_H, "uSv/h", 1.0, 1e6)    \
  X(PERCENT, "%", 1.0, 1e2)                   \
  X(PPM, "ppm", 1.0, 1e6)                     \
  X(MILLITESLA_PER_MV_PER_M, "mT/(MV/m)", 1.0, 1e9)

/** Units; CAVUM_UNIT_SI is the SI unit of whatever is measured. */
typedef enum cavum_unit {
#define CAVUM_UNIT_ENUM(name, symbol, times, over) CAVUM_UNIT_##name,
  CAVUM_UNIT_TABLE(CAVUM_UNIT_ENUM)
#undef CAVUM_UNIT_ENUM
      CAVUM_NUM_UNITS
} cavum_unit;

/** Symbol as files and screen spell it, "" for CAVUM_UNIT_SI; static. */
const char *cavum_unit_symbol(cavum_unit unit);

/** A number in a unit, from SI. */
double cavum_in_unit(double value_si, cavum_unit unit);

/** A number in SI, from a unit. */
double cavum_from_unit(double value, cavum_unit unit);

/** A number in a unit with more digits than a double has. */
long double cavum_in_unit_long(double value_si, cavum_unit unit);

/** A number in SI from one with more digits than a double has. */
double cavum_from_unit_long(long double value, cavum_unit unit);

/** Whether one unit is a power of ten of the SI unit, and which; `power` untouched if not. Texts of
 * numbers are then converted by their exponent, without rounding. */
bool cavum_unit_power_of_ten(int *power, cavum_unit unit);

/** Length unit of a name, "mm"; false, and `unit` untouched, when there is none of that name. */
bool cavum_unit_find_length(cavum_unit *unit, const char *name);

/**
 * Unit at the end of a key of a file: CAVUM_UNIT_MM for "iris_radius_mm", CAVUM_UNIT_S_PER_M for
 * "conductivity_S_per_m"; CAVUM_UNIT_SI when it ends in none.
 */
cavum_unit cavum_unit_of_key(const char *key);

/** The same, and how many bytes of the key stand before the unit and its `_`; all without one. */
cavum_unit cavum_unit_split_key(size_t *length, const char *key);

/** Millimetres from metres. */
static inline double cavum_in_mm(double length_m) { return cavum_in_unit(length_m, CAVUM_UNIT_MM); }

/** Percent from a ratio. */
static inline double cavum_in_percent(double ratio) {
  return cavum_in_unit(ratio, CAVUM_UNIT_PERCENT);
}

/** Megahertz from hertz. */
static inline double cavum_in_mhz(double frequency_hz) {
  return cavum_in_unit(frequency_hz, CAVUM_UNIT_MHZ);
}

/** Megavolts per metre from volts per metre. */
static inline double cavum_in_mv_per_m(double field_v_per_m) {
  return cavum_in_unit(field_v_per_m, CAVUM_UNIT_MV_PER_M);
}

/** Nanoohms from ohms. */
static inline double cavum_in_nohm(double resistance_ohm) {
  return cavum_in_unit(resistance_ohm, CAVUM_UNIT_NOHM);
}

#endif
