// SPDX-License-Identifier: GPL-3.0-or-later
// The surface field near its peak from two degrees more, on the elements about the peak alone.
#include "solve/peak_region.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"
#include "element/submesh.h"
#include "fem/apply.h"

// An edge is a place of the peak where E reaches this part of it: at the loosest accuracies another
// one may still gain a hundredth or two by the next degrees and become the peak.
static const double PEAK_PART = 0.97;
// A region has at most this part of the elements: it must be small against the cell for the first
// mode of its own to lie far above those of the cell.
enum { LEAST_PARTS = 3 };

static double largest_e(const cavum_wall_samples *samples) {
  double largest = 0.0;
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) largest = cavum_max(largest, fabs(samples->e[k]));
  return largest;
}

// Metal edges at which E of some task comes close to its peak.
static void mark_peaks(bool *is_peak, const cavum_peak_task *tasks, int count) {
  cavum_index num_metal = tasks[0].now.view.boundary->num_metal;
  for (int t = 0; t < count; t++) {
    double peak = 0.0;
    for (cavum_index i = 0; i < num_metal; i++) {
      peak = cavum_max(peak, largest_e(&tasks[t].samples[i]));
    }
    for (cavum_index i = 0; i < num_metal; i++) {
      is_peak[i] = is_peak[i] || largest_e(&tasks[t].samples[i]) >= PEAK_PART * peak;
    }
  }
}

// What is chosen of a mesh: the seeds, at whose metal edges the peaks are, and their neighbours.
typedef struct choice {
  cavum_index *element;  // owned, [elements of the mesh]
  bool *taken, *is_peak;
  cavum_index count, num_seeds;
} choice;

static void take_element(choice *c, cavum_index e) {
  if (e < 0 || c->taken[e]) return;
  c->taken[e] = true;
  c->element[c->count++] = e;
}

static void choose_elements(choice *c, const cavum_mesh *mesh,
                            const cavum_mesh_boundary *boundary) {
  for (cavum_index i = 0; i < boundary->num_metal; i++) {
    if (c->is_peak[i]) take_element(c, boundary->conducting[i].element);
  }
  c->num_seeds = c->count;
  for (cavum_index i = 0; i < c->num_seeds; i++) {
    const cavum_element *seed = &mesh->elements[c->element[i]];
    for (int k = 0; k < seed->num_corners; k++) {
      const cavum_edge *edge = &mesh->edges[seed->edge[k]];
      take_element(c, edge->element[0]);
      take_element(c, edge->element[1]);
    }
  }
}

// What a region is solved for.
typedef struct wanted {
  int64_t topology;
  cavum_unknown unknown;
  int degree, num_levels;  // the highest, and how many down from it
} wanted;

static bool is_kept(const cavum_peak_region *region, const choice *c, const wanted *w) {
  return region->of_topology == w->topology && region->num_elements == c->count &&
         memcmp(region->element, c->element, (size_t)c->count * sizeof *c->element) == 0 &&
         region->of_unknown == w->unknown && region->reference.degree == w->degree &&
         region->num_levels == w->num_levels;
}

// The metal edges of the seeds, with the shapes that are known of them.
static cavum_status list_edges(cavum_peak_region *region, const choice *c,
                               const cavum_mesh_boundary *boundary, cavum_error *error) {
  cavum_mesh_boundary *own = &region->boundary;
  cavum_index count = 0, next = 0;
  for (cavum_index i = 0; i < boundary->num_metal; i++) count += c->is_peak[i] ? 1 : 0;
  cavum_mesh_boundary_clear(own);
  memcpy(own->sample, boundary->sample, sizeof own->sample);
  memcpy(own->weight, boundary->weight, sizeof own->weight);
  own->conducting = cavum_alloc(count, sizeof *own->conducting);
  own->shape = cavum_alloc(count, sizeof *own->shape);
  if (!own->conducting || !own->shape) return cavum_fail_memory(error);
  own->num_metal = own->num_conducting = count;
  for (cavum_index i = 0; i < boundary->num_metal; i++) {
    if (!c->is_peak[i]) continue;
    cavum_index e = 0;
    while (c->element[e] != boundary->conducting[i].element) e++;
    own->conducting[next] = (cavum_boundary_edge){e, boundary->conducting[i].local_edge};
    own->shape[next++] = boundary->shape[i];
  }
  return CAVUM_OK;
}

