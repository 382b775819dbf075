"""Pocket calculations of bolted joints: threads, preload, torque, load share, slip, prying, stripping."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import (
    MM,
    MM2,
    MPA,
    Given,
    Number,
    Read,
    above_zero,
    formula,
    from_zero,
    thread_of,
    together,
    whole_number,
)
from firstoff.physics.joints import joint, preload, threads

NMM = 1e-3
_THREAD = "thread as on a drawing, M10x1.25; says the sizes that are left out, and must agree with those given"


def _size(x: Read, given: Given) -> tuple[Any, Any]:
    """Nominal diameter and pitch [m] from the numbers, the thread's name, or both where they agree."""
    named = thread_of(given)
    d, p = x.get("d_mm"), x.get("P_mm")
    if named is not None:
        size, pitch = named[0] * MM, None if named[1] is None else named[1] * MM
        for key, told, written in (("d_mm", d, size), ("P_mm", p, pitch)):
            if told is not None and written is not None and not np.allclose(told, written, rtol=1e-9):
                raise ValueError(f"{key} does not agree with the thread {given['thread']!r}")
        d = np.array(size) if d is None else d
        if p is None:
            p = np.array(threads.coarse_pitch(size) if pitch is None else pitch)
    if d is None or p is None:
        raise ValueError("d_mm and P_mm, or a thread, must be given")
    return d, p


def _stress_area(x: Read, _: Given) -> Mapping[str, Any]:
    area = threads.stress_area(x["d_mm"], x["P_mm"])
    printed = np.array([float(f"{a:.3g}") for a in (area / MM2).ravel()]).reshape(area.shape)
    return {"As": area, "As_table": printed * MM2}


def _proof(_: Read, given: Given) -> Mapping[str, Any]:
    sizes = given["size"] if isinstance(given["size"], list) else [given["size"]]
    named = [thread_of({"thread": size}) for size in sizes]
    rows = [(n[0] * MM, threads.coarse_pitch(n[0] * MM) if n[1] is None else n[1] * MM) for n in named if n]
    found: dict[str, Any] = {}
    for grade in threads.property_classes():
        loads = [threads.proof_load(d, p, grade) for d, p in rows]
        if all(load is not None for load in loads):
            found[f"F_p_{grade}"] = loads if isinstance(given["size"], list) else loads[0]
    return found


def _assembly(x: Read, given: Given) -> Mapping[str, Any]:
    d, p = _size(x, given)
    mu = x["mu"]
    force = preload.assembly_preload(d, p, x["Rp_MPa"], mu, x.get("utilisation", 0.9))
    found: dict[str, Any] = {"F": force}
    if together(x, "dw_mm", "dh_mm"):
        head = preload.head_diameter(x["dw_mm"], x["dh_mm"])
        torque = preload.torque(force, d, p, mu, head)
        found |= {
            "M": torque,
            "K": torque / (d * force),
            "torque_full_motosh": preload.torque_motosh(force, d, p, mu, head),
            "torque_exact_tangent": preload.torque_of_wedge(force, d, p, mu, head),
        }
    return found


def _scatter(x: Read, given: Given) -> Mapping[str, Any]:
    d, p = _size(x, given)
    friction = (x["mu_min"], x["mu_nom"], x["mu_max"])
    high, mid, low = preload.preload_scatter(x["M_Nm"], x["tool_pct"], d, p, x["DKm_mm"], friction)
    return {"F_max": high, "F_nom": mid, "F_min": low, "alpha_A": high / low}


def _short(x: Read, _: Given) -> Mapping[str, Any]:
    return {"M": preload.torque_short(x["K"], x["d_mm"], x["F_N"])}


def _share(x: Read, _: Given) -> Mapping[str, Any]:
    if together(x, "k_b_N_per_mm", "k_p_N_per_mm"):
        if "phi" in x:
            raise ValueError("give phi or the two stiffnesses, not both")
        phi = x["k_b_N_per_mm"] / (x["k_b_N_per_mm"] + x["k_p_N_per_mm"])
    elif "phi" in x:
        phi = x["phi"]
    else:
        raise ValueError("phi, or k_b_N_per_mm and k_p_N_per_mm, must be given")
    found = joint.load_share(x["F_V_N"], phi, x["F_A_N"])
    return {"F_bolt": found.bolt, "F_clamp": found.clamp, "F_separation": found.separation}


