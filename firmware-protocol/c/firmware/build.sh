#!/bin/sh
# Builds the reference firmware for the emulator: build.sh OUT.elf [-DBAUD=9600] [-DROW_RATE_MHZ=100000]
# A real board is built without -DEMULATED.
set -eu
out=${1:?"name the file to make, such as build.sh box.elf"}
shift
here=$(dirname "$0")
exec arm-none-eabi-gcc -mcpu=cortex-m3 -mthumb -std=c99 -Os -g \
    -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Werror \
    -ffreestanding -fno-tree-loop-distribute-patterns -nostdlib \
    -DEMULATED "$@" -T "$here/box.ld" "$here"/*.c -o "$out"
