// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve.h
 * From a cell to its modes and figures of merit in one call.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_SOLVE_H
#define CAVUM_SOLVE_H

#include <stdint.h>

#include "cavum/cell.h"
#include "cavum/cell_key.h"
#include "cavum/figures.h"
#include "cavum/mesh.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Mirror symmetry of a mode about the mirror plane of its cell. */
typedef enum cavum_parity {
  CAVUM_PARITY_NONE = 0, /**< The cell has no mirror plane, or it was not used. */
  CAVUM_PARITY_EVEN = 1, /**< H_phi and E_z are even about the plane. */
  CAVUM_PARITY_ODD = 2   /**< H_phi and E_z are odd about the plane. */
} cavum_parity;

/** Field along a line, at a stored energy of one joule, shape [num_points] each; owned. */
typedef struct cavum_profile {
  cavum_index num_points;
  double *arc_length_m; /**< Along the line, from its first point. */
  double *z_m;
  double *r_m;
  double *e_v_per_m;  /**< Axis: E_z with its sign. Wall: normal E, positive into the domain. */
  double *h_a_per_m;  /**< Axis: 0. Wall: H_phi with its sign. */
  cavum_index *curve; /**< Wall of a contour: index of its curve; else -1. */
} cavum_profile;

/**
 * What metal removed from the wall does, along it, at a stored energy of one joule, shape
 * [num_points] each; owned. The points are those of a rule of integration, counterclockwise along
 * the metal of the whole cell as in the wall profile: the sum of density times `area_m2` times how
 * far the metal is taken back is the change of the figure, to first order. Each density is a change
 * of a figure by volume of metal removed; per metre that the whole wall is taken back and per
 * square metre of it, that is the same number. At sharp re-entrant corners densities are unbounded,
 * and the sums are good to 1 or 2 % only. Values of G and R/Q at points are less certain than sums:
 * see wall_r_over_q_uncertainty_ohm_per_m3 of a mode.
 */
typedef struct cavum_wall_density {
  cavum_index num_points;
  double *arc_length_m;        /**< Along the wall, from its first end. */
  double *z_m, *r_m;           /**< Where the points are. */
  double *normal_z;            /**< Unit vector out of the cell, into the metal: along z. */
  double *normal_r;            /**< The same along r. */
  double *area_m2;             /**< Part of the wall that a point stands for, all around. */
  double *pressure_pa;         /**< Radiation pressure (mu0 H^2 - eps0 E^2) / 4, peak phasors, with
                                    mu and eps of what is inside; positive: outwards. */
  double *frequency_hz_per_m3; /**< -f (mu0 H^2 - eps0 E^2) / (4 U) [Slater1950]. */
  double *geometry_factor_ohm_per_m3; /**< Of G; NULL unless options->derivatives too. */
  double *r_over_q_linac_ohm_per_m3;  /**< Of R/Q; NULL likewise, and where there is none. */
  cavum_index *curve;                 /**< Of a contour: index of its curve; else -1. */
} cavum_wall_density;

/** R/Q against the particle speed, shape [num_points] each; owned. */
typedef struct cavum_beta_curve {
  cavum_index num_points;
  double *beta;
  double *voltage_v; /**< V at a stored energy of one joule. */
  double *r_over_q_linac_ohm;
  double *uncertainty_ohm; /**< Of r_over_q_linac_ohm. */
} cavum_beta_curve;

/** Fields at the points of a grid in one element, for files and pictures; owned. */
typedef struct cavum_field_grid {
  int order; /**< Points lie on the equispaced lattice of this order in each element. */
  cavum_index num_points; /**< All elements together, in the lattice order of cavum_mesh. */
  double *z_m, *r_m;      /**< Positions. */
  double *h_phi_a_per_m;  /**< At a stored energy of one joule, in phase with the drive. */
  double *e_z_v_per_m;    /**< A quarter period behind H: E = -j (e_z, e_r). */
  double *e_r_v_per_m;
} cavum_field_grid;

/**
 * Derivative of one figure by one dimension, both in SI: of figures in their unit of
 * CAVUM_FIGURE_TABLE.
 */
