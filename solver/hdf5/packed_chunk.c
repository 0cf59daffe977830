// SPDX-License-Identifier: GPL-3.0-or-later
// zlib changes its level between the planes of bytes; the stream stays one stream.
#include "hdf5/packed_chunk.h"

#include <stdbool.h>
#include <stdint.h>
#include <zlib.h>

#include "base/base.h"

// Bytes that are looked at, from the start of a plane.
enum { SAMPLE = 4096 };

// Byte `plane` of all numbers, one after the other.
static void take_plane(unsigned char *out, const unsigned char *data, size_t count, size_t size,
                       size_t plane) {
  const unsigned char *from = data + plane;
  for (size_t i = 0; i < count; i++, from += size) out[i] = *from;
}

// Whether values are as often met as those of a die with 256 sides, within a tenth. The sum of
// squared counts of n throws is n^2/256 + n (1 - 1/256) in the mean, which varies by some 0.5 % of
// it; of bytes with a hundredth of a bit to spare each it is 1.4 % more.
static bool looks_random(const unsigned *counts, uint64_t throws) {
  uint64_t sum = 0;
  for (int i = 0; i < 256; i++) sum += (uint64_t)counts[i] * counts[i];
  uint64_t mean = throws * throws / 256 + throws;
  return sum < mean + mean / 10;
}

// Bytes repeat when some of them, or some of their steps, are met more often than others.
static bool repeats(const unsigned char *plane, size_t count) {
  unsigned values[256] = {0}, steps[256] = {0};
  size_t looked = count < SAMPLE ? count : SAMPLE;
  for (size_t i = 1; i < looked; i++) {
    values[plane[i]]++;
    steps[(unsigned char)(plane[i] - plane[i - 1])]++;
  }
  return looked < 2 || !looks_random(values, looked - 1) || !looks_random(steps, looked - 1);
}

static bool pack(z_stream *stream, unsigned char *plane, const unsigned char *data, size_t count,
                 size_t size, int level) {
  for (size_t i = 0; i < size; i++) {
    take_plane(plane, data, count, size, i);
    if (deflateParams(stream, repeats(plane, count) ? level : Z_NO_COMPRESSION,
                      Z_DEFAULT_STRATEGY) != Z_OK) {
      return false;
    }
    stream->next_in = plane;
    stream->avail_in = (uInt)count;
    if (deflate(stream, Z_NO_FLUSH) != Z_OK || stream->avail_in != 0) return false;
  }
  return deflate(stream, Z_FINISH) == Z_STREAM_END;
}

size_t cavum_packed_chunk_make(unsigned char **packed, const void *data, size_t count, size_t size,
                               int level) {
  z_stream stream = {.zalloc = Z_NULL};
  if (deflateInit(&stream, level) != Z_OK) {
    *packed = NULL;
    return 0;
  }
  // Each change of level ends a block, which costs a few bytes.
  size_t room = deflateBound(&stream, (uLong)(count * size)) + 64 * size;
  unsigned char *plane = cavum_alloc_aligned((int64_t)count, 1);
  unsigned char *out = cavum_alloc_aligned((int64_t)room, 1);
  size_t used = 0;
  if (plane && out) {
    stream.next_out = out;
    stream.avail_out = (uInt)room;
    if (pack(&stream, plane, data, count, size, level)) used = room - stream.avail_out;
  }
  deflateEnd(&stream);
  free(plane);
  if (used == 0) {
    free(out);
    out = NULL;
  }
  *packed = out;
  return used;
}
