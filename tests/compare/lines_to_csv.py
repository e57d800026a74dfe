"""Lines of named fields from a serial port to a CSV table, in blocks: the baseline of the bench `record -- lines`.

    lines_to_csv.py PORT TABLE COUNT

As a careful user would write it with pyserial and csv: it reads whatever has come, cuts it into lines, takes the numbers
out and writes the rows of a block together. It ends after COUNT rows. Needs pyserial.
"""
import csv
import datetime
import sys
import time

import serial


def main():
    port, table, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
    line = serial.Serial(port, 115200, timeout=0.1)
    began, rest, written = time.monotonic(), b"", 0
    with open(table, "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["timestamp", "elapsed_s", "source", "frequency_hz", "battery_v", "status", "note"])
        file.flush()
        while written < count:
            block = line.read(max(1, min(65536, line.in_waiting)))
            if not block:
                continue
            elapsed = time.monotonic() - began
            now = datetime.datetime.now(datetime.timezone.utc)
            stamp = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
            *lines, rest = (rest + block).split(b"\n")
            rows = []
            for text in lines:
                fields = dict(field.split("=", 1) for field in text.decode("ascii").split() if "=" in field)
                if "f" not in fields or "v" not in fields:
                    continue
                frequency = float(fields["f"].removesuffix("Hz"))
                voltage = float(fields["v"].removesuffix("V"))
                rows.append([stamp, f"{elapsed + 1e-6 * len(rows):.6f}", "plain-lines", frequency, voltage, "ok", ""])
            writer.writerows(rows)
            file.flush()
            written += len(rows)
    time.sleep(1)


main()