typedef struct cavum_derivative {
  cavum_figure_state state; /**< PRESENT, or ABSENT. */
  double value;
  double uncertainty; /**< Numerical: the true value lies within value +- uncertainty. */
  const char *reason; /**< Why it is absent although the figure is there; static, else NULL. */
} cavum_derivative;

/** Room for figures that later versions add. */
enum { CAVUM_FIGURES_ROOM = 48 };

/** One mode with all its figures. */
typedef struct cavum_mode_result {
  char label[16]; /**< "TM010" where the pattern supports it, else "". */
  cavum_parity parity;
  double k2_per_m2;       /**< Eigenvalue (omega / c)^2. */
  double residual;        /**< |K x - k^2 M x| / (k^2 |M x|) of the discrete problem. */
  double energy_mismatch; /**< |U_E - U_H| / U_H. */
  bool accuracy_reached;  /**< All figures within the accuracy asked for. */
  cavum_figure figures[CAVUM_FIGURES_ROOM]; /**< By cavum_figure_id; absent from
                                               CAVUM_NUM_FIGURES on. */
  cavum_beta_curve beta_curve;              /**< Empty unless options->profiles. */
  cavum_profile axis;                       /**< Empty unless options->profiles. */
  cavum_profile wall;                       /**< Empty unless options->profiles. */
  cavum_field_grid field;                   /**< Empty unless options->field_order > 0. */
  cavum_derivative
      *derivatives;                /**< Owned, shape [num_dimensions][CAVUM_FIGURES_ROOM], see
                                        cavum_result_derivative(); NULL unless options->derivatives. */
  cavum_wall_density wall_density; /**< Empty unless options->profiles. */
  cavum_derivative *one_sided;     /**< Owned, shape [num_dimensions][2 peaks][2 changes], see
                                        cavum_result_one_sided_derivative(); NULL like derivatives. */
  /**
   * Derivatives of E and H at the points of `wall` by the dimensions, in SI, at a stored energy of
   * one joule; points stay at the same parameter of their curve, and E and H have their signs.
   * Owned, shape [2][num_dimensions][wall.num_points]: values, then their uncertainties; NULL
   * unless options->wall_derivatives; NaN where there is none: by dimensions of one of two mirrored
   * halves with options->wall_derivatives_above (without it the whole cell is solved), by those
   * that the contour does not change smoothly with, where modes are too close.
   */
  double *wall_e_by, *wall_h_by;
  /**
   * Numerical uncertainties of E along `axis` and of E and H along `wall`: the true values lie
   * within these of the profile's. One number for all points of an edge of the mesh, from the
   * largest change on it between the last degrees of the solution. Infinite where one degree alone
   * was solved, and for E at sharp edges of metal, where it has no limit. What the sides of a mesh
   * file leave uncertain of the shape is not in them. Owned, shapes [axis.num_points] and
   * [wall.num_points]; NULL where there is no profile, or the file is of an earlier version.
   */
  double *axis_e_uncertainty_v_per_m, *wall_e_uncertainty_v_per_m, *wall_h_uncertainty_a_per_m;
  /**
   * Numerical uncertainties of the solution in each element of the mesh, made like those along the
   * wall: of H_phi, and of E as a vector. E is infinite in elements that touch a corner at which it
   * has no limit. What polynomials through the points of `field` add between them is not in them,
   * but in what cavum_mode_field_uncertainty_at() gives. Owned, shape [mesh.num_elements]; NULL
   * where there is no field grid, or the file is of an earlier version.
   */
  double *field_h_uncertainty_a_per_m, *field_e_uncertainty_v_per_m;
  /**
   * Numerical uncertainties of the densities of G and R/Q in `wall_density`, at their points: one
   * number for an edge of the mesh, from the largest change on it from the last degree but one.
   * Infinite where one degree alone was solved, and for R/Q on edges with an end where metal meets
   * the axis: the density has no limit there, its values swing about it, and their sums alone are
   * of use. Owned, shape [wall_density.num_points]; NULL where there is no such density, or the
   * file is of an earlier version.
   */
  double *wall_geometry_factor_uncertainty_ohm_per_m3, *wall_r_over_q_uncertainty_ohm_per_m3;
} cavum_mode_result;

