"""`firstoff serve`."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("serve")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option(
    "--host", default="127.0.0.1", show_default=True, help="Address to listen on; by default this machine only."
)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8470, show_default=True, help="Port; 0: any that is free."
)
@click.option(
    "--builds", type=click.IntRange(16), default=16384, show_default=True,
    help="Trial builds of a prediction, a release or a dossier made on the board.",
)  # fmt: skip
@click.option("--name", "names", multiple=True, help="A further name by which browsers reach this machine.")
def command(folder: Path, host: str, port: int, builds: int, names: tuple[str, ...]) -> None:
    """Open the launch board of FOLDER, a folder of launch folders, on pages for the launch team.

    The first start prints a code for the first account; there is no default password.
    """
    try:
        from firstoff.board.serve import serve
    except ImportError as error:
        what = f"the board needs more than is installed ({error.name}): pip install 'firstoff[board]'"
        raise click.UsageError(what) from error
    serve(folder, host, port, builds, names)
