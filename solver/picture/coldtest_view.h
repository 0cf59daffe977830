// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_view.h
 * Pictures of a cold test: Q0 against gradient, surface resistance against temperature, budget.
 */
#ifndef CAVUM_PICTURE_COLDTEST_VIEW_H
#define CAVUM_PICTURE_COLDTEST_VIEW_H

#include "picture/page.h"
#include "store/coldtest_load.h"

/** Draws a page of a test; `point` is the reading whose budget is shown, from 0, -1: chosen. */
cavum_status cavum_test_view_draw(char **bytes, size_t *size, const cavum_stored_coldtest *test,
                                  int point, const cavum_draw_request *request, cavum_error *error);

#endif
