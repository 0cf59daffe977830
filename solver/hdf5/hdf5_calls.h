// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file hdf5/hdf5_calls.h
 * HDF5 through pointers, so that a program that only solves need not load it: Debian's library
 * brings some thirty others for reading from the network. The shared library opens HDF5 when a file
 * is first read or written (hdf5_calls_opened.c); in the archive and in programs the pointers are
 * set by the linker (hdf5_calls_linked.c).
 *
 * Included right after <hdf5.h> by the headers of this room, by nothing else. What is missing in
 * these tables does not link. Every function that makes a cavum_hdf5_file calls cavum_hdf5_reach()
 * first.
 */
#ifndef CAVUM_HDF5_HDF5_CALLS_H
#define CAVUM_HDF5_HDF5_CALLS_H

#include <hdf5.h>

#include "base/late.h"

// clang-format off
/** The functions. */
#define CAVUM_HDF5_FUNCTIONS(X) \
  X(H5Aclose) X(H5Acreate2) X(H5Aexists_by_name) X(H5Aget_space) X(H5Aget_type) \
  X(H5Aopen_by_name) X(H5Aread) X(H5Awrite) X(H5Dclose) X(H5Dcreate2) X(H5Dget_create_plist) \
  X(H5Dget_space) X(H5Dget_storage_size) X(H5Dget_type) X(H5Dopen2) X(H5Dread) X(H5Dwrite) \
  X(H5Dwrite_chunk) X(H5Eget_auto2) X(H5Eset_auto2) X(H5FDregister) X(H5FDunregister) \
  X(H5Fclose) X(H5Fcreate) X(H5Fflush) X(H5Fget_file_image) X(H5Fopen) X(H5Gclose) X(H5Gcreate2) \
  X(H5Gopen2) X(H5Lcreate_hard) X(H5Lexists) X(H5Literate) X(H5Oclose) X(H5Oexists_by_name) X(H5Oopen) \
  X(H5Pclose) X(H5Pcopy) X(H5Pcreate) X(H5Pget_driver_info) X(H5Pget_layout) X(H5Pset_buffer) \
  X(H5Pset_chunk) X(H5Pset_create_intermediate_group) X(H5Pset_deflate) X(H5Pset_driver) \
  X(H5Pset_fapl_core) X(H5Pset_libver_bounds) X(H5Pset_link_creation_order) \
  X(H5Pset_obj_track_times) X(H5Pset_shuffle) X(H5Sclose) X(H5Screate) X(H5Screate_simple) \
  X(H5Sget_simple_extent_dims) X(H5Sget_simple_extent_ndims) X(H5Sget_simple_extent_npoints) \
  X(H5Sselect_hyperslab) X(H5Tclose) X(H5Tcopy) X(H5Tequal) X(H5Tget_class) X(H5Tget_native_type) \
  X(H5Tget_size) X(H5Tis_variable_str) X(H5Tset_cset) X(H5Tset_size) X(H5Tset_strpad) \
  X(H5check_version) X(H5free_memory) X(H5get_libversion) X(H5open)

/** The identifiers, which are variables. */
#define CAVUM_HDF5_IDENTIFIERS(X) \
  X(H5P_CLS_DATASET_CREATE_ID_g) X(H5P_CLS_DATASET_XFER_ID_g) X(H5P_CLS_FILE_ACCESS_ID_g) \
  X(H5P_CLS_GROUP_CREATE_ID_g) X(H5P_CLS_LINK_CREATE_ID_g) X(H5T_C_S1_g) X(H5T_IEEE_F32LE_g) \
  X(H5T_IEEE_F64LE_g) X(H5T_NATIVE_DOUBLE_g) X(H5T_NATIVE_INT32_g) X(H5T_NATIVE_INT64_g) \
  X(H5T_NATIVE_UINT8_g) X(H5T_STD_I32LE_g) X(H5T_STD_I64LE_g) X(H5T_STD_U8LE_g)

/** Both. */
#define CAVUM_HDF5_NAMES(X) CAVUM_HDF5_FUNCTIONS(X) CAVUM_HDF5_IDENTIFIERS(X)
// clang-format on

/** Where each of them is: pointers only. */
typedef struct cavum_hdf5_table {
  CAVUM_HDF5_NAMES(CAVUM_LATE_MEMBER)
} cavum_hdf5_table;