def _slip(x: Read, _: Given) -> Mapping[str, Any]:
    for key in ("n_bolts", "n_faces"):
        for value in x[key].ravel():
            whole_number(key, value)
    acceleration = x["a_g"] * joint.GRAVITY
    found = joint.slip(x["n_bolts"], x["n_faces"], x["mu"], x["F_clamp_min_N"], x["m_kg"], acceleration)
    return dict(zip(("F_slip", "F_impact", "safety"), found, strict=True))


def _stub(x: Read, _: Given) -> Mapping[str, Any]:
    whole_number("bolts", x["bolts"])
    found = joint.t_stub(
        x["leff_mm"], x["tf_mm"], x["fy_MPa"], x["m_mm"], x["n_mm"], x["bolts"], x["Ft_each_N"], x.get("gamma_M0", 1.0)
    )
    return {
        "Mpl": found.plastic_moment, "F1": found.mode_1, "F2": found.mode_2, "F3": found.mode_3,
        "F_T": found.resistance, "prying_mode2": found.bolts_over_mode_2, "mode": int(found.mode),
        "prying": found.prying,
    }  # fmt: skip


def _strip(x: Read, given: Given) -> Mapping[str, Any]:
    _, pitch = _size(x, given)
    keys = ("D1max_mm", "d2min_mm", "dmin_mm", "D2max_mm", "tau_ext_MPa", "tau_int_MPa")
    found = threads.stripping(x["L_mm"], pitch, *(x[key] for key in keys))
    results: dict[str, Any] = {
        "As_ext": found.external_area, "An_int": found.internal_area,
        "F_strip_ext": found.external_force, "F_strip_int": found.internal_force,
    }  # fmt: skip
    if "bolt_break_load_N" in x:
        results["ratio_ext_to_bolt_break"] = found.external_force / x["bolt_break_load_N"]
        results["ratio_int_to_bolt_break"] = found.internal_force / x["bolt_break_load_N"]
    return results


_D = above_zero("nominal diameter", MM)
_P = above_zero("pitch", MM)
_D_MAY, _P_MAY = above_zero("nominal diameter", MM, optional=True), above_zero("pitch", MM, optional=True)
_MU = above_zero("friction coefficient of thread and head", most=1.0)
_FORCE, _TORQUE = "N", ("N.mm", NMM)
_PROOF_GIVES = {f"F_p_{grade}": "N" for grade in threads.property_classes()}

CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "thread-stress-area",
        "Tensile stress area of metric threads",
        "ISO 898-1; diameters of ISO 724",
        {"d_mm": _D, "P_mm": _P},
        {"As": ("mm2", MM2), "As_table": ("mm2, to the three digits the standard prints", MM2)},
        _stress_area,
    ),
    formula(
        "bolt-proof-load",
        "Proof load of bolts by property class",
        "ISO 898-1, stresses under proof load from a public reprint of its tables",
        {},
        _PROOF_GIVES,
        _proof,
        texts={"size": "thread or list of threads, M3 to M39: M10 (coarse) or M10x1.25"},
        needed_texts=("size",),
    ),
    formula(
        "bolt-assembly-preload",
        "Assembly preload and tightening torque at a share of the yield strength",
        "VDI 2230 part 1; Motosh 1976",
        {
            "d_mm": _D_MAY,
            "P_mm": _P_MAY,
            "Rp_MPa": above_zero("yield strength Rp0.2", MPA),
            "mu": _MU,
            "dw_mm": above_zero("bearing diameter of the head; with dh_mm for the torque", MM, optional=True),
            "dh_mm": above_zero("diameter of the hole", MM, optional=True),
            "utilisation": above_zero("share of the yield strength, 0.9 when left out", most=1.0, optional=True),
        },
        {"F": _FORCE, "M": _TORQUE, "K": "1", "torque_full_motosh": _TORQUE, "torque_exact_tangent": _TORQUE},
        _assembly,
        texts={"thread": _THREAD},
    ),
    formula(
        "bolt-torque-short-form",
        "Torque by the short form with a nut factor",
        "standard short form (textbook)",
        {"K": above_zero("nut factor"), "d_mm": _D, "F_N": above_zero("preload")},
        {"M": _TORQUE},
        _short,
    ),
    formula(
        "bolt-torque-scatter",
        "Limits of the preload from friction and tool scatter",
        "Motosh 1976; tightening factor as VDI 2230 defines it",
        {
            "d_mm": _D_MAY,
            "P_mm": _P_MAY,
            "DKm_mm": above_zero("mean diameter of friction under the head", MM),
            "M_Nm": above_zero("set torque"),
            "tool_pct": Number("scatter of the tool, plus and minus", 0.01, least=0.0, most=99.9),
            "mu_min": _MU,
            "mu_nom": _MU,
            "mu_max": _MU,
        },
        {"F_max": _FORCE, "F_nom": _FORCE, "F_min": _FORCE, "alpha_A": "1"},
        _scatter,
        texts={"thread": _THREAD},
    ),
    formula(
        "joint-load-share",
        "Share of an axial load between bolt and clamped parts",
        "joint diagram (textbook)",
        {
            "F_V_N": above_zero("preload"),
            "phi": from_zero("load factor k_b/(k_b + k_p), below 1", optional=True),
            "F_A_N": from_zero("axial load that pulls the parts apart"),
            "k_b_N_per_mm": above_zero("stiffness of the bolt, instead of phi", 1e3, optional=True),
            "k_p_N_per_mm": above_zero("stiffness of the parts, instead of phi", 1e3, optional=True),
        },
        {"F_bolt": _FORCE, "F_clamp": _FORCE, "F_separation": _FORCE},
        _share,
    ),
    formula(
        "joint-slip",
        "Slip of a bolted joint under an impact",
        "statics of friction",
        {
            "n_bolts": above_zero("bolts"),
            "n_faces": above_zero("faces of friction"),
            "mu": above_zero("friction coefficient between the parts", most=1.0),
            "F_clamp_min_N": above_zero("least clamp force of a bolt, after scatter and embedding"),
            "m_kg": above_zero("mass held by the joint"),
            "a_g": above_zero("acceleration of the impact, in g = 9.80665 m/s2"),
        },
        {"F_slip": _FORCE, "F_impact": _FORCE, "safety": "1"},
        _slip,
    ),
    formula(
        "t-stub-prying",
        "Resistance of a T-stub with prying, three modes",
        "EN 1993-1-8 table 6.2, method 1 (from memory); virtual work gives the same",
        {
            "leff_mm": above_zero("effective length", MM, lists=False),
            "tf_mm": above_zero("thickness of the flange", MM, lists=False),
            "fy_MPa": above_zero("yield strength of the flange", MPA, lists=False),
            "m_mm": above_zero("distance of the bolt to the web's fillet", MM, lists=False),
            "n_mm": above_zero("distance of the bolt to the edge, at most 1.25 m", MM, lists=False),
            "bolts": above_zero("bolts of the stub, both sides", lists=False),
            "Ft_each_N": above_zero("tension resistance of one bolt", lists=False),
            "gamma_M0": above_zero("partial factor, 1 when left out", lists=False, optional=True),
        },
        {
            "Mpl": _TORQUE,
            "F1": _FORCE,
            "F2": _FORCE,
            "F3": _FORCE,
            "F_T": _FORCE,
            "prying_mode2": "N (sum Ft - F2)",
            "mode": "1",
            "prying": "N (at F_T)",
        },  # fmt: skip
        _stub,
    ),
    formula(
        "thread-stripping",
        "Stripping areas and forces of external and internal thread, worst limits of size",
        "FED-STD-H28 (from memory); no bell-mouth, no bending of the nut",
        {
            "L_mm": above_zero("length of engagement", MM),
            "P_mm": _P_MAY,
            "D1max_mm": above_zero("largest minor diameter of the internal thread", MM),
            "d2min_mm": above_zero("least pitch diameter of the external thread", MM),
            "dmin_mm": above_zero("least major diameter of the external thread", MM),
            "D2max_mm": above_zero("largest pitch diameter of the internal thread", MM),
            "tau_ext_MPa": above_zero("shear strength of the bolt", MPA),
            "tau_int_MPa": above_zero("shear strength of the nut or part", MPA),
            "bolt_break_load_N": above_zero("load that breaks the bolt", optional=True),
        },
        {
            "As_ext": ("mm2", MM2),
            "An_int": ("mm2", MM2),
            "F_strip_ext": _FORCE,
            "F_strip_int": _FORCE,
            "ratio_ext_to_bolt_break": "1",
            "ratio_int_to_bolt_break": "1",
        },  # fmt: skip
        _strip,
        texts={"thread": _THREAD},
    ),
)
