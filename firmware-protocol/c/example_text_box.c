/* A whole sensor box that only prints: fill in the three board functions. It needs nothing else: no header of ours,
 * no C library, no memory from a heap, no floating point, no 64-bit numbers. What it prints are sentences in the form
 * of NMEA 0183; README.md beside this folder lists their fields. To try things out; real runs deserve example_box.c. */
#include <stdint.h>

uint32_t board_clock_us(void);       /* wraps after 2^32 */
void board_sample(int32_t *counts);  /* one raw count for each channel */
void board_print(char character);    /* to the serial port; may wait until there is room */

#define CHANNELS 3
#define INTERVAL_US 20000u /* from row to row: 50 rows a second, which fit into 57600 baud */
static const char *const name[CHANNELS] = {"pull", "tail", "depth"};
static const uint8_t measures[CHANNELS] = {1, 2, 3}; /* 1 pull, 2 tail-wheel spring, 3 depth: README has the rest */
static const uint8_t bits[CHANNELS] = {24, 10, 10};  /* of each converter */
static uint8_t sum; /* XOR of what was printed since the $ */

static void character(char c) { sum ^= (uint8_t)c; board_print(c); }
static void text(const char *t) { while (*t != '\0') { character(*t++); } }

static void number(uint32_t n) {
    char digits[10];
    uint8_t used = 0;
    do { digits[used++] = (char)('0' + n % 10u); n /= 10u; } while (n != 0u);
    while (used > 0u) { character(digits[--used]); }
}

static void field(uint32_t n) { character(','); number(n); }

static void signed_field(int32_t n) {
    character(',');
    if (n < 0) { character('-'); }
    number(n < 0 ? 0u - (uint32_t)n : (uint32_t)n);
}

static void begin(char letter) { board_print('$'); sum = 0; text("PHTW"); character(letter); }

static void end(void) {
    static const char digit[] = "0123456789ABCDEF";
    uint8_t checksum = sum;
    board_print('*'); board_print(digit[checksum >> 4]); board_print(digit[checksum & 15u]);
    board_print('\r'); board_print('\n');
}

/* Who I am: protocol 1.0, boot number (left empty: not counted), version of this program, rows in 1000 s, serial
 * number, name, channels. */
static void say_hello(void) {
    begin('H'); text(",1,0,,0.1.0"); field(1000000000u / INTERVAL_US);
    text(",0001,first text box"); field(CHANNELS); end();
}

/* A line of the table of channels: its place, what it measures, bits, new values in 1000 s, name. */
static void say_channel(uint8_t n) {
    begin('C'); field(n); field(measures[n]); field(bits[n]); field(1000000000u / INTERVAL_US);
    character(','); text(name[n]); end();
}

static void say_row(uint32_t row, uint32_t clock_us, const int32_t *counts) {
    uint8_t n;
    begin('R'); field(row); field(clock_us);
    for (n = 0; n < CHANNELS; n++) { signed_field(counts[n]); }
    end();
}

int main(void) {
    uint32_t row = 0;
    uint32_t due_us = board_clock_us();
    for (;;) {
        int32_t counts[CHANNELS];
        uint32_t step = row % (1000000u / INTERVAL_US); /* once a second hello and table, one sentence after each row */
        uint32_t now_us;
        do { now_us = board_clock_us(); } while (now_us - due_us >= 0x80000000u); /* until it is due */
        board_sample(counts);
        say_row(row, now_us, counts);
        if (step == 0u) { say_hello(); } else if (step <= CHANNELS) { say_channel((uint8_t)(step - 1u)); }
        row++;
        due_us += INTERVAL_US;
    }
}
