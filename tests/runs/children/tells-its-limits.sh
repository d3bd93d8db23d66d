#!/bin/sh
# Tells its priority, as a sentence of its own.
echo "hitchwright: nice $(nice), memory $(ulimit -d), file $(ulimit -f), oom $(cat /proc/self/oom_score_adj)" >&2
exit 1
