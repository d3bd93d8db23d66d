/* The box clock: µs since power-up, from the 24 bits of SysTick, which counts the processor's clock down and starts
 * over every 0.34 s. Time is read from the counter, never counted in interrupts: one that came late or was missed would
 * be time lost for ever.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"
#include "part.h"

#define COUNTER_MASK 0xFFFFFFu

static uint32_t us, counter_at_us;

void clock_begin(void) {
    SYST_RVR = COUNTER_MASK;
    SYST_CVR = 0;
    SYST_CSR = 5;
    counter_at_us = SYST_CVR;
}

/* Must be called more often than the counter starts over; the sampler does, every ms. Whole µs are added up and the
 * rest stays in counter_at_us, so nothing is lost to rounding. */
uint32_t clock_us(void) {
    uint32_t before = cpu_interrupts_off();
    uint32_t passed = ((counter_at_us - SYST_CVR) & COUNTER_MASK) / TICKS_PER_US;
    uint32_t now;
    counter_at_us = (counter_at_us - passed * TICKS_PER_US) & COUNTER_MASK;
    us += passed;
    now = us;
    cpu_interrupts_back(before);
    return now;
}
