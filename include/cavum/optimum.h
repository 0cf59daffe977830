// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum.h
 * The best shape: dimensions within bounds, one figure or a product of figures to be least or
 * largest, limits on other figures and on the shape, the frequency held.
 *
 * Threads: different goals may be used by different threads at once.
 */
#ifndef CAVUM_OPTIMUM_H
#define CAVUM_OPTIMUM_H

#include "cavum/requirement.h"
#include "cavum/scan.h"
#include "cavum/solver.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A goal that was read: opaque. */
typedef struct cavum_goal cavum_goal;

/**
 * Reads a goal file (YAML; REFERENCE.md lists the keys) with its base cell.
 *
 * @param[out] goal   Owned by the caller (cavum_goal_close()); untouched unless CAVUM_OK.
 * @param[in]  path   Goal file; the cell is named relative to its folder.
 * @param[out] error  May be NULL; one line `file:line:column: what is wrong, what was expected`.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE      a file cannot be read.
 * @retval CAVUM_ERR_INPUT     syntax, unknown key or name, bad value, bad expression.
 * @retval CAVUM_ERR_GEOMETRY  the base cell cannot exist.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_goal_open(cavum_goal **goal, const char *path, cavum_error *error);

/**
 * Like cavum_goal_open() for text in memory, with its base cell from a file or in memory.
 *
 * @param[out] goal    As above.
 * @param[in]  text    UTF-8 text, shape [length].
 * @param[in]  length  Bytes of text.
 * @param[in]  name    Name of the goal in messages; the cell is relative to its folder; NULL:
 *                     "goal".
 * @param[in]  cell    The base cell; NULL: the file that the goal names.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  no place or text, or a cell that never saw its defaults.
 * @retval CAVUM_ERR_FILE      as cavum_goal_open(), and so the next three.
 * @retval CAVUM_ERR_INPUT
 * @retval CAVUM_ERR_GEOMETRY
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_goal_open_text(cavum_goal **goal, const char *text, size_t length,
                                            const char *name, const cavum_cell *cell,
                                            cavum_error *error);

/** Frees a goal and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_goal_close(cavum_goal **goal);

/** Title of a goal; "" without one. Borrowed. */
CAVUM_API const char *cavum_goal_title(const cavum_goal *goal);

/** Text of a goal file; borrowed. */
CAVUM_API const char *cavum_goal_text(const cavum_goal *goal);

/** Path of the file of the base cell; borrowed; NULL: it came from memory. */
CAVUM_API const char *cavum_goal_cell_path(const cavum_goal *goal);

/** Path of the mesh file of the base cell; borrowed; NULL: it has none. */
CAVUM_API const char *cavum_goal_mesh_path(const cavum_goal *goal);

/** All files that a goal was read from: its own, those of all its cells, its tolerances; borrowed;
 * NULL without one. */
CAVUM_API const cavum_files *cavum_goal_files(const cavum_goal *goal);

/** Most cells that share the dimensions of a goal. */
enum { CAVUM_GOAL_CELLS_MOST = 6 };

/** Whether a goal ends with a free wall. */
CAVUM_API bool cavum_goal_has_free_wall(const cavum_goal *goal);

/** Number of base cells that share the dimensions of a goal. */
CAVUM_API int cavum_goal_num_cells(const cavum_goal *goal);

/** Name of a cell, from 0: "" of the first; borrowed. */
CAVUM_API const char *cavum_goal_cell_name(const cavum_goal *goal, int cell);

/** Path of the file of a cell, from 0; borrowed; NULL: it came from memory, or is none. */
CAVUM_API const char *cavum_goal_other_path(const cavum_goal *goal, int cell);

/** What a base cell has to tell, as cavum_cell.note, from 0; borrowed; "": nothing. */
CAVUM_API const char *cavum_goal_note(const cavum_goal *goal, int cell);

/**
 * Says by how many threads starts are searched from; without it by the calling one alone. Each
 * further thread reads the goal again and has solvers of its own; the outcome is the same.
 * @param[in]  goal     Open; its search uses them.
 * @param[in]  threads  1 or more; no more are used than there are starts, nor more than 64.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  no goal, or no thread.
 */
