// SPDX-License-Identifier: GPL-3.0-or-later
// Writes PNG files into memory with libpng. Errors of libpng come back through setjmp, which is the
// only way it has.
#include "canvas/png_bytes.h"

#include <png.h>
#include <setjmp.h>
#include <string.h>

#include "base/base.h"

// Pages are large and flat: a low level of compression costs few bytes and saves most of the time.
// Images inside vector files are small and worth the best.
enum { PAGE_COMPRESSION = 3, IMAGE_COMPRESSION = 9 };

typedef struct png_sink {
  void *bytes;  // Owned.
  int64_t size, capacity;
} png_sink;

static void write_data(png_structp png, png_bytep data, size_t length) {
  png_sink *sink = png_get_io_ptr(png);
  if (!cavum_grow(&sink->bytes, &sink->capacity, sink->size + (int64_t)length, 1)) {
    png_error(png, "memory");
  }
  memcpy((char *)sink->bytes + sink->size, data, length);
  sink->size += (int64_t)length;
}

static void flush_data(png_structp png) { (void)png; }

static void ignore_warning(png_structp png, png_const_charp text) {
  (void)png;
  (void)text;
}

static void set_palette(png_structp png, png_infop info, const uint32_t *palette) {
  png_color colours[256];
  png_byte opaque = 0;  // Index 0 alone is transparent.
  for (int i = 0; i < 256; i++) {
    colours[i] = (png_color){(png_byte)(palette[i] >> 16), (png_byte)(palette[i] >> 8),
                             (png_byte)palette[i]};
  }
  png_set_PLTE(png, info, colours, 256);
  png_set_tRNS(png, info, &opaque, 1, NULL);
}

// What is written: rows of 32-bit pixels, or of indices when there is a palette.
typedef struct png_picture {
  const unsigned char *rows;
  int width, height, stride;
  const uint32_t *palette;
  double pixels_per_m;
} png_picture;

// By this a picture of ours is told from that of another program, which is not written over.
static void say_who_wrote(png_structp png, png_infop info) {
  char key[] = "Software", text[] = "cavum picture";
  png_text software = {.compression = PNG_TEXT_COMPRESSION_NONE, .key = key, .text = text};
  png_set_text(png, info, &software, 1);
}

static void write_picture(png_structp png, png_infop info, const png_picture *picture) {
  png_set_compression_level(png, picture->palette ? IMAGE_COMPRESSION : PAGE_COMPRESSION);
  png_set_filter(png, 0, picture->palette ? PNG_FILTER_NONE : PNG_FILTER_SUB);
  png_set_IHDR(png, info, (png_uint_32)picture->width, (png_uint_32)picture->height, 8,
               picture->palette ? PNG_COLOR_TYPE_PALETTE : PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE,
               PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  if (picture->palette) set_palette(png, info, picture->palette);
  if (picture->pixels_per_m > 0.0) {
    png_uint_32 density = (png_uint_32)lround(picture->pixels_per_m);
    png_set_pHYs(png, info, density, density, PNG_RESOLUTION_METER);
  }
  if (!picture->palette) say_who_wrote(png, info);
  png_write_info(png, info);
  if (!picture->palette) {
    png_set_bgr(png);  // Bytes of a little-endian 0x00RRGGBB are B, G, R, 0.
    png_set_filler(png, 0, PNG_FILLER_AFTER);
  }
  for (int row = 0; row < picture->height; row++) {
    png_write_row(png, picture->rows + (size_t)row * (size_t)picture->stride);
  }
  png_write_end(png, info);
}

static cavum_status write_png(char **bytes, size_t *size, const png_picture *picture,
                              cavum_error *error) {
  png_sink *sink = cavum_alloc(1, sizeof *sink);
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, ignore_warning);
  png_infop info = png ? png_create_info_struct(png) : NULL;
  cavum_status status = CAVUM_OK;
  if (!sink || !info) {
    status = cavum_fail_memory(error);
  } else if (setjmp(png_jmpbuf(png)) != 0) {
    status = cavum_fail(error, CAVUM_ERR_LIBRARY, "libpng could not write a picture of %d x %d",
                        picture->width, picture->height);
  } else {
    png_set_write_fn(png, sink, write_data, flush_data);
    write_picture(png, info, picture);
    *bytes = sink->bytes;
    *size = (size_t)sink->size;
    sink->bytes = NULL;
  }
  png_destroy_write_struct(&png, &info);
  if (sink) free(sink->bytes);
  free(sink);
  return status;
}

cavum_status cavum_png_from_pixels(char **bytes, size_t *size, const unsigned char *pixels,
                                   int width, int height, int stride, double pixels_per_m,
                                   cavum_error *error) {
  const png_picture picture = {pixels, width, height, stride, NULL, pixels_per_m};
  return write_png(bytes, size, &picture, error);
}

cavum_status cavum_png_from_image(char **bytes, size_t *size, const cavum_image *image,
                                  cavum_error *error) {
  const png_picture picture = {image->indices, image->width,   image->height,
                               image->width,   image->palette, 0.0};
  return write_png(bytes, size, &picture, error);
}
