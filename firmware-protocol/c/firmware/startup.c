/* From power-up to main: the vector table, memory as C wants it, the processor's clock.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "part.h"

extern uint32_t data_image[], data_start[], data_end[], bss_start[], bss_end[], stack_top[];

int main(void);
void reset(void);
void fault(void);
void timer_interrupt(void);
void uart_interrupt(void);

static const struct {
    uint32_t *stack;
    void (*handlers[15 + IRQS])(void);
} vectors __attribute__((section(".vectors"), used)) = {
    stack_top,
    {
        [0] = reset,
        [1] = fault, /* NMI */
        [2] = fault, /* hard fault; memory, bus and usage faults become this one */
        [15 + UART0_IRQ] = uart_interrupt,
        [15 + TIMER0_IRQ] = timer_interrupt,
    },
};

/* A program that has gone wrong must not go on sending readings: it starts anew, and the next boot number says so.
 * What has no handler ends here too: it reads the vector 0, which faults. */
void fault(void) {
    SCB_AIRCR = AIRCR_RESET;
    for (;;) {
    }
}

/* 50 MHz from the crystal of 8 MHz: the internal oscillator is off by more than a UART bears. The PLL gives 200 MHz,
 * of which a quarter is taken. */
static void run_from_crystal(void) {
    const uint32_t bypass = 1u << 11, off = 1u << 13, use_divider = 1u << 22, locked = 1u << 6;
    uint32_t rcc = (SYSCTL_RCC | bypass) & ~use_divider;
    SYSCTL_RCC = rcc;
    rcc &= ~((0xFu << 23) | (0xFu << 6) | (3u << 4) | off | 1u);
    rcc |= (3u << 23) | (0xEu << 6); /* divide by 4; 8 MHz */
    SYSCTL_RCC = rcc;
    while ((SYSCTL_RIS & locked) == 0u) {
    }
    SYSCTL_RCC = (rcc | use_divider) & ~bypass;
}

void reset(void) {
    const uint32_t *from = data_image;
    uint32_t *to;
    for (to = data_start; to < data_end; to++) {
        *to = *from++;
    }
    for (to = bss_start; to < bss_end; to++) {
        *to = 0;
    }
    run_from_crystal();
    (void)main();
    fault();
}
