/* A board for example_text_box.c that prints to stdout, for tests/c_header: a clock that goes on with each look at it
 * and wraps on the way, and counts that the test can work out again. Ends after as many lines as its argument says. */
#include <stdio.h>
#include <stdlib.h>

#define main box_main
#include "../example_text_box.c"
#undef main

static uint32_t clock_us = 0xFFF00000u;
static uint32_t samples;
static long lines_left;

uint32_t board_clock_us(void) {
    clock_us += 250u;
    return clock_us;
}

void board_sample(int32_t *counts) {
    counts[0] = (int32_t)(samples * 70001u % 16777216u) - 8388608;
    counts[1] = (int32_t)(samples % 1024u);
    counts[2] = samples % 2u == 0u ? INT32_MIN : INT32_MAX;
    samples++;
}

void board_print(char character) {
    putchar(character);
    if (character == '\n' && --lines_left == 0) {
        exit(0);
    }
}

int main(int count, char **arguments) {
    lines_left = count > 1 ? strtol(arguments[1], NULL, 10) : 1;
    return box_main();
}
