/* The boot number. It lies in RAM that nobody clears, so it counts resets for as long as there is power and begins at
 * 1 after it was gone: the emulated part has nothing that lasts longer. A real board keeps the number in EEPROM or in
 * two flash pages in turn, and writes it once at each start; only then can a recorder be sure of telling a box that
 * was without power for a moment from one that was not.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"

static struct {
    uint32_t boots;
    uint32_t not_boots; /* its bits turned round: else the RAM was without power */
} kept __attribute__((section(".kept")));

uint32_t boot_number(void) {
    if (kept.not_boots != ~kept.boots) {
        kept.boots = 0;
    }
    kept.boots++;
    kept.not_boots = ~kept.boots;
    return kept.boots;
}
