"""The documentation says what the code does."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from firstoff.families import NAMES, find
from firstoff.launch import sections
from tools.write_docs import PAGES

ROOT = Path(__file__).parents[1]


@pytest.mark.parametrize("name", PAGES)
def test_written_pages_are_current(name: str) -> None:
    assert (ROOT / "docs" / name).read_text("utf-8") == PAGES[name](), "run `make docs`"


def test_every_key_of_the_sheets_is_documented() -> None:
    text = (ROOT / "docs" / "sheets.md").read_text("utf-8")
    own = [s for name in NAMES for s in (*find(name).sections, *find(name).plant_sections)]
    for section in (*sections.MODEL, *sections.PLANT, *own, sections.MEASUREMENTS, sections.of_faults(())):
        assert f"[{section.name}" in text
        for key in section.keys:
            assert f"`{key.name}`" in text, f"{section.name}.{key.name} is not in docs/sheets.md"


def test_every_key_of_the_vehicle_sheet_is_documented() -> None:
    from firstoff.launch.vehicle_target.sections import SECTIONS

    text = (ROOT / "docs" / "sheets.md").read_text("utf-8")
    for section in SECTIONS:
        assert f"[{section.name}]" in text
        for key in section.keys:
            assert f"`{key.name}`" in text, f"{section.name}.{key.name} is not in docs/sheets.md"


def test_quantities_of_the_documentation_are_read() -> None:
    from firstoff.sheets.quantity import parse, parse_limits

    text = (ROOT / "docs" / "sheets.md").read_text("utf-8")
    written = re.findall(r'^\| (`"[^|]*`) \|', text, re.MULTILINE)
    assert len(written) >= 6
    units = ("mm", "N", "MPa", "s", "bar", "degC")
    for quantity in re.findall(r'`"([^"]+)"`', " ".join(written)):
        readers = [lambda u, q=quantity: parse(q, u), lambda u, q=quantity: parse(q, u, pressure=True),
                   lambda u, q=quantity: parse_limits(q, u)]  # fmt: skip
        assert any(_reads(reader, unit) for reader in readers for unit in units), quantity


def _reads(reader: object, unit: str) -> bool:
    try:
        reader(unit)  # type: ignore[operator]
    except ValueError:
        return False
    return True


def test_links_of_the_documentation_lead_somewhere() -> None:
    for page in [*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")]:
        for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text("utf-8")):
            assert (page.parent / target).exists(), f"{page.name} links to {target}"


def test_the_readme_names_the_two_commands_and_make_has_them() -> None:
    readme, make = ((ROOT / name).read_text("utf-8") for name in ("README.md", "Makefile"))
    for target in ("demo", "test", "lint", "bench", "docs", "soak"):
        assert re.search(rf"^{target}:", make, re.MULTILINE)
    assert "make demo" in readme
    assert "make test" in readme


def test_the_lock_holds_every_dependency() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    base, dev = ((ROOT / "requirements" / f"{name}.txt").read_text("utf-8") for name in ("base", "dev"))
    for wanted, lock in ((project["project"]["dependencies"], base), (project["dependency-groups"]["dev"], dev)):
        for requirement in wanted:
            name = re.split(r"[\[<>=!~ ]", requirement)[0].lower()
            assert re.search(rf"^{re.escape(name)}==", lock, re.MULTILINE), f"{name} is not in the lock"


def test_example_readings_can_be_made_again(tmp_path: Path) -> None:
    # a regression test: the file was made by this very tool
    code = (
        "import sys, pathlib, shutil, tools.make_example_readings as t\n"
        "target = pathlib.Path(sys.argv[1]) / 'e'\nshutil.copytree(t.EXAMPLE, target)\n"
        "before = (target / 'first_offs.csv').read_text()\nt.EXAMPLE = target\nt.main()\n"
        "assert (target / 'first_offs.csv').read_text() == before\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
