// SPDX-License-Identifier: GPL-3.0-or-later
// Voltage by reciprocity.
#include "outline_voltage.h"

#include "base.h"
#include "fast.h"
#include "lanes.h"

enum { VECTORS = CAVUM_WALL_LOOKS / CAVUM_LANES, TERMS = 12 };

// Coefficients of sin x / x and cos x in x^2: x is at most pi / 2, where the last term is 1e-18.
typedef struct series {
  double sine[TERMS], cosine[TERMS];
} series;

static void fill_series(series *s) {
  s->sine[0] = s->cosine[0] = 1.0;
  for (int n = 1; n < TERMS; n++) {
    s->cosine[n] = -s->cosine[n - 1] / ((2 * n - 1) * (2 * n));
    s->sine[n] = -s->sine[n - 1] / ((2 * n) * (2 * n + 1));
  }
}

// Sums of weight x (cos, sin) of the phase over one edge.
CAVUM_FAST static void add_edge(double *restrict re, double *restrict im, const double *restrict x,
                                const double *restrict phase, const series *s) {
  const double one_over_pi = 1.0 / CAVUM_PI, pi_low = 1.2246467991473532e-16;
  double sum_re = 0.0, sum_im = 0.0;
  for (int k = 0; k < CAVUM_WALL_LOOKS; k++) {
    double turns = __builtin_rint(phase[k] * one_over_pi);
    double y = (phase[k] - turns * CAVUM_PI) - turns * pi_low, square = y * y;
    double half = 0.5 * turns, sign = half == __builtin_rint(half) ? x[k] : -x[k];
    double sine = s->sine[TERMS - 1], cosine = s->cosine[TERMS - 1];
    for (int n = TERMS - 2; n >= 0; n--) {
      sine = sine * square + s->sine[n];
      cosine = cosine * square + s->cosine[n];
    }
    sum_re += sign * cosine;
    sum_im += sign * y * sine;
  }
  *re += sum_re;
  *im += sum_im;
}

cavum_phasor cavum_outline_voltage(double *of_abs, const cavum_view *view,
                                   const cavum_wall_looks *looks) {
  const cavum_sides *sides = view->sides;
  double wave_number = sqrt(view->field.k2_per_m2), re = 0.0, im = 0.0, sum_abs = 0.0;
  double origin = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  double impedance = CAVUM_MU0 * CAVUM_C_M_PER_S;
  series s;
  fill_series(&s);
  for (cavum_index i = 0; i < sides->num_conducting; i++) {
    const cavum_wall_shape *shape = &sides->shape[i];
    double x[CAVUM_WALL_LOOKS], phase[CAVUM_WALL_LOOKS], size = 0.0;
    for (int k = 0; k < CAVUM_WALL_LOOKS; k++) {
      x[k] = sides->weight[k] * looks[i].h[k] * shape->r_s[k];
      phase[k] = wave_number * (shape->z_m[k] - origin);
      size += fabs(x[k]);
    }
    if (size == 0.0) continue;  // along the axis
    add_edge(&re, &im, x, phase, &s);
    sum_abs += size;
  }
  *of_abs = view->copies * impedance * sum_abs;
  // -j (re + j im), with the mirrored half as in cavum_axis_voltage().
  if (view->parity == CAVUM_PARITY_EVEN) return (cavum_phasor){2.0 * impedance * im, 0.0};
  if (view->parity == CAVUM_PARITY_ODD) return (cavum_phasor){0.0, -2.0 * impedance * re};
  return (cavum_phasor){impedance * im, -impedance * re};
}
