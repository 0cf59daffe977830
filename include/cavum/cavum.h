// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cavum.h
 * All of the public interface.
 */
#ifndef CAVUM_H
#define CAVUM_H

#include "cavum/cell.h"
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
#include "cavum/mesh.h"
#include "cavum/picture.h"
#include "cavum/scan.h"
#include "cavum/scan_store.h"
#include "cavum/solve.h"
#include "cavum/solver.h"
#include "cavum/status.h"
#include "cavum/store.h"
#include "cavum/wall.h"

#endif
