"""Checks session folders with an independent reader of CSV on the Web: the PyPI package csvw.

    python3 -m venv target/ci-python && target/ci-python/bin/pip install csvw
    target/ci-python/bin/python tests/compare/csvw_check.py SESSION...

Each folder must be valid as it is, and must be refused once a status word, a time or a number is spoilt: a check that
cannot fail is none.
"""

import pathlib
import shutil
import sys
import tempfile
import warnings

from csvw import CSVW

SPOILT = {
    "a status that is no word of ours": lambda cells: cells[:-2] + ["fine", cells[-1]],
    "a time that is none": lambda cells: ["yesterday"] + cells[1:],
    "a frequency that is no number": lambda cells: cells[:3] + ["fast"] + cells[4:],
}


SPOILT_FORECAST = {
    "a reason that is no word of ours": lambda cells: cells[:6] + ["perhaps"] + cells[7:],
    "a time that is none": lambda cells: ["yesterday"] + cells[1:],
    "a time left that is no number": lambda cells: cells[:7] + ["soon"] + cells[8:],
}


def is_valid(folder, table="samples.csv"):
    # The reader tells faults as warnings, which must not be filtered away.
    with warnings.catch_warnings():
        warnings.simplefilter("always")
        return CSVW(str(folder / f"{table}-metadata.json"), validate=True).is_valid


def check(folder, table, spoilt):
    assert is_valid(folder, table), f"{folder / table} is not valid"
    lines = (folder / table).read_text().splitlines()
    for name, spoil in spoilt.items():
        with tempfile.TemporaryDirectory() as copy:
            copy = pathlib.Path(copy)
            shutil.copy(folder / f"{table}-metadata.json", copy)
            line = ",".join(spoil(lines[1].split(",")))
            (copy / table).write_text("\n".join([lines[0], line, *lines[2:]]) + "\n")
            assert not is_valid(copy, table), f"{folder / table}: {name} was not found"
    print(f"{folder / table}: {len(lines) - 1} rows valid, {len(spoilt)} spoilt copies refused")


def main(folders):
    for folder in map(pathlib.Path, folders):
        check(folder, "samples.csv", SPOILT)
        # Only where a battery was named.
        if (folder / "forecast.csv").is_file():
            check(folder, "forecast.csv", SPOILT_FORECAST)


if __name__ == "__main__":
    main(sys.argv[1:])
