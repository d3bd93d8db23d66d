#!/bin/sh
# Writes the page until the disk is full.
for last; do :; done
exec cat /dev/zero >"$last"
