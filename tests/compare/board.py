"""A winding on a board over a plane, by the layered medium's integral in numpy and scipy: rows for the ring model.

    python3 -m venv target/venv && target/venv/bin/pip install numpy scipy
    target/venv/bin/python tests/compare/board.py            # the rows on boards of tests/references/rings-regression.csv
    target/venv/bin/python tests/compare/board.py floating   # shifts over a floating circuit's disc, for src/coil/predict/near_tests.rs

60 turns of 0.4 mm, a ring a turn, foot outside or below and earthed, top open: flat between 15 and 51 mm, or a cone of the
same slope raised by 30 degrees, its foot's edge on the board. A ring of charge above the board sees its reflection with
the spectral coefficient (1 - Y)/(1 + Y): Y is the admittance of board, gap and plane over that of free space, as of a line
of three media (textbook). The integral over J0(ka) J0(kb) is summed by Gauss-Legendre's rule in numpy; nothing here shares
code with the program, which sums images of the board and adds what the plane does to them.
"""

import sys

import numpy as np
from scipy.linalg import eigh
from scipy.special import ellipe, ellipkm1, j0

EPSILON0, MU0 = 8.8541878128e-12, 4e-7 * np.pi
TURNS, INNER, OUTER, WIRE = 60, 15e-3, 51e-3, 0.4e-3
STEP = (OUTER - INNER) / TURNS


def pair(a, b, z):
    reach2 = (a + b) ** 2 + z**2
    m1 = ((a - b) ** 2 + z**2) / reach2
    k, e = ellipkm1(m1), ellipe(1 - m1)
    root = np.sqrt(1 - m1)
    potential = k / (2 * np.pi**2 * EPSILON0 * np.sqrt(reach2))
    return potential, MU0 * np.sqrt(a * b) * ((2 / root - root) * k - 2 / root * e)


def places(shares, degrees):
    """Radii and heights at shares of the way from foot to top."""
    along = shares * (OUTER - INNER)
    angle = np.radians(degrees)
    return OUTER - along * np.cos(angle), along * np.sin(angle)


def between(radii, heights, own, which):
    matrix = pair(radii[:, None], radii[None, :], heights[:, None] - heights[None, :] + np.eye(len(radii)) * 1e-3)[which]
    np.fill_diagonal(matrix, own)
    return matrix


def admittance(k, board, distance):
    """Of board, gap and plane over that of free space."""
    permittivity, thickness = board
    gap = 1.0 if distance is None else 1 / np.tanh(np.maximum(k * (distance - thickness), 1e-12))
    t = np.tanh(k * thickness)
    return permittivity * (gap + permittivity * t) / (permittivity + gap * t)


def potentials(degrees, board, distance):
    a, z = places((np.arange(TURNS) + 0.5) / TURNS, degrees)
    own = np.log(8 * a / (WIRE / 2)) / (4 * np.pi**2 * EPSILON0 * a)
    free = between(a, z, own, 0)
    if board is None and distance is None:
        return free
    board = board or (1.0, distance)
    # At large k the reflection is that of a half space, an image in the board's face: taken out in closed form.
    half_space = (1 - board[0]) / (1 + board[0])
    if degrees == 0:
        image = free
    else:
        image = pair(a[:, None], a[None, :], z[:, None] + z[None, :])[0]
    x, w = np.polynomial.legendre.leggauss(12)
    panel = np.pi / OUTER
    starts = np.arange(0, 20 / board[1], panel)
    k = (starts[:, None] + (x + 1) / 2 * panel).ravel()
    w = np.tile(w / 2 * panel, len(starts))
    y = admittance(k, board, distance)
    rest = (1 - y) / (1 + y) - half_space
    bessel = j0(k[:, None] * a[None, :]) * np.exp(-k[:, None] * z[None, :])
    return free + half_space * image + bessel.T @ ((w * rest)[:, None] * bessel) / (4 * np.pi * EPSILON0)


def inductances(degrees, metal):
    a, z = places(np.arange(TURNS + 1) / TURNS, degrees)
    turns, width = np.ones(TURNS + 1), np.full(TURNS + 1, STEP)
    turns[[0, -1]], width[[0, -1]] = 0.5, STEP / 2
    share = np.outer(turns, turns)
    matrix = between(a, z, MU0 * a * (np.log(8 * a / (width / 2 / np.pi)) - 2), 1) * share
    middle, height = places((np.arange(TURNS) + 0.5) / TURNS, degrees)
    wires = between(middle, height, MU0 * middle * (np.log(16 * middle / WIRE) - 2), 1)
    matrix *= wires.sum() / matrix.sum()
    if metal is not None:
        matrix -= pair(a[:, None], a[None, :], 2 * metal + z[:, None] + z[None, :])[1] * share
    return matrix[:TURNS, :TURNS]


