// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file hdf5/packed_chunk.h
 * A chunk of numbers packed as HDF5's filters "shuffle" and "deflate" pack it, so that any reader
 * of HDF5 unpacks it, but in a fraction of the time: what cannot be packed is not tried.
 *
 * The first bytes of all numbers come first, then the second ones, and so on. Of results of a
 * computation the bytes of the exponent and those next to it repeat, the others are as good as
 * random: they go into "stored" blocks of the deflate stream (RFC 1951, 3.2.4).
 */
#ifndef CAVUM_HDF5_PACKED_CHUNK_H
#define CAVUM_HDF5_PACKED_CHUNK_H

#include <stddef.h>

/**
 * Packs numbers. The same numbers give the same bytes.
 * @param[out] packed  Owned by the caller (free()); NULL when memory ran out.
 * @param[in]  data    Little-endian, shape [count].
 * @param[in]  count   Numbers.
 * @param[in]  size    Bytes of each.
 * @param[in]  level   Of deflate, for the bytes that repeat.
 * @return Bytes of `packed`; 0 when memory ran out.
 */
size_t cavum_packed_chunk_make(unsigned char **packed, const void *data, size_t count, size_t size,
                               int level);

#endif
