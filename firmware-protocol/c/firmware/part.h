/* The microcontroller: the addresses used here, from the public data sheet of the part that the emulator calls
 * lm3s6965evb, and three instructions. A port to another Cortex-M changes this file, and what reads it.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#ifndef PART_H
#define PART_H

#include <stdint.h>

#define REG(address) (*(volatile uint32_t *)(address))

#define CPU_HZ 50000000u
#define TICKS_PER_US (CPU_HZ / 1000000u)

/* Of every Cortex-M. */
#define SYST_CSR REG(0xE000E010u) /* bit 0 runs, bit 2 counts the processor's clock */
#define SYST_RVR REG(0xE000E014u)
#define SYST_CVR REG(0xE000E018u)
#define NVIC_ENABLE REG(0xE000E100u)
#define NVIC_SET_PENDING REG(0xE000E200u)
#define NVIC_PRIORITY(irq) (*(volatile uint8_t *)(0xE000E400u + (irq)))
#define SCB_AIRCR REG(0xE000ED0Cu)
#define AIRCR_RESET 0x05FA0004u

/* Of this part. */
#define UART0_IRQ 5u
#define TIMER0_IRQ 19u
#define IRQS 20u /* as many vectors as are filled */

#define SYSCTL_RIS REG(0x400FE050u)
#define SYSCTL_RCC REG(0x400FE060u)
#define SYSCTL_RCGC1 REG(0x400FE104u) /* clocks of UARTs (bit 0) and timers (bit 16) */
#define SYSCTL_RCGC2 REG(0x400FE108u) /* clocks of the ports A (bit 0) and E (bit 4) */

#define PORTA_AFSEL REG(0x40004420u)
#define PORTA_DEN REG(0x4000451Cu)
#define PORTE_DATA(pins) REG(0x40024000u + 4u * (pins))
#define PORTE_PUR REG(0x40024510u)
#define PORTE_DEN REG(0x4002451Cu)

#define UART0_DR REG(0x4000C000u)
#define UART0_FR REG(0x4000C018u)
#define UART_FR_RX_EMPTY 0x10u
#define UART_FR_TX_FULL 0x20u
#define UART0_IBRD REG(0x4000C024u)
#define UART0_FBRD REG(0x4000C028u)
#define UART0_LCRH REG(0x4000C02Cu)
#define UART0_CTL REG(0x4000C030u)
#define UART0_IM REG(0x4000C038u)
#define UART0_ICR REG(0x4000C044u)
#define UART_INT_RX 0x10u
#define UART_INT_TX 0x20u

#define TIMER0_CFG REG(0x40030000u)
#define TIMER0_TAMR REG(0x40030004u)
#define TIMER0_CTL REG(0x4003000Cu)
#define TIMER0_IMR REG(0x40030018u)
#define TIMER0_ICR REG(0x40030024u)
#define TIMER0_TAILR REG(0x40030028u)

/* Everything before is in memory before anything after: for the compiler, which may move other accesses, and for
 * processors with more than one way to memory. */
static inline void cpu_barrier(void) { __asm volatile("dmb" ::: "memory"); }

/* The emulator counts time in instructions, so that a busy computer makes it slow but never late; while a processor
 * sleeps there are none to count, and time would jump over interrupts. So there it is kept awake. */
static inline void cpu_wait_for_interrupt(void) {
#ifndef EMULATED
    __asm volatile("dsb\n\twfi" ::: "memory");
#endif
}

/* Interrupts off; returns how it was before, for cpu_interrupts_back. */
static inline uint32_t cpu_interrupts_off(void) {
    uint32_t before;
    __asm volatile("mrs %0, primask\n\tcpsid i" : "=r"(before)::"memory");
    return before;
}

static inline void cpu_interrupts_back(uint32_t before) { __asm volatile("msr primask, %0" ::"r"(before) : "memory"); }

#endif