/** Seconds spent in each stage of a solve. */
typedef struct cavum_timings {
  double contour_s, mesh_s, assembly_s;
  double eigen_s; /**< Factorisations and iterations. */
  double figures_s, total_s;
} cavum_timings;

/** Where the accelerating length comes from; static text in cavum_result. */
typedef struct cavum_accelerating_length {
  double value_m;   /**< NAN when there is none, as in a result file that has none. */
  const char *from; /**< "given", "2 x half_length", "left half_length + right half_length", both
                         also with ", moved", "beta lambda / 2"; static; NULL with NAN. */
} cavum_accelerating_length;

/** One step of the convergence history. */
typedef struct cavum_convergence_step {
  int degree;
  cavum_index num_elements;
  cavum_index num_unknowns;
  double frequency_hz;     /**< Of the first reported mode. */
  double frequency_change; /**< Relative, against the step before; NAN in the first. */
  double figure_change;    /**< Largest relative change of any other figure; NAN in the first. */
} cavum_convergence_step;

/** All that one solve gives. It is made by the library, and members are appended only. */
typedef struct cavum_result {
  char *title; /**< Owned. */
  double beta;
  cavum_accelerating_length accelerating_length; /**< Of the first mode. */
  cavum_mesh mesh; /**< Owned: the mesh that was solved (a half, if half_model). */
  bool half_model; /**< The mesh is the right half of a mirror-symmetric cell, see
                        cavum_mesh_mirror_plane_m(). */
  int degree;      /**< Polynomial degree of the reported solution. */
  cavum_index num_unknowns;
  double complete_below_hz; /**< Every mode below this frequency was found (lowest-mode solves). */
  double complete_above_hz; /**< 0; with near_hz the lower end of the checked window. */
  int num_modes;
  cavum_mode_result *modes;        /**< Owned, shape [num_modes], by rising frequency. */
  cavum_figure coupling;           /**< k_cc, when asked for; of unequal halves, whose images at the
                                      irises make a biperiodic chain, the mean of both irises. */
  double zero_mode_hz, pi_mode_hz; /**< With the coupling: the two frequencies. */
  bool accuracy_reached;           /**< For every mode. */
  int num_warnings;
  char **warnings; /**< Owned, one line each. */
  int num_steps;
  cavum_convergence_step *steps; /**< Owned, shape [num_steps]. */
  cavum_timings timings;
  uint64_t
      cell_digest; /**< cavum_cell_digest() of the cell that was solved; 0: read from a file. */
  /** Numerical uncertainties of the two frequencies of the coupling; 0: not stored in the file. */
  double zero_mode_uncertainty_hz, pi_mode_uncertainty_hz;
  bool coupling_without_tubes; /**< The coupling is that of the cell without its tubes. */
  int num_dimensions;          /**< With options->derivatives: of the cell; a mesh file has none. */
  cavum_dimension *dimensions; /**< Owned, shape [num_dimensions], in the order of a cell file. */
  cavum_derivative *coupling_derivatives; /**< Owned, shape [num_dimensions], see
                                               cavum_result_coupling_derivative(); NULL unless the
                                               coupling and derivatives were asked for. */
} cavum_result;

/**
 * Lattice of a field grid so fine that polynomials through its points follow the solution to about
 * 1e-6 of its largest value (how good that is: cavum/field.h), also on curved elements: the degree
 * plus 4, at least 12, at most 16; less on meshes of so many elements that the lattice would have
 * over a million points.
 */
enum { CAVUM_FIELD_ORDER_CHOSEN = -1 };

/** What a solve is about to do: one degree on one mesh, with up to two degrees below it. */
typedef struct cavum_solve_progress {
  cavum_index num_elements;
  int degree;
  cavum_index num_unknowns;
  int num_modes; /**< Modes asked for. */
  double work_s; /**< Estimate of what this step takes, about so many seconds of one core. */
} cavum_solve_progress;

