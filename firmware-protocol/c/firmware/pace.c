/* How fast the line is. A real UART says when it has no room for another byte; the emulated one takes any number at
 * once, as no line does. There, and only there, this holds the bytes back to what a line of BAUD carries: 10 bits a
 * byte, start and stop bit among them.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"

#ifdef EMULATED
#define BYTE 1000000u          /* what a byte costs: at BAUD / 10 bytes a second, the credit grows by that much a µs */
#define LONGEST_PAUSE_US 2000u /* credit grows no further than in this time: a line that was idle is no faster later */

uint8_t pace_has_room(void) {
    static uint32_t credit, last_us;
    uint32_t now_us = clock_us();
    uint32_t pause_us = now_us - last_us;
    last_us = now_us;
    credit += (pause_us < LONGEST_PAUSE_US ? pause_us : LONGEST_PAUSE_US) * (BAUD / 10u);
    if (credit > BYTE + LONGEST_PAUSE_US * (BAUD / 10u)) {
        credit = BYTE + LONGEST_PAUSE_US * (BAUD / 10u);
    }
    if (credit < BYTE) {
        return 0;
    }
    credit -= BYTE;
    return 1;
}
#else
uint8_t pace_has_room(void) { return 1; }
#endif
