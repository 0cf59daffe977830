// SPDX-License-Identifier: GPL-3.0-or-later
// Voltage by reciprocity.
#include "outline_voltage.h"

#include "base.h"
#include "fast.h"
#include "lanes.h"
#include "phases.h"

enum { VECTORS = CAVUM_WALL_LOOKS / CAVUM_LANES };

// Sums of weights times (cos, sin) of angles, all looks of an edge.
CAVUM_FAST static void add_edge(double *restrict re, double *restrict im,
                                const cavum_lanes *restrict x, const cavum_lanes *restrict cosine,
                                const cavum_lanes *restrict sine) {
  cavum_lanes sum_re = {0}, sum_im = {0};
  for (int v = 0; v < VECTORS; v++) {
    sum_re += x[v] * cosine[v];
    sum_im += x[v] * sine[v];
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    *re += sum_re[l];
    *im += sum_im[l];
  }
}

cavum_phasor cavum_outline_voltage(double *of_abs, const cavum_view *view,
                                   const cavum_wall_looks *looks) {
  const cavum_sides *sides = view->sides;
  double k_per_m = sqrt(view->field.k2_per_m2), re = 0.0, im = 0.0, sum_abs = 0.0;
  double origin_m = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  double z0_ohm = CAVUM_MU0 * CAVUM_C_M_PER_S;
  for (cavum_index i = 0; i < sides->num_conducting; i++) {
    const cavum_wall_shape *shape = &sides->shape[i];
    cavum_lanes x[VECTORS], angle[VECTORS], cosine[VECTORS], sine[VECTORS];
    double size = 0.0;
    for (int k = 0; k < CAVUM_WALL_LOOKS; k++) {
      double part = sides->weight[k] * looks[i].h[k] * shape->r_s[k];
      x[k / CAVUM_LANES][k % CAVUM_LANES] = part;
      angle[k / CAVUM_LANES][k % CAVUM_LANES] = k_per_m * (shape->z_m[k] - origin_m);
      size += fabs(part);
    }
    if (size == 0.0) continue;  // along the axis
    cavum_phases(cosine, sine, angle, VECTORS);
    add_edge(&re, &im, x, cosine, sine);
    sum_abs += size;
  }
  *of_abs = view->copies * z0_ohm * sum_abs;
  // -j (re + j im), with the mirrored half as in cavum_axis_voltage().
  if (view->parity == CAVUM_PARITY_EVEN) return (cavum_phasor){2.0 * z0_ohm * im, 0.0};
  if (view->parity == CAVUM_PARITY_ODD) return (cavum_phasor){0.0, -2.0 * z0_ohm * re};
  return (cavum_phasor){z0_ohm * im, -z0_ohm * re};
}
