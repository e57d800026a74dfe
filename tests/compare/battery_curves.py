"""Discharge curves of two lithium cells in series, simulated with PyBaMM.

Made with PyBaMM 26.10.1.1 (BSD-3-Clause, which covers the parameter sets that come with it):

    pip install pybamm==26.10.1.1
    python3 tests/compare/battery_curves.py ship  src/battery/curves
    python3 tests/compare/battery_curves.py check tests/battery-curves/unseen

`ship` makes the curves that ship with the program (Ai2020, Ramadass2004; Prada2013, iron phosphate; those of Chen2020 were
made before in the same way), `check` those that no shipped curve comes from (Marquis2019, Ecker2015, Mohtat2020, NCA_Kim2011).

Each run: the single-particle model with electrolyte (SPMe), two cells in series whose capacities differ by up to 6 %, at the
same charge; a pack of 0.5 Ah, so that 1C are 0.5 A; loads of constant current, resistance and power of 0.25, 0.5 and 1C at
3.7 V (3.2 V) a cell; begun with 100 or 80 % of the charge; down to 3.0 V (2.5 V for iron phosphate) a cell; 20 mV rms of
noise on the pack's volts. 0.5 Ah is the set's nominal capacity; for Ramadass2004, whose nominal capacity of 1 Ah its own
electrodes exceed by far, what it gives at 0.2C down to 2.75 V a cell.
"""

import csv
import logging
import pathlib
import sys
import warnings

import numpy as np
import pybamm

VERSION = "26.10.1.1"
RATED_AH = 0.5
POINTS = 121
NOISE_V = 0.020
MISMATCH = 0.06
RATES = (0.25, 0.5, 1.0)
LOADS = ("current", "resistance", "power")
# Set: its name in files, volts of a cell at the end and in the middle, whether its nominal capacity is that of its electrodes.
SHIPPED = {
    "Ai2020": ("ai", 3.0, 3.7, True),
    "Ramadass2004": ("ramadass", 3.0, 3.7, False),
    "Prada2013": ("prada", 2.5, 3.2, True),
}
UNSEEN = {
    "Marquis2019": ("marquis", 3.0, 3.7, True),
    "Ecker2015": ("ecker", 3.0, 3.7, True),
    "Mohtat2020": ("mohtat", 3.0, 3.7, True),
    "NCA_Kim2011": ("kim", 3.0, 3.7, True),
}


def cell(name, current_a, start, until_v):
    """Charge in ampere hour and volts of one cell at a constant current from a share of its charge, beyond `until_v`."""
    values = pybamm.ParameterValues(name)
    nominal_ah = values["Nominal cell capacity [A.h]"]
    # A window of voltage wide enough for the weaker cell; the share of charge stays that of the set's own window.
    shares = pybamm.lithium_ion.get_initial_stoichiometries(start, values)
    values = pybamm.ParameterValues(name)
    for electrode, share in zip(("negative", "positive"), shares):
        most = values[f"Maximum concentration in {electrode} electrode [mol.m-3]"]
        values[f"Initial concentration in {electrode} electrode [mol.m-3]"] = share * most
    values["Lower voltage cut-off [V]"] = until_v
    values["Upper voltage cut-off [V]"] = 5.0
    values["Current function [A]"] = current_a
    simulation = pybamm.Simulation(pybamm.lithium_ion.SPMe(), parameter_values=values)
    last_s = 4 * 3600 * nominal_ah / current_a
    found = simulation.solve(np.linspace(0, last_s, 8000))
    return found["Time [s]"].entries * current_a / 3600, found["Voltage [V]"].entries


def capacity_ah(name, is_nominal):
    """What stands for the pack's 0.5 Ah."""
    nominal_ah = pybamm.ParameterValues(name)["Nominal cell capacity [A.h]"]
    if is_nominal:
        return nominal_ah
    charge_ah, volts = cell(name, 0.4 * nominal_ah, 1.0, 2.7)
    return float(np.interp(-2.75, -volts, charge_ah))