static cavum_status make_pencil(cavum_peak_region *region, int of_class, cavum_error *error) {
  const cavum_skeleton *skeleton;
  cavum_pencil *pencil = &region->pencils[of_class];
  cavum_status status = cavum_skeletons_get(&skeleton, &region->skeletons, &region->submesh,
                                            region->topology, of_class, error);
  if (status != CAVUM_OK) return status;
  if (of_class == 0) {
    return cavum_pencil_create(pencil, &region->discretisation, skeleton, region->num_levels,
                               error);
  }
  cavum_pencil_create_sharing(pencil, &region->pencils[0], skeleton);
  return CAVUM_OK;
}

// Storage and plans for other elements, or another degree.
static cavum_status renew(cavum_peak_region *region, const choice *c, const cavum_mesh *mesh,
                          const wanted *w, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t before = region->topology;
  cavum_peak_region_clear(region);
  region->topology = before + 1;
  region->num_levels = w->num_levels;
  region->element = cavum_alloc(c->count, sizeof *region->element);
  if (!region->element) CAVUM_TRY(cavum_fail_memory(error));
  memcpy(region->element, c->element, (size_t)c->count * sizeof *c->element);
  region->num_elements = c->count;
  CAVUM_TRY(cavum_submesh_create(&region->submesh, mesh, c->element, c->count, error));
  int points = cavum_discretisation_points(&region->submesh, w->unknown, w->degree);
  CAVUM_TRY(cavum_reference_create(&region->reference, w->degree, points, false, error));
  CAVUM_TRY(cavum_discretisation_create(&region->discretisation, &region->submesh,
                                        &region->reference, w->unknown, error));
  CAVUM_TRY(
      cavum_condensed_create(&region->condensed, &region->discretisation, w->num_levels, error));
  for (int i = 0; i < CAVUM_CLASSES; i++) CAVUM_TRY(make_pencil(region, i, error));
  region->of_topology = w->topology;
  region->of_unknown = w->unknown;
done:
  return status;
}

// The same elements of a mesh whose positions changed; false when these ask for other points.
static cavum_status refresh(bool *fits, cavum_peak_region *region, const cavum_mesh *mesh,
                            cavum_error *error) {
  cavum_mesh submesh = {0};
  cavum_status status =
      cavum_submesh_create(&submesh, mesh, region->element, region->num_elements, error);
  *fits = false;
  if (status != CAVUM_OK) return status;
  int degree = region->reference.degree;
  *fits = cavum_discretisation_points(&submesh, region->of_unknown, degree) == region->reference.q;
  if (!*fits) {
    cavum_submesh_clear(&submesh);
    return CAVUM_OK;
  }
  cavum_submesh_clear(&region->submesh);
  region->submesh = submesh;
  region->condensed.eliminated = false;
  return cavum_discretisation_refill(&region->discretisation, error);
}

static cavum_status prepare(cavum_peak_region *region, bool *usable, int64_t topology,
                            const cavum_peak_task *tasks, int count, int known,
                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_discretisation *whole = tasks[0].now.view.field.discretisation;
  const cavum_mesh *mesh = whole->mesh;
  const cavum_mesh_boundary *boundary = tasks[0].now.view.boundary;
  const wanted w = {topology, whole->unknown, whole->reference->degree + known + CAVUM_PEAK_DEGREES,
                    CAVUM_PEAK_DEGREES + (known > 0 ? 1 : 0)};
  choice c = {.element = cavum_alloc(mesh->num_elements, sizeof *c.element),
              .taken = cavum_alloc(mesh->num_elements, sizeof *c.taken),
              .is_peak = cavum_alloc(boundary->num_metal, sizeof *c.is_peak)};
  if (!c.element || !c.taken || !c.is_peak) CAVUM_TRY(cavum_fail_memory(error));
  mark_peaks(c.is_peak, tasks, count);
  choose_elements(&c, mesh, boundary);
  *usable = c.count > 0 && LEAST_PARTS * (int64_t)c.count <= mesh->num_elements &&
            w.degree <= CAVUM_DEGREE_MOST;
  if (!*usable) goto done;
  bool fits = is_kept(region, &c, &w);
  if (fits) CAVUM_TRY(refresh(&fits, region, mesh, error));
  if (!fits) CAVUM_TRY(renew(region, &c, mesh, &w, error));
  CAVUM_TRY(list_edges(region, &c, boundary, error));
done:
  free(c.element);
  free(c.taken);
  free(c.is_peak);
  return status;
}

