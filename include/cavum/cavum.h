// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cavum.h
 * All of the public interface, and the conventions that hold throughout.
 *
 * Units: SI in every struct and argument; a dimensional name ends in its unit (`radius_m`). Numbers
 * by a key (cell_key.h, columns of scans) are in the unit that the key names. Files and screen have
 * units of their own: "bpk_over_eacc_mT_per_MV_per_m" is in T/(V/m) here.
 *
 * Absence: it is a state, and the number behind it is not asked.
 * - What a program states (cells, options, setups, requests): 0, NULL, "" or a kind named UNSTATED
 * or NONE is not stated; -1 where 0 can be. NAN is refused.
 * - What the library gives: a state (cavum_figure), `has_...`, `known`, a count `num_...` of 0, or
 * a function that says so (cavum_estimate_is_known()). An index of nothing is -1. A number of a
 * result that has no state beside it is NAN where it does not exist.
 * - Rows of numbers (readings, points of a test, columns of a scan, fields at points): NAN is
 * missing, 0 is a zero that was read or computed.
 *
 * Numbers of things: counts are called `num_...`, or `count` in a struct that is one list; modes,
 * points, readings, shapes, parts are counted from 0. Files, messages and the command count modes
 * and readings from 1, for people.
 *
 * Lifetimes: `_create` and `_destroy` for what is opaque, `_open` and `_close` where a file or a
 * text is behind it, both through a pointer that is set to NULL at the end; `_clear` empties a
 * struct that the program has. Each accepts NULL. Texts and bytes that are handed out are released
 * with cavum_free(). Pointers are owned or borrowed, as said where they stand; static texts live
 * on.
 *
 * Options: `_default()` gives those that hold where a function is given NULL.
 *
 * Growth: a program goes on with every later library whose number is the same (the N of
 * libcavum.so.N). There are three kinds of structs.
 * - What a program has itself and that may grow begins with `struct_size`: choices, requests,
 * setups, cells, and what some functions fill. Members are appended only, 0 in a new one means what
 * was before it was there, and no more of the struct is read or written than `struct_size` says.
 * Functions that end in `_sized` or `_set_defaults` are called by the inline function beside them.
 * - What the library makes and hands out by a pointer (results, reports) grows at its end. Its
 * parts are reached by functions where these exist (cavum_result_mode()), and by members.
 * - All other structs are closed: a point, a figure, an estimate, what stands in an array, what is
 * part of another struct. So are the lengths of arrays in structs. Those by a table that grows are
 * called `..._ROOM` and are longer than the table. A change takes a new number. So it does in a
 * struct that has one of the first kind as a part: a test file (cavum_coldtest_file) and its
 * report.
 *
 * Callbacks: they are called from C. They return: no C++ exception and no longjmp() may leave one,
 * since what the library holds would be lost (an exception ends the process). Such a callback
 * catches, keeps the exception, and has the solve stopped by its `stop`; the program throws again
 * what was kept when the call has come back. They use no object of the call that asks them, as the
 * solver.
 *
 * Descriptions: names and words of enumerations are static texts, never NULL, "unknown" for a
 * number that none has. Errors and NULL: see status.h.
 *
 * What changed its name or meaning: 0.2: accuracy_peak_field became accuracy_other_figures; the
 * figure B_pk/E_acc is in T/(V/m); modes of pictures, stored modes and test files, readings of
 * pictures and parts of a scan are counted from 0; options of series of a cold test and of
 * scans begin with their size; inputs of cold tests behind CAVUM_INPUT_DIRECTIVITY count one more,
 * since CAVUM_INPUT_FORWARD_DIRECTIVITY stands there.
 */
#ifndef CAVUM_H
#define CAVUM_H

#include "cavum/as_built.h"
#include "cavum/cell.h"
#include "cavum/cell_key.h"
#include "cavum/cell_text.h"
#include "cavum/coldtest.h"
#include "cavum/coldtest_compare.h"
#include "cavum/coldtest_emission.h"
#include "cavum/coldtest_field.h"
#include "cavum/coldtest_file.h"
#include "cavum/coldtest_frequency.h"
#include "cavum/coldtest_report.h"
#include "cavum/coldtest_series.h"
#include "cavum/contour.h"
#include "cavum/field.h"
#include "cavum/figure_text.h"
#include "cavum/figures.h"
#include "cavum/files.h"
#include "cavum/geometry.h"
#include "cavum/mesh.h"
#include "cavum/optimum.h"
#include "cavum/picture.h"
#include "cavum/requirement.h"
#include "cavum/scan.h"
#include "cavum/scan_store.h"
#include "cavum/solve.h"
#include "cavum/solver.h"
#include "cavum/status.h"
#include "cavum/steps.h"
#include "cavum/store.h"
#include "cavum/tolerance.h"
#include "cavum/tune.h"
#include "cavum/wall.h"

#endif
