/* The header at the end of two pipes, for tests/c_header/: commands on stdin, what came of each on stdout.
 * A command is one letter and its fields, numbers little-endian, texts as one byte length and their bytes. What comes
 * back is the letter, one byte length and that many bytes. Ends with 0 at the end of stdin, with 2 in mid-command. */
#include <stdio.h>
#include <stdlib.h>

#include "../hitchwright_box.h"

static uint8_t take_u8(void) {
    int byte = getchar();
    if (byte == EOF) {
        exit(2);
    }
    return (uint8_t)byte;
}

static uint16_t take_u16(void) {
    unsigned low = take_u8();
    return (uint16_t)(low + 256u * take_u8());
}

static uint32_t take_u32(void) {
    uint32_t low = take_u16();
    return low + UINT32_C(65536) * take_u16();
}

/* Signed without asking what a conversion out of range does. */
static int32_t take_i32(void) {
    uint32_t bits = take_u32();
    return bits <= INT32_MAX ? (int32_t)bits : -(int32_t)(UINT32_MAX - bits) - 1;
}

static char texts[HW_CHANNELS_MAX + 2 + 255][256];

static const char *take_text(unsigned slot) {
    unsigned length = take_u8();
    unsigned n;
    for (n = 0; n < length; n++) {
        texts[slot][n] = (char)take_u8();
    }
    texts[slot][length] = '\0';
    return texts[slot];
}

static void give(int letter, const uint8_t *bytes, uint8_t count) {
    putchar(letter);
    putchar(count);
    fwrite(bytes, 1, count, stdout);
}

static void hello(hw_frame *frame) {
    static hw_channel channels[255];
    hw_box box;
    uint32_t boot = take_u32();
    uint32_t row_rate_mhz;
    uint8_t n;
    for (n = 0; n < 3; n++) {
        box.firmware[n] = take_u8();
    }
    row_rate_mhz = take_u32();
    box.serial = take_text(0);
    box.name = take_text(1);
    box.channel_count = take_u8();
    box.channels = channels;
    for (n = 0; n < box.channel_count; n++) {
        channels[n].measures = take_u8();
        channels[n].bits = take_u8();
        channels[n].rate_mhz = take_u32();
        channels[n].name = take_text(2u + n);
    }
    give('H', frame->bytes, hw_hello(frame, &box, boot, row_rate_mhz));
}

/* Also gives, ahead of the frame, how many of the rows were taken, and what rows, room, another row and another end
 * say after the end of a frame that has rows (all 0 if right). */
static void readings(hw_frame *frame) {
    static int32_t counts[255];
    uint8_t said[5];
    uint32_t first_row = take_u32();
    uint32_t clock_us = take_u32();
    uint32_t interval_us = take_u32();
    uint8_t channels = take_u8();
    uint8_t rows = take_u8();
    uint8_t n;
    uint8_t ended;
    said[0] = 0;
    hw_readings_begin(frame, first_row, clock_us, interval_us, channels);
    for (; rows > 0; rows--) {
        for (n = 0; n < channels; n++) {
            counts[n] = take_i32();
        }
        said[0] = (uint8_t)(said[0] + hw_readings_row(frame, counts));
        if (hw_readings_rows(frame) != said[0]) {
            exit(3);
        }
    }
    ended = hw_readings_end(frame);
    for (n = 1; n < sizeof said; n++) {
        said[n] = 0;
    }
    if (ended > 0) {
        said[1] = hw_readings_rows(frame);
        said[2] = hw_readings_room(frame);
        said[3] = hw_readings_row(frame, counts);
        said[4] = hw_readings_end(frame);
    }
    give('r', said, sizeof said);
    give('R', frame->bytes, ended);
}

static void status(hw_frame *frame) {
    uint32_t uptime_ms = take_u32();
    uint32_t rows_dropped = take_u32();
    uint16_t supply_mv = take_u16();
    int32_t temperature = take_i32();
    give('S', frame->bytes, hw_status(frame, uptime_ms, rows_dropped, supply_mv, (int16_t)temperature));
}

static void from_host(hw_decoder *decoder) {
    uint16_t count = take_u16();
    for (; count > 0; count--) {
        hw_event event = hw_decoder_take(decoder, take_u8());
        if (event != HW_NOTHING) {
            uint8_t said[5];
            uint8_t n;
            said[0] = (uint8_t)event;
            for (n = 0; n < 4; n++) {
                said[1 + n] = (uint8_t)(decoder->value >> (8 * n));
            }
            give('D', said, event == HW_PING || event == HW_RATE ? 5 : 1);
        }
    }
}

static void constants(void) {
    const uint8_t all[] = {HW_VERSION_MAJOR, HW_VERSION_MINOR, HW_CHANNELS_MAX, HW_COUNTS_MAX, HW_PULL,
                           HW_TAIL_DEFLECTION, HW_DEPTH, HW_FRONT_LOAD, HW_SIDE, HW_SPEED, HW_PITCH,
                           HW_TAIL_LOAD, HW_LOWER_LINKS, HW_TOP_LINK, HW_FRONT_HEIGHT, HW_DRAWBAR_ANGLE};
    give('C', all, sizeof all);
}

int main(void) {
    static hw_frame frame;
    static hw_decoder decoder;
    int letter;
    while ((letter = getchar()) != EOF) {
        uint32_t first;
        switch (letter) {
        case 'H': hello(&frame); break;
        case 'R': readings(&frame); break;
        case 'M': first = take_u32(); give('M', frame.bytes, hw_mark(&frame, first, take_u16())); break;
        case 'S': status(&frame); break;
        case 'T': first = take_u32(); give('T', frame.bytes, hw_time(&frame, first, take_u32())); break;
        case 'D': from_host(&decoder); break;
        case 'C': constants(); break;
        default: return 2;
        }
    }
    return 0;
}
