#!/bin/sh
# Never ends, nor does a child of its; both tell their process numbers.
sleep 1000 &
echo "$$ $!" >"$(dirname "$2")/pids"
wait
