// SPDX-License-Identifier: GPL-3.0-or-later
// Signals that ask a command to stop.
#include "cli/interrupt.h"

#include <signal.h>
#include <stdio.h>

static volatile sig_atomic_t came;

static void note(int signal_number) { came = signal_number; }

void cavum_interrupt_catch(void) {
  struct sigaction action = {.sa_handler = note, .sa_flags = (int)SA_RESETHAND};
  sigemptyset(&action.sa_mask);
  sigaction(SIGINT, &action, NULL);
  sigaction(SIGTERM, &action, NULL);
}

bool cavum_interrupt_came(void *data) {
  (void)data;
  return came != 0;
}

cavum_status cavum_interrupt_check(cavum_error *error) {
  if (!came) return CAVUM_OK;
  error->status = CAVUM_ERR_STOPPED;
  snprintf(error->message, sizeof error->message, "stopped by a signal; nothing was written");
  return CAVUM_ERR_STOPPED;
}
