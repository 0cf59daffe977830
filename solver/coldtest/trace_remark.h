// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/trace_remark.h
 * What a decay trace says that the readings of its test contradict.
 */
#ifndef CAVUM_COLDTEST_TRACE_REMARK_H
#define CAVUM_COLDTEST_TRACE_REMARK_H

#include "cavum/coldtest_series.h"

/**
 * Puts remarks at the test: samples that were left out, a start above all readings, decay times
 * and loaded Q unlike those of the readings, a loaded Q above Q_e (the floor of the meter), a
 * sudden loss within the decay.
 * @return false: no cavity gives this trace. The reason is a remark; the trace is to be set aside.
 */
bool cavum_coldtest_remark_on_trace(cavum_coldtest *test, const cavum_decay_trace *trace,
                                    const cavum_decay_analysis *analysis, double frequency_hz);

#endif