CAVUM_API cavum_status cavum_goal_set_threads(cavum_goal *goal, int threads, cavum_error *error);

/** What a search is busy with. */
typedef enum cavum_optimum_stage {
  CAVUM_OPTIMUM_STAGE_STARTS = 0,     /**< Searches from the starts. */
  CAVUM_OPTIMUM_STAGE_TOLERANCES = 1, /**< The worst case or the mean. */
  CAVUM_OPTIMUM_STAGE_ROUNDING = 2,
  CAVUM_OPTIMUM_STAGE_FREE_WALL = 3, /**< Searches for the free wall. */
  CAVUM_OPTIMUM_STAGE_FRONT = 4      /**< Points of a front. */
} cavum_optimum_stage;

/** How far a search is. It is made by the library, and members are appended only. */
typedef struct cavum_optimum_progress {
  cavum_optimum_stage stage;
  int num_wanted, num_done; /**< Starts and how many have ended; of a front points, and how many
                                 were found. */
  int point;                /**< Of a front: the one that is searched for, from 0; else -1. */
  int num_solves;           /**< So far, of all stages. */
  double seconds;           /**< Since the begin. */
  bool has_best;            /**< A shape was solved in this stage (of a front: for this point);
                                 the next three are of the best one. */
  bool within_limits;       /**< It keeps them to the accuracy asked for. */
  double violation;         /**< Largest of a limit, relative. */
  double objective;         /**< Logarithm of the product that is to be least. */
  const cavum_requirement *what; /**< Borrowed: the figure that is to be least or largest, with
                                      power 1; NULL: a product. */
  double value;                  /**< Of this figure, SI; NaN of a product. */
} cavum_optimum_progress;

/** Called by the thread that searches, after each of its solves and while it waits for others. */
typedef void cavum_optimum_watcher(const cavum_optimum_progress *progress, void *data);

/**
 * Has a search tell how far it is.
 * @param[in]  goal     Open; its searches, parts and fronts tell.
 * @param[in]  watcher  NULL: nobody.
 * @param[in]  data     Handed on to it; borrowed.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  no goal.
 */
CAVUM_API cavum_status cavum_goal_set_watcher(cavum_goal *goal, cavum_optimum_watcher *watcher,
                                              void *data, cavum_error *error);

/** A dimension that the search changes, at the best shape. */
typedef struct cavum_optimum_variable {
  char key[CAVUM_CELL_KEY_SIZE]; /**< Full dotted key of the cell file. */
  const char *unit;              /**< That the key names; static. */
  double low, high, step;        /**< Bounds, and what it is rounded to (0: it is not). */
  double before, value;          /**< In the base cell and in the best one. */
  int at_bound;                  /**< -1: at the lower one, 1: at the upper one, 0: between. */
  double multiplier;             /**< What one unit more room at that bound brings: change of the
                                      logarithm of the objective for the better, >= 0. */
  bool is_held;                  /**< It holds the frequency. */
} cavum_optimum_variable;

/** A limit at the best shape; values in the unit of its key. */
typedef struct cavum_optimum_limit {
  cavum_requirement what;
  double value, uncertainty;
  int active;        /**< -1: at the least, 1: at the most, 0: neither. */
  double multiplier; /**< As above, for one unit that the limit gives way; below 0 where a value
                          that is held exactly had better be the other way. */
  double margin;     /**< Part of the value that tolerances add, in the worst case for the worse
                          (>= 0), in the mean with its sign; 0: nominal. */
  double broken_by;  /**< How far the value is beyond the limit, of a search that met no
                          conditions; 0: it is not, or by less than the accuracy asked for. */
} cavum_optimum_limit;

/** One figure of the objective, SI. */
typedef struct cavum_optimum_term {
  cavum_requirement what;
  double weight; /**< Power in the product that is to be least; below 0: it is to be large. */
  double before, value, uncertainty;
} cavum_optimum_term;

/** How a search ended. */
typedef enum cavum_optimum_end {
  CAVUM_OPTIMUM_CONVERGED = 0, /**< First-order conditions met. */
  CAVUM_OPTIMUM_STALLED = 1,   /**< No step made it better any more, conditions not met. */
  CAVUM_OPTIMUM_OUT_OF_SOLVES = 2,
  CAVUM_OPTIMUM_INFEASIBLE = 3, /**< No shape nearby meets the limits. */
  CAVUM_OPTIMUM_NO_SHAPE = 4,   /**< The start was none. */
  CAVUM_OPTIMUM_STOPPED = 5     /**< The program asked to stop before it ended. */
} cavum_optimum_end;

