/* The sampler and its ring on a computer, at ticks that are read from stdin, however late: an emulator that counts time
 * in instructions never makes one late. A line is one of
 *     t CLOCK_US   a tick at this clock
 *     g            start
 *     f COUNT      take this many rows out of the ring: each is printed with number, clock, interval and counts
 * and at the end the rows dropped are printed after a "d".
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include <inttypes.h>
#include <stdio.h>

/* Instead of part.h: a register that takes everything. */
#define PART_H
static unsigned long nowhere;
#define SYSCTL_RCGC1 nowhere
#define TIMER0_CTL nowhere
#define TIMER0_CFG nowhere
#define TIMER0_TAMR nowhere
#define TIMER0_TAILR nowhere
#define TIMER0_IMR nowhere
#define TIMER0_ICR nowhere
#define NVIC_ENABLE nowhere
#define NVIC_PRIORITY(irq) nowhere
#define TIMER0_IRQ 19u
#define TICKS_PER_US 50u
static void cpu_barrier(void) {}

#include "../adc.c"
#include "../ring.c"
#include "../sampler.c"

static uint32_t now_us;

uint32_t clock_us(void) { return now_us; }
void button_look(uint32_t at_us) { (void)at_us; }
void uart_go_on(void) {}

static void print_rows(uint32_t count) {
    const struct row *row;
    for (; count > 0u && (row = ring_first()) != 0; count--) {
        printf("%" PRIu32 " %" PRIu32 " %" PRIu32 " %" PRId32 " %" PRId32 " %" PRId32 "\n", row->number, row->clock_us,
               row->interval_us, row->counts[0], row->counts[1], row->counts[2]);
        ring_drop_first();
    }
}

int main(void) {
    char order;
    uint32_t number = 0;
    sampler_begin();
    while (scanf(" %c", &order) == 1) {
        if (order == 'g') {
            sampler_start();
        } else if (scanf("%" SCNu32, &number) != 1) {
            return 1;
        } else if (order == 't') {
            now_us = number;
            timer_interrupt();
        } else {
            print_rows(number);
        }
    }
    printf("d %" PRIu32 "\n", sampler_rows_dropped());
    return 0;
}
