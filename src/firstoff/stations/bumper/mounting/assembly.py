"""Assembly: the bar bolted to the frame by its brackets."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.joints.preload import head_diameter, preload_scatter, stretch, torque_motosh
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.mounting import joint_checks
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"
CAUTIONS = (
    "The bar is heavy and its edges cut: lifting aid, gloves; nobody under a bar that hangs on one bracket.",
    "Torque reaction: support the tool, hands clear of the reaction arm.",
)


class Assembly:
    """Torque and friction in, preload and slip load of each bracket out; shims move the bar on the car."""

    name = "assembly"
    title = "Assembly: brackets to bar and frame"
    needs: tuple[str, ...] = ()
    gives = ("bolt_preload", "audit_torque", "bolt_stretch", "slip_load", "slip_gap", "stand_off_left",
             "stand_off_right", *(c.name for c in joint_checks.GIVES))  # fmt: skip
    parameters = (
        Parameter("torque", "N*m", "setting", "tightening torque of the frame bolts", "85 N*m, lot sd 1 N*m, part sd "
                  "1.5 N*m", ASSUMED + "; M12 class 8.8", low="5 N*m", high="400 N*m",
                  change=Change("2 N*m", 5, "torque of the tool, checked by its transducer", 30)),
        Parameter("thread_friction", "1", "scatter", "friction of thread and head", "0.12, lot sd 0.006, part sd 0.006",
                  ASSUMED, low="0.05", high="0.3"),
        Parameter("face_friction", "1", "scatter", "friction between bracket and frame", "0.18, lot sd 0.01, "
                  "part sd 0.01", ASSUMED + "; painted steel", low="0.03", high="0.7"),
        Parameter("embedding", "1", "given", "share of the preload lost as paint and faces settle", "12 %", ASSUMED,
                  low="0 %", high="60 %"),
        Parameter("bolts", "1", "given", "bolts of one bracket", "4", ASSUMED, low="1", high="16", whole=True),
        Parameter("bolt_diameter", "mm", "given", "thread diameter", "12 mm", ASSUMED, low="5 mm", high="30 mm"),
        Parameter("bolt_pitch", "mm", "given", "pitch of the thread", "1.75 mm", ASSUMED + "; ISO 261 coarse",
                  low="0.5 mm", high="4 mm"),
        Parameter("head_bearing", "mm", "given", "bearing diameter of head or washer", "24 mm", ASSUMED, low="7 mm",
                  high="80 mm"),
        Parameter("bolt_grip", "mm", "given", "length of a bolt that is clamped", "30 mm", ASSUMED, low="2 mm",
                  high="300 mm"),
        Parameter("hole", "mm", "given", "hole or slot of the bracket, along the car", "13.5 mm", ASSUMED, low="5 mm",
                  high="40 mm"),
        Parameter("shim_left", "mm", "setting", "how far the left bracket stands further off the car than drawn",
                  "0 mm, part sd 0.3 mm", ASSUMED, low="-15 mm", high="15 mm",
                  change=Change("0.5 mm", 10, "shims behind the left bracket", 6)),
        Parameter("shim_right", "mm", "setting", "how far the right bracket stands further off the car than drawn",
                  "0 mm, part sd 0.3 mm", ASSUMED, low="-15 mm", high="15 mm",
                  change=Change("0.5 mm", 10, "shims behind the right bracket", 6)),
        *joint_checks.PARAMETERS,
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        at = {v.name: np.array([v.nominal]) for v in values}
        found, _ = self.run(Plan(self.name), at)
        gives = (
            Characteristic("bolt_preload", "kN", "preload left in a frame bolt after settling"),
            Characteristic("audit_torque", "N*m", "torque at which a settled frame bolt turns on"),
            Characteristic("bolt_stretch", "um", "stretch of a frame bolt"),
            Characteristic("slip_load", "kN", "load at which the joint of one bracket slips"),
            Characteristic("stand_off_left", "mm", "left bracket further off the car than drawn", exact=True),
            Characteristic("stand_off_right", "mm", "right bracket further off the car than drawn", exact=True),
            *joint_checks.GIVES,
        )
        return Plan(
            self.name, values, limited(gives, settings),
            setup=(
                *setting_lines(self, values),
                ("preload left in a bolt", format_value(float(found["bolt_preload"][0]), "kN", 3)),
                ("a bracket's joint slips at", format_value(float(found["slip_load"][0]), "kN", 3)),
                ("tightened to", f"{100.0 * float(found['proof_share'][0]):.0f} % of the bolts' proof load"),
                *_slip(settings, found),
                ("order", "all bolts by hand, both brackets flush, then to the torque from the inside outwards"),
            ),
            assumptions=(
                "Both brackets have bolts of one torque; friction in thread and under the head is the same.",
                "Friction of a bolt that is turned on is that of tightening; a bolt stretches over its clamped length "
                "and half a diameter at each end.",
                "A joint slips within its holes and then bears; shims move the bar and leave no stress in it.",
            ),
            cautions=CAUTIONS,
        )  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        mu, faces = (np.clip(at[key], 0.01, 1.0) for key in ("thread_friction", "face_friction"))
        torque, hole = np.maximum(at["torque"], 0.1), at["hole"]
        fits = (hole >= at["bolt_diameter"]) & (at["head_bearing"] > hole)
        head = head_diameter(np.where(fits, at["head_bearing"], hole * 1.5), hole)
        tightened = preload_scatter(torque, 0.0, at["bolt_diameter"], at["bolt_pitch"], head, (mu, mu, mu))[1]
        clamp = joint_checks.settled(tightened, at)
        given: Columns = {
            "bolt_preload": clamp,
            "audit_torque": torque_motosh(np.maximum(clamp, 1.0), at["bolt_diameter"], at["bolt_pitch"], mu, head),
            "bolt_stretch": stretch(clamp, at["bolt_diameter"], at["bolt_pitch"], at["bolt_grip"]),
            "slip_load": at["bolts"] * faces * clamp,
            "slip_gap": np.maximum(0.5 * (hole - at["bolt_diameter"]), 0.0),
            "stand_off_left": at["shim_left"].copy(),
            "stand_off_right": at["shim_right"].copy(),
            **joint_checks.checked(tightened, at),
        }
        odd = ~fits | (torque != at["torque"]) | (mu != at["thread_friction"]) | (faces != at["face_friction"])
        return given, np.where(odd, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)


def _slip(settings: Settings, found: Columns) -> tuple[tuple[str, str], ...]:
    """What the sheet says of slip in a hit."""
    mounted = getattr(settings.drawing, "mounted", None)
    rule = mounted.slip if mounted is not None else ""
    gap = format_value(float(found["slip_gap"][0]), "mm", 2)
    said = {
        "fuse": f"wanted, as a fuse: {gap} each way; bolts in the middle of their holes, new bolts after a hit",
        "forbidden": "forbidden: faces dry and free of paint and plating; a bracket that slipped is a finding",
    }
    return (("slip in a hit", said[rule]),) if rule else ()