/** Word for an end; static. */
CAVUM_API const char *cavum_optimum_end_word(cavum_optimum_end end);

/** One start of the search. */
typedef struct cavum_optimum_start {
  cavum_optimum_end end;
  int num_solves;       /**< With derivatives. */
  double objective;     /**< Logarithm of the product that is to be least. */
  double violation;     /**< Largest of a limit, relative. */
  double residual;      /**< Of the first-order conditions, see cavum_optimum. */
  bool is_best;         /**< It led to the value of the best. */
  double *first, *last; /**< Owned, shape [num_variables]. */
} cavum_optimum_start;

/** One solve on the path of the start that led to the best shape. */
typedef struct cavum_optimum_step {
  double objective, violation, residual, radius;
  bool accepted;
  double *values; /**< Owned, shape [num_variables]. */
} cavum_optimum_step;

/** What of figures over the tolerances counts in a search. */
typedef enum cavum_robust_kind {
  CAVUM_ROBUST_NONE = 0,  /**< They are nominal. */
  CAVUM_ROBUST_WORST = 1, /**< Value and some standard deviations of the linear spread. */
  CAVUM_ROBUST_MEAN = 2   /**< Mean to second order. */
} cavum_robust_kind;

/** Word for what counts; static. */
CAVUM_API const char *cavum_robust_kind_word(cavum_robust_kind kind);

/** The best shape within tolerances against the nominal one: logarithms of objectives. */
typedef struct cavum_optimum_robust {
  cavum_robust_kind kind;
  double deviations;        /**< Standard deviations that figures keep in the worst case; else 0. */
  double nominal;           /**< Of the nominal best shape. */
  double nominal_worst;     /**< Of that shape in the worst case, or its mean. */
  double nominal_violation; /**< By how much it breaks a limit there. */
  int num_passes;           /**< Searches, each with spreads of the shape before. */
  int num_solves;           /**< Of these searches and of what tolerances add. */
  int whole_peaks; /**< Peaks whose places along the wall are not known by the tolerances, so that
                        spread or mean are those of the figure as a whole, as if it stayed where
                        it is: 1 E, 2 B, 3 both; 0: none. */
  bool left_out;   /**< The nominal search came to no best shape, from which one with tolerances
                        would start: `kind` is NONE, all is nominal. */
} cavum_optimum_robust;

struct cavum_optimum;

/** The best shape with a free wall against the best one of two ellipses: logarithms of objectives.
 */
typedef struct cavum_optimum_free_wall {
  int num_points;         /**< Between iris and equator; 0: no free wall was searched for. */
  double two_ellipse;     /**< Of the best shape of two ellipses. */
  double start;           /**< Of the spline through points of it. */
  int num_solves;         /**< Of the search for the shape of two ellipses. */
  char *two_ellipse_text; /**< Owned: that shape as a cell file, comments kept; NULL as read. */
  bool taken; /**< The result is the free wall. False: its search came to nothing better within the
                   limits, so the result is the shape of two ellipses. */
  cavum_optimum_end end;      /**< Of the search for the free wall, and so the next four. */
  double objective;           /**< NaN: no shape. */
  double residual, violation; /**< There. */
  int num_solves_free;        /**< With derivatives. */
  struct cavum_optimum *two_ellipse_search; /**< Owned: all of the search for the two ellipses; NULL
                                                 where that is the result. */
} cavum_optimum_free_wall;

/** Bytes that hold the name of a cell of a goal. */
enum { CAVUM_OPTIMUM_NAME_SIZE = 24 };

/** Another cell of a goal, which shares the dimensions, at the best shape. */
typedef struct cavum_optimum_cell {
  char name[CAVUM_OPTIMUM_NAME_SIZE];
  int mode;
  char *cell_text;               /**< Owned: the cell as a file, comments kept. */
  cavum_result *result, *before; /**< Owned, as of the first cell. */
} cavum_optimum_cell;

