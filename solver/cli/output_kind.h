// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/output_kind.h
 * Kinds of files by their endings and by what is in them.
 */
#ifndef CAVUM_CLI_OUTPUT_KIND_H
#define CAVUM_CLI_OUTPUT_KIND_H

#include "cli/outputs.h"

/** What a file of a kind is called in messages ("a result of cavum solve"); static. */
const char *cavum_output_kind_name(cavum_output_kind kind);

/**
 * What another format is called by its ending, in either case; NULL when the ending fits the kind,
 * says nothing, or is missing. Static.
 */
const char *cavum_output_kind_other_ending(cavum_output_kind kind, const char *path);

/** True when the ending of a result file is one that ParaView does not open by itself. */
bool cavum_output_kind_hides_from_paraview(cavum_output_kind kind, const char *path);

/** True when a file that exists is empty, or holds what a file of this kind begins with. */
bool cavum_output_kind_matches(cavum_output_kind kind, const char *path);

/** True when an HDF5 file has no seal: an earlier version wrote it, or a program has changed it. */
bool cavum_output_kind_lacks_seal(const char *path);

#endif
