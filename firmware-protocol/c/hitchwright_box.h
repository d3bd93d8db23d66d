/* The sensor box's side of the hitchwright frames, in one header: it writes every frame that a box sends and
 * reads every frame that a host sends. The page firmware-protocol/README.md is the specification; the test
 * firmware-protocol/tests/c_header/ holds each byte made here against the recorder's own code.
 *
 * Asks for: C99 or C++, <stdint.h>, 8-bit bytes. Does without: a heap, floating point, 64-bit numbers, recursion,
 * the C library, a byte order, alignment, a signed or an unsigned char. It keeps no state of its own: what is called
 * from an interrupt and what is called from the main loop do not meet unless you hand both the same struct.
 *
 * Memory: 254 bytes for each hw_frame, 16 for the hw_decoder, 64 for the table of the CRC. A box needs two frames,
 * one to gather readings in and one for everything else. Define HW_CRC_NO_TABLE before the #include to save the
 * table (on AVR it costs RAM); each byte then takes half as long again.
 *
 * SPDX-License-Identifier: MIT OR Apache-2.0 */
#ifndef HITCHWRIGHT_BOX_H
#define HITCHWRIGHT_BOX_H

#include <stdint.h>

#define HW_VERSION_MAJOR 1
#define HW_VERSION_MINOR 1

/* Limits; they are the specification's, so they are not for changing. */
#define HW_CHANNELS_MAX 8      /* channels of one box */
#define HW_COUNTS_MAX 58       /* counts (rows times channels) in one readings */
#define HW_CHANNEL_NAME_MAX 12 /* bytes; at least 1 */
#define HW_SERIAL_MAX 16       /* bytes; may be empty */
#define HW_BOX_NAME_MAX 24     /* bytes; may be empty */
#define HW_FRAME_MAX 253       /* bytes of the longest frame that a box sends, its 0x00 included: full readings */
#define HW_CHUNK_MAX 10        /* bytes of the longest frame that a host sends, without its 0x00 */

/* What a channel measures: hw_channel.measures. Anything else takes any other number. */
enum {
    HW_PULL = 1,            /* force along the drawbar */
    HW_TAIL_DEFLECTION = 2, /* deflection of the tail-wheel spring */
    HW_DEPTH = 3,           /* working depth */
    HW_FRONT_LOAD = 4,      /* vertical load on the front wheels together */
    HW_SIDE = 5,            /* side force */
    HW_SPEED = 6,           /* forward speed */
    HW_PITCH = 7,           /* pitch of the frame */
    HW_TAIL_LOAD = 8,       /* load on what carries the tail, measured directly */
    HW_LOWER_LINKS = 9,     /* force along the lower links together, pulling + */
    HW_TOP_LINK = 10,       /* force along the top link, pulling + */
    HW_FRONT_HEIGHT = 11,   /* height of the frame over the land at the front */
    HW_DRAWBAR_ANGLE = 12   /* inclination of the drawbar, rising toward the tractor + */
};

/* One channel of the box. Texts are printable ASCII (0x20 to 0x7E) and end with '\0'. */
typedef struct {
    const char *name;  /* 1 to 12 characters, different from the other channels' */
    uint8_t measures;  /* HW_PULL, ... */
    uint8_t bits;      /* resolution of its converter, 1 to 32; n bits give counts of -2^(n-1) to 2^n - 1 */
    uint32_t rate_mhz; /* new values in 1000 s, not 0; a channel slower than the rows repeats its last value */
} hw_channel;

/* What does not change while the box runs. */
typedef struct {
    const char *serial;         /* 0 to 16 characters */
    const char *name;           /* 0 to 24 characters */
    uint8_t firmware[3];        /* version of your program: major, minor, patch */
    uint8_t channel_count;      /* 1 to 8 */
    const hw_channel *channels; /* in the order of their counts in a row */
} hw_box;

/* A frame. Send the first `len` of `bytes`; with `len` 0 there is nothing to send. */
typedef struct {
    uint8_t len;
    uint8_t bytes[HW_FRAME_MAX];
} hw_frame;

/* What came of a byte from the host. */
typedef enum {
    HW_NOTHING = 0,   /* no frame ends here */
    HW_PING = 0x41,   /* answer with hw_time and the token in hw_decoder.value, soon */
    HW_START = 0x42,  /* answer with hw_hello, then send readings; rows go on if they already do */
    HW_STOP = 0x43,   /* sample no more rows */
    HW_RATE = 0x44,   /* hw_decoder.value is the row rate wanted, in rows in 1000 s, never 0 */
    HW_DROPPED = 0xFF /* something ended here that is none of these: do nothing (count it, if you like) */
} hw_event;