/** A piece of a path that a search made as short as it may be: at length 0 its neighbours meet, and
 * there is no shape beyond. Its least length is a limit that every search keeps. */
typedef struct cavum_optimum_piece {
  char key[CAVUM_OPTIMUM_NAME_SIZE]; /**< Entry of the path, "path[5]"; "": no piece vanishes. */
  int cell;                          /**< Of which cell of the goal, from 0. */
  bool in_right_half;                /**< Of the outline; else in the left one. */
  double z_m, r_m;                   /**< Where it begins. */
  double length_m, least_m;          /**< What is left of it, and what must be. */
} cavum_optimum_piece;

/** Bytes that hold which limit is broken. */
enum { CAVUM_OPTIMUM_BROKEN_SIZE = 256 };

/** What a search came to. It is made by the library, and members are appended only. */
typedef struct cavum_optimum {
  bool met; /**< The first-order conditions hold and so do the limits. */
  int mode;
  int num_variables, num_limits, num_terms, num_starts, num_steps;
  cavum_optimum_variable *variables; /**< Owned. */
  cavum_optimum_limit *limits;       /**< Owned. */
  cavum_optimum_term *terms;         /**< Owned. */
  cavum_optimum_start *starts;       /**< Owned. */
  cavum_optimum_step *steps;         /**< Owned. */
  double objective;                  /**< Logarithm of the product at the best shape, rounded. */
  double objective_exact;            /**< The same before rounding. */
  double objective_uncertainty;
  double residual;  /**< Largest derivative of the Lagrange function by a dimension that has room,
                         of the logarithm of the objective, over the range of the dimension, or
                         the sum of multipliers times the room of their limits, if that is more. */
  double violation; /**< Largest of a limit, relative. */
  int num_solves;   /**< Of all starts. */
  int num_optima;   /**< Different values that starts converged to. */
  cavum_result *before, *result; /**< Owned: of the base cell (NULL where it is none) and of the
                                      best. */
  char *cell_text;               /**< Owned: the best cell as a file, comments kept. */
  int num_others;                /**< Cells of the goal beside the first. */
  cavum_optimum_cell *others;    /**< Owned, shape [num_others]. */
  cavum_optimum_robust robust;   /**< Of goals with tolerances: objective, figures of it and limits
                                      are those of the worst case, or means. */
  cavum_optimum_free_wall free_wall; /**< Of goals with a free wall: where it is taken, all else but
                                          this is of the search for it, which starts from the
                                          spline. */
  bool within_limits; /**< Every limit holds to the accuracy asked for. A shape that is not `met` is
                           then one to use, but not proven to be the best. */
  cavum_optimum_end end; /**< Of the search that came to this shape, before rounding. Stopped, also
                              where that one had converged, and others or what follows had not. */
  bool not_rounded; /**< No way to round to the steps keeps the limits: this is the shape before. */
  double rounding_violation; /**< By how much the best way to round breaks a limit then, relative;
                                  NAN: no way is a shape, or it was rounded. */
  char broken[CAVUM_OPTIMUM_BROKEN_SIZE]; /**< Which limits this shape breaks, with differences: a
                                               frequency that is held first, then what is missed
                                               by most, with value and limit; "": none. */
  char rounding_broken[CAVUM_OPTIMUM_BROKEN_SIZE]; /**< The same of the best way to round, where no
                                                        way keeps the limits. */
  char nominal_broken[CAVUM_OPTIMUM_BROKEN_SIZE];  /**< The same of the nominal best shape in the
                                                        worst case, or in the mean. */
  int num_left_out; /**< Places along the walls that may become a peak or break a limit, but that
                         steps at this shape had no room for: those that are farthest from it. */
  char unproven[CAVUM_OPTIMUM_BROKEN_SIZE]; /**< Why a shape within its limits is not proven to be
                                                 the best: a piece of its wall that vanishes, which
                                                 condition is not met, what is asked for; "": it
                                                 is, or it breaks limits. */
  cavum_optimum_piece vanishing;            /**< Where this is not proven to be the best;
                                                 its key is "" where none did. */
} cavum_optimum;

/** Most figures that a front sets against the objective. */
enum { CAVUM_FRONT_MOST_AXES = 2 };

