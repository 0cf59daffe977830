// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/spikes.h
 * Single samples of a decay that stand alone, by a disturbance or a slip of the recorder.
 */
#ifndef CAVUM_COLDTEST_SPIKES_H
#define CAVUM_COLDTEST_SPIKES_H

#include <stdbool.h>
#include <stdint.h>

/**
 * True when a sample is above or below all of its four neighbours by far more than the samples
 * about it scatter. A step is none: there one side has neighbours as high, the other as low.
 * @param[in] log_power  ln of the power, shape [count].
 * @param[in] index      The first two and the last two samples are never one.
 * @param[in] sigma      Stated standard deviation of this sample in ln of the power; 0: not stated.
 */
bool cavum_is_spike(const double *log_power, int64_t count, int64_t index, double sigma);

#endif
