// SPDX-License-Identifier: GPL-3.0-or-later
// A measured wall on the screen: how the points were taken, what became of the figures, and which
// piece of the wall did it.
#include "cli/table_as_built.h"

#include <math.h>

#include "base/units.h"
#include "format/built_scatter.h"
#include "format/quantity.h"

enum { CELL = 32, OUTLIERS_SHOWN = 10 };

static double in_um(double m) { return cavum_in_unit(m, CAVUM_UNIT_UM); }
static double in_khz(double hz) { return cavum_in_unit(hz, CAVUM_UNIT_KHZ); }

/** A number, or a dash. */
typedef struct cell_text {
  char text[CELL];
} cell_text;

// How the points were moved onto the drawing; those of one plane go along the axis alone.
static void print_fit(FILE *out, const cavum_as_built *b) {
  const double *motion = b->motion;
  bool across = motion[0] != 0.0 || motion[1] != 0.0 || motion[3] != 0.0 || motion[4] != 0.0;
  if (!across && motion[2] == 0.0) {
    fprintf(out, "best fit     points as they were measured");
  } else if (!across) {
    fprintf(out, "best fit     points moved along z by %+.4g mm", cavum_in_mm(motion[2]));
  } else {
    fprintf(
        out,
        "best fit     points moved along x, y, z by %+.4g, %+.4g, %+.4g mm, tilted about x, y by "
        "%+.3g, %+.3g mrad",
        cavum_in_mm(motion[0]), cavum_in_mm(motion[1]), cavum_in_mm(motion[2]),
        cavum_in_unit(motion[3], CAVUM_UNIT_MILLIRADIAN),
        cavum_in_unit(motion[4], CAVUM_UNIT_MILLIRADIAN));
  }
}

// The first of them, with their places.
static void print_outliers(FILE *out, const cavum_as_built *b) {
  for (int64_t i = 0; i < b->num_outliers && i < OUTLIERS_SHOWN; i++) {
    const cavum_as_built_outlier *o = &b->outliers[i];
    fprintf(out, "outlier      z = %.3f mm, r = %.3f mm: %+.1f um from the drawing\n",
            cavum_in_mm(o->z_m), cavum_in_mm(o->r_m), in_um(o->distance_m));
  }
  if (b->num_outliers > OUTLIERS_SHOWN) {
    fprintf(out, "             and %lld more, in JSON and HDF5\n",
            (long long)b->num_outliers - OUTLIERS_SHOWN);
  }
}

// Where the points tell that the wall is mirrored.
static void print_planes(FILE *out, const cavum_as_built *b) {
  static const char *const names[2] = {"left", "right"};
  for (int k = 0; k < 2; k++) {
    const cavum_as_built_plane *p = &b->planes[k];
    if (isnan(p->z_m)) continue;
    if (!p->is_elsewhere) {
      fprintf(out,
              "%-5s end    mirrored %+.3f +- %.3f mm beyond the drawing's plane at z = %.3f mm: as "
              "drawn\n",
              names[k], cavum_in_mm(p->beyond_m), cavum_in_mm(p->uncertainty_m),
              cavum_in_mm(p->z_m));
      continue;
    }
    fprintf(
        out,
        "%-5s end    ANOTHER LENGTH: the points beside it are mirrored %.3f +- %.3f mm %s of the "
        "drawing's plane at z = %.3f mm,\n"
        "             with which the cell is solved; change the half length of the drawing by "
        "%+.3f mm\n",
        names[k], cavum_in_mm(fabs(p->beyond_m)), cavum_in_mm(p->uncertainty_m),
        p->beyond_m > 0.0 ? "outside" : "inside", cavum_in_mm(p->z_m), cavum_in_mm(p->beyond_m));
  }
}

static cell_text solved(double value, double numerical) {
  cell_text made = {"-"};
  char number[CAVUM_QUANTITY_SIZE];
  if (!isfinite(value)) return made;
  cavum_quantity_format_solved(number, value, numerical);
  snprintf(made.text, sizeof made.text, "%.31s", number);
  return made;
}

// What the label says.
static void print_accuracy(FILE *out, const cavum_as_built *b) {
  fputs(b->accuracy_reached
            ? "accuracy     reached: both solves are numerically as certain as the cell file asks "
              "for\n"
            : "accuracy     NOT REACHED: in one of the two solves a figure is numerically less "
              "certain than the cell file\n             asks for; the figures are the best that "
              "were found\n",
        out);
}

// What chance does not explain of found and stated scatter.
static void print_verdict(FILE *out, const cavum_as_built *b) {
  if (b->scatter_m > b->stated_scatter_m) {
    fputs(
        "             MORE SCATTER than stated, by more than chance explains: correct scatter_um\n",
        out);
  } else if (cavum_built_scatter_is_less(b)) {
    fputs("             less scatter than stated: uncertainties are too large\n", out);
  }
}

static void print_points(FILE *out, const cavum_as_built *b) {
  fputc('\n', out);
  print_accuracy(out, b);
  fprintf(out, "points       %lld, used %lld", (long long)b->num_points, (long long)b->num_used);
  if (b->num_outliers > 0) fprintf(out, ", outliers %lld", (long long)b->num_outliers);
  if (b->num_beyond > 0) fprintf(out, ", beyond the ends %lld", (long long)b->num_beyond);
  fprintf(out, "\nscatter      stated %.3g um, found %.3g um", in_um(b->stated_scatter_m),
          in_um(b->found_scatter_m));
  if (b->scatter_m != b->stated_scatter_m) fprintf(out, ", used %.3g um", in_um(b->scatter_m));
  if (b->probe_uncertainty_m > 0.0) {
    fprintf(out, "; common to all points, by the probe, %.3g um", in_um(b->probe_uncertainty_m));
  }
  fputc('\n', out);
  print_verdict(out, b);
  print_fit(out, b);
  if (b->shift_uncertainty_m > 0.0) {
    fprintf(out, "; uncertain along z by %.2g um, since deviations of the wall pull it",
            in_um(b->shift_uncertainty_m));
  }
  fputc('\n', out);
  print_outliers(out, b);
  print_planes(out, b);
}

