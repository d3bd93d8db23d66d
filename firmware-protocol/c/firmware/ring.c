/* Rows on their way from the timer's interrupt, which puts them in, to the main loop, which takes them out, without a
 * lock: neither ever waits for the other.
 *
 * `put` is written by the interrupt only, `taken` by the main loop only. Both only grow; their difference, modulo 2^32,
 * is how many rows are inside. A row is written whole before `put` says that it is there, and read whole before `taken`
 * says that its place is free: cpu_barrier keeps that order. Each is one aligned word, read and written at once.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"
#include "part.h"

#define PLACES 64u /* a power of 2, so that the numbers may wrap; 0.3 s at 200 rows a second */

static struct row rows[PLACES];
static volatile uint32_t put, taken;

struct row *ring_free(void) {
    if (put - taken >= PLACES) {
        return 0;
    }
    cpu_barrier();
    return &rows[put % PLACES];
}

void ring_put(void) {
    cpu_barrier();
    put = put + 1u;
}

const struct row *ring_first(void) {
    if (put == taken) {
        return 0;
    }
    cpu_barrier();
    return &rows[taken % PLACES];
}

void ring_drop_first(void) {
    cpu_barrier();
    taken = taken + 1u;
}
