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


def is_valid(folder):
    # The reader tells faults as warnings, which must not be filtered away.
    with warnings.catch_warnings():
        warnings.simplefilter("always")
        return CSVW(str(folder / "samples.csv-metadata.json"), validate=True).is_valid


def main(folders):
    for folder in map(pathlib.Path, folders):
        assert is_valid(folder), f"{folder} is not valid"
        lines = (folder / "samples.csv").read_text().splitlines()
        for name, spoil in SPOILT.items():
            with tempfile.TemporaryDirectory() as copy:
                copy = pathlib.Path(copy)
                shutil.copy(folder / "samples.csv-metadata.json", copy)
                spoilt = ",".join(spoil(lines[1].split(",")))
                (copy / "samples.csv").write_text("\n".join([lines[0], spoilt, *lines[2:]]) + "\n")
                assert not is_valid(copy), f"{folder}: {name} was not found"
        print(f"{folder}: {len(lines) - 1} rows valid, {len(SPOILT)} spoilt copies refused")


if __name__ == "__main__":
    main(sys.argv[1:])
