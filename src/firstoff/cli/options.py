"""Options that several verbs share, in one wording."""

from __future__ import annotations

from pathlib import Path

import click

traces_option = click.option(
    "--trace",
    "traces",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Raw force traces of the parts (CSV or Parquet), a file or a folder; may be given again.",
)