/* Bytes from the host on their way to a frame. Start with all of it 0. */
typedef struct {
    uint32_t value; /* of the last HW_PING or HW_RATE */
    uint8_t len;    /* bytes since the last 0x00; one more than there is room for once they were too many */
    uint8_t bytes[HW_CHUNK_MAX];
} hw_decoder;

/* ---- parts that the frames have in common; a box's program needs none of them ---- */

/* CRC-32C (RevEng catalogue: CRC-32/ISCSI); "123456789" gives 0xE3069283. Half a byte at a time: a table of a byte at
 * a time would take half the RAM of a small box, and at 115,200 baud the line is the slower of the two. */
static inline uint32_t hw_crc32c(const uint8_t *bytes, uint8_t count) {
#ifndef HW_CRC_NO_TABLE
    static const uint32_t of_half_byte[16] = {
        UINT32_C(0x00000000), UINT32_C(0x105EC76F), UINT32_C(0x20BD8EDE), UINT32_C(0x30E349B1),
        UINT32_C(0x417B1DBC), UINT32_C(0x5125DAD3), UINT32_C(0x61C69362), UINT32_C(0x7198540D),
        UINT32_C(0x82F63B78), UINT32_C(0x92A8FC17), UINT32_C(0xA24BB5A6), UINT32_C(0xB21572C9),
        UINT32_C(0xC38D26C4), UINT32_C(0xD3D3E1AB), UINT32_C(0xE330A81A), UINT32_C(0xF36E6F75)};
#endif
    uint32_t crc = UINT32_C(0xFFFFFFFF);
    uint8_t at;
    for (at = 0; at < count; at++) {
        crc ^= bytes[at];
#ifndef HW_CRC_NO_TABLE
        crc = (crc >> 4) ^ of_half_byte[(uint8_t)crc & 15u];
        crc = (crc >> 4) ^ of_half_byte[(uint8_t)crc & 15u];
#else
        {
            uint8_t bit;
            for (bit = 0; bit < 8; bit++) {
                crc = (crc & 1u) != 0u ? (crc >> 1) ^ UINT32_C(0x82F63B78) : crc >> 1;
            }
        }
#endif
    }
    return crc ^ UINT32_C(0xFFFFFFFF);
}

/* These put a number into a frame, little end first, and return where the next one goes. */
static inline uint8_t hw_put_u8(hw_frame *frame, uint8_t at, uint8_t value) {
    frame->bytes[at] = value;
    return (uint8_t)(at + 1u);
}

static inline uint8_t hw_put_u16(hw_frame *frame, uint8_t at, uint16_t value) {
    at = hw_put_u8(frame, at, (uint8_t)(value & 0xFFu));
    return hw_put_u8(frame, at, (uint8_t)(value >> 8));
}

static inline uint8_t hw_put_u32(hw_frame *frame, uint8_t at, uint32_t value) {
    at = hw_put_u16(frame, at, (uint16_t)(value & 0xFFFFu));
    return hw_put_u16(frame, at, (uint16_t)(value >> 16));
}

static inline uint8_t hw_put_label(hw_frame *frame, uint8_t at, const char *text) {
    uint8_t length_at = at;
    at = hw_put_u8(frame, at, 0);
    for (; *text != '\0'; text++) {
        at = hw_put_u8(frame, at, (uint8_t)*text);
        frame->bytes[length_at]++;
    }
    return at;
}

/* 1 if `text` is a label of `shortest` to `longest` bytes, else 0. */
static inline uint8_t hw_is_label(const char *text, uint8_t shortest, uint8_t longest) {
    uint8_t length = 0;
    for (; text[length] != '\0'; length++) {
        uint8_t byte = (uint8_t)text[length];
        if (length == longest || byte < 0x20u || byte > 0x7Eu) {
            return 0;
        }
    }
    return length >= shortest ? 1 : 0;
}

static inline uint8_t hw_same_text(const char *one, const char *other) {
    while (*one != '\0' && *one == *other) {
        one++;
        other++;
    }
    return *one == *other ? 1 : 0;
}

/* Closes the frame whose body, still without its CRC, stands in bytes[1] up to before bytes[end]. COBS costs one
 * byte ahead of the body and puts into the place of each 0x00 how far it is to the next; so it is done in place. No
 * body of ours reaches the 254 bytes without a 0x00 at which COBS would need a byte more. */
static inline uint8_t hw_close(hw_frame *frame, uint8_t end) {
    uint8_t code_at = 0;
    uint8_t at;
    end = hw_put_u32(frame, end, hw_crc32c(&frame->bytes[1], (uint8_t)(end - 1u)));
    for (at = 1; at < end; at++) {
        if (frame->bytes[at] == 0u) {
            frame->bytes[code_at] = (uint8_t)(at - code_at);
            code_at = at;
        }
    }
    frame->bytes[code_at] = (uint8_t)(end - code_at);
    frame->len = hw_put_u8(frame, end, 0);
    return frame->len;
}

