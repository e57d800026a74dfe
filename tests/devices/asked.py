#!/usr/bin/env python3
"""Instruments that are asked, on a pseudo-terminal, by the Python standard library alone.

    asked.py FORM

Prints the path of its line on stdout, then plays the named form for ever: each question has its answers, in turn and
round again. A message that the form does not know ends the program, so that a recorder which sends anything else gets
nothing. It shares no code with the recorder, nor with the other virtual instruments.

Beside each form stands where it comes from: T exact bytes from the tests of general-purpose instrument libraries, D the
form from their drivers (numbers ours), M from memory of public data sheets, I made up.
"""
import itertools
import math
import os
import struct
import sys
import tty


def wave(count, middle, swing):
    """Samples of 0.0613 cycles each: 3.065 MHz where they are 20 ns apart."""
    angles = (math.tau * 0.0613 * index + 0.3 for index in range(count))
    return [middle + swing * math.cos(angle) for angle in angles]


def packed(letter, samples):
    """Samples as bytes, in the letters of the struct module."""
    return struct.pack(f"{letter[0]}{len(samples)}{letter[1]}", *(round(sample) for sample in samples))


def block(data, digits=None):
    """An IEEE 488.2 definite block, its length in the fewest digits or in so many."""
    length = str(len(data)).rjust(digits or 0, "0")
    return f"#{len(length)}{length}".encode() + data


def description():
    """346 bytes in front of the samples, floats of 32 bits in them: volts a code, offset, interval (T, M)."""
    data = bytearray(346)
    struct.pack_into("<ff", data, 156, 0.02, 0.5)
    struct.pack_into("<f", data, 176, 20e-9)
    return bytes(data)


SCOPE_A = {
    b"DAT:ENC RIB": None,
    b"DATA:WIDTH 2": None,
    b"YOF?": b"2.0E1",
    b"YMU?": b"2.5E-4",
    b"YZE?": b"1.0E-1",
    b"XIN?": b"2.0E-8",
    b"NR_P?": b"1000",
}
CURVE = block(packed(">h", wave(1000, 20, 4000)))
TEXT_IN_PREAMBLE = (
    b'1;8;BIN;RI;MSB;500;"Ch1, DC coupling, 1.0E0 V/div; 5.0E-7 s/div";Y;2.0E-8;0;-2.5E-6;"s";4.0E-2;1.0E-1;5.0E0;"V"'
)
VOLTS = ",".join(f"{volts:.4f}" for volts in wave(600, 0.1, 1.0)).encode()

