// SPDX-License-Identifier: GPL-3.0-or-later
// Counting reasons: those that differ in numbers only are one.
#include <ctype.h>
#include <string.h>

#include "base/base.h"
#include "cavum/scan_store.h"
#include "store/scan_read.h"
#include "store/scan_reasons.h"

// Copies a reason with '#' in place of each number, so that those of one kind are alike.
static void leave_out_numbers(char out[CAVUM_SCAN_REASON_SIZE], const char *text) {
  size_t used = 0;
  while (*text && used + 1 < CAVUM_SCAN_REASON_SIZE) {
    bool number = isdigit((unsigned char)*text);
    out[used++] = number ? '#' : *text++;
    while (number && (isdigit((unsigned char)*text) || *text == '.' ||
                      (*text == 'e' &&
                       (isdigit((unsigned char)text[1]) || text[1] == '-' || text[1] == '+')) ||
                      ((*text == '-' || *text == '+') && text[-1] == 'e'))) {
      text++;
    }
  }
  if (*text) {  // cut: no half characters
    while (used > 0 && ((unsigned char)out[used - 1] & 0xc0) == 0x80) used--;
    if (used > 0 && ((unsigned char)out[used - 1] & 0x80)) used--;
  }
  out[used] = '\0';
}

static int compare_groups(const void *a, const void *b) {
  const cavum_scan_reason_group *x = a, *y = b;
  if (x->count != y->count) return x->count > y->count ? -1 : 1;
  return (x->first_shape > y->first_shape) - (x->first_shape < y->first_shape);
}

static void count_reason(cavum_scan_reason_group *groups, int *num_groups, int64_t shape,
                         const char *text) {
  char kind[CAVUM_SCAN_REASON_SIZE];
  leave_out_numbers(kind, text);
  int i = 0;
  while (i < *num_groups && strcmp(groups[i].text, kind) != 0) i++;
  if (i == CAVUM_SCAN_MOST_REASONS) i--;  // the last one takes what has no place
  if (i == *num_groups) {
    groups[i] = (cavum_scan_reason_group){.first_shape = shape};
    memcpy(groups[i].text, kind, sizeof kind);
    ++*num_groups;
  }
  groups[i].count++;
}

cavum_status cavum_stored_scan_group_reasons(cavum_scan_reason_group groups[], int *num_groups,
                                             const cavum_stored_scan *scan, cavum_error *error) {
  if (!groups || !num_groups || !scan) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_scan_reasons reasons = {0};
  const char *text = NULL;
  int64_t shape = 0;
  int found = 0;
  cavum_scan_reasons_open(&reasons, cavum_stored_scan_file(scan));
  for (;;) {
    CAVUM_TRY(cavum_scan_reasons_next(&reasons, &shape, &text, error));
    if (shape < 0) break;
    count_reason(groups, &found, shape, text);
  }
  qsort(groups, (size_t)found, sizeof *groups, compare_groups);
  *num_groups = found;
done:
  cavum_scan_reasons_close(&reasons);
  return status;
}
