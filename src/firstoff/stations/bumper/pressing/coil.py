"""Coil: the steel as its certificate states it, and what lots of it scatter."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.forming.flow_curve import bar_rows, plane_strain_limit, strip_rows, swift
from firstoff.sheets.units import format_value
from firstoff.stations.settle import Settings, limited, setting_lines, settle

POISSON = 0.3
ASSUMED = "assumed: common practice, no source"
CAUTIONS = (
    "Coil: banding under tension springs; stand aside when it is cut. Coil stops, chocks, lifting gear for its mass.",
    "Strip edges cut: gloves and sleeves; nobody inside the loop of the straightener.",
)


class Coil:
    """Thickness and certificate in; flow curve along a wide strip and along the bar out."""

    name = "coil"
    title = "Coil: steel and straightener"
    needs: tuple[str, ...] = ()
    gives = ("sheet_thickness", "strip_law", "bar_law", "forming_limit")
    parameters = (
        Parameter("thickness", "mm", "scatter", "thickness of the sheet", low="0.5 mm", high="6 mm", lot_share=0.6),
        Parameter("proof_stress", "MPa", "scatter", "proof stress Rp0.2 across the bar", low="100 MPa", high="900 MPa",
                  lot_share=0.8),
        Parameter("tensile_strength", "MPa", "scatter", "tensile strength Rm", low="200 MPa", high="1200 MPa",
                  lot_share=0.8, follows="proof_stress", correlation=0.8),
        Parameter("exponent", "1", "scatter", "hardening exponent n", low="0.03", high="0.4", lot_share=0.8,
                  follows="proof_stress", correlation=-0.5),
        Parameter("r_value", "1", "scatter", "normal anisotropy r across the bar", "1.05, lot sd 0.1, part sd 0.03",
                  ASSUMED, low="0.3", high="3.5"),
        Parameter("modulus", "GPa", "given", "elastic modulus", "206 GPa", "assumed: steel, handbook from memory",
                  low="60 GPa", high="230 GPa"),
        Parameter("kinematic_share", "1", "given", "share of the hardening that moves the yield range instead of "
                  "widening it; it decides the curl", "0.5", "assumed: nobody reversed a bend of this steel", low="0",
                  high="1"),
        Parameter("yield_elongation", "%", "given", "yield point elongation of the coil as delivered", "0 %",
                  "assumed: temper rolled and used in time", low="0 %", high="10 %"),
        Parameter("grain_size", "um", "given", "mean grain size", "12 um", ASSUMED, low="2 um", high="100 um"),
        Parameter("area_reduction", "%", "given", "reduction of area at fracture", "60 %", ASSUMED, low="10 %",
                  high="90 %"),
        Parameter("edge_strain", "%", "given", "strain that a sheared edge bears", "25 %", ASSUMED, low="2 %",
                  high="150 %"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name.split(".")[1]: v.nominal for v in values}
        strength, pre = swift(at["proof_stress"], at["tensile_strength"], at["exponent"])
        gives = (
            Characteristic("sheet_thickness", "mm", "thickness of the sheet", exact=True),
            Characteristic("forming_limit", "1", "plane-strain forming limit FLC0, engineering strain"),
        )
        return Plan(
            self.name, values, limited(gives, settings),
            setup=(
                *setting_lines(self, values),
                ("steel", f"Rp0.2 {format_value(at['proof_stress'], 'MPa', 4)}, "
                 f"Rm {format_value(at['tensile_strength'], 'MPa', 4)}, n {at['exponent']:.3g}, r {at['r_value']:.3g}"),
                ("flow curve", f"{float(strength) / 1e6:.0f} MPa ({float(pre):.4f} + strain)^{at['exponent']:.3g}"),
                ("forming limit FLC0", f"{100.0 * float(plane_strain_limit(at['thickness'], at['exponent'])):.0f} % "
                 "engineering strain"),
            ),
            assumptions=(
                "Swift's curve through Rp0.2 and Rm; no strain rate, no ageing in storage.",
                "Rm and n scatter with Rp0.2 (correlation 0.8 and -0.5): assumed, nobody compared lots.",
            ),
            cautions=CAUTIONS,
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        t, proof, tensile, n, r, modulus, mix = (columns[f"{self.name}.{p.name}"] for p in self.parameters[:7])
        # a wide scatter can be drawn beyond what a certificate can state: such builds are flagged
        fair = (t > 0.0) & (proof > 0.0) & (tensile > 1.02 * proof) & (n > 0.01) & (r > 0.0) & (modulus > 0.0)
        tensile = np.maximum(tensile, 1.02 * proof)
        n = np.clip(n, 0.01, 0.6)
        strength, pre = swift(proof, tensile, n)
        mix = np.clip(mix, 0.0, 1.0)
        given: Columns = {
            "sheet_thickness": t.copy(),
            "strip_law": strip_rows(modulus, POISSON, strength, n, pre, np.maximum(r, 0.1), mix),
            "bar_law": bar_rows(modulus, strength, n, pre, mix),
            "forming_limit": plane_strain_limit(t, n),
        }
        return given, np.where(fair, Status.OK, Status.OUT_OF_RANGE).astype(np.uint8)
