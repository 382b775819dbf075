"""Running lots on their page: the numbers of the launch's own result, the parts that the records name."""

from __future__ import annotations

import html
import re
from pathlib import Path

from firstoff.board.texts import TEXTS
from firstoff.launch import read_job
from firstoff.launch.following.follow import follow
from tests.board.conftest import KEY, Person
from tests.board.test_signing import limits_only


def test_a_slipping_lot_stands_on_the_page_with_the_parts_that_carry_it(planner: Person, folder: Path) -> None:
    sheet = limits_only(folder)
    page = html.unescape(planner.get(f"/launch/{KEY}/follow"))
    found = follow(read_job(sheet), folder / KEY / "first_offs.csv", folder / KEY / "good_lot.csv")
    assert [s.lot for s in found.slipping] == ["L1"] and TEXTS["lot"].format(lot="L1") in page
    values = [p.value for chart in found.charts for p in chart.points]
    assert [float(x) for x in re.findall(r'<data value="([^"]+)">', page)] == values
    drawn = re.findall(r'<svg class="individuals".*?</svg>', page, re.DOTALL)
    assert len(drawn) == len(found.charts)
    marks = [len(re.findall(r"<title>", one)) for one in drawn]
    assert marks == [len(chart.points) for chart in found.charts]
    assert "records do not say" in page
    # with a reading saved on the board the records know the lot's parts
    planner.get(f"/launch/{KEY}/first-offs")
    planner.post(f"/launch/{KEY}/paste", shown=planner.hidden("shown"), pasted="part,lot,friction [N]\nX-1,L1,21\n")
    page = html.unescape(planner.get(f"/launch/{KEY}/follow?item=L1"))
    assert TEXTS["follow.went_into"].format(n=9) in page and "L1/X-1" in page and "firstoff records trace" in page
    assert "is no item of the records" in html.unescape(planner.get(f"/launch/{KEY}/follow?item=L77"))