# A form: the end of messages, the end of answers, and the answers; None for a message that has none.
FORMS = {
    # T: 19 bytes and their end, in hertz and in seconds.
    "1": (b"\r\n", b"\r\n", {b" FA": b"FA+010.00000000E+06", b" PA": b"PA+000100.00000E-09"}),
    # T: the first value; the others are ours.
    "2": (
        b"\n",
        b"\n",
        {
            b"FORM ASC": None,
            b":INIT": None,
            b":FETC:ARR? 7": b"+9.999992027E+06" + b"".join(b",+9.99999%dE+06" % n for n in range(6)),
        },
    ),
    # D
    "3": (b"\n", b"\n", {b"EOI ON": None, b"FRUN OFF": None, b"X": b"FREQ   9999.9993E+03"}),
    # T: the answers; the settings are ours. Overload as SCPI-1999, 7.2.1.4, has it.
    "4": (
        b"\n",
        b"\n",
        {
            b"CONF:VOLT:DC": None,
            b"VOLT:DC:RANG:AUTO ON": None,
            b"TRIG:SOUR IMM": None,
            b":READ?": (b"+1.2300E-4", b"+9.9E37"),
            b"SYST:ERR?": b"+0, No Error",
        },
    ),
    # T
    "5": (
        b"\n",
        b"\n",
        {
            b"FETC?": b"+4.27150000E-03,5.27150000E-03",
            b"FORM:DATA REAL,64": None,
            b"R? 1": b"#18" + struct.pack(">d", 1.0),
        },
    ),
    # T
    "6": (b"\r", b"\r", {b"HO0T4SO1": None, b"S0F1W1STNT3": b"+000.0002E-3"}),
    # T: the framing; the numbers are ours.
    "8": (b"\n", b"\n", SCOPE_A | {b"CURVE?": CURVE}),
    # T: with the headers on.
    "8-headers": (b"\n", b"\n", SCOPE_A | {b"CURVE?": b":CURVE " + CURVE}),
    # T
    "9": (b"\n", b"\n", {b"MEASU:MEAS1:VAL?": b"6.231E6"}),
    # D: with the headers on.
    "9-headers": (b"\n", b"\n", {b"MEASU:MEAS1:VAL?": b":MEASUREMENT:MEAS1:VALUE 6.231E6"}),
    # T: the framing. M: the scale.
    "10": (
        b"\n",
        b"\n",
        {
            b":TIM:SCAL?": b"1.000e-06",
            b":CHAN2:SCAL?": b"5.00e-01",
            b":WAV:DATA? CHAN2": block(packed(">B", wave(600, 125, 100)), 8),
        },
    ),
    # D: both origins in codes.
    "12": (
        b"\n",
        b"\n",
        {
            b":WAV:PRE?": b"0,0,600,1,2.000E-08,-5.000E-06,0,2.000E-02,25,128",
            b":WAV:DATA?": block(packed(">B", wave(600, 153, 100)), 9),
        },
    ),
    # D: the origin in volts.
    "13": (
        b"\n",
        b"\n",
        {
            b":WAV:PRE?": b"0,0,600,1,2.000E-08,-5.000E-06,0,2.000E-02,-5.0E-01,128",
            b":WAV:DATA?": block(packed(">B", wave(600, 128, 100)), 9),
        },
    ),
    # D
    "14": (
        b"\n",
        b"\n",
        {b"WFP?": TEXT_IN_PREAMBLE, b"CURV?": block(packed(">b", wave(500, 5, 100)))},
    ),
    # D
    "15": (b"\n", b"\n", {b"DATA?": b"{" + VOLTS + b"}"}),
    # I: the same without braces.
    "15-plain": (b"\n", b"\n", {b"DATA?": VOLTS}),
    # I: every other answer breaks off, in text and in a small block; ends stand in the answers.
    "breaks": (
        b"\n",
        b"",
        {
            b"DATA?": (b"{" + VOLTS[:999], b"{" + VOLTS + b"}\n"),
            b"R? 1": (b"#18\x3f\xf0\0\0", b"#18" + struct.pack(">d", 1.0) + b"\n"),
        },
    ),
    # T: the length of the description. M: the places in it.
    "16": (
        b"\n",
        b"\n\n",
        {b"C1:WF? ALL": b"C1:WF ALL," + block(description() + packed(">b", wave(600, 0, 100)), 9)},
    ),
    # T: the head `C1:WF ALL,#9`. D: the settings.
    "16-sister": (
        b"\n",
        b"\n\n",
        {
            b"SARA?": b"SARA 5.00E+07Sa/s",
            b"C1:VDIV?": b"C1:VDIV 5.00E-01V",
            b"C1:OFST?": b"C1:OFST -1.00E+00V",
            b"C1:WF? DAT2": b"C1:WF ALL," + block(packed(">b", wave(600, 0, 100)), 9),
        },
    ),
    # T: the separate read command. M: its spelling.
    "22": (
        b"\n",
        b"\r\n",
        {b"++eoi 1": None, b"MEAS:FREQ?": None, b"++read eoi": b"+6.23123450E+06"},
    ),
    # I: an instrument behind the same adapter that answers nothing.
    "22-mute": (b"\n", b"\r\n", {b"++eoi 1": None, b"MEAS:FREQ?": None, b"++read eoi": None}),
}


def main():
    heard_end, said_end, answers = FORMS[sys.argv[1]]
    turns = {
        message: itertools.cycle(said if isinstance(said, tuple) else (said,))
        for message, said in answers.items()
    }
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    print(os.ttyname(theirs), flush=True)
    heard = b""
    while True:
        heard += os.read(ours, 4096)
        *messages, heard = heard.split(heard_end)
        for message in messages:
            if message not in turns:
                sys.exit(f"unknown: {message!r}")
            said = next(turns[message])
            if said is not None:
                os.write(ours, said + said_end)


main()
