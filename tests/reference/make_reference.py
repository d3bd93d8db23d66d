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
    to_t = math.sqrt(n * m / (n + m))
    t = (np.mean(a) - np.mean(b)) / pooled * to_t
    unbiased = math.exp(math.lgamma(dof / 2) - math.lgamma((dof - 1) / 2)) / math.sqrt(dof / 2)
    ends = [scipy.optimize.brentq(lambda d: stats.nct.cdf(t, dof, d) - p, t - 30, t + 30, xtol=1e-12)
            for p in (0.975, 0.025)]
    return {"g": t / to_t * unbiased, "g_low": ends[0] / to_t * unbiased, "g_high": ends[1] / to_t * unbiased}


def pairs():
    u = uniform(20, 99)
    a, b = 3 + u[:10], 2.9 + 0.5 * u[:10] + 0.6 * u[10:]
    t = stats.ttest_rel(a, b)
    ci = t.confidence_interval(0.95)
    flips = stats.permutation_test((a - b,), lambda d, axis: np.abs(np.mean(d, axis)), permutation_type="samples",
                                   vectorized=True, n_resamples=np.inf, alternative="greater")
    return {"a": a.tolist(), "b": b.tolist(), "t": t.statistic, "p": t.pvalue, "low": ci.low, "high": ci.high,
            "sign_flip_p": flips.pvalue}


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
