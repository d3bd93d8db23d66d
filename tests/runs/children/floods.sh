#!/bin/sh
# Says far more than anybody asked for, and goes on when nobody listens.
trap "" PIPE
while :; do echo "a line that nobody asked for, over and over again, until somebody makes an end of it" 2>/dev/null; done
