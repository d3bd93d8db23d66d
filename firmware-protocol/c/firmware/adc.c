/* The sensors. THE COUNTS ARE MADE UP: the emulated part has no converter that could measure anything, so each row is
 * worked out from its number, and a test can say of every row recorded whether it is the one that was sent.
 *
 * A real board's converters are read here and nowhere else; `row` is then of no use. The function runs in the timer's
 * interrupt, once for each row, and has to be back well within a ms: where a converter takes longer, start it here and
 * hand on what it gave last time (and say the lower rate in the channel table).
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"

/* Steps that are odd: the counts of a channel come in no order that a fault could repeat by chance, and those of the
 * pull are all different for 2^20 rows. Each lies within its sensor's range in sample-runs/plows/two-bottom.toml. */
void adc_read(uint32_t row, int32_t counts[CHANNELS]) {
    counts[0] = (int32_t)(400000u + row * 7919u % 0x100000u); /* of 24 bits */
    counts[1] = (int32_t)(10000u + row * 4051u % 0x4000u);    /* of 16 bits */
    counts[2] = (int32_t)(20000u + row * 2579u % 0x2000u);
}
