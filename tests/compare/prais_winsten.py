"""Prais-Winsten on a made-up data set, by numpy, to hold the program's drift estimator against.

    python3 -m venv target/venv && target/venv/bin/pip install numpy statsmodels
    target/venv/bin/python tests/compare/prais_winsten.py

The data are invented (a frequency pushed by a sagging battery, with AR(1) scatter). Nothing here shares code with the
program: the transformed rows are written out one by one and solved by a QR factorisation; Cochrane-Orcutt is taken from
statsmodels' GLSAR.
"""

import numpy as np
import statsmodels.api as sm


def data():
    state = 1234567890

    def uniform():
        nonlocal state
        state = 16807 * state % 2147483647
        return state / 2147483647

    scatter, t, v, f = 0.0, [], [], []
    for i in range(200):
        x = i / 199
        scatter = 0.8 * scatter + 30 * (sum(uniform() for _ in range(12)) - 6)
        t.append(10.0 * i)
        v.append(9 - 1.2 * x - 0.3 * x * x)
        f.append(3200000 + 12000 * (v[-1] - 8) - 0.5 * t[-1] + scatter)
    return np.array(t), np.array(v), np.array(f)


def transformed(z, rho, begins):
    """Rows with the autocorrelation taken out, the first of each stretch kept with weight sqrt(1 - rho^2)."""
    return np.array(
        [
            np.sqrt(1 - rho * rho) * z[i] if begins[i] else z[i] - rho * z[i - 1]
            for i in range(len(z))
        ]
    )


def prais_winsten(x, y, begins):
    rho, n, pairs = 0.0, len(y), len(y) - sum(begins)
    for rounds in range(2000):
        xt, yt = transformed(x, rho, begins), transformed(y, rho, begins)
        q, r = np.linalg.qr(xt)
        b = np.linalg.solve(r, q.T @ yt)
        e = y - x @ b
        e = e - e.mean()
        lagged = sum(e[i] * e[i - 1] for i in range(n) if not begins[i])
        new = (lagged / pairs) / (e @ e / n)
        if abs(new - rho) < 1e-13:
            break
        rho = new
    residual = yt - xt @ b
    inverse = np.linalg.inv(r)
    se = np.sqrt(residual @ residual / (n - x.shape[1]) * np.diag(inverse @ inverse.T))
    return b, se, rho


def show(name, slopes, errors, rho):
    print(f"{name}: rho {rho:.10f}")
    for slope, error in zip(slopes[1:], errors[1:]):
        print(f"    slope {slope:.10g} se {error:.10g}")


def main():
    t, v, f = data()
    y = f - f[0]
    one = np.ones_like(t)
    whole = [i == 0 for i in range(len(t))]
    # Rows 60..69 and 140 are lost: three stretches.
    kept = np.array([i for i in range(len(t)) if not (60 <= i < 70 or i == 140)])
    parted = [i in (0, 70, 141) for i in kept]
    for name, columns in [
        ("f on t", [one, t]),
        ("f on V", [one, v - v[0]]),
        ("f on t and V", [one, t, v - v[0]]),
    ]:
        x = np.column_stack(columns)
        show(f"{name}, Prais-Winsten", *prais_winsten(x, y, whole))
        show(f"{name}, Prais-Winsten in three stretches", *prais_winsten(x[kept], y[kept], parted))
        model = sm.GLSAR(y, x, 1)
        fit = model.iterative_fit(maxiter=2000, rtol=1e-13)
        show(f"{name}, GLSAR", fit.params, fit.bse, model.rho[0])


main()
