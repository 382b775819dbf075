"""The command line: `firstoff VERB`. A verb's code is imported only when it is called."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence

import click

from firstoff import __version__
from firstoff.errors import ExitStatus, InputFault

# verb -> (module under firstoff.cli, one line of help); in the order of the job
VERBS = {
    "new": ("new", "Write a commented model sheet and plant sheet to start from."),
    "target": ("target", "Recommend a force table for a vehicle, when the customer gives none."),
    "check": ("check", "Check a sheet; every fault is named with its line."),
    "plan": ("plan", "Settle how each station is set, and write the setup sheets."),
    "choose": ("choose", "Meet the customer's force table with parts of the plant's bin."),
    "predict": ("predict", "Make trial builds: what ordinary scatter does to the part."),
    "prove": ("prove", "Judge the readings of first-offs against the sheet's limits."),
    "gauge": ("gauge", "Work out a gauge study: repeats and people, bias, verdicts by eye."),
    "explain": ("explain", "Say which station most likely caused the readings, and how sure that is."),
    "correct": ("correct", "Say which setting to move, by how much, and what else that moves."),
    "release": ("release", "Recommend release, hold or concession, with reasons; a named person decides."),
    "follow": ("follow", "Follow the running lots: which one slips, and which parts carry it."),
    "record": ("record", "Take sheets, plan, readings, explanation and correction into the records."),
    "records": ("records", "Verify, trace, export, back up, restore and rebuild from the records."),
    "report": ("report", "Print setup sheets and the dossier of a launch as PDF."),
    "line": ("line", "Find the plating crane's shortest repeating timetable, with proof."),
    "serve": ("serve", "Open the launch board: the same on pages for the launch team, offline."),
    "stations": ("stations", "List the stations of a family and their parameters."),
    "calc": ("calc", "One pocket calculation: inputs as JSON in, results out."),
    "demo": ("demo", "Run the main job on the example launch."),
}


class Verbs(click.Group):
    """A group whose commands are loaded when they are asked for, so that `--help` is quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in VERBS:
            return None
        module = importlib.import_module(f"firstoff.cli.{VERBS[cmd_name][0]}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Verbs"):
            formatter.write_dl([(name, text) for name, (_, text) in VERBS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        from firstoff.errors import nearest

        if args and args[0] not in VERBS and not args[0].startswith("-"):
            meant = nearest(args[0], VERBS)
            ctx.fail(f"no verb {args[0]!r}" + (f"; did you mean {meant}?" if meant else ""))
        return super().resolve_command(ctx, args)


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="firstoff")
def group() -> None:
    """Plan, predict, prove, explain and correct the first parts off a line.

    A calculation is not a certificate: local codes, the supplier's safety data and a licensed or authorised person
    decide.
    """


def main(arguments: Sequence[str] | None = None) -> None:
    """Entry of the program, and the one place where faults become messages and exit codes."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    try:
        group.main(args=words, prog_name="firstoff", standalone_mode=False)
    except (click.exceptions.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        sys.exit(ExitStatus.USAGE)
    except click.ClickException as fault:
        fault.show()
        sys.exit(ExitStatus.USAGE)
    except click.exceptions.Exit as leave:
        sys.exit(leave.exit_code)
    except InputFault as fault:
        from firstoff.cli.output import show_faults

        show_faults(fault, as_json="--json" in words, verb=words[0] if words else "")
        sys.exit(ExitStatus.INPUT)
    except RuntimeError as fault:  # a station that breaks its promise: ours to mend, not the engineer's
        click.echo(f"firstoff itself is at fault, please report it: {fault}", err=True)
        sys.exit(ExitStatus.BROKEN)
    except SystemExit as leave:
        # click leaves by itself, quietly and with a 1, only when the reader of a pipe has gone
        sys.exit(ExitStatus.FILES if leave.code == 1 else leave.code)
    except OSError as fault:
        click.echo(f"{fault.filename or 'file'}: {fault.strerror or fault}", err=True)
        sys.exit(ExitStatus.FILES)
    sys.exit(ExitStatus.DONE)
