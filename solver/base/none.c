// SPDX-License-Identifier: GPL-3.0-or-later
// Stands in for a module that has no file yet.
typedef int cavum_none;