/* ---- frames that a box sends; each function returns `frame->len` ---- */

/* 1 if the recorder takes this description of a box, 0 if it refuses it. */
static inline uint8_t hw_box_is_right(const hw_box *box) {
    uint8_t n;
    uint8_t earlier;
    if (box->channel_count == 0u || box->channel_count > HW_CHANNELS_MAX ||
        !hw_is_label(box->serial, 0, HW_SERIAL_MAX) || !hw_is_label(box->name, 0, HW_BOX_NAME_MAX)) {
        return 0;
    }
    for (n = 0; n < box->channel_count; n++) {
        const hw_channel *channel = &box->channels[n];
        if (!hw_is_label(channel->name, 1, HW_CHANNEL_NAME_MAX) || channel->bits == 0u || channel->bits > 32u ||
            channel->rate_mhz == 0u) {
            return 0;
        }
        for (earlier = 0; earlier < n; earlier++) {
            if (hw_same_text(box->channels[earlier].name, channel->name)) {
                return 0;
            }
        }
    }
    return 1;
}

/* hello: at power-up, once a second until started, and in answer to each HW_START. `boot` is one more at each
 * power-up or reset and kept over power-off. `row_rate_mhz` is rows in 1000 s, not 0. Returns 0, nothing to send,
 * for a description that the recorder would refuse. */
static inline uint8_t hw_hello(hw_frame *frame, const hw_box *box, uint32_t boot, uint32_t row_rate_mhz) {
    uint8_t at = 1;
    uint8_t n;
    frame->len = 0;
    if (row_rate_mhz == 0u || !hw_box_is_right(box)) {
        return 0;
    }
    at = hw_put_u8(frame, at, 0x01);
    at = hw_put_u8(frame, at, HW_VERSION_MAJOR);
    at = hw_put_u8(frame, at, HW_VERSION_MINOR);
    at = hw_put_u32(frame, at, boot);
    for (n = 0; n < 3u; n++) {
        at = hw_put_u8(frame, at, box->firmware[n]);
    }
    at = hw_put_u32(frame, at, row_rate_mhz);
    at = hw_put_label(frame, at, box->serial);
    at = hw_put_label(frame, at, box->name);
    at = hw_put_u8(frame, at, box->channel_count);
    for (n = 0; n < box->channel_count; n++) {
        at = hw_put_u8(frame, at, box->channels[n].measures);
        at = hw_put_u8(frame, at, box->channels[n].bits);
        at = hw_put_u32(frame, at, box->channels[n].rate_mhz);
        at = hw_put_label(frame, at, box->channels[n].name);
    }
    return hw_close(frame, at);
}

/* readings, gathered row by row in the frame itself:
 *     hw_readings_begin, then hw_readings_row for each row, then hw_readings_end.
 * Nothing else may be written into that frame in between. Its number of channels stands in bytes[14] and that of its
 * rows in bytes[15]: the frame needs no memory beside it. */

/* Begins a frame at row number `first_row`, sampled when the box clock stood at `clock_us`; `interval_us` from row to
 * row, not 0; `channels` counts in each row, 1 to 8. Outside of these no row will fit. */
static inline void hw_readings_begin(hw_frame *frame, uint32_t first_row, uint32_t clock_us, uint32_t interval_us,
                                     uint8_t channels) {
    uint8_t at = 1;
    frame->len = 0;
    at = hw_put_u8(frame, at, 0x02);
    at = hw_put_u32(frame, at, first_row);
    at = hw_put_u32(frame, at, clock_us);
    at = hw_put_u32(frame, at, interval_us);
    at = hw_put_u8(frame, at, (interval_us == 0u || channels > HW_CHANNELS_MAX) ? 0 : channels);
    (void)hw_put_u8(frame, at, 0);
}

/* Rows gathered so far: 0 if the frame is not begun (all of it 0) or has already ended. */
static inline uint8_t hw_readings_rows(const hw_frame *frame) {
    return frame->len != 0u ? 0 : frame->bytes[15];
}

/* 1 if another row fits; 0 if the frame is full, is not begun (all of it 0) or has already ended. */
static inline uint8_t hw_readings_room(const hw_frame *frame) {
    uint8_t channels = frame->bytes[14];
    return frame->len == 0u && channels != 0u && (frame->bytes[15] + 1u) * channels <= HW_COUNTS_MAX ? 1 : 0;
}