// Vectors of all tasks on the region: first those of the modes now, then those one degree less.
typedef struct vectors {
  int64_t size;
  double *mode, *residual, *corrected;  // owned, [2 count][size]
  cavum_wall_samples *samples, *last;   // owned, [edges]: of the step before and of the last
} vectors;

static const cavum_peak_source *source_of(const cavum_peak_task *tasks, int count, int i) {
  return i < count ? &tasks[i].now : &tasks[i - count].before;
}

static cavum_status allocate(vectors *v, const cavum_peak_region *region, int count,
                             cavum_error *error) {
  cavum_index edges = region->boundary.num_metal;
  v->size = region->discretisation.space.num_unknowns;
  v->mode = cavum_alloc_aligned(2 * count * v->size, sizeof *v->mode);
  v->residual = cavum_alloc_aligned(2 * count * v->size, sizeof *v->residual);
  v->corrected = cavum_alloc_aligned(2 * count * v->size, sizeof *v->corrected);
  v->samples = cavum_alloc(count * (int64_t)edges, sizeof *v->samples);
  v->last = cavum_alloc(edges, sizeof *v->last);
  bool all = v->mode && v->residual && v->corrected && v->samples && v->last;
  return all ? CAVUM_OK : cavum_fail_memory(error);
}

static void free_vectors(vectors *v) {
  free(v->mode);
  free(v->residual);
  free(v->corrected);
  free(v->samples);
  free(v->last);
}

// (K - k^2 M) x of all; corrected is workspace.
static void find_residuals(vectors *v, const cavum_peak_region *region,
                           const cavum_peak_task *tasks, int count) {
  const cavum_discretisation *d = &region->discretisation;
  for (int i = 0; i < 2 * count; i++) {
    const cavum_field *field = &source_of(tasks, count, i)->view.field;
    double *mode = v->mode + i * v->size, *residual = v->residual + i * v->size;
    cavum_space_restrict(mode, &d->space, field->vector, &field->discretisation->space,
                         region->element);
    cavum_discretisation_apply_mass(v->corrected, d, mode);
    cavum_discretisation_apply_stiffness(residual, d, mode);
    for (int64_t k = 0; k < v->size; k++) residual[k] -= field->k2_per_m2 * v->corrected[k];
  }
}

// Corrects `most` of the vectors at one level, by one step with a shift amid their k^2: what that
// leaves is the correction times the distance of k^2 from the shift over that of the modes of the
// region itself, which is small.
static void correct(vectors *v, cavum_peak_region *region, int level, const cavum_peak_task *tasks,
                    int count, int most) {
  cavum_pencil_rhs rhs[CAVUM_RHS_MOST];
  for (int first = 0; first < most; first += CAVUM_RHS_MOST) {
    int some = most - first < CAVUM_RHS_MOST ? most - first : CAVUM_RHS_MOST;
    for (int k = 0; k < some; k++) {
      int i = first + k;
      rhs[k] = (cavum_pencil_rhs){&region->pencils[tasks[i % count].in_class],
                                  v->corrected + i * v->size, v->residual + i * v->size};
    }
    cavum_pencil_solve_many(&region->pencils[0], level, rhs, some);
  }
  for (int64_t i = 0; i < most * v->size; i++) v->corrected[i] = v->mode[i] - v->corrected[i];
}

// A mode on the region with another vector.
static cavum_view view_of(const cavum_peak_region *region, const cavum_peak_source *source,
                          const double *vector) {
  cavum_view view = source->view;
  view.field.discretisation = &region->discretisation;
  view.field.vector = vector;
  view.boundary = &region->boundary;
  return view;
}

