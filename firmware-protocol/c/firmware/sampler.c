/* Rows at their times, whatever the line does. A timer interrupts every ms; at each tick that a row is due on, the row
 * gets the next number and goes into the ring. If the ring is full because the line is too slow, the row is dropped:
 * its number is used up all the same, so that the recorder sees the gap, and it is counted for *status*.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"
#include "part.h"

#define TICK_US 1000u
#ifndef ROW_RATE_MHZ
#define ROW_RATE_MHZ 200000u
#endif
#define RATE_MAX_MHZ 1000000u /* one row a tick */
#define RATE_MIN_MHZ 1000u

void timer_interrupt(void);

/* Written by the main loop, read by the interrupt. */
static volatile uint32_t interval_us = TICK_US * (RATE_MAX_MHZ / ROW_RATE_MHZ);
static volatile uint8_t wanted;
/* Written by the interrupt, read by the main loop. */
static volatile uint32_t rows_dropped;
/* The interrupt's own. */
static uint32_t next_row, due_us;
static uint8_t running;

void sampler_begin(void) {
    SYSCTL_RCGC1 |= 1u << 16;
    (void)SYSCTL_RCGC1; /* the clock needs a few cycles before the timer answers */
    TIMER0_CTL = 0;
    TIMER0_CFG = 0;  /* 32 bits */
    TIMER0_TAMR = 2; /* over and over */
    TIMER0_TAILR = TICK_US * TICKS_PER_US - 1u;
    TIMER0_IMR = 1;
    TIMER0_CTL = 1;
    NVIC_PRIORITY(TIMER0_IRQ) = 0;
    NVIC_ENABLE = 1u << TIMER0_IRQ;
}

void sampler_start(void) { wanted = 1; }

void sampler_stop(void) { wanted = 0; }

/* Only a time from row to row of whole ticks can be kept: 333.333 rows a second is one of them to the last digit that
 * the frame has, 300 is none. */
void sampler_rate(uint32_t rate_mhz) {
    uint32_t ticks, off;
    if (rate_mhz < RATE_MIN_MHZ || rate_mhz > RATE_MAX_MHZ) {
        return;
    }
    ticks = (RATE_MAX_MHZ + rate_mhz / 2u) / rate_mhz;
    off = ticks * rate_mhz > RATE_MAX_MHZ ? ticks * rate_mhz - RATE_MAX_MHZ : RATE_MAX_MHZ - ticks * rate_mhz;
    if (off < ticks) {
        interval_us = ticks * TICK_US;
    }
}

uint32_t sampler_rate_mhz(void) { return RATE_MAX_MHZ / (interval_us / TICK_US); }

uint32_t sampler_rows_dropped(void) { return rows_dropped; }

static void take_row(uint32_t interval) {
    struct row *place = ring_free();
    if (place == 0) {
        rows_dropped = rows_dropped + 1u;
    } else {
        place->number = next_row;
        place->clock_us = due_us;
        place->interval_us = interval;
        adc_read(next_row, place->counts);
        ring_put();
    }
    next_row++;
    due_us += interval;
}

void timer_interrupt(void) {
    uint32_t now_us = clock_us();
    uint32_t interval = interval_us;
    uint32_t since_us;
    TIMER0_ICR = 1;
    button_look(now_us);
    uart_go_on();
    if (!wanted) {
        running = 0;
        return;
    }
    if (!running) {
        running = 1;
        due_us = now_us;
    }
    /* Half a tick early is in time: an interrupt is late by a few cycles more or less. */
    since_us = now_us + TICK_US / 2u - due_us;
    if (since_us >= 0x80000000u) {
        return;
    }
    /* A row whose time has gone by was missed: sampled now, it would be a reading of another time. */
    while (since_us >= interval) {
        rows_dropped = rows_dropped + 1u;
        next_row++;
        due_us += interval;
        since_us -= interval;
    }
    take_row(interval);
}
