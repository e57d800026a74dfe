#!/bin/sh
# A board that speaks unasked, in POSIX shell: prints plain lines with checksums, one after the other without a pause.
#
#     lines.sh COUNT [PATH]
#
# COUNT lines go to stdout, or to PATH (a file or the line of a port). The values are invented: from 6.231 MHz down by
# 10 Hz and from 9 V down by 1 mV a line; every tenth line the coil is stopped. It shares no code with the recorder.
set -eu

# Exclusive or of all bytes of $1, as two upper-case hexadecimal digits.
checksum() {
    sum=0
    for byte in $(printf '%s' "$1" | od -An -v -tu1); do
        sum=$((sum ^ byte))
    done
    printf '%02X' "$sum"
}

lines() {
    n=0
    while [ "$n" -lt "$1" ]; do
        if [ $((n % 10)) -eq 9 ]; then
            frequency=none
        else
            frequency="$((6231000 - 10 * n)).5Hz"
        fi
        millivolts=$((9000 - n))
        body="f=$frequency v=$((millivolts / 1000)).$(printf '%03d' $((millivolts % 1000)))V"
        printf '%s *%s\n' "$body" "$(checksum "$body")"
        n=$((n + 1))
    done
}

if [ $# -ge 2 ]; then
    lines "$1" >"$2"
else
    lines "$1"
fi
