"""Running lots: what a drift, a jump and a bad part signal, and which parts the records say a lot went into."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firstoff.launch import read_job
from firstoff.launch.demo import copy_example
from firstoff.launch.following.account import follow_text
from firstoff.launch.following.affected import affected_lots, lot_affected
from firstoff.launch.following.follow import BEYOND, IN_A_ROW, OUTSIDE, Follow, follow
from firstoff.launch.recorded.authority import Author
from firstoff.launch.recorded.record import record
from firstoff.records import open_records

LOTS = ("L1", "L2", "L3", "L4")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A sheet of limits alone."""
    copy_example("light_truck_front", tmp_path / "lt3")
    sheet = tmp_path / "lt3" / "damper.toml"
    text = sheet.read_text("utf-8").split("[pressure_tube]")[0].replace('plant = "plant.toml"', "")
    sheet.write_text(text, "utf-8")
    return tmp_path / "lt3"


def readings(folder: Path, shifted: float = 0.0, bad: float = 0.0, times: bool = True) -> Path:
    """Four lots of ten; the last one's rebound at 0.52 m/s is shifted, one part of it is bad (limits 1225, 1455)."""
    draw = np.random.default_rng(11)
    lines = []
    for i in range(40):
        value = 1340.0 + draw.normal(0.0, 12.0) + (shifted if i >= 30 else 0.0) + (bad if i == 35 else 0.0)
        when = f"2027-03-{1 + i // 10:02d}T06:{i % 10:02d}" if times else ""
        lines.append(f"P-{i:02d},{LOTS[i // 10]},{when},{value:.1f},{20 + draw.normal(0.0, 2.0):.2f}")
    if times:
        lines = lines[::-1]  # the file has them the wrong way round
    file = folder / "running.csv"
    file.write_text("part,lot,time,rebound_0.52 [N],friction [N]\n" + "\n".join(lines) + "\n", "utf-8")
    return file


def followed(folder: Path, **how: float) -> Follow:
    return follow(read_job(folder / "damper.toml"), readings(folder, **how))


def test_control_limits_are_those_of_the_first_twenty_by_the_tables_constant(folder: Path) -> None:
    found = followed(folder)
    assert found.by_time and [c.characteristic.name for c in found.charts] == ["rebound_0.52", "friction"]
    chart = found.charts[0]
    values = [p.value for p in chart.points]
    assert [p.part for p in chart.points] == [f"P-{i:02d}" for i in range(40)] and chart.base == 20
    moving = np.abs(np.diff(values[:20])).mean()
    assert chart.control is not None and not chart.provisional
    assert chart.control.high == pytest.approx(np.mean(values[:20]) + 2.660 * moving, rel=1e-3)  # ASTM E2587
    assert chart.across is not None and chart.across.cpk is not None and chart.across.lots == 4


def test_a_shifted_lot_slips_and_a_bad_part_makes_it_grave(folder: Path) -> None:
    shifted = followed(folder, shifted=45.0)
    last = next(s for s in shifted.slipping if s.lot == "L4")
    assert not last.grave and {BEYOND, IN_A_ROW} <= set(dict(last.signals)["rebound_0.52"])
    assert last.parts == tuple(f"P-{i:02d}" for i in range(30, 40))
    worse = followed(folder, shifted=45.0, bad=120.0)
    assert worse.slipping[0].lot == "L4" and worse.slipping[0].outside == ("P-35",)
    assert OUTSIDE in dict(worse.slipping[0].signals)["rebound_0.52"]
    point = worse.charts[0].points[35]
    assert point.value > 1455.0 and OUTSIDE in point.signals and BEYOND in point.signals


def test_without_times_they_stand_as_in_the_file_and_few_parts_have_no_limits(folder: Path) -> None:
    file = readings(folder, times=False)
    text = file.read_text("utf-8").splitlines()
    file.write_text(
        "\n".join([text[0].replace(",time", ""), *(line.replace(",,", ",") for line in text[1:8])]), "utf-8"
    )
    found = follow(read_job(folder / "damper.toml"), file)
    assert not found.by_time and found.charts[0].control is None and not found.slipping
    assert [p.part for p in found.charts[0].points] == [f"P-{i:02d}" for i in range(7)]


def test_the_records_name_every_part_of_a_slipping_lot_and_its_siblings(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FIRSTOFF_CONFIG", str(tmp_path / "config"))
    job, file, author = read_job(folder / "damper.toml"), readings(folder), Author("A. Miller")
    shop = folder / "shop.csv"
    shop.write_text(
        "parent kind,parent,child kind,child\ncoil heat,H-1,lot,L3\ncoil heat,H-1,lot,L4\nlot,L4,part,L4/P-99\n"
        "lot,L4,pallet,17\n", "utf-8",
    )  # fmt: skip
    with open_records(tmp_path / "records.db") as records:
        record(job, records, author, file, quick=True)
        record(job, records, author, genealogy=shop)
        found = lot_affected(records, "L4")
        none = lot_affected(records, "L9")
        worse = follow(job, readings(folder, bad=200.0))
        text = follow_text(worse, affected_lots(records, ["L4", ""]))
    read = {f"part:L4/P-{i:02d}" for i in range(30, 40)}
    assert set(found.parts) == {*read, "part:L4/P-99"}  # one that nobody read, too
    assert found.others == ("pallet:17",)
    assert [o.item for o in found.origins] == ["coil heat:H-1"]
    assert set(found.origins[0].lots) == {"lot:L3", "lot:L4"} and len(found.origins[0].parts) == 21
    assert not none.known
    assert text.index("OUT OF LIMITS  lot L4") < text.index("rebound_0.52: outside its limits")
    assert "Parts that carry it by the records (11): L4/P-30" in text and "L4/P-99" in text
    assert "Made from coil heat:H-1, which 21 parts carry; lots: L3, L4." in text
