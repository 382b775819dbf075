"""`firstoff calc`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from firstoff.cli.output import envelope, plain
from firstoff.errors import InputFault, Message


@click.command("calc")
@click.argument("kind", required=False)
@click.argument("inputs", type=click.File("r", encoding="utf-8"), default="-")
@click.option("--list", "listing", is_flag=True, help="Name every kind with its inputs, units and source.")
@click.option("--draw", type=click.Path(path_type=Path), help="Of a kind with a figure: write it (.svg or .png).")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(kind: str | None, inputs: Any, listing: bool, draw: Path | None, as_json: bool) -> None:
    """Calculate KIND from the JSON object in INPUTS (a file; standard input when it is left out or `-`).

    The results come out as one JSON object. `firstoff calc --list` names the kinds.
    """
    from firstoff.launch.calculations import find, kinds

    if listing or kind is None:
        if kind is not None:
            kinds_shown = [find(kind)]
        elif listing:
            kinds_shown = kinds()
        else:
            raise click.UsageError("name a KIND, or use --list")
        _show(kinds_shown, as_json)
        return
    calculation = find(kind)
    given = _read(inputs)
    result = calculation(given)
    if draw is not None:
        if calculation.draw is None:
            drawn = ", ".join(c.kind for c in kinds() if c.draw is not None)
            raise InputFault([Message("has no figure", key="draw", found=calculation.kind, allowed=drawn)])
        calculation.draw(given, draw)
    if as_json:
        click.echo(envelope("calc", result, kind=kind, source=calculation.source))
    else:
        click.echo(json.dumps(plain(result), indent=1, allow_nan=False))


def _show(calculations: list[Any], as_json: bool) -> None:
    if as_json:
        rows = [
            {"kind": c.kind, "title": c.title, "inputs": c.inputs, "optional": c.optional, "gives": c.gives,
             "source": c.source}
            for c in calculations
        ]  # fmt: skip
        click.echo(envelope("calc-list", rows))
        return
    for c in calculations:
        click.echo(f"{c.kind}: {c.title}")
        for name, what in c.inputs.items():
            click.echo(f"    in   {name}: {what}")
        for name, what in c.optional.items():
            click.echo(f"    in   {name} (may be left out): {what}")
        for name, unit in c.gives.items():
            click.echo(f"    out  {name} [{unit}]")
        click.echo(f"    source: {c.source}\n")


def _read(stream: Any) -> dict[str, Any]:
    name = getattr(stream, "name", "standard input")
    twice: dict[str, None] = {}

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        names = [key for key, _ in pairs]
        twice.update(dict.fromkeys(key for key in names if names.count(key) > 1))
        return dict(pairs)

    try:
        given = json.loads(stream.read(), parse_constant=_no_constant, object_pairs_hook=once)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", 0)
        raise InputFault([Message(f"is not JSON: {error}", file=name, line=line)]) from error
    if twice:
        raise InputFault([Message("is given twice", file=name, key=key, allowed="each input once") for key in twice])
    if not isinstance(given, dict):
        raise InputFault([Message("must be one JSON object with the inputs by name", file=name)])
    return given


def _no_constant(text: str) -> float:
    raise ValueError(f"{text} is not a number of JSON")
