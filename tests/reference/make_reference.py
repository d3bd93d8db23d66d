#!/usr/bin/env python3
"""Makes reference.json, the values the Rust statistics and spectra are held against.

    make_reference.py            writes reference.json beside this file
    make_reference.py --check    compares with the stored file (1e-9 relative), exit status 1 on a mismatch

Needs the packages of requirements.txt. Every input is either printed in the file or made by the generator
below, which the Rust tests repeat: s <- 16807 s mod (2^31 - 1) from s = 12345, u = s/(2^31 - 1) - 0.5
(Park & Miller 1988).
"""

import json
import math
import pathlib
import sys

import geographiclib
import numpy as np
import scipy
import statsmodels
from geographiclib.geodesic import Geodesic
from scipy import signal, stats
from statsmodels.stats.multitest import multipletests

STORED = pathlib.Path(__file__).with_name("reference.json")
KEEP_EVERY = 7


def uniform(n, seed=12345):
    """n values of the generator in (-0.5, 0.5)."""
    state, out = seed, np.empty(n)
    for i in range(n):
        state = state * 16807 % 2147483647
        out[i] = state / 2147483647 - 0.5
    return out


def ar1(phi, n, seed=12345):
    """z[0] = u[0], z[i] = phi z[i-1] + u[i]."""
    z = uniform(n, seed)
    for i in range(1, n):
        z[i] += phi * z[i - 1]
    return z


def channels(n=2048):
    """x: AR(1) phi 0.8 plus a sine at 7.3 Hz, fs = 100; y: 0.6 of x two readings later, with noise."""
    t = np.arange(n) / 100.0
    x = ar1(0.8, n) + 0.4 * np.sin(2 * math.pi * 7.3 * t)
    y = 0.6 * np.concatenate([np.zeros(2), x[:-2]]) + 0.5 * ar1(0.5, n, 54321)
    return x, y