/** What a point of a front is. */
typedef enum cavum_front_kind {
  CAVUM_FRONT_POINT = 0,    /**< The best shape within its limits. */
  CAVUM_FRONT_BEYOND = 1,   /**< The best shape, one of whose limits is not active: it is within a
                                 tighter one as well. */
  CAVUM_FRONT_GAP = 2,      /**< No shape was found that meets the first-order conditions. */
  CAVUM_FRONT_DOMINATED = 3 /**< Another point is better in every figure. */
} cavum_front_kind;

/** Word for a kind of point; static. */
CAVUM_API const char *cavum_front_kind_word(cavum_front_kind kind);

/** A figure of a front. */
typedef struct cavum_front_axis {
  cavum_requirement what;
  bool smaller;   /**< Less of it is better. */
  int num_limits; /**< Values that its limit takes; 1 of the objective, which has none. */
} cavum_front_axis;

/** One point. */
typedef struct cavum_front_point {
  cavum_front_kind kind;
  cavum_optimum_end end;
  double limit[CAVUM_FRONT_MOST_AXES];           /**< Of each figure, in the unit of its key. */
  double value[1 + CAVUM_FRONT_MOST_AXES];       /**< Objective, figures; in the units of keys. */
  double uncertainty[1 + CAVUM_FRONT_MOST_AXES]; /**< Numerical, of these. */
  double multiplier[CAVUM_FRONT_MOST_AXES];      /**< What one unit more room brings: change of the
                                                      logarithm of the objective for the better. */
  double residual, violation;                    /**< As of a best shape. */
  int num_solves;                                /**< That were needed for it. */
  double *inputs; /**< Owned, shape [num_inputs]: dimensions, linked ones last. */
  bool at_seam;   /**< Another part walked a neighbour: the best shape there was found from both
                       sides, but by no walk through. */
} cavum_front_point;

/** Best shapes for one figure against one or two others. Made by the library, members are appended
 * only. */
typedef struct cavum_front {
  int num_axes, num_inputs, num_points, num_solves, mode;
  cavum_front_axis objective;
  cavum_front_axis axes[CAVUM_FRONT_MOST_AXES];
  cavum_front_point *points;           /**< Owned: the first limit goes from the loose end to the
                                            tight one, with each value of the second. */
  char (*inputs)[CAVUM_CELL_KEY_SIZE]; /**< Owned, shape [num_inputs]: dotted names. */
  char *study_text; /**< Owned: a study whose shapes are the points that were found, with these
                         figures as aims; its base cell is that of the goal. */
} cavum_front;

/** Frees a front and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_front_destroy(cavum_front **front);

/** Whether a goal is a front: figures against each other, not one best shape. */
CAVUM_API bool cavum_goal_is_front(const cavum_goal *goal);

