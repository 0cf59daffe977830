// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/web_assets.h
 * The files that reports carry inside them, as zero-terminated texts; web_assets.c is made from
 * them when the library is built. Those of the plotting library are empty when it was not to be
 * had.
 */
#ifndef CAVUM_REPORT_WEB_ASSETS_H
#define CAVUM_REPORT_WEB_ASSETS_H

/** Our style sheet. */
extern const unsigned char cavum_web_report_css[];
/** Our script. */
extern const unsigned char cavum_web_report_js[];
/** Style sheet of the plotting library. */
extern const unsigned char cavum_web_plots_css[];
/** The plotting library. */
extern const unsigned char cavum_web_plots_js[];
/** Its licence. */
extern const unsigned char cavum_web_plots_licence[];

#endif
