"""The commands by the part of the job they serve. A command's module is imported when it is called."""

from __future__ import annotations

import importlib
import re
from typing import Any, Final

import typer
from typer.core import TyperCommand, TyperGroup

from netcheck.cli._status import INTERRUPTED
from netcheck.errors import UsageError
from netcheck.records import dataclass


@dataclass(frozen=True)
class Command:
    """A command: the part of the job it belongs to, and where its function is."""

    name: str
    part: str
    summary: str
    module: str
    function: str


COMMANDS: Final = (
    Command(
        "plan",
        "Before fitting",
        "Can these parts be fitted, what proves it, what must be done?",
        "netcheck.cli._plan",
        "plan_command",
    ),
    Command(
        "survey",
        "Looking into captures",
        "What is on each channel: network, load, errors, every message.",
        "netcheck.cli._survey",
        "survey_command",
    ),
    Command(
        "find",
        "Looking into captures",
        "Which bits follow the marks of a role, where no DBC says.",
        "netcheck.cli._find",
        "find_command",
    ),
    Command(
        "tap",
        "At the vehicle",
        "Am I on the right pair of wires, and is it healthy?",
        "netcheck.cli._tap",
        "tap_command",
    ),
    Command(
        "record",
        "At the vehicle",
        "Guided recording of what the plan still lacks, then a new plan.",
        "netcheck.cli._record",
        "record_command",
    ),
    Command(
        "decode",
        "Looking into captures",
        "Signal values over time, as a table, CSV, Parquet or JSON.",
        "netcheck.cli._decode",
        "decode_command",
    ),
    Command(
        "trim",
        "Looking into captures",
        "Cut, join, split or anonymise captures; convert their format.",
        "netcheck.cli._trim",
        "trim_command",
    ),
    Command(
        "archive",
        "Looking into captures",
        "Many captures as one archive, and questions to it.",
        "netcheck.cli._archive",
        "archive_app",
    ),
    Command(
        "readout",
        "Coding",
        "Identification, coding and faults from captured diagnostics.",
        "netcheck.cli._readout",
        "readout_command",
    ),
    Command(
        "coding",
        "Coding",
        "Old and new bytes, how to revert, and what a readback holds.",
        "netcheck.cli._coding",
        "coding_command",
    ),
    Command(
        "prove",
        "After fitting",
        "Does all work, and is nothing else different from before?",
        "netcheck.cli._prove",
        "prove_command",
    ),
    Command(
        "report",
        "After fitting",
        "A job as one page to look at, work from, print and hand over.",
        "netcheck.cli._report",
        "report_command",
    ),
    Command(
        "simulate",
        "On the bench",
        "Simulated traffic of a vehicle that plays a script.",
        "netcheck.cli._simulate",
        "simulate_command",
    ),
    Command(
        "replay",
        "On the bench",
        "A capture sent to a bus in real time; sends only with --transmit.",
        "netcheck.cli._replay",
        "replay_command",
    ),
    Command(
        "new",
        "Writing files",
        "A vehicle, retrofit or job file to start from.",
        "netcheck.cli._new",
        "new_command",
    ),
    Command(
        "roles",
        "Writing files",
        "Which signal of a DBC plays which role, proposed with reasons.",
        "netcheck.cli._roles",
        "roles_command",
    ),
    Command(
        "check",
        "Writing files",
        "Every fault of a file at once, without a job.",
        "netcheck.cli._check",
        "check_command",
    ),
    Command(
        "schema",
        "Writing files",
        "The JSON Schema of a file kind, for your editor.",
        "netcheck.cli._schema",
        "schema_command",
    ),
    Command(
        "guide",
        "Reading on",
        "The guide: a page for each part of the job.",
        "netcheck.cli._guide",
        "guide_command",
    ),
)

HELP: Final = """Checks before a retrofit that a vehicle has what the new parts need.

No command writes to a vehicle. No command transmits without --transmit: simulate and replay on a bench,
readout to ask modules with reading services."""

EPILOG: Final = """Exit status: 0 go, go-with-changes or pass; 1 no-go or fail; 3 unproven or
not-shown; 2 bad usage or unreadable input; 130 interrupted."""

CONTEXT: Final[dict[str, Any]] = {"help_option_names": ["-h", "--help"], "max_content_width": 80}


class _Commands(TyperGroup):
    """Knows the names of all commands without importing any."""

    def list_commands(self, ctx: Any) -> list[str]:
        return [command.name for command in COMMANDS]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        for command in COMMANDS:
            if command.name == cmd_name:
                return _build(command)
        return None

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        name, names = args[0], self.list_commands(ctx)
        if name not in names and not name.startswith("-"):
            from netcheck.words import meant

            raise UsageError(f"no command '{name}'", remedy=meant(name, names))
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        width = max(len(command.name) for command in COMMANDS)
        for part in dict.fromkeys(command.part for command in COMMANDS):
            with formatter.section(part):
                formatter.write_dl(
                    [(c.name.ljust(width), c.summary) for c in COMMANDS if c.part == part], col_spacing=3
                )


class _OneCommand(TyperCommand):
    """Its help says that an argument may be repeated, where the framework writes a type of Python."""

    def get_help(self, ctx: Any) -> str:
        return re.sub(r" <list\[\w+\]>", " …", super().get_help(ctx))


def _build(command: Command) -> Any:
    function = getattr(importlib.import_module(command.module), command.function)
    if isinstance(function, typer.Typer):  # a command with commands of its own
        for entry in function.registered_commands:
            entry.context_settings, entry.cls = CONTEXT, _OneCommand
        group = typer.main.get_group(function)
        group.name = command.name
        return group
    app = _typer()
    app.command(command.name, cls=_OneCommand, context_settings=CONTEXT)(function)
    return typer.main.get_command(app)


def _typer(**settings: Any) -> typer.Typer:
    return typer.Typer(
        add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False, **settings
    )


def _root(
    ctx: typer.Context, version: bool = typer.Option(False, "--version", help="Show the version.")
) -> None:
    if version:
        from importlib.metadata import version as installed

        typer.echo(f"netcheck {installed('netcheck')}")
        raise typer.Exit
    if ctx.invoked_subcommand is None:
        typer.echo(ctx.get_help(), err=True)
        raise typer.Exit(2)


def _application() -> Any:
    app = _typer(
        cls=_Commands, context_settings=CONTEXT, invoke_without_command=True, epilog=EPILOG, help=HELP
    )
    app.callback()(_root)
    return typer.main.get_command(app)


def run(arguments: list[str]) -> int:
    """Run a command line; returns its exit status. Errors come as NetcheckError."""
    try:
        code = _application().main(args=arguments, prog_name="netcheck", standalone_mode=False)
    except typer.Abort:
        raise KeyboardInterrupt from None
    except SystemExit as error:  # the framework's answer to a reader that went away
        raise BrokenPipeError from error
    except Exception as error:
        usage = _usage_error(error)
        if usage is None:
            raise
        raise usage from error
    if code == INTERRUPTED:  # the framework has swallowed the interrupt
        raise KeyboardInterrupt
    return code if isinstance(code, int) else 0


def _usage_error(error: Exception) -> UsageError | None:
    """The framework's complaints about a command line as one of ours.

    Their class has moved between versions of typer; what they can do has not.
    """
    text = getattr(error, "format_message", None)
    if text is None:
        return None
    path = getattr(getattr(error, "ctx", None), "command_path", "netcheck")
    message = str(text()).rstrip(".").replace("Value error, ", "")
    return UsageError(message[:1].lower() + message[1:], remedy=f"see '{path} --help'")
