/* Bytes to and from the host. The main loop puts whole frames into a ring and takes single bytes out of another one;
 * the UART's interrupt is at the other end of both, and nothing else touches the UART. Both rings work as the one in
 * ring.c does, each end of them written by one side only.
 *
 * The UART's own buffers are off: with them a byte that came in would be told of up to four bytes later, and the clock
 * of a ping must be that of its last byte.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"
#include "part.h"

#define OUT_PLACES 512u /* a full frame, and answers besides */
#define IN_PLACES 64u   /* five pings; what finds no room stays in the UART, and is lost when more comes */
#define DIVISOR ((4u * CPU_HZ + BAUD / 2u) / BAUD) /* of the clock, in 64ths, for 16 samples a bit */

void uart_interrupt(void);

static uint8_t out[OUT_PLACES];
static volatile uint32_t out_put, out_taken;
static struct received in[IN_PLACES];
static volatile uint32_t in_put, in_taken;

void uart_begin(void) {
    SYSCTL_RCGC1 |= 1u;
    SYSCTL_RCGC2 |= 1u;
    (void)SYSCTL_RCGC2; /* the clock needs a few cycles before the port answers */
    PORTA_AFSEL |= 3u;
    PORTA_DEN |= 3u;
    UART0_CTL = 0;
    UART0_IBRD = DIVISOR / 64u;
    UART0_FBRD = DIVISOR % 64u;
    UART0_LCRH = 0x60; /* 8 bits, no parity, 1 stop bit */
    UART0_CTL = 0x301; /* on, both ways */
    UART0_IM = UART_INT_RX | UART_INT_TX;
    NVIC_PRIORITY(UART0_IRQ) = 0x40; /* below the timer's, which is 0 */
    NVIC_ENABLE = 1u << UART0_IRQ;
}

uint32_t uart_waiting(void) { return out_put - out_taken; }

uint8_t uart_send(const uint8_t *bytes, uint32_t count) {
    uint32_t at = out_put;
    uint32_t n;
    if (count > OUT_PLACES - uart_waiting()) {
        return 0;
    }
    cpu_barrier();
    for (n = 0; n < count; n++) {
        out[(at + n) % OUT_PLACES] = bytes[n];
    }
    cpu_barrier();
    out_put = at + count;
    uart_go_on();
    return 1;
}

uint8_t uart_has_received(void) { return in_put != in_taken ? 1 : 0; }

uint8_t uart_receive(struct received *received) {
    if (!uart_has_received()) {
        return 0;
    }
    cpu_barrier();
    *received = in[in_taken % IN_PLACES];
    cpu_barrier();
    in_taken = in_taken + 1u;
    return 1;
}

void uart_go_on(void) { NVIC_SET_PENDING = 1u << UART0_IRQ; }

void uart_interrupt(void) {
    uint32_t now_us = clock_us();
    /* First of all, or the interrupt of a byte that goes out meanwhile would be taken away with it. */
    UART0_ICR = UART_INT_RX | UART_INT_TX;
    while (in_put - in_taken < IN_PLACES && (UART0_FR & UART_FR_RX_EMPTY) == 0u) {
        struct received *place = &in[in_put % IN_PLACES];
        cpu_barrier();
        place->clock_us = now_us;
        place->byte = (uint8_t)UART0_DR;
        cpu_barrier();
        in_put = in_put + 1u;
    }
    while (out_put != out_taken && (UART0_FR & UART_FR_TX_FULL) == 0u && pace_has_room()) {
        cpu_barrier();
        UART0_DR = out[out_taken % OUT_PLACES];
        out_taken = out_taken + 1u;
    }
}
