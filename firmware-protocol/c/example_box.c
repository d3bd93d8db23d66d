/* A whole sensor box but for its board: fill in the seven board functions. It samples and sends from one loop, which
 * is enough as long as board_send does not wait (give it a buffer that an interrupt empties). */
#include "hitchwright_box.h"

uint32_t board_clock_us(void);                              /* wraps after 2^32 */
uint32_t board_boot_number(void);                           /* one more at each power-up, kept over power-off */
uint16_t board_supply_mv(void);                             /* 0 if not measured */
int16_t board_temperature_centi_c(void);                    /* 0 if not measured */
void board_sample(int32_t *counts);                         /* one raw count for each channel */
uint8_t board_received(uint8_t *byte);                      /* 1 if a byte from the host was waiting */
void board_send(const uint8_t *bytes, uint8_t count);        /* 0 bytes: nothing to do */

static const hw_channel channels[] = {
    {"pull", HW_PULL, 24, 100000}, {"tail", HW_TAIL_DEFLECTION, 10, 100000}, {"depth", HW_DEPTH, 10, 100000}};
static const hw_box box = {"0001", "first box", {0, 1, 0}, 3, channels};
static hw_frame readings, other;
static hw_decoder decoder;
static uint32_t boot, interval_us = 10000, row, row_us, rows_dropped;
static uint8_t started;

static void send_hello(void) { board_send(other.bytes, hw_hello(&other, &box, boot, 1000000000u / interval_us)); }
static void send_readings(void) { board_send(readings.bytes, hw_readings_end(&readings)); }

static void obey(uint8_t byte) {
    uint32_t us = board_clock_us();
    switch (hw_decoder_take(&decoder, byte)) {
    case HW_PING: board_send(other.bytes, hw_time(&other, decoder.value, us)); break;
    case HW_START: send_hello(); if (!started) { started = 1; row_us = us; } break;
    case HW_STOP: send_readings(); started = 0; break;
    case HW_RATE: /* this box does 1 to 100 rows a second */
        if (decoder.value >= 1000u && decoder.value <= 100000u) {
            send_readings();
            interval_us = 1000000000u / decoder.value;
        }
        break;
    default: break;
    }
}

static void take_row(uint32_t now_us) {
    int32_t counts[3];
    while (now_us - row_us >= interval_us) { /* rows whose time went by unused have a number all the same */
        send_readings();
        row++; rows_dropped++; row_us += interval_us;
    }
    board_sample(counts);
    if (hw_readings_rows(&readings) == 0) { hw_readings_begin(&readings, row, row_us, interval_us, 3); }
    (void)hw_readings_row(&readings, counts);
    row++; row_us += interval_us;
    if (!hw_readings_room(&readings) || hw_readings_rows(&readings) * interval_us >= 100000u) { send_readings(); }
}

int main(void) {
    uint32_t second_us, uptime_ms = 0;
    boot = board_boot_number();
    second_us = board_clock_us();
    send_hello();
    for (;;) {
        uint8_t byte;
        uint32_t now_us = board_clock_us();
        while (board_received(&byte)) { obey(byte); }
        if (started && now_us - row_us < 0x80000000u) { take_row(now_us); }
        if (now_us - second_us >= 1000000u) {
            second_us += 1000000u; uptime_ms += 1000u;
            board_send(other.bytes, hw_status(&other, uptime_ms, rows_dropped, board_supply_mv(),
                                              board_temperature_centi_c()));
            if (!started) { send_hello(); }
        }
    }
}
