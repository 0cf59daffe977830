// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file hdf5/disk_driver.h
 * How HDF5 writes a file on disk: a driver that remembers the first write that failed.
 *
 * HDF5 cannot close a file whose last blocks do not go to the disk: what is left of it is closed
 * once more when the process ends, and crashes. This driver tells HDF5 that all went well, writes
 * nothing more, and leaves the reason where the caller looks. The layout of the file is that of
 * HDF5's own driver. Seen by the hdf5_file*.c files alone.
 */
#ifndef CAVUM_HDF5_DISK_DRIVER_H
#define CAVUM_HDF5_DISK_DRIVER_H

#include "hdf5/hdf5_calls.h"

/**
 * Registers the driver for one file; -1 when HDF5 refuses.
 *
 * Release with H5FDunregister() when the file is closed, not before: the file has a hold of its
 * driver as well, but HDF5 1.10 gives that up and then calls the driver to close the file.
 */
hid_t cavum_disk_driver_register(void);

/**
 * File access properties with this driver; -1 when HDF5 refuses. Release with H5Pclose().
 * @param[in] driver  Of cavum_disk_driver_register().
 * @param[in] fault   Where errno of the first failure goes; has to outlive the file.
 */
hid_t cavum_disk_driver_access(hid_t driver, int *fault);

#endif