/** Called as a solve goes on, from its own thread; it must not end the solve. */
typedef void cavum_solve_watcher(const cavum_solve_progress *progress, void *data);

/**
 * Choices of a solve, from cavum_solve_options_default(). Members are appended only; struct_size
 * says which of them the program knows.
 */
typedef struct cavum_solve_options {
  size_t struct_size; /**< Set by cavum_solve_options_default(). */
  int degree;         /**< 0: chosen from the accuracy; 3 to 16: this degree (and the two below).
                         A degree that was asked for is no failure when it does not reach the
                         accuracy: accuracy_reached of the result says whether it did. */
  double refinement;  /**< 0: chosen; else all element sizes of the first mesh that would be chosen
                         are divided by this, at most 64. */
  bool use_symmetry;  /**< Use the mirror plane of cells that have one. Default true. */
  bool coupling;      /**< Also solve with both ends electric and magnetic and give k_cc. */
  bool profiles;      /**< Fill the axis and wall profiles, the wall densities and the R/Q curve
                         over beta. */
  int field_order;    /**< 0: no field grid; else the order of its lattice, 1 to 16;
                         CAVUM_FIELD_ORDER_CHOSEN: from the degree of the solution. */
  cavum_solve_watcher *watcher; /**< Called before each such step; NULL: nobody. */
  void *watcher_data;           /**< Handed on to it. */
  cavum_stop_question *stop;    /**< Whether to stop; NULL: nobody is asked. */
  void *stop_data;              /**< Handed on to it. */
  double work_limit_s; /**< 0: 60. What a solve may do, about so many seconds of one core; counted
                          from unknowns and modes, not measured: the same on every machine. What
                          cannot be done within is refused before the work; what reaches the limit
                          ends with the best result so far and CAVUM_ERR_NOT_CONVERGED. With the
                          coupling it holds for each of the problems. */
  bool coupling_of_inner_cell; /**< With `coupling`: tubes are allowed, and k_cc is that of the same
                                  halves with planes at the irises in place of the tubes. */
  cavum_log_hook *log; /**< Notes on the cell, progress, warnings of the result; NULL: nobody. */
  void *log_data;      /**< Handed on to it. */
  bool derivatives; /**< Also differentiate the figures of all modes by every dimension of the cell,
                       the others fixed; a half and a tube that follow a dimension follow it. */
  uint64_t derivatives_of; /**< With `derivatives`: of which figures, the sum of 1 << id over them;
                              0: of all. Fewer are cheaper, the frequency alone is the cheapest;
                              those of k_cc come with it. */
  bool wall_derivatives;   /**< With `derivatives` and `profiles`: also of E and H at each point of
                              the wall profile. Takes three solves for each point. */
  double wall_derivatives_above; /**< With `wall_derivatives`: of E only at points where that is at
                                    least this part of its largest value along the wall, and so of
                                    H; NaN elsewhere. 0 to 1; 0: at all points. Above 0 without
                                    uncertainties, with one solve for each point. */
  double memory_limit_bytes;  /**< 0: four fifths of what the machine, or the control group of the
                                 process, has. What is estimated to need more is refused before it
                                 is begun; where a later step would, the solve ends with the best
                                 result so far and CAVUM_ERR_NOT_CONVERGED. */
  uint64_t derivatives_modes; /**< With `derivatives`: of which modes, the sum of 1 << mode, counted
                                 from 0; 0: of all. That of others is NULL. */
} cavum_solve_options;

/**
 * What cavum_solve_options_default() calls.
 * @param[out] options      As many of its bytes as struct_size says are set.
 * @param[in]  struct_size  sizeof(cavum_solve_options) where the program is compiled.
 */
CAVUM_API void cavum_solve_options_set_defaults(cavum_solve_options *options, size_t struct_size);

/** Defaults: everything chosen, symmetry used, no coupling, profiles, field grid or watcher. */
static inline cavum_solve_options cavum_solve_options_default(void) {
  cavum_solve_options options;
  cavum_solve_options_set_defaults(&options, sizeof options);
  return options;
}