def spectra():
    x, y = channels()
    out = {"rate_hz": 100.0, "readings": len(x), "keep_every": KEEP_EVERY, "cases": []}
    for nperseg in (256, 200, 255):
        options = {"fs": 100.0, "window": signal.get_window("hann", nperseg), "nperseg": nperseg,
                   "noverlap": nperseg // 2, "detrend": "constant"}
        _, pxx = signal.welch(x, **options)
        _, pxy = signal.csd(x, y, **options)
        _, coherence = signal.coherence(x, y, **options)
        out["cases"].append({
            "segment_len": nperseg,
            "bins": len(pxx),
            "psd": pxx[::KEEP_EVERY].tolist(),
            "psd_last": float(pxx[-1]),
            "csd_re": pxy.real[::KEEP_EVERY].tolist(),
            "csd_im": pxy.imag[::KEEP_EVERY].tolist(),
            # Bin 0 holds only what rounding leaves of the removed mean: its coherence is noise over noise.
            "coherence": coherence[KEEP_EVERY::KEEP_EVERY].tolist(),
        })
    return out


def two_samples():
    out = []
    rng = 0.5 + uniform(64, 777)
    sets = [(10 + rng[:3], 9.2 + 2 * rng[3:6]), (5 + rng[6:11], 5.3 + 0.3 * rng[11:18]),
            (rng[18:26], 0.2 + rng[26:33])]
    for a, b in sets:
        welch = stats.ttest_ind(a, b, equal_var=False)
        ci = welch.confidence_interval(0.95)
        # scipy's "two-sided" doubles the smaller tail; ours counts |difference|, so that is the statistic here.
        exact = stats.permutation_test((a, b), lambda p, q, axis: np.abs(np.mean(p, axis) - np.mean(q, axis)),
                                       vectorized=True, n_resamples=np.inf, alternative="greater")
        out.append({"a": a.tolist(), "b": b.tolist(), "t": welch.statistic, "dof": welch.df, "p": welch.pvalue,
                    "low": ci.low, "high": ci.high, "permutation_p": exact.pvalue, **hedges(a, b)})
    return out


def hedges(a, b):
    """Hedges' g by the gamma formula and its interval by inverting scipy's noncentral t."""
    n, m = len(a), len(b)
    dof = n + m - 2
    pooled = math.sqrt((np.var(a, ddof=1) * (n - 1) + np.var(b, ddof=1) * (m - 1)) / dof)
    return standardised("g", (np.mean(a) - np.mean(b)) / pooled, math.sqrt(n * m / (n + m)), dof)


def standardised(name, effect, to_t, dof):
    t = effect * to_t
    unbiased = math.exp(math.lgamma(dof / 2) - math.lgamma((dof - 1) / 2)) / math.sqrt(dof / 2)
    ends = [scipy.optimize.brentq(lambda d: stats.nct.cdf(t, dof, d) - p, t - 30, t + 30, xtol=1e-12)
            for p in (0.975, 0.025)]
    return {name: t / to_t * unbiased, f"{name}_low": ends[0] / to_t * unbiased, f"{name}_high": ends[1] / to_t * unbiased}


def pairs():
    u = uniform(20, 99)
    a, b = 3 + u[:10], 2.9 + 0.5 * u[:10] + 0.6 * u[10:]
    t = stats.ttest_rel(a, b)
    ci = t.confidence_interval(0.95)
    flips = stats.permutation_test((a - b,), lambda d, axis: np.abs(np.mean(d, axis)), permutation_type="samples",
                                   vectorized=True, n_resamples=np.inf, alternative="greater")
    # The mean of the differences over their SD, freed of bias (Hedges) and inverted as for independent sets.
    effect = standardised("g_z", np.mean(a - b) / np.std(a - b, ddof=1), math.sqrt(len(a)), len(a) - 1)
    return {"a": a.tolist(), "b": b.tolist(), "t": t.statistic, "p": t.pvalue, "low": ci.low, "high": ci.high,
            "sign_flip_p": flips.pvalue, **effect}


def holm():
    p = [0.012, 0.3, 0.0004, 0.049, 0.02, 0.9]
    return {"p": p, "adjusted": multipletests(p, method="holm")[1].tolist()}


def places():
    """Geodesics on WGS-84 as long as a furrow: from latitude and longitude to latitude and longitude."""
    out = []
    for ends in ((30.0, -40.0, 30.0005, -40.0004), (0.0, 10.0, 0.001, 10.002), (59.9, 179.9995, 59.9004, -179.9994),
                 (-45.0, 5.0, -45.004, 5.0), (70.0, 20.0, 70.0, 20.01)):
        out.append({"ends_deg": list(ends), "m": Geodesic.WGS84.Inverse(*ends)["s12"]})
    return out


def percentiles():
    z = ar1(0.8, 500)
    at = [0.0, 5.0, 33.3, 50.0, 95.0, 100.0]
    return {"at": at, "values": np.percentile(z, at).tolist()}


def oscillators():
    """Welch spectra of damped oscillators under white noise on red noise: impulse-invariant second-order filters."""
    rate_hz, seconds, nperseg, last_hz = 50.0, 240, 1000, 16.0
    out = []
    # (natural frequency Hz, damping ratio, RMS) of each mode; noise with a corner at 0.3 Hz and an RMS of 1.
    for seed, modes in ((1, [(2.1, 0.06, 1.5)]), (2, [(1.6, 0.15, 1.2)]), (3, [(2.0, 0.08, 1.5), (3.4, 0.1, 1.0)]),
                        (4, [(3.04, 0.12, 1.5), (4.04, 0.15, 0.8)])):
        rng = np.random.default_rng(seed)
        n, lead = int(seconds * rate_hz), int(60 * rate_hz)
        keep = math.exp(-2 * math.pi * 0.3 / rate_hz)
        series = signal.lfilter([math.sqrt(1 - keep * keep)], [1, -keep], rng.standard_normal(n + lead))
        for hz, zeta, rms in modes:
            angle = 2 * math.pi * hz * math.sqrt(1 - zeta * zeta) / rate_hz
            decay = math.exp(-2 * math.pi * hz * zeta / rate_hz)
            b, a = [0.0, decay * math.sin(angle)], [1.0, -2 * decay * math.cos(angle), decay * decay]
            of_one = signal.lfilter(b, a, np.eye(1, 4000)[0])
            swing = signal.lfilter(b, a, rng.standard_normal(n + lead))
            series = series + rms * swing / math.sqrt(np.sum(of_one ** 2))
        f, density = signal.welch(series[lead:], fs=rate_hz, window=signal.get_window("hann", nperseg),
                                  nperseg=nperseg, noverlap=nperseg // 2, detrend="constant")
        out.append({"rate_hz": rate_hz, "readings": n, "segment_len": nperseg, "modes": [list(m) for m in modes],
                    "psd": [float(f"{d:.10e}") for d in density[f <= last_hz]]})
    return out


def half_car():
    """A plane rigid body on two sprung wheels over land that passes under one after the other: natural frequency,
    damping ratio and RMS of the tail wheel's load of each mode alone, and where the whole load's spectrum peaks.

    Heave z and pitch t (nose up) of the center of gravity; the wheels lie a ahead and b behind. Eigenvalues of the
    state matrix; the land is white noise through first-order filters at 0.3 and 6 Hz, one-sided density 1 at 0.
    """
    m, r, a, b, v = 450.0, 1.2, 0.75, 1.25, 2.2
    kf, kt, cf, ct = 194404.0, 88156.0, 2264.0, 1123.0
    inverse = np.diag([1 / m, 1 / (m * r * r)])
    at = np.array([[1.0, a], [1.0, -b]])
    k, c = at.T @ np.diag([kf, kt]) @ at, at.T @ np.diag([cf, ct]) @ at
    state = np.block([[np.zeros((2, 2)), np.eye(2)], [-inverse @ k, -inverse @ c]])
    roots, shapes = np.linalg.eig(state)
    left = np.linalg.inv(shapes)

    def land(f):
        return 1 / (1 + (f / 0.3) ** 2) / (1 + (f / 6.0) ** 2)

    def force(f):
        s = 2j * math.pi * f
        under = np.array([1.0, np.exp(-s * (a + b) / v)])
        return s, under, np.concatenate([np.zeros(2), inverse @ at.T @ (np.array([kf + cf * s, kt + ct * s]) * under)])

    def whole(f):
        s, under, push = force(f)
        moved = np.linalg.solve(s * np.eye(4) - state, push)
        return abs((kt + ct * s) * (under[1] - at[1] @ moved[:2])) ** 2 * land(f)

    modes = []
    for i in np.argsort(abs(roots)):
        if roots[i].imag > 0:
            hz, zeta, damped_hz = abs(roots[i]) / 2 / math.pi, -roots[i].real / abs(roots[i]), roots[i].imag / 2 / math.pi
            s, _, push = force(damped_hz)
            pair = (i, int(np.argmin(abs(roots - roots[i].conjugate()))))
            part = sum(shapes[:, j] * (left[j] @ push) / (s - roots[j]) for j in pair)
            density = abs((kt + ct * s) * (at[1] @ part[:2])) ** 2 * land(damped_hz)
            modes.append({"natural_hz": float(hz), "damping_ratio": float(zeta),
                          "rms_n": float(math.sqrt(math.pi * zeta * hz * density))})
    f = np.arange(1, 1500) * 0.01
    density = [whole(x) for x in f]
    return {"mass_kg": m, "gyration_m": r, "front_m": a, "tail_m": b, "speed_mps": v, "front_n_per_m": kf,
            "tail_n_per_m": kt, "front_n_s_per_m": cf, "tail_n_s_per_m": ct, "modes": modes,
            "peak_hz": round(float(f[int(np.argmax(density))]), 2)}


def make():
    return {
        "made_with": {"numpy": np.__version__, "scipy": scipy.__version__, "statsmodels": statsmodels.__version__,
                      "geographiclib": geographiclib.__version__},
        "spectra": spectra(),
        "two_samples": two_samples(),
        "pairs": pairs(),
        "holm": holm(),
        "percentiles": percentiles(),
        "places": places(),
        "oscillators": oscillators(),
        "half_car": half_car(),
    }


def mismatches(stored, made, path=""):
    """Where two values differ by more than 1e-9 relative (1e-15 absolute for values that are rounding)."""
    if isinstance(stored, dict) and isinstance(made, dict):
        for key in sorted(stored.keys() | made.keys()):
            yield from mismatches(stored.get(key), made.get(key), f"{path}.{key}")
    elif isinstance(stored, list) and isinstance(made, list) and len(stored) == len(made):
        for i, (one, other) in enumerate(zip(stored, made)):
            yield from mismatches(one, other, f"{path}[{i}]")
    elif isinstance(stored, (int, float)) and isinstance(made, (int, float)):
        if not math.isclose(stored, made, rel_tol=1e-9, abs_tol=1e-15):
            yield f"{path}: stored {stored!r}, made {made!r}"
    elif stored != made:
        yield f"{path}: stored {stored!r}, made {made!r}"


def main():
    text = json.dumps(make(), indent=1) + "\n"
    if sys.argv[1:] == ["--check"]:
        found = list(mismatches(json.loads(STORED.read_text()), json.loads(text)))
        print("\n".join(found) if found else "reference.json agrees")
        sys.exit(1 if found else 0)
    if sys.argv[1:]:
        sys.exit(__doc__)
    STORED.write_text(text)


if __name__ == "__main__":
    main()
