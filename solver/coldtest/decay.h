// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/decay.h
 * Samples of a decay trace, for messages.
 */
#ifndef CAVUM_COLDTEST_DECAY_H
#define CAVUM_COLDTEST_DECAY_H

#include "cavum/coldtest_series.h"

/** Place of a sample: "file:line", or "file: sample N". */
const char *cavum_decay_place(char text[300], const cavum_decay_trace *trace, int64_t index);

#endif
