"""What a bracket's bolts bear beside slip: proof load, stripping, the flange that pries."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter
from firstoff.physics.joints.joint import t_stub
from firstoff.physics.joints.limits_of_size import thread_limits
from firstoff.physics.joints.settling import embedding_loss
from firstoff.physics.joints.threads import stress_area, stripping

ASSUMED: Final = "assumed: common practice, no source"
STEEL: Final = 2.06e11  # Pa
SHEAR: Final = 0.6  # shear strength over tensile strength: common practice
CLAMPED: Final = 4.0  # stiffness of the clamped parts over that of the bolt: common practice, thin stacks
GRIP: Final = 2.5  # clamped length over diameter, for the bolt's stiffness: assumed
PARAMETERS: Final = (
    Parameter("proof_stress", "MPa", "given", "stress of the bolts under proof load", "580 MPa",
              "assumed: class 8.8 up to M16, ISO 898-1", low="100 MPa", high="1200 MPa"),
    Parameter("tensile_strength", "MPa", "given", "tensile strength of the bolts", "800 MPa",
              "assumed: class 8.8, ISO 898-1", low="200 MPa", high="1500 MPa"),
    Parameter("engagement", "mm", "given", "thread engaged in nut or weld nut", "10 mm", ASSUMED, low="3 mm",
              high="60 mm"),
    Parameter("nut_strength", "MPa", "given", "tensile strength of nut or weld nut", "600 MPa", ASSUMED, low="100 MPa",
              high="1500 MPa"),
    Parameter("plated_embedding", "um", "scatter", "settling of plated faces in the joint, beside `embedding`",
              "0 um", ASSUMED + "; nickel and chrome kept off the faces", low="0 um", high="60 um"),
    Parameter("flange", "mm", "given", "thickness of the bracket's flange", "5 mm", ASSUMED, low="1 mm", high="30 mm"),
    Parameter("flange_yield", "MPa", "given", "yield strength of the flange", "355 MPa", ASSUMED, low="100 MPa",
              high="1200 MPa"),
    Parameter("flange_length", "mm", "given", "length of flange that bears one row of bolts", "90 mm", ASSUMED,
              low="10 mm", high="1000 mm"),
    Parameter("flange_lever", "mm", "given", "from the bracket's plate to the bolts, clear of the weld", "25 mm",
              ASSUMED, low="5 mm", high="200 mm"),
    Parameter("flange_edge", "mm", "given", "from the bolts to the flange's edge", "20 mm", ASSUMED, low="5 mm",
              high="200 mm"),
)  # fmt: skip
GIVES: Final = (
    Characteristic("proof_share", "%", "preload when tightened over the proof load of a bolt"),
    Characteristic("strip_reserve", "1", "load at which a thread strips over that at which the bolt breaks"),
    Characteristic("joint_pull", "kN", "load off the frame at which a bracket's flange or bolts yield, with prying"),
    Characteristic("prying_share", "%", "prying of the flange over the bolts' load at it"),
)


def settled(tightened: FloatArray, at: Mapping[str, FloatArray]) -> FloatArray:
    """Preload left in a bolt once paint, faces and plating have settled."""
    share = tightened * (1.0 - np.clip(at["embedding"], 0.0, 0.95))
    bolt = STEEL * stress_area(at["bolt_diameter"], at["bolt_pitch"]) / (GRIP * at["bolt_diameter"])
    lost = embedding_loss(np.maximum(at["plated_embedding"], 0.0), bolt, CLAMPED * bolt)
    return np.maximum(share - lost, 0.02 * tightened)


def checked(tightened: FloatArray, at: Mapping[str, FloatArray]) -> Columns:
    """Columns of GIVES."""
    d, p = at["bolt_diameter"], at["bolt_pitch"]
    area = stress_area(d, p)
    proof = area * at["proof_stress"]
    size = thread_limits(d, np.clip(p, 1e-3, 6e-3))
    bears = stripping(
        np.maximum(at["engagement"], p), p, size.internal_minor_max, size.external_pitch_min, size.external_major_min,
        size.internal_pitch_max, SHEAR * at["tensile_strength"], SHEAR * at["nut_strength"],
    )  # fmt: skip
    lever = at["flange_lever"]
    edge = np.minimum(at["flange_edge"], 1.25 * lever)
    rows = np.maximum(np.round(0.5 * at["bolts"]), 1.0)  # one row above the plate and one below
    stub = t_stub(at["flange_length"], at["flange"], at["flange_yield"], lever, edge, 2.0 * rows, proof)
    return {
        "proof_share": tightened / proof,
        "strip_reserve": np.minimum(bears.external_force, bears.internal_force) / (area * at["tensile_strength"]),
        "joint_pull": stub.resistance,
        "prying_share": stub.prying / (stub.resistance + stub.prying),
    }