/* Adds the next row, one count for each channel. Returns 1, or 0 if it does not fit: it is then not in the frame. */
static inline uint8_t hw_readings_row(hw_frame *frame, const int32_t *counts) {
    uint8_t channels = frame->bytes[14];
    uint8_t at;
    uint8_t n;
    if (!hw_readings_room(frame)) {
        return 0;
    }
    at = (uint8_t)(16u + 4u * channels * frame->bytes[15]);
    for (n = 0; n < channels; n++) {
        at = hw_put_u32(frame, at, (uint32_t)counts[n]);
    }
    frame->bytes[15]++;
    return 1;
}

/* Ends the frame, for sending. Returns 0, nothing to send, if no row was added or it has already ended. */
static inline uint8_t hw_readings_end(hw_frame *frame) {
    if (hw_readings_rows(frame) == 0u) {
        return 0;
    }
    return hw_close(frame, (uint8_t)(16u + 4u * frame->bytes[14] * frame->bytes[15]));
}

/* mark: the button on the box was pressed when the box clock stood at `clock_us`; `number` counts them. */
static inline uint8_t hw_mark(hw_frame *frame, uint32_t clock_us, uint16_t number) {
    uint8_t at = hw_put_u8(frame, 1, 0x03);
    at = hw_put_u32(frame, at, clock_us);
    at = hw_put_u8(frame, at, 0);
    at = hw_put_u16(frame, at, number);
    return hw_close(frame, at);
}

/* status: once a second. `rows_dropped` since power-up were given a number but not sent, because the line was too
 * slow; the temperature is in 0.01 degrees C. */
static inline uint8_t hw_status(hw_frame *frame, uint32_t uptime_ms, uint32_t rows_dropped, uint16_t supply_mv,
                                int16_t temperature_centi_c) {
    uint8_t at = hw_put_u8(frame, 1, 0x04);
    at = hw_put_u32(frame, at, uptime_ms);
    at = hw_put_u32(frame, at, rows_dropped);
    at = hw_put_u16(frame, at, supply_mv);
    at = hw_put_u16(frame, at, (uint16_t)temperature_centi_c);
    return hw_close(frame, at);
}

/* time: the answer to HW_PING, with its token and the box clock when the ping's last byte came in. */
static inline uint8_t hw_time(hw_frame *frame, uint32_t token, uint32_t clock_us) {
    uint8_t at = hw_put_u8(frame, 1, 0x05);
    at = hw_put_u32(frame, at, token);
    at = hw_put_u32(frame, at, clock_us);
    return hw_close(frame, at);
}

/* ---- frames that a host sends ---- */

static inline uint32_t hw_get_u32(const uint8_t *bytes) {
    return (uint32_t)bytes[0] | ((uint32_t)bytes[1] << 8) | ((uint32_t)bytes[2] << 16) | ((uint32_t)bytes[3] << 24);
}

/* What the whole chunk in the decoder is; `count` bytes, none of them 0x00. */
static inline hw_event hw_open(hw_decoder *decoder, uint8_t count) {
    uint8_t *body = &decoder->bytes[1];
    uint8_t code_at = 0;
    uint8_t kind;
    while (code_at < count) {
        uint8_t code = decoder->bytes[code_at];
        if (code > (uint8_t)(count - code_at)) {
            return HW_DROPPED;
        }
        decoder->bytes[code_at] = 0;
        code_at = (uint8_t)(code_at + code);
    }
    /* A kind, 0 or 4 bytes, a CRC: a host sends nothing else. */
    if (count != 6u && count != 10u) {
        return HW_DROPPED;
    }
    if (hw_crc32c(body, (uint8_t)(count - 5u)) != hw_get_u32(&body[count - 5u])) {
        return HW_DROPPED;
    }
    kind = body[0];
    if (count == 6u) {
        return kind == HW_START || kind == HW_STOP ? (hw_event)kind : HW_DROPPED;
    }
    if (kind == HW_PING || (kind == HW_RATE && hw_get_u32(&body[1]) != 0u)) {
        decoder->value = hw_get_u32(&body[1]);
        return (hw_event)kind;
    }
    return HW_DROPPED;
}

/* Takes the next byte from the host. After any error, and after more bytes than a host's frame has, everything up to
 * the next 0x00 is dropped: the tail of something long is never taken for a frame. Two 0x00 in a row mean nothing. */
static inline hw_event hw_decoder_take(hw_decoder *decoder, uint8_t byte) {
    uint8_t count = decoder->len;
    if (byte != 0u) {
        if (count < HW_CHUNK_MAX) {
            decoder->bytes[count] = byte;
        }
        if (count <= HW_CHUNK_MAX) {
            decoder->len = (uint8_t)(count + 1u);
        }
        return HW_NOTHING;
    }
    decoder->len = 0;
    if (count == 0u) {
        return HW_NOTHING;
    }
    return count > HW_CHUNK_MAX ? HW_DROPPED : hw_open(decoder, count);
}

#endif