def run(name, load, rate, start, noise):
    """Time, volts and amperes of a pack to its end."""
    _, end_v, middle_v, is_nominal = (SHIPPED | UNSEEN)[name]
    full_ah = capacity_ah(name, is_nominal)
    # Beyond this the weaker cell is taken to stay where it is.
    until_v = end_v - 0.8
    # The current of a resistance or a power changes by some tenths over the run: cells at three currents, between them lines.
    tried = [share * rate * full_ah for share in (0.75, 1.0, 1.35)]
    cells = [cell(name, current_a, start, until_v) for current_a in tried]
    weaker, stronger = 1 - MISMATCH / 2, 1 + MISMATCH / 2
    to_ah = stronger * max(charge[-1] for charge, _ in cells)
    charge_ah = np.linspace(0, to_ah, 4000)

    def pack_v(current_a):
        at_current = [
            sum(np.interp(charge_ah / share, charge, volts) for share in (weaker, stronger))
            for charge, volts in cells
        ]
        scaled = np.array(current_a) / RATED_AH * full_ah
        rows = np.array(at_current)
        return np.array([np.interp(scaled[i], tried, rows[:, i]) for i in range(len(charge_ah))])

    usual_a = rate * RATED_AH
    usual_v = 2 * middle_v
    current_a = np.full_like(charge_ah, usual_a)
    for _ in range(6):
        volts = pack_v(current_a)
        if load == "resistance":
            current_a = volts * usual_a / usual_v
        elif load == "power":
            current_a = usual_a * usual_v / volts
    pack_ah = charge_ah / full_ah * RATED_AH
    time_s = np.concatenate(
        [[0], np.cumsum(3600 * np.diff(pack_ah) / (0.5 * (current_a[1:] + current_a[:-1])))]
    )
    below = np.nonzero(volts <= 2 * end_v)[0]
    assert len(below), f"{name} {load} {rate} {start}: never came to its end"
    at = below[0]
    share = (volts[at - 1] - 2 * end_v) / (volts[at - 1] - volts[at])
    end_s = time_s[at - 1] + share * (time_s[at] - time_s[at - 1])
    at_s = np.linspace(0, end_s, POINTS)
    shown_v = np.interp(at_s, time_s, volts)
    shown_v[:-1] += NOISE_V * noise.standard_normal(POINTS - 1)
    shown_v[-1] = 2 * end_v
    return at_s, shown_v, np.interp(at_s, time_s, current_a)


def write(path, rows):
    with open(path, "w", newline="") as file:
        lines = csv.writer(file, lineterminator="\n")
        lines.writerow(["elapsed_s", "volts", "amps"])
        for at_s, volts, amps in rows:
            lines.writerow([f"{at_s:.1f}", f"{volts:.4f}", f"{amps:.5f}"])


def main():
    what, folder = sys.argv[1], pathlib.Path(sys.argv[2])
    assert pybamm.__version__ == VERSION, f"made with PyBaMM {VERSION}, this is {pybamm.__version__}"
    warnings.filterwarnings("ignore")
    logging.disable(logging.WARNING)
    folder.mkdir(parents=True, exist_ok=True)
    noise = np.random.default_rng(20261128)
    sets, starts = (SHIPPED, (1.0,)) if what == "ship" else (UNSEEN, (1.0, 0.8))
    for name, (word, *_) in sets.items():
        for load in LOADS:
            for rate in RATES:
                for start in starts:
                    path = folder / f"li2s_{word}_{load}_{rate}C_start{start:.0%}.csv".replace("%", "")
                    if name == "Prada2013":
                        path = path.with_name(path.name.replace("li2s", "lfp2s"))
                    rows = list(zip(*run(name, load, rate, start, noise)))
                    write(path, rows)
                    mean_a = np.trapezoid([r[2] for r in rows], [r[0] for r in rows]) / rows[-1][0]
                    print(f"{path.name}: {rows[-1][0]:.0f} s, {mean_a * rows[-1][0] / 3.6:.0f} mAh, {rows[0][1]:.2f} V")


if __name__ == "__main__":
    main()
