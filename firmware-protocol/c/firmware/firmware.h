/* What the files of the reference firmware give to each other. Who may call what is said at each function: "loop" is
 * the main loop, "interrupt" one of the two interrupts. The timer's may break into the UART's, never the other way.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#ifndef FIRMWARE_H
#define FIRMWARE_H

#include <stdint.h>

#include "../hitchwright_box.h"

#define CHANNELS 3u
#ifndef BAUD
#define BAUD 115200u
#endif

/* adc.c: the sensors. */
void adc_read(uint32_t row, int32_t counts[CHANNELS]); /* timer's interrupt */

/* boot.c: how often the box was started. */
uint32_t boot_number(void); /* once, before anything else */

/* button.c: the button for marks. */
struct press {
    uint16_t number;   /* of the press since power-up, from 1 */
    uint32_t clock_us; /* when it was pressed */
};
void button_begin(void);               /* loop */
void button_look(uint32_t now_us);     /* timer's interrupt */
uint8_t button_pressed(struct press *); /* loop; 1 if there is a press that was not asked for yet */

/* clock.c: the box clock. */
void clock_begin(void);  /* loop */
uint32_t clock_us(void); /* anywhere; wraps after 2^32 */

/* pace.c: the line's speed where the UART does not show it. */
uint8_t pace_has_room(void); /* UART's interrupt; 1 if the line takes a byte now, which must then be sent */

/* ring.c: rows on their way from the timer's interrupt to the main loop. */
struct row {
    uint32_t number;
    uint32_t clock_us;    /* when it was due */
    uint32_t interval_us; /* from this row to the next */
    int32_t counts[CHANNELS];
};
struct row *ring_free(void);         /* timer's interrupt; where the next row goes, or 0: the ring is full */
void ring_put(void);                 /* timer's interrupt; the row in that place is whole */
const struct row *ring_first(void);  /* loop; the oldest row, or 0: the ring is empty */
void ring_drop_first(void);          /* loop; done with it */

/* sampler.c: rows, at their times. */
void sampler_begin(void);                /* loop */
void sampler_start(void);                /* loop; also if it already runs */
void sampler_stop(void);                 /* loop */
void sampler_rate(uint32_t rate_mhz);    /* loop; a rate that it cannot do changes nothing */
uint32_t sampler_rate_mhz(void);         /* loop; the rate that holds */
uint32_t sampler_rows_dropped(void);     /* loop; rows with a number that were not handed on, since power-up */

/* uart.c: bytes to and from the host. */
struct received {
    uint32_t clock_us; /* when it came in */
    uint8_t byte;
};
void uart_begin(void);                                   /* loop */
uint32_t uart_waiting(void);                             /* loop; bytes that are still to go out */
uint8_t uart_send(const uint8_t *bytes, uint32_t count); /* loop; 1, or 0: no room for all, so none was taken */
uint8_t uart_has_received(void);                         /* loop */
uint8_t uart_receive(struct received *);                 /* loop; 0: nothing has come */
void uart_go_on(void);                                   /* anywhere; the line may have room again */

#endif
