"""Verbs that are loaded when somebody asks for them, and what becomes of their errors."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup
from typer.main import get_command

from resilience.errors import InputError, ResilienceError
from resilience.terminal.statuses import BAD_INPUT, INTERRUPTED

HELP = {"help_option_names": ["-h", "--help"]}
NUMBERS = {
    "integer": "expected a whole number, such as 3.",
    "number": "expected a number with a decimal point, such as 2.5.",
}
NOTHING = "Interrupted: nothing was complete, so there is nothing to show."
COMPILING = (
    "Interrupted before the engine was compiled, so there is nothing to show. That takes about a "
    "minute, once; the next run begins it anew."
)


@dataclass(frozen=True, slots=True)
class Verb:
    """One thing to ask for.

    Parameters
    ----------
    task : str
        Heading under which the help lists it. [-]
    where : str
        ``module:function``. [-]
    help : str
        One line. [-]
    """

    task: str
    where: str
    help: str

    def command(self, name: str) -> TyperCommand:
        """Load the verb under its name."""
        module, _, function = self.where.partition(":")
        app = typer.Typer(add_completion=False, rich_markup_mode=None, context_settings=HELP)
        app.command(name)(getattr(import_module(module), function))
        loaded = get_command(app)
        assert isinstance(loaded, TyperCommand)  # an app of one command is that command
        return loaded


@dataclass(frozen=True, slots=True)
class Commands(Mapping[str, TyperCommand]):
    """Verbs by name; looking one up loads it.

    Parameters
    ----------
    verbs : dict of str to Verb
        In the order of the help. [-]
    """

    verbs: dict[str, Verb]

    def __getitem__(self, name: str) -> TyperCommand:
        return self.verbs[name].command(name)

    def __iter__(self) -> Iterator[str]:
        return iter(self.verbs)

    def __len__(self) -> int:
        return len(self.verbs)

    def __contains__(self, name: object) -> bool:
        return name in self.verbs


class LazyGroup(TyperGroup):
    """A group whose help lists verbs by task without loading any of them."""

    verbs: dict[str, Verb]

    def __init__(self, **attrs: Any) -> None:
        super().__init__(**attrs)
        self.commands = Commands(self.verbs)  # type: ignore[assignment]

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002
        """Write the table of verbs, grouped by task."""
        for task in dict.fromkeys(verb.task for verb in self.verbs.values()):
            with formatter.section(task.capitalize()):
                formatter.write_dl(
                    [(name, verb.help) for name, verb in self.verbs.items() if verb.task == task]
                )

    def invoke(self, ctx: Any) -> Any:
        """Run the verb; our own errors end with their message and a status."""
        try:
            return super().invoke(ctx)
        except ResilienceError as error:
            _tell(error)
            raise typer.Exit(BAD_INPUT) from error
        except KeyboardInterrupt as stop:
            from resilience.terminal.runs.engine import was_compiling
            from resilience.terminal.screen import tell

            tell(COMPILING if was_compiling() else NOTHING)
            raise typer.Exit(INTERRUPTED) from stop
        except typer.BadParameter as error:
            error.message = NUMBERS.get(_kind_of(error), error.message)
            raise


def _kind_of(error: typer.BadParameter) -> str:
    """Which kind of number the words behind an option are not; empty for anything else."""
    found = re.search("valid (integer|number)", error.message)
    return found[1] if found else ""


def _tell(error: ResilienceError) -> None:
    from resilience.report.words import counted
    from resilience.terminal.screen import tell

    if isinstance(error, InputError):
        for fault in error.faults:
            tell(str(fault))
        tell(f"{counted(len(error.faults), 'mistake')}; nothing was done.")
    else:
        tell(str(error))


def application(verbs: dict[str, Verb], about: str) -> LazyGroup:
    """Command line of these verbs.

    Parameters
    ----------
    verbs : dict of str to Verb
        In the order of the help. [-]
    about : str
        What the whole is for. [-]
    """
    group = type("Verbs", (LazyGroup,), {"verbs": verbs})
    app = typer.Typer(cls=group, rich_markup_mode=None, no_args_is_help=True, context_settings=HELP)

    def version(is_wanted: bool) -> None:
        if is_wanted:
            from resilience import __version__

            typer.echo(__version__)
            raise typer.Exit

    @app.callback(help=about)
    def top(
        version: bool = typer.Option(
            False, "--version", callback=version, is_eager=True, help="Show the version and end."
        ),
    ) -> None:
        pass

    made = get_command(app)
    assert isinstance(made, LazyGroup)
    return made
