"""Pocket calculations of durability: spectra, rainflow count, damage."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import Given, Number, Read, above_zero, formula, from_zero
from firstoff.physics.durability import miner, spectra, spectral_damage


def _moments(x: Read) -> spectra.Moments:
    return spectra.band_moments(x["f1_Hz"], x["f2_Hz"], x["G_MPa2_per_Hz"])


def _spectral_moments(x: Read, _: Given) -> Mapping[str, Any]:
    m = _moments(x)
    return {**m._asdict(), "rms": m.rms, "nu0": m.crossings, "nup": m.peaks, "gamma": m.irregularity}


def _psd_rms(x: Read, _: Given) -> Mapping[str, Any]:
    steep = spectra.slopes(x["f_Hz"], x["G_g2_per_Hz"])
    return {
        "grms": spectra.break_point_moments(x["f_Hz"], x["G_g2_per_Hz"]).rms,
        "slope_low": steep[0],
        "slope_high": steep[-1],
        "slopes": steep,
    }


def _narrow(x: Read, _: Given) -> Mapping[str, Any]:
    return {"D_per_s": spectral_damage.narrow_band_damage(_moments(x), float(x["k"]), float(x["C"]))}


def _dirlik(x: Read, _: Given) -> Mapping[str, Any]:
    found = spectral_damage.dirlik(_moments(x), float(x["k"]), float(x["C"]))
    return {
        "D1": found.d1, "D2": found.d2, "D3": found.d3, "R": found.r, "Q": found.q, "xm": found.mean_frequency,
        "D_per_s": found.damage,
    }  # fmt: skip


def _count(x: Read, _: Given) -> Mapping[str, Any]:
    from firstoff.physics.durability import rainflow

    ranges, counts = rainflow.table(*rainflow.cycles(x["series"]))
    return {"range": ranges, "count": counts}


def _series(x: Read, _: Given) -> Mapping[str, Any]:
    from firstoff.physics.durability import rainflow

    ranges, counts = rainflow.cycles(x["series"] * x.get("scale_MPa", np.array(1.0)))
    damage = miner.history_damage(ranges, counts, float(x["k"]), float(x["C"]))
    return {"D_per_pass": damage, "passes_to_D1": 1.0 / damage}


def _blocks(x: Read, _: Given) -> Mapping[str, Any]:
    damage = miner.block_damage(x["n"], x["N"])
    return {"D": damage} | ({"repeats": 1.0 / damage} if damage > 0.0 else {})


_BANDS = {
    "f1_Hz": from_zero("lower frequency of each flat band", lists=True),
    "f2_Hz": above_zero("upper frequency of each band", lists=True),
    "G_MPa2_per_Hz": from_zero("one-sided stress PSD in each band", lists=True),
}
_LINE = {
    "k": Number("exponent of the S-N line N = C Sa^-k, 1 to 30", least=1.0, most=30.0, lists=False),
    "C": above_zero("constant of the S-N line in stress amplitude, MPa^k", lists=False),
}
_RATE = {"D_per_s": "1/s"}

CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "spectral-moments",
        "Moments of a stress PSD given by flat bands",
        "definitions; one-sided PSD, frequency in Hz",
        _BANDS,
        {
            "m0": "MPa2",
            "m1": "MPa2.Hz",
            "m2": "MPa2.Hz2",
            "m4": "MPa2.Hz4",
            "rms": "MPa",
            "nu0": "Hz",
            "nup": "Hz",
            "gamma": "1",
        },  # fmt: skip
        _spectral_moments,
    ),
    formula(
        "psd-rms",
        "RMS of an acceleration PSD given by break points on log-log axes",
        "integral of a power law; checked with quadrature",
        {
            "f_Hz": above_zero("frequencies of the break points, rising", lists=True),
            "G_g2_per_Hz": above_zero("one-sided PSD at them", lists=True),
        },
        {"grms": "g", "slope_low": "dB/oct", "slope_high": "dB/oct", "slopes": "dB/oct"},
        _psd_rms,
    ),
    formula(
        "narrow-band-damage",
        "Damage rate of a narrow-band stress process",
        "Bendat 1964, Miles 1954",
        {**_BANDS, **_LINE},
        _RATE,
        _narrow,
    ),
    formula(
        "dirlik-damage",
        "Damage rate of a stress process after Dirlik",
        "Dirlik 1985, form in public texts",
        {**_BANDS, **_LINE},
        dict.fromkeys(("D1", "D2", "D3", "R", "Q", "xm"), "1") | _RATE,
        _dirlik,
    ),
    formula(
        "rainflow-count",
        "Rainflow count of an open history, half cycles at the ends",
        "ASTM E1049-85, clause 5.4.4",
        {"series": Number("history, in order of time", lists=True)},
        {"range": "unit of the history", "count": "cycles"},
        _count,
    ),
    formula(
        "miner-damage-series",
        "Damage of a stress history: rainflow count and linear rule",
        "Palmgren and Miner, Basquin line in amplitude; ASTM E1049-85",
        {
            "series": Number("history, in order of time", lists=True),
            "scale_MPa": above_zero("stress of one unit of the history, 1 when left out", lists=False, optional=True),
            **_LINE,
        },
        {"D_per_pass": "1", "passes_to_D1": "1"},
        _series,
    ),
    formula(
        "miner-blocks",
        "Damage of load blocks",
        "Palmgren and Miner",
        {"n": from_zero("cycles of each block"), "N": above_zero("life at the level of each block")},
        {"D": "1", "repeats": "1"},
        _blocks,
    ),
)
