/* The button: from a pin with its pull-up to ground. It is looked at every ms, and counts as pressed when it is down
 * after it has been up for 50 ms: contacts bounce.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"
#include "part.h"

#define PIN 1u       /* pin 0 of port E: "up" on the emulated board */
#define QUIET_MS 50u

/* Written by the timer's interrupt; the main loop reads them with interrupts off, for they belong together. */
static struct press last;
/* The interrupt's own. */
static uint8_t up_ms;
/* The main loop's own. */
static uint16_t told;

void button_begin(void) {
    SYSCTL_RCGC2 |= 1u << 4;
    (void)SYSCTL_RCGC2; /* the clock needs a few cycles before the port answers */
    PORTE_PUR |= PIN;
    PORTE_DEN |= PIN;
}

void button_look(uint32_t now_us) {
    if ((PORTE_DATA(PIN) & PIN) != 0u) {
        if (up_ms < QUIET_MS) {
            up_ms++;
        }
        return;
    }
    if (up_ms == QUIET_MS) {
        last.number++;
        last.clock_us = now_us;
    }
    up_ms = 0;
}

uint8_t button_pressed(struct press *press) {
    uint32_t before = cpu_interrupts_off();
    *press = last;
    cpu_interrupts_back(before);
    if (press->number == told) {
        return 0;
    }
    told = press->number;
    return 1;
}