/**
 * Solves a cell.
 *
 * @param[out] result   New result (cavum_result_destroy()). Also set, with accuracy_reached false,
 *                      when CAVUM_ERR_NOT_CONVERGED is returned; else untouched unless CAVUM_OK.
 * @param[in]  cell     A cell that was read or filled in; checked, see cavum_cell_check().
 * @param[in]  options  NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE          no result or cell, a cell or options that never saw their
 *                                  defaults, options out of range or that do not go with the cell.
 * @retval CAVUM_ERR_INPUT          a cell that cavum_cell_check() refuses, or a mesh file that is
 *                                  damaged.
 * @retval CAVUM_ERR_FILE           a mesh file that cannot be read.
 * @retval CAVUM_ERR_RANGE          a wall outside the range of its formula at this frequency, or
 *                                  more work than options->work_limit_s, or more memory than
 *                                  options->memory_limit_bytes.
 * @retval CAVUM_ERR_GEOMETRY       no contour.
 * @retval CAVUM_ERR_MESH           no valid mesh.
 * @retval CAVUM_ERR_NOT_CONVERGED  the best result is given, labelled; not with options->degree.
 * @retval CAVUM_ERR_INCOMPLETE     modes were missed: none are given.
 * @retval CAVUM_ERR_LIBRARY        a factorisation or eigenvalue iteration failed.
 * @retval CAVUM_ERR_STOPPED        options->stop said so; no result, and a solver has forgotten the
 *                                  cells before.
 * @retval CAVUM_ERR_INTERNAL       an invariant inside does not hold: a mistake in the library.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_solve(cavum_result **result, const cavum_cell *cell,
                                   const cavum_solve_options *options, cavum_error *error);

/**
 * One mode of a result, counted from 0; NULL when there is none. Later versions may add members to
 * modes, which moves all but the first: a program that is to go on with them asks here.
 */
CAVUM_API const cavum_mode_result *cavum_result_mode(const cavum_result *result, int index);

/** One figure of a mode: absent where there is no mode, or no such figure in this version. */
CAVUM_API cavum_figure cavum_mode_figure(const cavum_mode_result *mode, cavum_figure_id id);

/**
 * Derivative of a figure of a mode by a dimension, both counted from 0; absent where there is none.
 *
 * It is that of the computed figure when the mesh moves with the contour, exact to rounding, by
 * d(k^2) = x^T (dK - k^2 dM) x for the frequency. Its uncertainty comes from the degrees of the
 * solution like that of the figure.
 */
CAVUM_API cavum_derivative cavum_result_derivative(const cavum_result *result, int mode,
                                                   int dimension, cavum_figure_id id);

/** Which way a dimension changes. */
typedef enum cavum_change {
  CAVUM_CHANGE_GROWS,  /**< It becomes larger. */
  CAVUM_CHANGE_SHRINKS /**< It becomes smaller. */
} cavum_change;

/**
 * Derivative of a figure by a dimension that only grows, or only shrinks. Both are that of
 * cavum_result_derivative() but for a peak that stands at two places which the dimension does not
 * change alike: the larger of the two is the peak, so it has one derivative to each side, the
 * larger of those of the two places where the dimension grows and the smaller where it shrinks.
 * Two places count as one peak where they differ by less than the peak is uncertain, and by less
 * than 0.1 %. Absent where there is none.
 */
CAVUM_API cavum_derivative cavum_result_one_sided_derivative(const cavum_result *result, int mode,
                                                             int dimension, cavum_figure_id id,
                                                             cavum_change change);

/**
 * Derivative of k_cc by a dimension, counted from 0, from those of the frequencies of the 0 mode
 * and of the pi mode; absent where there is none. Tubes and the accelerating length do nothing to
 * it.
 */
CAVUM_API cavum_derivative cavum_result_coupling_derivative(const cavum_result *result,
                                                            int dimension);

/** Frees a result and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_result_destroy(cavum_result **result);

#ifdef __cplusplus
}
#endif
#endif
