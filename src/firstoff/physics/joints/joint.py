"""A bolted joint under load: who carries it, when it opens, slips or pries."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within

GRAVITY = 9.80665  # m/s2, standard


class LoadShare(NamedTuple):
    """Force in the bolt, force left between the parts, axial load at which they part [N]."""

    bolt: FloatArray
    clamp: FloatArray
    separation: FloatArray


def load_share(preload: Numbers, load_factor: Numbers, axial: Numbers) -> LoadShare:
    """Share of an axial load between the bolt and the clamped parts.

    F_bolt = F_V + phi F_A, F_clamp = F_V - (1 - phi) F_A up to F_A = F_V/(1 - phi), where the parts separate; beyond it
    the bolt carries F_A alone and nothing is clamped.

    preload F_V [N] > 0; load_factor phi = k_b/(k_b + k_p), 0 <= phi < 1; axial F_A [N] >= 0 pulls the parts apart; any
    one shape. Concentric, elastic. Source: joint diagram (textbook). ValueError out of range.
    """
    v, a = positive("preload", preload), not_negative("axial load", axial)
    phi = within("load factor", load_factor, least=0.0, below=1.0)
    return LoadShare(np.maximum(v + phi * a, a), np.maximum(v - (1.0 - phi) * a, 0.0), v / (1.0 - phi))


def slip(
    bolts: Numbers, faces: Numbers, friction: Numbers, clamp_min: Numbers, mass: Numbers, acceleration: Numbers
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Load at which a joint slips [N], load of an impact [N], safety against slip.

    F_slip = n z mu F_clamp; F = m a; safety = F_slip/F.

    bolts n, faces z: counts; friction mu between the parts, 0 to 1; clamp_min F_clamp [N], the least left in a bolt
    after scatter and embedding; mass m [kg]; acceleration a [m/s2]; all > 0. Rigid parts, equal share per bolt. Source:
    statics of friction. ValueError out of range.
    """
    mu = within("friction coefficient", friction, above=0.0, most=1.0)
    holds = positive("bolts", bolts) * positive("faces", faces) * mu * positive("clamp force", clamp_min)
    load = positive("mass", mass) * positive("acceleration", acceleration)
    return holds, load, holds / load


class Stub(NamedTuple):
    """Plastic moment [N m], resistances of the modes [N], the least, its mode, bolts' force minus F2, prying [N]."""

    plastic_moment: FloatArray
    mode_1: FloatArray  # flange yields
    mode_2: FloatArray  # bolts break with flange yielding
    mode_3: FloatArray  # bolts break
    resistance: FloatArray
    mode: npt.NDArray[np.int64]
    bolts_over_mode_2: FloatArray
    prying: FloatArray  # at the resistance


def t_stub(
    effective_length: Numbers,
    flange: Numbers,
    yield_strength: Numbers,
    lever: Numbers,
    edge: Numbers,
    bolts: Numbers,
    bolt_resistance: Numbers,
    partial_factor: Numbers = 1.0,
) -> Stub:
    """Resistance of a T-stub flange in tension, with prying.

    M_pl = l_eff t_f^2 f_y/(4 gamma_M0); F1 = 4 M_pl/m; F2 = (2 M_pl + n sum F_t)/(m + n); F3 = sum F_t.
    Prying at the resistance: 2 M_pl/n in mode 1, sum F_t - F2 in mode 2, none in mode 3.

    effective_length l_eff, flange t_f, lever m, edge n [m]; yield_strength f_y [Pa]; bolts: count; bolt_resistance F_t
    of one [N]; partial_factor gamma_M0; all > 0, n <= 1.25 m. Source: EN 1993-1-8 table 6.2, method 1 (from memory);
    the modes follow from virtual work. ValueError out of range.
    """
    m, n = positive("lever m", lever), positive("edge distance n", edge)
    if not np.all(n <= 1.25 * m * (1.0 + 1e-12)):
        raise ValueError("n must be at most 1.25 m: take the smaller of the edge distance and 1.25 m")
    moment = 0.25 * positive("effective length", effective_length) * positive("flange", flange) ** 2
    moment = moment * positive("yield strength", yield_strength) / positive("partial factor", partial_factor)
    total = positive("bolts", bolts) * positive("bolt resistance", bolt_resistance)
    first, second = 4.0 * moment / m, (2.0 * moment + n * total) / (m + n)
    modes = np.stack(np.broadcast_arrays(first, second, total))
    mode = np.argmin(modes, axis=0)
    prying = np.choose(mode, np.broadcast_arrays(2.0 * moment / n, total - second, np.zeros_like(total)))
    return Stub(moment, first, second, total, np.min(modes, axis=0), mode + 1, total - second, prying)
