// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/interrupt.h
 * Ctrl-C and the like while a command computes.
 */
#ifndef CAVUM_CLI_INTERRUPT_H
#define CAVUM_CLI_INTERRUPT_H

#include <stdbool.h>

#include "cavum/status.h"

/**
 * From now on the first SIGINT or SIGTERM asks the command to stop, which it does in order and with
 * nothing written; the second one ends the process at once.
 */
void cavum_interrupt_catch(void);

/** True when such a signal came: a cavum_stop_question, data is not used. */
bool cavum_interrupt_came(void *data);

/** CAVUM_ERR_STOPPED when such a signal came: before something is written. */
cavum_status cavum_interrupt_check(cavum_error *error);

#endif