/** Complete once cavum_hdf5_reach() gave CAVUM_OK, and never changed again. */
extern cavum_hdf5_table cavum_hdf5_calls;

/**
 * Makes sure that HDF5 can be called.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_LIBRARY  its library is missing on this machine or is another one.
 */
cavum_status cavum_hdf5_reach(cavum_error *error);

#ifndef CAVUM_HDF5_TABLE_ONLY
#define H5Aclose (*cavum_hdf5_calls.H5Aclose)
#define H5Acreate2 (*cavum_hdf5_calls.H5Acreate2)
#define H5Aexists_by_name (*cavum_hdf5_calls.H5Aexists_by_name)
#define H5Aget_space (*cavum_hdf5_calls.H5Aget_space)
#define H5Aget_type (*cavum_hdf5_calls.H5Aget_type)
#define H5Aopen_by_name (*cavum_hdf5_calls.H5Aopen_by_name)
#define H5Aread (*cavum_hdf5_calls.H5Aread)
#define H5Awrite (*cavum_hdf5_calls.H5Awrite)
#define H5Dclose (*cavum_hdf5_calls.H5Dclose)
#define H5Dcreate2 (*cavum_hdf5_calls.H5Dcreate2)
#define H5Dget_create_plist (*cavum_hdf5_calls.H5Dget_create_plist)
#define H5Dget_space (*cavum_hdf5_calls.H5Dget_space)
#define H5Dget_storage_size (*cavum_hdf5_calls.H5Dget_storage_size)
#define H5Dget_type (*cavum_hdf5_calls.H5Dget_type)
#define H5Dopen2 (*cavum_hdf5_calls.H5Dopen2)
#define H5Dread (*cavum_hdf5_calls.H5Dread)
#define H5Dwrite (*cavum_hdf5_calls.H5Dwrite)
#define H5Dwrite_chunk (*cavum_hdf5_calls.H5Dwrite_chunk)
#define H5Eget_auto2 (*cavum_hdf5_calls.H5Eget_auto2)
#define H5Eset_auto2 (*cavum_hdf5_calls.H5Eset_auto2)
#define H5FDregister (*cavum_hdf5_calls.H5FDregister)
#define H5FDunregister (*cavum_hdf5_calls.H5FDunregister)
#define H5Fclose (*cavum_hdf5_calls.H5Fclose)
#define H5Fcreate (*cavum_hdf5_calls.H5Fcreate)
#define H5Fflush (*cavum_hdf5_calls.H5Fflush)
#define H5Fget_file_image (*cavum_hdf5_calls.H5Fget_file_image)
#define H5Fopen (*cavum_hdf5_calls.H5Fopen)
#define H5Gclose (*cavum_hdf5_calls.H5Gclose)
#define H5Gcreate2 (*cavum_hdf5_calls.H5Gcreate2)
#define H5Gopen2 (*cavum_hdf5_calls.H5Gopen2)
#define H5Lcreate_hard (*cavum_hdf5_calls.H5Lcreate_hard)
#define H5Lexists (*cavum_hdf5_calls.H5Lexists)
#define H5Literate (*cavum_hdf5_calls.H5Literate)
#define H5Oclose (*cavum_hdf5_calls.H5Oclose)
#define H5Oexists_by_name (*cavum_hdf5_calls.H5Oexists_by_name)
#define H5Oopen (*cavum_hdf5_calls.H5Oopen)
#define H5Pclose (*cavum_hdf5_calls.H5Pclose)
#define H5Pcopy (*cavum_hdf5_calls.H5Pcopy)
#define H5Pcreate (*cavum_hdf5_calls.H5Pcreate)
#define H5Pget_driver_info (*cavum_hdf5_calls.H5Pget_driver_info)
#define H5Pget_layout (*cavum_hdf5_calls.H5Pget_layout)
#define H5Pset_buffer (*cavum_hdf5_calls.H5Pset_buffer)
#define H5Pset_chunk (*cavum_hdf5_calls.H5Pset_chunk)
#define H5Pset_create_intermediate_group (*cavum_hdf5_calls.H5Pset_create_intermediate_group)
#define H5Pset_deflate (*cavum_hdf5_calls.H5Pset_deflate)
#define H5Pset_driver (*cavum_hdf5_calls.H5Pset_driver)
#define H5Pset_fapl_core (*cavum_hdf5_calls.H5Pset_fapl_core)
#define H5Pset_libver_bounds (*cavum_hdf5_calls.H5Pset_libver_bounds)
#define H5Pset_link_creation_order (*cavum_hdf5_calls.H5Pset_link_creation_order)
#define H5Pset_obj_track_times (*cavum_hdf5_calls.H5Pset_obj_track_times)
#define H5Pset_shuffle (*cavum_hdf5_calls.H5Pset_shuffle)
#define H5Sclose (*cavum_hdf5_calls.H5Sclose)
#define H5Screate (*cavum_hdf5_calls.H5Screate)
#define H5Screate_simple (*cavum_hdf5_calls.H5Screate_simple)
#define H5Sget_simple_extent_dims (*cavum_hdf5_calls.H5Sget_simple_extent_dims)
#define H5Sget_simple_extent_ndims (*cavum_hdf5_calls.H5Sget_simple_extent_ndims)
#define H5Sget_simple_extent_npoints (*cavum_hdf5_calls.H5Sget_simple_extent_npoints)
#define H5Sselect_hyperslab (*cavum_hdf5_calls.H5Sselect_hyperslab)
#define H5Tclose (*cavum_hdf5_calls.H5Tclose)
#define H5Tcopy (*cavum_hdf5_calls.H5Tcopy)
#define H5Tget_class (*cavum_hdf5_calls.H5Tget_class)
#define H5Tequal (*cavum_hdf5_calls.H5Tequal)
#define H5Tget_native_type (*cavum_hdf5_calls.H5Tget_native_type)
#define H5Tget_size (*cavum_hdf5_calls.H5Tget_size)
#define H5Tis_variable_str (*cavum_hdf5_calls.H5Tis_variable_str)
#define H5Tset_cset (*cavum_hdf5_calls.H5Tset_cset)
#define H5Tset_size (*cavum_hdf5_calls.H5Tset_size)
#define H5Tset_strpad (*cavum_hdf5_calls.H5Tset_strpad)
#define H5check_version (*cavum_hdf5_calls.H5check_version)
#define H5free_memory (*cavum_hdf5_calls.H5free_memory)
#define H5get_libversion (*cavum_hdf5_calls.H5get_libversion)
#define H5open (*cavum_hdf5_calls.H5open)
#define H5P_CLS_DATASET_CREATE_ID_g (*cavum_hdf5_calls.H5P_CLS_DATASET_CREATE_ID_g)
#define H5P_CLS_DATASET_XFER_ID_g (*cavum_hdf5_calls.H5P_CLS_DATASET_XFER_ID_g)
#define H5P_CLS_FILE_ACCESS_ID_g (*cavum_hdf5_calls.H5P_CLS_FILE_ACCESS_ID_g)
#define H5P_CLS_GROUP_CREATE_ID_g (*cavum_hdf5_calls.H5P_CLS_GROUP_CREATE_ID_g)
#define H5P_CLS_LINK_CREATE_ID_g (*cavum_hdf5_calls.H5P_CLS_LINK_CREATE_ID_g)
#define H5T_C_S1_g (*cavum_hdf5_calls.H5T_C_S1_g)
#define H5T_IEEE_F32LE_g (*cavum_hdf5_calls.H5T_IEEE_F32LE_g)
#define H5T_IEEE_F64LE_g (*cavum_hdf5_calls.H5T_IEEE_F64LE_g)
#define H5T_NATIVE_DOUBLE_g (*cavum_hdf5_calls.H5T_NATIVE_DOUBLE_g)
#define H5T_NATIVE_INT32_g (*cavum_hdf5_calls.H5T_NATIVE_INT32_g)
#define H5T_NATIVE_INT64_g (*cavum_hdf5_calls.H5T_NATIVE_INT64_g)
#define H5T_NATIVE_UINT8_g (*cavum_hdf5_calls.H5T_NATIVE_UINT8_g)
#define H5T_STD_I32LE_g (*cavum_hdf5_calls.H5T_STD_I32LE_g)
#define H5T_STD_I64LE_g (*cavum_hdf5_calls.H5T_STD_I64LE_g)
#define H5T_STD_U8LE_g (*cavum_hdf5_calls.H5T_STD_U8LE_g)
#endif

#endif