static cell_text number(const char *form, double value) {
  cell_text made = {"-"};
  if (isfinite(value)) snprintf(made.text, sizeof made.text, form, value);
  return made;
}

static void print_figure(FILE *out, const cavum_as_built *b, cavum_figure_id id) {
  const cavum_as_built_figure *f = &b->figures[id];
  if (f->unbounded) {
    fprintf(out, "%-30.30s %13s %13s  at an edge of the wall\n",
            cavum_figure_describe(id).long_name, "", "unbounded");
  }
  if (!f->exists) return;
  cavum_quantity_unit unit = cavum_quantity_unit_to_fit(id, f->value);
  double one = cavum_from_unit(1.0, unit.conversion), change = f->value - f->drawn;
  char name[128];
  snprintf(name, sizeof name, "%s%s%s", cavum_figure_describe(id).long_name,
           unit.name[0] ? ", " : "", unit.name);
  fprintf(out, "%-30.30s %13s %13s %11s %11s %9s %9s", name,
          solved(f->drawn / one, f->numerical / one).text,
          solved(f->value / one, f->numerical / one).text, number("%+.4g", change / one).text,
          number("%+.4g", f->by_deviation / one).text, number("%.2g", f->by_noise / one).text,
          number("%.2g", fabs(f->by_probe) / one).text);
  fprintf(out, " %9s", number("%.2g", f->uncertainty / one).text);
  if (b->num_draws > 1) {
    fprintf(out, " %9s %+11.2g", number("%.2g", f->sampled / one).text, f->sampled_shift / one);
  }
  fputc('\n', out);
}

static void print_figures(FILE *out, const cavum_as_built *b) {
  static const cavum_figure_id ids[] = {CAVUM_FIGURE_FREQUENCY,       CAVUM_FIGURE_R_OVER_Q_LINAC,
                                        CAVUM_FIGURE_GEOMETRY_FACTOR, CAVUM_FIGURE_EPK_OVER_EACC,
                                        CAVUM_FIGURE_BPK_OVER_EACC,   CAVUM_FIGURE_Q0,
                                        CAVUM_FIGURE_SHUNT_IMPEDANCE};
  fprintf(out, "\n%-30s %13s %13s %11s %11s %9s %9s %9s", "Figure", "drawing", "as built", "change",
          "by wall", "u noise", "u probe", "u");
  if (b->num_draws > 1) fprintf(out, " %9s %11s", "u drawn", "mean drawn");
  fputc('\n', out);
  for (size_t k = 0; k < sizeof ids / sizeof *ids; k++) print_figure(out, b, ids[k]);
  if (b->figures[CAVUM_FIGURE_Q0].exists) {
    fputs(
        "Q0 and shunt impedance are those of the R_s of both walls, whose own error is not in u\n",
        out);
  }
}

static void print_sections(FILE *out, const cavum_as_built *b) {
  double sum = 0.0;
  fprintf(out, "\n%-32s %10s %12s %10s %9s\n", "Wall from z, r to z, r / mm", "length/mm",
          "deviation/um", "change/kHz", "u / kHz");
  for (int k = 0; k < b->num_sections; k++) {
    const cavum_as_built_section *s = &b->sections[k];
    fprintf(out, "%7.1f %7.1f  %7.1f %7.1f %10.2f %+12.1f %+10.2f %9.2f\n",
            cavum_in_mm(s->from_z_m), cavum_in_mm(s->from_r_m), cavum_in_mm(s->to_z_m),
            cavum_in_mm(s->to_r_m), cavum_in_mm(s->to_m - s->from_m), in_um(s->deviation_m),
            in_khz(s->change_hz), in_khz(s->uncertainty_hz));
    sum += s->change_hz;
  }
  fprintf(out, "%-32s %10s %12s %+10.2f\n", "all", "", "", in_khz(sum));
}

void cavum_table_as_built_print(FILE *out, const cavum_as_built *built) {
  if (built->title[0]) fprintf(out, "%s\n\n", built->title);
  fprintf(out, "mode %d%s%s: the wall as it was measured against its drawing%s\n", built->mode + 1,
          built->label[0] ? ", " : "", built->label,
          built->accuracy_reached ? "" : " (ACCURACY NOT REACHED)");
  print_points(out, built);
  print_figures(out, built);
  print_sections(out, built);
  if (built->num_draws > 0) {
    fprintf(out,
            "\n%d random walls solved. mean drawn: their mean less the value as built. Noise makes "
            "peaks higher: u of\nfigures without a derivative includes 2.4 times that, in "
            "quadrature. The random walls include bends that\nsmoothing may hide.\n",
            built->num_draws);
  }
  fputs(
      "\nby wall: the deviation times the derivative of the figure, along the wall. u: standard "
      "uncertainty, from\nthe scatter of the points and from the probe, which all points share; "
      "for a piece of wall also from the\nshift of the best fit along z. Figures without a "
      "derivative along the wall, such as peak fields, get one\nwith --draws. Deviations are "
      "positive outwards, where metal is missing.\n",
      out);
}
