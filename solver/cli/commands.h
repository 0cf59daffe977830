// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/commands.h
 * The commands. Each takes its own arguments, with argv[0] the name to show in messages ("cavum
 * solve"), and returns the exit status: 0 done, 1 the computation could not meet what was asked,
 * 2 bad input or usage, 3 stopped by a signal (scan).
 */
#ifndef CAVUM_CLI_COMMANDS_H
#define CAVUM_CLI_COMMANDS_H

/** Modes and figures of merit of a cell: table, JSON, result file. */
int cavum_cmd_solve(int argc, char **argv);

/** Dimensions of a cell so that its figures are what was asked for. */
int cavum_cmd_tune(int argc, char **argv);

/** The best shape for a goal. */
int cavum_cmd_optimise(int argc, char **argv);

/** What tolerances of the dimensions make of the figures. */
int cavum_cmd_tolerances(int argc, char **argv);

/** The frequency through the steps of fabrication and cool-down, both ways. */
int cavum_cmd_steps(int argc, char **argv);

/** A measured wall against its drawing. */
int cavum_cmd_as_built(int argc, char **argv);

/** Mesh of a cell as a MSH file. */
int cavum_cmd_mesh(int argc, char **argv);

/** Gradient, quality factor and surface resistance from the powers of a cold test. */
int cavum_cmd_coldtest(int argc, char **argv);

/** The same with pictures and reports: of the program that has what they need. */
int cavum_cmd_coldtest_draw(int argc, char **argv);

/** Many shapes from a study file: local workers, parts of a cluster job, gathering, summary. */
int cavum_cmd_scan(int argc, char **argv);

/** Picture of a result file. */
int cavum_cmd_draw(int argc, char **argv);

/** Several results side by side. */
int cavum_cmd_compare(int argc, char **argv);

/** Report of a result, cold test or scan as a web page. */
int cavum_cmd_report(int argc, char **argv);

/** Definitions of all figures. */
int cavum_cmd_figures(int argc, char **argv);

#endif
