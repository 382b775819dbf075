"""`firstoff gauge`."""

from __future__ import annotations

from pathlib import Path

import click

from firstoff.cli.output import envelope


@click.command("gauge")
@click.argument("studies", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("--limits", default="", help='Limits of the characteristic: "32 ±0.03 mm".')
@click.option("--resolution", default="", help='Step of the display: "1 um".')
@click.option("--reference-u", default="", help='Standard uncertainty of the references: "0.2 um".')
@click.option("--confidence", type=click.FloatRange(0.5, 0.9999), default=0.95, show_default=True)
@click.option("--table", help="Sheet of a workbook; default: the first.")
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Folder for gauge-NAME.md and gauge-NAME.pdf.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON envelope.")
def command(
    studies: tuple[Path, ...],
    limits: str,
    resolution: str,
    reference_u: str,
    confidence: float,
    table: str | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Work out the STUDIES (CSV or xlsx) of one gauge: repeats and people, bias over the range, or verdicts by eye."""
    from firstoff.launch import gauge
    from firstoff.launch.account_gauge import gauge_text, write_gauge

    found = gauge(studies, limits, resolution, reference_u, confidence, table)
    written = write_gauge(found, folder, f"gauge-{studies[0].stem}") if folder else []
    if as_json:
        click.echo(envelope("gauge", found.as_dict(), found.study.messages, sha256=found.sha256))
        return
    click.echo(gauge_text(found))
    if written:
        click.echo(f"\nWritten: {', '.join(str(path) for path in written)}")
