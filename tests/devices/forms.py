#!/usr/bin/env python3
"""An instrument that speaks unasked, on a pseudo-terminal, by the Python standard library alone.

    forms.py FORM [PERIOD]

Prints the path of its line on stdout, waits until a program has opened it, then sends the pieces of FORM one after the
other, PERIOD seconds apart (0.05 without it), over and over from the second on. It shares no code with the recorder. Forms
are those that instruments and boards are known to send, from memory of public data sheets or made up after them; their
values are invented.
"""
import os
import select
import sys
import time
import tty


def sealed(body, total):
    """A line with its checksum, made of all bytes before the blank."""
    value = 0
    for byte in body.encode():
        value = (value + byte) % 256 if total == "add-8" else value ^ byte
    return f"{body} *{value:02X}\n".encode()


def segments(volts, prefix, shown):
    """A frame of 14 bytes: high nibbles count, low nibbles are segments and signs."""
    table = {"0": 0x7D, "1": 0x05, "2": 0x5B, "3": 0x1F, "4": 0x27, "5": 0x3E, "6": 0x7E, "7": 0x15, "8": 0x7F, "9": 0x3F}
    table.update({"L": 0x68, " ": 0x00})
    nibbles, point = [5 if volts else 1], False
    for letter in shown:
        if letter == ".":
            point = True
            continue
        nibbles += [(8 if point else 0) | table[letter] >> 4, table[letter] & 15]
        point = False
    nibbles += [2 if prefix == "k" else 0, {"m": 8, "M": 2}.get(prefix, 0), 0, 4 if volts else 2, 0]
    assert len(nibbles) == 14
    return bytes((place + 1) << 4 | nibble for place, nibble in enumerate(nibbles))


FORMS = {
    # Named fields, made up after boards that print for people; the first piece is the end of a line.
    "blanks": [b"Hz V=8.5 V\r\n", b"F=4006171 Hz V=8.58 V\r\n", b"F=4006170 Hz V=8.57 V\r\n"],
    "commas": [b".29 V\r\n", b"F = 4014464 Hz, V = 9.29 V\r\n", b"F = 4014463 Hz, V = 9.28 V\r\n"],
    "freq": [b"4MHz\n", b"Freq=6.231234MHz\n", b"Freq=6.231233MHz\n"],
    "thousands": [b"34 Hz\n", b"F: 6,231,234 Hz\n", b"F: 6,231,233 Hz\n"],
    "colon": [b"34Hz\n", b"F:6231234Hz\n", b"F:6231233Hz\n"],
    "bare": [b"45 MHz\n", b"6.2312345 MHz\n", b"6231.2335 kHz\n"],
    "prefix": [b"45k\n", b"6231.2345k\n", b"6231.2335k\n"],
    "unitless": [b"34\n", b"F=6231234\n", b"F=6231233\n"],
    # A meter that chooses its range and parts by blanks, 1200 7N2, from memory of a handheld meter.
    "ranges": [b"2   V\r", b"DC  8.912   V\r", b"DC  891.2  mV\r", b"DC   0.L    V\r"],
    # The same in comma-separated cells, made up.
    "cells": [b"1,MHz\n", b"6.231,MHz\n", b"62.31,kHz\n"],
    # A range digit, five digits, a function letter, flags; 19200 7O1, from memory of a handheld meter.
    "places": [b"0:08;\r\n", b"108912;00080\r\n", b"606231200000\r\n", b"108912;10080\r\n"],
    # Segments, 2400 8N1, no line end, from memory of a handheld meter: a torn frame, a loss of one byte, an overload.
    "segments": [
        segments(True, "", "8.912")[5:],
        segments(True, "", "8.912"),
        segments(False, "M", "6.231"),
        segments(True, "m", "891.2"),
        segments(True, "", " 0.L "),
        segments(True, "", "8.912")[:6] + segments(True, "", "8.912")[7:],
    ],
    # A first field, a counter, a clock, a sum of bytes; the counter misses four, and a notice; made up.
    "board": [
        b"1 *00\n",
        sealed("name=coil-board fw=1.4 reset=power-on", "add-8"),
        *[sealed(f"$FV n={n} f={6231234 + n}Hz v=8.912V", "add-8") for n in (11, 12, 17, 18)],
        b"$GP n=3 f=1Hz\n",
    ],
}


def main():
    pieces = FORMS[sys.argv[1]]
    period = float(sys.argv[2]) if len(sys.argv) > 2 else 0.05
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    path = os.ttyname(theirs)
    os.close(theirs)
    print(path, flush=True)
    # A line that nobody has open hangs up.
    hung_up = select.poll()
    hung_up.register(ours, select.POLLHUP)
    while hung_up.poll(0):
        time.sleep(0.01)
    time.sleep(0.2)
    os.write(ours, pieces[0])
    while True:
        for piece in pieces[1:]:
            time.sleep(period)
            os.write(ours, piece)


main()