/**
 * Finds the shapes of a front: none of its figures can be better without another one being worse.
 *
 * The limits of the figures go through their ranges, and each point is a best shape as
 * cavum_optimise() finds it, with its neighbour's shape and curvature to start from. The first has
 * all starts of the goal. A second walk goes back, so that a point has the better of what its
 * neighbours lead to.
 *
 * @param[out] front    Owned by the caller (cavum_front_destroy()); also given with
 *                      CAVUM_ERR_STOPPED once a point was found (others are gaps whose end is
 *                      CAVUM_OPTIMUM_STOPPED); else untouched unless CAVUM_OK.
 * @param[in]  goal     With a front (cavum_goal_is_front()).
 * @param[in]  options  Of each solve; NULL: defaults. Derivatives are switched on.
 * @param[out] error    May be NULL.
 * @retval CAVUM_OK
 * @retval CAVUM_ERR_NOT_CONVERGED  no point was found.
 * @retval CAVUM_ERR_USAGE          NULL for what must be given, a goal without a front.
 * @retval CAVUM_ERR_INPUT          as cavum_optimise(), and so the next nine.
 * @retval CAVUM_ERR_GEOMETRY
 * @retval CAVUM_ERR_RANGE
 * @retval CAVUM_ERR_FILE
 * @retval CAVUM_ERR_MESH
 * @retval CAVUM_ERR_INCOMPLETE
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_STOPPED
 * @retval CAVUM_ERR_INTERNAL
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_optimise_front(cavum_front **front, cavum_goal *goal,
                                            const cavum_solve_options *options, cavum_error *error);

/** Frees what a search came to and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_optimum_destroy(cavum_optimum **optimum);

/**
 * Searches for the best shape.
 *
 * A sequential quadratic programme with exact derivatives: at each shape the logarithms of figures
 * and limits are linear in the dimensions, the curvature of the Lagrange function is learnt from
 * the derivatives of the shapes before (BFGS), and a step stays within a region where that is
 * trusted [Nocedal2006]. Peaks are largest values along the wall: the places that compete are
 * constraints of one bound each, so that a flat top is no kink for the search. The subproblem of
 * each step is solved by a dual active-set method [GoldfarbIdnani1983].
 *
 * A search that is stopped hands out the best shape so far: `end` is CAVUM_OPTIMUM_STOPPED, and
 * whatever would have followed is left out (other starts, the worst case, rounding, a free wall).
 *
 * @param[out] optimum  Owned by the caller (cavum_optimum_destroy()); also given with
 *                      CAVUM_ERR_NOT_CONVERGED and, once a shape was solved, with
 *                      CAVUM_ERR_STOPPED; else untouched unless CAVUM_OK.
 * @param[in]  goal     What to search for.
 * @param[in]  options  Of each solve; NULL: defaults. Derivatives are switched on.
 * @param[out] error    May be NULL.
 * @retval CAVUM_OK
 * @retval CAVUM_ERR_NOT_CONVERGED  no start met the first-order conditions within the limits: the
 *                                  best that was found is given, with `within_limits`, and its
 *                                  cell_text begins with a comment that says so. Or a search for
 *                                  a free wall failed: the best of two ellipses is given.
 * @retval CAVUM_ERR_INPUT          a figure that the mode does not have or that has no derivative.
 * @retval CAVUM_ERR_GEOMETRY       no start is a shape.
 * @retval CAVUM_ERR_USAGE          no optimum or goal, options that never saw their defaults.
 * @retval CAVUM_ERR_RANGE          as cavum_solve(), and so the next seven.
 * @retval CAVUM_ERR_FILE
 * @retval CAVUM_ERR_MESH
 * @retval CAVUM_ERR_INCOMPLETE
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_STOPPED
 * @retval CAVUM_ERR_INTERNAL
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_optimise(cavum_optimum **optimum, cavum_goal *goal,
                                      const cavum_solve_options *options, cavum_error *error);

/** Most parts that a search is divided into. */
enum { CAVUM_OPTIMISE_MOST_PARTS = 100000 };

/**
 * Computes one part of a search, on a cluster for example, and keeps what it comes to in the
 * folder OUTPUT.parts until it is gathered.
 *
 * Starts are dealt to the parts in turn: the first points of the sequence that have contours, so
 * that each part knows its own without solving those of others. Each is kept when it has ended, and
 * a part that was stopped goes on with the others. Of a front each part walks a segment of
 * neighbouring points from a beginning of its own; what a stopped part had walked is lost.
 *
 * @param[in]  goal       As of cavum_optimise() or cavum_optimise_front(); its threads share the
 *                        starts of a part.
 * @param[in]  output     Name of the file to come, the same of all parts.
 * @param[in]  part       From 0.
 * @param[in]  num_parts  At most CAVUM_OPTIMISE_MOST_PARTS.
 * @param[in]  options    Of each solve; NULL: defaults.
 * @param[out] error      May be NULL.
 * @retval CAVUM_OK         all of the part is kept, now or since earlier.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given, no such part.
 * @retval CAVUM_ERR_FILE   another run computes the part, or its files cannot be read or written.
 * @retval CAVUM_ERR_INPUT  the folder has parts of another goal. Else as cavum_optimise().
 */
CAVUM_API cavum_status cavum_optimise_part(cavum_goal *goal, const char *output, int64_t part,
                                           int64_t num_parts, const cavum_solve_options *options,
                                           cavum_error *error);