// Peak of a task at a step, and how far that is from the step before.
static void measure(cavum_peak_step *step, vectors *v, const cavum_peak_region *region,
                    const cavum_peak_task *task, int t) {
  cavum_index edges = region->boundary.num_metal;
  double eacc = task->now.eacc_v_per_m;
  cavum_view view = view_of(region, &task->now, v->corrected + t * v->size);
  cavum_wall_samples *before = v->samples + t * edges;
  cavum_surface_sample(v->last, &view);
  step->electric = cavum_surface_find_peak(v->last, &view, true);
  step->electric.value /= eacc;
  step->electric.gap /= eacc;
  step->spread = cavum_surface_spread(before, eacc, v->last, eacc, &region->boundary, true);
  memcpy(before, v->last, (size_t)edges * sizeof *v->last);
}

static cavum_status solve(cavum_peak_steps *steps, cavum_peak_region *region,
                          const cavum_peak_task *tasks, int count, cavum_error *error) {
  cavum_index edges = region->boundary.num_metal;
  vectors v = {0};
  cavum_status status = allocate(&v, region, count, error);
  if (status != CAVUM_OK) goto done;
  find_residuals(&v, region, tasks, count);
  for (int t = 0; t < count; t++) {
    cavum_view view = view_of(region, &tasks[t].now, v.mode + t * v.size);
    cavum_surface_sample(v.samples + t * edges, &view);
  }
  for (int level = region->num_levels - 1; level >= 0; level--) {
    // The degree that was known is overwritten by the one behind it.
    int step = level < CAVUM_PEAK_DEGREES ? CAVUM_PEAK_DEGREES - 1 - level : 0;
    correct(&v, region, level, tasks, count, level == 0 ? 2 * count : count);
    CAVUM_TRY(cavum_stop_check(error));
    for (int t = 0; t < count; t++) measure(&steps[t].step[step], &v, region, &tasks[t], t);
  }
  for (int t = 0; t < count; t++) {
    const cavum_peak_source *before = &tasks[t].before;
    cavum_view view = view_of(region, before, v.corrected + (count + t) * v.size);
    cavum_surface_sample(v.last, &view);
    steps[t].spread_of_whole =
        cavum_surface_spread(v.last, before->eacc_v_per_m, v.samples + t * edges,
                             tasks[t].now.eacc_v_per_m, &region->boundary, true);
  }
done:
  free_vectors(&v);
  return status;
}

static double mean_k2(const cavum_peak_task *tasks, int count) {
  double sum = 0.0;
  for (int t = 0; t < count; t++) sum += tasks[t].now.view.field.k2_per_m2;
  return sum / count;
}

cavum_status cavum_peak_region_refine(cavum_peak_steps *steps, bool *done,
                                      cavum_peak_region *region, int64_t topology,
                                      const cavum_peak_task *tasks, int count, int known,
                                      cavum_error *error) {
  cavum_status status = CAVUM_OK;
  *done = false;
  CAVUM_TRY(prepare(region, done, topology, tasks, count, known, error));
  if (!*done) return CAVUM_OK;
  CAVUM_TRY(cavum_pencil_factorise(&region->pencils[0], &region->condensed, mean_k2(tasks, count),
                                   error));
  // A mode of the region itself below the shift: it is not small.
  *done = region->pencils[0].levels[0].num_negative == 0;
  if (*done) CAVUM_TRY(solve(steps, region, tasks, count, error));
done:
  if (status != CAVUM_OK) {
    *done = false;
    cavum_peak_region_clear(region);
  }
  // Finer points may see a fold that those of the whole mesh do not.
  return status == CAVUM_ERR_MEMORY ? status : CAVUM_OK;
}

void cavum_peak_region_clear(cavum_peak_region *region) {
  if (!region) return;
  for (int c = CAVUM_CLASSES - 1; c >= 0; c--) cavum_pencil_clear(&region->pencils[c]);
  cavum_skeletons_clear(&region->skeletons);
  cavum_condensed_clear(&region->condensed);
  cavum_discretisation_clear(&region->discretisation);
  cavum_reference_clear(&region->reference);
  cavum_mesh_boundary_clear(&region->boundary);
  cavum_submesh_clear(&region->submesh);
  free(region->element);
  memset(region, 0, sizeof *region);
}