def resonance(degrees, board, distance, is_metal):
    p = potentials(degrees, board, distance)
    m = inductances(degrees, distance if is_metal else None)
    d = np.eye(TURNS) - np.eye(TURNS, k=1)
    return np.sqrt(eigh(d.T @ p @ d, m, subset_by_index=[0, 0], eigvals_only=True)[0]) / (2 * np.pi)


def row(degrees, board, plane, distance):
    on, off = (resonance(degrees, which, distance, plane == "metal") for which in (board, None))
    permittivity, thickness = board
    inputs = "turns=60; outer=51 mm; inner=15 mm; wire=0.4 mm"
    inputs += f"; rise={degrees}" if degrees else ""
    inputs += f"; plane={plane}; distance={distance * 1e3:g} mm" if plane else ""
    inputs += f"; board={thickness * 1e3:g} mm; permittivity={permittivity:g}"
    source = '"our own layered-medium integral in numpy and scipy: tests/compare/board.py"'
    print(f"ring-board-resonance,{inputs},{on / 1e6:.5f},MHz,2e-4,relative,six digits kept,{source}")
    print(f"ring-board-ratio,{inputs},{on / off:.5f},,3e-3,relative,40 rings for the ratio and 60 there,{source}")


def over_disc(board, radius, depth):
    """The flat coil's resonance with its foot on a floating disc below it and below the board, no plane."""
    edges = radius * np.sin(np.pi / 2 * np.arange(61) / 60)
    r, wires = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / (2 * np.pi)
    a, z = places((np.arange(TURNS) + 0.5) / TURNS, 0)
    radii, heights = np.r_[a, r], np.r_[z, np.full(60, -depth)]
    own = np.log(8 * radii / np.r_[np.full(TURNS, WIRE / 2), wires]) / (4 * np.pi**2 * EPSILON0 * radii)
    p = between(radii, heights, own, 0)
    if board is not None:
        permittivity, thickness = board
        x, w = np.polynomial.legendre.leggauss(12)
        panel = np.pi / OUTER
        starts = np.arange(0, 20 / thickness, panel)
        k, w = (starts[:, None] + (x + 1) / 2 * panel).ravel(), np.tile(w / 2 * panel, len(starts))
        y, gap = admittance(k, board, None), depth - thickness
        on_coil, on_disc = j0(k[:, None] * a), j0(k[:, None] * r)
        p[:TURNS, :TURNS] = potentials(0, board, None)
        # The disc sees the board's lower face from below, and the coil through the board.
        seen = (1 - y) / (1 + y) * np.exp(-2 * k * gap)
        p[TURNS:, TURNS:] += on_disc.T @ ((w * seen)[:, None] * on_disc) / (4 * np.pi * EPSILON0)
        u = np.exp(-k * thickness)
        through = 2 * u * np.exp(-k * gap) / (1 + y) / (1 + u * u + (1 - u * u) / permittivity)
        p[:TURNS, TURNS:] = on_coil.T @ ((w * through)[:, None] * on_disc) / (2 * np.pi * EPSILON0)
        p[TURNS:, :TURNS] = p[:TURNS, TURNS:].T
    belongs = np.zeros((len(p), TURNS + 1))
    belongs[:TURNS, :TURNS] = np.eye(TURNS)
    belongs[TURNS:, TURNS] = 1
    p = np.linalg.inv(belongs.T @ np.linalg.inv(p) @ belongs)
    d = np.vstack([np.eye(TURNS) - np.eye(TURNS, k=1), np.zeros(TURNS)])
    d[TURNS, 0] = -1
    m = inductances(0, None)
    return np.sqrt(eigh(d.T @ p @ d, m, subset_by_index=[0, 0], eigvals_only=True)[0]) / (2 * np.pi)


def floating():
    for board in [(3.0, 2e-3), (3.0, 3e-3)]:
        for radius, depth in [(30e-3, 10e-3), (40e-3, 10e-3), (50e-3, 10e-3), (40e-3, 20e-3), (40e-3, 5e-3), (50e-3, 5e-3)]:
            shift = over_disc(board, radius, depth) / over_disc(None, radius, depth) - 1
            print(f"board {board[1] * 1e3:g} mm, disc {2e3 * radius:g} mm wide {depth * 1e3:g} mm below: {shift:+.4f}")


def rows():
    planes = [(None, None)] + [(plane, mm * 1e-3) for plane in ("table", "metal") for mm in (5, 10, 20, 50)]
    for board in [(3.0, 2e-3), (3.0, 3e-3), (4.5, 1.6e-3), (10.0, 1e-3)]:
        for plane, distance in planes:
            row(0, board, plane, distance)
    for plane, distance in planes[:3]:
        row(30, (3.0, 3e-3), plane, distance)


if __name__ == "__main__":
    floating() if sys.argv[1:] == ["floating"] else rows()
