/* The conversation with the recorder, as firmware-protocol/README.md has it. The loop never waits: what finds no room
 * on the line stays where it is until the next turn, and the sampler goes on meanwhile.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#include "firmware.h"
#include "part.h"

#define SECOND_US 1000000u
#define FLUSH_US 100000u  /* readings leave this long after their first row, or when full */
#define ANSWER_ROOM 256u  /* with no more bytes than this waiting, status and the longest hello find room */
#define READINGS_ROOM 32u /* readings wait for this few: an answer is then behind one of them at most, and the line
                             still never idle */

static const hw_channel channels[CHANNELS] = {
    {"pull", HW_PULL, 24, 1000000}, {"tail", HW_TAIL_DEFLECTION, 16, 1000000}, {"depth", HW_DEPTH, 16, 1000000}};
static const hw_box box = {"emulated-1", "reference box", {1, 0, 0}, CHANNELS, channels};

static hw_frame readings, other;
static hw_decoder decoder;
static uint32_t boot, second_us, uptime_ms;
static uint32_t row_after, interval_us; /* what the next row in `readings` must be, and have */
static uint8_t readings_unsent;         /* bytes of `readings` that wait for room on the line */
static uint8_t started;

static void send_hello(void) {
    (void)uart_send(other.bytes, hw_hello(&other, &box, boot, sampler_rate_mhz()));
}

static void obey(const struct received *received) {
    switch (hw_decoder_take(&decoder, received->byte)) {
    case HW_PING:
        (void)uart_send(other.bytes, hw_time(&other, decoder.value, received->clock_us));
        break;
    case HW_START:
        send_hello();
        started = 1;
        sampler_start();
        break;
    case HW_STOP:
        started = 0;
        sampler_stop();
        break;
    case HW_RATE:
        sampler_rate(decoder.value);
        break;
    case HW_NOTHING:
    case HW_DROPPED:
        break;
    }
}

/* No supply or temperature is measured here: 0. */
static void once_a_second(void) {
    (void)uart_send(other.bytes, hw_status(&other, uptime_ms, sampler_rows_dropped(), 0, 0));
    if (!started) {
        send_hello();
    }
}

/* Whether the frame of readings should leave before `next` (0: no row is waiting) is in it. */
static uint8_t readings_are_done(const struct row *next) {
    if (hw_readings_rows(&readings) * interval_us >= FLUSH_US || !hw_readings_room(&readings)) {
        return 1;
    }
    return next != 0 ? next->number != row_after || next->interval_us != interval_us : !started;
}

/* From the ring into frames, and frames onto the line. */
static void pass_rows_on(void) {
    for (;;) {
        const struct row *next = ring_first();
        if (hw_readings_rows(&readings) != 0u && readings_are_done(next)) {
            readings_unsent = hw_readings_end(&readings);
        }
        if (readings_unsent != 0u) {
            if (uart_waiting() > READINGS_ROOM || !uart_send(readings.bytes, readings_unsent)) {
                return;
            }
            readings_unsent = 0;
        }
        if (next == 0) {
            return;
        }
        if (hw_readings_rows(&readings) == 0u) {
            hw_readings_begin(&readings, next->number, next->clock_us, next->interval_us, CHANNELS);
        }
        (void)hw_readings_row(&readings, next->counts);
        row_after = next->number + 1u;
        interval_us = next->interval_us;
        ring_drop_first();
    }
}

static void turn(void) {
    struct received received;
    struct press press;
    /* What the host wants stays in its ring while there is no room for the answer. */
    while (uart_waiting() <= ANSWER_ROOM && uart_receive(&received)) {
        obey(&received);
    }
    if (uart_waiting() <= ANSWER_ROOM && button_pressed(&press)) {
        (void)uart_send(other.bytes, hw_mark(&other, press.clock_us, press.number));
    }
    if (uart_waiting() <= ANSWER_ROOM && clock_us() - second_us >= SECOND_US) {
        second_us += SECOND_US;
        uptime_ms += 1000u;
        once_a_second();
    }
    pass_rows_on();
}

int main(void) {
    static const uint8_t end_of_noise = 0; /* the last frame of the boot before may have been cut short */
    boot = boot_number();
    clock_begin();
    uart_begin();
    button_begin();
    sampler_begin();
    (void)uart_send(&end_of_noise, 1);
    send_hello();
    for (;;) {
        uint32_t before;
        turn();
        /* An interrupt between the look and the sleep would be slept over; so they are off, and end the sleep. */
        before = cpu_interrupts_off();
        if (!uart_has_received()) {
            cpu_wait_for_interrupt();
        }
        cpu_interrupts_back(before);
    }
}