/**
 * Like cavum_optimise(), with the starts that parts have searched from. What follows the starts is
 * done here: worst case, rounding, free wall. The parts stay (cavum_scan_records_remove()).
 * @param[out] optimum  As of cavum_optimise().
 * @param[in]  goal     That of the parts, without a front.
 * @param[in]  output   Of the parts.
 * @param[in]  options  Of each solve; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_NOT_CONVERGED  starts are missing: no optimum is given. Else as
 *                                  cavum_optimise().
 * @retval CAVUM_ERR_INPUT          parts of another goal. Else as cavum_optimise().
 */
CAVUM_API cavum_status cavum_optimise_gather(cavum_optimum **optimum, cavum_goal *goal,
                                             const char *output, const cavum_solve_options *options,
                                             cavum_error *error);

/**
 * Like cavum_optimise_front(), with the segments that parts have walked. At each seam the search
 * goes on from one segment into the other, both ways, as far as that makes points clearly better.
 * @param[out] front    As of cavum_optimise_front().
 * @param[in]  goal     That of the parts, with a front.
 * @param[in]  output   Of the parts.
 * @param[in]  options  Of each solve; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_NOT_CONVERGED  parts are missing. Else as cavum_optimise_front().
 * @retval CAVUM_ERR_INPUT          parts of another goal. Else as cavum_optimise_front().
 */
CAVUM_API cavum_status cavum_optimise_front_gather(cavum_front **front, cavum_goal *goal,
                                                   const char *output,
                                                   const cavum_solve_options *options,
                                                   cavum_error *error);

/**
 * What a search came to as JSON: objective, dimensions and limits under their keys and in their
 * units, each start, the path of the best one with its values in the order of the dimensions.
 * @param[out] text     Owned by the caller, release with cavum_free(); untouched unless CAVUM_OK.
 * @param[in]  optimum  Of cavum_optimise().
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  no place for the text, or no optimum.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_optimum_to_json(char **text, const cavum_optimum *optimum,
                                                   cavum_error *error);

/**
 * Writes the file of the best cell, like cavum_store_write_result(), with the search in the group
 * `/optimum`: dimensions, objective, limits with their multipliers, starts, the path of the best
 * start, and the figures of the base cell.
 * @param[in]  path     File to write; replaced.
 * @param[in]  optimum  Of cavum_optimise().
 * @param[in]  goal     That it is of: its title and text are stored.
 * @param[in]  result   Of optimum->cell_text, with the profiles and fields that are wanted.
 * @param[in]  cell     The cell that was read from that text.
 * @param[in]  options  It was solved with; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE    NULL for what must be given, or another cell.
 * @retval CAVUM_ERR_INPUT    as cavum_store_write_result(), and so the next three.
 * @retval CAVUM_ERR_FILE
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_optimum(const char *path, const cavum_optimum *optimum,
                                                 const cavum_goal *goal, const cavum_result *result,
                                                 const cavum_cell *cell,
                                                 const cavum_solve_options *options,
                                                 cavum_error *error);

/**
 * Reads what a search came to from such a file.
 * @param[out] optimum  Owned by the caller (cavum_optimum_destroy()); untouched unless CAVUM_OK.
 *                      `result` is that of the file, `before` has figures alone, and `cell_text` is
 *                      NULL: cavum_store_read_result() gives the cell.
 * @param[out] title    Of the goal, release with cavum_free(); may be NULL.
 * @param[in]  path     File of cavum_store_write_optimum().
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE   no path, or no place for the optimum.
 * @retval CAVUM_ERR_FILE    cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT   no result file, one without a search, or damaged.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_read_optimum(cavum_optimum **optimum, char **title,
                                                const char *path, cavum_error *error);

/**
 * Gathers the shapes of a front, like cavum_store_write_scan(), with what the search tells of them
 * in the group `/front`: limits, figures, multipliers, residuals, and where it has gaps.
 * @param[in]  path     File to write; replaced.
 * @param[in]  study    Of front->study_text, opened with the path of the goal or its base cell.
 * @param[in]  records  Its records.
 * @param[in]  front    Of cavum_optimise_front().
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_NOT_CONVERGED  batches are missing: nothing is written.
 * @retval CAVUM_ERR_INPUT          the mesh file changed since the study was opened.
 * @retval CAVUM_ERR_FILE           records cannot be read, or the file not written.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_front(const char *path, const cavum_study *study,
                                               cavum_scan_records *records,
                                               const cavum_front *front, cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
