"""The ring model of the example coil, vectorised in numpy and scipy: what it finds and how long it takes.

    python3 -m venv target/venv && target/venv/bin/pip install numpy scipy
    target/venv/bin/python tests/compare/rings.py            # one line: hertz, seconds
    cargo bench --bench rings                                 # runs it too and prints the ratio

450 turns of 0.2 mm on 16.22 mm over 99 mm, foot earthed over a table plane 5 mm below, three earthed turns of primary
round the foot; 160 rings and 80, extrapolated. Nothing here shares code with the program: elliptic integrals, Cholesky
factors and eigenvalues are scipy's. As there, the tables of a cylinder's pairs are filled once for each distance.
"""

import time

import numpy as np
from scipy.linalg import cho_factor, cho_solve, eigh, toeplitz
from scipy.special import ellipe, ellipkm1

EPSILON0, MU0 = 8.8541878128e-12, 4e-7 * np.pi
TURNS, RADIUS, LENGTH, WIRE, PLANE = 450, 8.11e-3, 0.099, 0.2e-3, -5e-3
PRIMARY_RADIUS, PRIMARY_HEIGHTS, PRIMARY_WIRE = 11e-3, np.array([1e-3, 3e-3, 5e-3]), 1e-3
ROUNDS = 15


def integrals(a, b, z):
    reach2 = (a + b) ** 2 + z**2
    m1 = ((a - b) ** 2 + z**2) / reach2
    return reach2, m1, ellipkm1(m1), ellipe(1 - m1)


def potential(a, b, z):
    reach2, _, k, _ = integrals(a, b, z)
    return k / (2 * np.pi**2 * EPSILON0 * np.sqrt(reach2))


def mutual(a, b, z):
    _, m1, k, e = integrals(a, b, z)
    root = np.sqrt(1 - m1)
    return MU0 * np.sqrt(a * b) * ((2 / root - root) * k - 2 / root * e)


def own_potential(radius, wire_radius):
    return np.log(8 * radius / wire_radius) / (4 * np.pi**2 * EPSILON0 * radius)


def own_inductance(radius, wire_radius):
    return MU0 * radius * (np.log(8 * radius / wire_radius) - 2)


def round_wire_inductance():
    """Lorenz's current sheet less Rosa's corrections for current on the surface of round wire."""
    u = 2 * RADIUS / LENGTH
    k2, k1 = u * u / (1 + u * u), 1 / np.sqrt(1 + u * u)
    big_k, e = ellipkm1(1 - k2), ellipe(k2)
    nagaoka = 4 / (3 * np.pi * k1) * ((k1 * k1 / k2) * (big_k - e) + e - np.sqrt(k2))
    sheet = MU0 * np.pi * RADIUS**2 * TURNS**2 / LENGTH * nagaoka
    n = TURNS
    km = np.log(2 * np.pi) - 1.5 - np.log(n) / (6 * n) - 0.33084236 / n - 1 / (120 * n**3)
    ks = 1.5 - np.log(2 * LENGTH / TURNS / WIRE)
    return sheet - MU0 * RADIUS * TURNS * (ks + km)


def resonance(n):
    step = LENGTH / n
    gaps, sums = np.arange(1, n) * step, (np.arange(2 * n - 1) + 1) * step
    term = np.log(LENGTH / TURNS / (np.pi * WIRE)) * n / TURNS
    own = own_potential(RADIUS, step / (2 * np.pi)) + term / (4 * np.pi**2 * EPSILON0 * RADIUS)
    image = potential(RADIUS, RADIUS, sums - 2 * PLANE)
    places = np.arange(n)
    p = toeplitz(np.r_[own, potential(RADIUS, RADIUS, gaps)])
    p -= image[places[:, None] + places[None, :]]

    middles = (places + 0.5) * step
    flat = PRIMARY_HEIGHTS[:, None]
    beside = potential(PRIMARY_RADIUS, RADIUS, flat - middles)
    beside -= potential(PRIMARY_RADIUS, RADIUS, 2 * PLANE - flat - middles)
    apart = np.abs(flat - PRIMARY_HEIGHTS)
    np.fill_diagonal(apart, 1)
    bodies = potential(PRIMARY_RADIUS, PRIMARY_RADIUS, apart)
    np.fill_diagonal(bodies, own_potential(PRIMARY_RADIUS, PRIMARY_WIRE / 2))
    bodies -= potential(PRIMARY_RADIUS, PRIMARY_RADIUS, 2 * PLANE - flat - PRIMARY_HEIGHTS)
    p -= beside.T @ cho_solve(cho_factor(bodies), beside)

    m = toeplitz(np.r_[own_inductance(RADIUS, step / (2 * np.pi)), mutual(RADIUS, RADIUS, np.arange(1, n + 1) * step)])
    m[0, 0] = m[n, n] = own_inductance(RADIUS, step / (4 * np.pi))
    share = np.full(n + 1, TURNS / n)
    share[[0, n]] /= 2
    m *= np.outer(share, share)
    m *= round_wire_inductance() / m.sum()

    # Edge j brings charge to element j and takes it from element j - 1; the top edge carries none.
    across = p.copy()
    across[:, 1:] -= p[:, :-1]
    stiffness = across.copy()
    stiffness[1:] -= across[:-1]
    lowest = eigh(stiffness, m[:n, :n], eigvals_only=True, subset_by_index=[0, 0])
    return np.sqrt(lowest[0]) / (2 * np.pi)


def extrapolated():
    return 2 * resonance(160) - resonance(80)


def main():
    best = np.inf
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        found = extrapolated()
        best = min(best, time.perf_counter() - begun)
    print(f"{found:.3f} {best:.6f}")


if __name__ == "__main__":
    main()
