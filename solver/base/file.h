// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/file.h
 * Whole files or none: a writer fills a temporary file, which then takes the name.
 */
#ifndef CAVUM_BASE_FILE_H
#define CAVUM_BASE_FILE_H

#include "cavum/status.h"

/**
 * The file that a name leads to behind symbolic links, whether it exists or not; the name itself
 * where links lead in a circle. free() it; NULL without memory.
 */
char *cavum_file_behind_links(const char *path);

/**
 * Name of the temporary file that a writer fills before renaming; free() it. It is in the folder of
 * `path`, or, where that is a symbolic link, in the folder of the file behind it.
 */
char *cavum_temporary_name(const char *path);

/**
 * The folder of what is kept until an output is complete: OUTPUT.parts, beside the file that the
 * name leads to, so that it is the same one whatever the link. free() it; NULL without memory.
 */
char *cavum_parts_folder(const char *output);

/**
 * The same as cavum_temporary_name(), inside the folder of parts where that is there: a temporary
 * file that a killed process leaves goes with the parts.
 */
char *cavum_temporary_name_in_parts(const char *output);

/**
 * Makes a finished temporary file durable and gives it its final name: fsync, rename, fsync of the
 * folder. A symbolic link stays: the file behind it is the one that is replaced. On failure the
 * temporary file is removed and the old file is left as it was. A path that is no regular file (a
 * folder, a device: a rename would replace /dev/null) is refused.
 */
cavum_status cavum_commit_file(const char *temporary, const char *path, cavum_error *error);

#endif
