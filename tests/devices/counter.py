#!/usr/bin/env python3
"""A frequency counter on a pseudo-terminal, by the Python standard library alone.

    counter.py [ANSWERS]

Prints the path of its line on stdout, then answers messages that end in a line feed, and ends after ANSWERS answers
(never without it). Frequencies and voltages are invented: from 6.231 MHz down by 10 Hz, from 9 V down by 1 mV an answer.
It shares no code with the recorder, nor with the other virtual instruments.
"""
import os
import sys
import tty

ERRORS = []


def full_name(header):
    """Long names for short ones, optional parts left out."""
    longer = {"MEAS": "MEASURE", "FREQ": "FREQUENCY", "VOLT": "VOLTAGE", "SYST": "SYSTEM", "ERR": "ERROR"}
    name, mark, _ = header.upper().lstrip(":").partition("?")
    parts = [longer.get(part, part) for part in name.split(":")]
    return ":".join(part for part in parts if part not in ("DC", "NEXT")) + mark


def answer(message, count):
    """The answer to a message, or None when there is none."""
    header = full_name(message.strip().split(" ")[0])
    if header == "*IDN?":
        return "sagtrace,python counter,0,1"
    if header == "*OPC?":
        return "1"
    if header in ("MEASURE:FREQUENCY?", "MEASURE:VOLTAGE?"):
        value = 6231000.5 - 10 * count if "FREQ" in header else 9.0 - 0.001 * count
        return f"{value:+.8E}"
    if header == "SYSTEM:ERROR?":
        return ERRORS.pop(0) if ERRORS else '0,"No error"'
    if header == "*CLS":
        ERRORS.clear()
    elif header not in ("", "*RST"):
        ERRORS.append('-113,"Undefined header"')


def main():
    most = int(sys.argv[1]) if len(sys.argv) > 1 else None
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    print(os.ttyname(theirs), flush=True)
    heard, count = b"", 0
    while most is None or count < most:
        heard += os.read(ours, 4096)
        *messages, heard = heard.split(b"\n")
        for message in messages:
            said = answer(message.decode("ascii", "replace"), count)
            if said is not None:
                os.write(ours, said.encode() + b"\n")
                count += 1


main()
