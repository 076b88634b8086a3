"""An answer put to the test of other defaults, with time and progress as they were asked for."""

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from resilience.errors import UsageError
from resilience.terminal.runs.asking import Answered
from resilience.terminal.statuses import INTERRUPTED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from resilience.building.site import Site
    from resilience.montecarlo.assumed.variants import Variant
    from resilience.policy.hanging.conditions import Hanging
    from resilience.policy.judgement import Judgement
    from resilience.ranking.comparison import Comparison
    from resilience.ranking.variation import Variation
    from resilience.remedies.supposing.whatifs import WhatIfs

SECONDS_PER_SECOND = 2  # so many times the time allowed is all that both may take together
MOST_LIFETIMES = 128  # of each layout and variant: a hundred variants take a minute or two
UNTESTED = {"order": "not tested"}


def refuse_one_layout(site: "Site") -> None:
    """Raise UsageError where there is no order to be tried, before anything is played.

    Parameters
    ----------
    site : Site
        As read. [-]
    """
    if len(site.layouts) < 2:
        raise UsageError(f"--vary-defaults tries an order, and {site.name} has one layout only")


def variation_of(folder: Path, found: "Answered[Comparison]", spent_seconds: float) -> "Variation":
    """Try other defaults on the layouts that were compared.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    found : Answered
        Their order, and how it was asked for. [-]
    spent_seconds : float
        What the comparison took; what was compiled meanwhile is no reason to test less. [s]
    """
    from resilience.montecarlo.assumed.variants import Effort
    from resilience.ranking.varying import varied
    from resilience.terminal.runs.progress import steps

    wish = found.wish
    effort = Effort(
        n_lifetimes=min(MOST_LIFETIMES, wish.lifetimes),
        seconds=SECONDS_PER_SECOND * wish.seconds - min(spent_seconds, wish.seconds),
        workers=wish.n_threads,
        engine=found.engine,
    )
    with steps("variants", wish.is_quiet) as report:

        def watch(n_before: int, n_all: int, variant: "Variant") -> None:
            report(n_before, n_all, words_of(variant))

        return varied(found.answer, partial(_under, folder), effort, watch)


def hanging_of(folder: Path, found: "Answered[Judgement]") -> "Hanging":
    """Try other defaults on the promise of layouts that were judged.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    found : Answered
        The verdicts, and how they were asked for. [-]
    """
    from resilience.montecarlo.assumed.variants import Effort
    from resilience.policy.hanging.trial import over_defaults
    from resilience.terminal.runs.progress import steps

    wish = found.wish
    effort = Effort(
        n_lifetimes=wish.lifetimes,
        seconds=wish.seconds,
        workers=wish.n_threads,
        engine=found.engine,
    )
    with steps("variants", wish.is_quiet) as report:

        def watch(n_before: int, n_all: int, variant: "Variant") -> None:
            report(n_before, n_all, words_of(variant))

        return over_defaults(found.answer, partial(_under, folder), effort, watch)


def _under(folder: Path, assumed: "Mapping[str, float]") -> "Site":
    from resilience.building.files.folder import read_site

    return read_site(folder, assumed=assumed)


def words_of(variant: "Variant") -> str:
    """Say what is otherwise in a variant.

    Parameters
    ----------
    variant : Variant
        What is played. [-]
    """
    if not variant.key:
        return f"all defaults together, draw {variant.at + 1}"
    return f"{variant.key} {variant.values[variant.key]:g}"


def varied_json(variation: "Variation | None") -> "Mapping[str, object]":
    """Return what other defaults show, under stable keys.

    Parameters
    ----------
    variation : Variation or None
        None if nobody asked. [-]
    """
    return UNTESTED if variation is None else variation.to_json()


def end_of(found: "Variation | Hanging | WhatIfs | None") -> None:
    """End as interrupted, if it was: once the answer is shown.

    Parameters
    ----------
    found : Variation, Hanging, WhatIfs or None
        What other defaults or changes show; None if nobody asked. [-]
    """
    from resilience.montecarlo.runs import running

    if found is not None and found.stopped_because == running.INTERRUPTED:
        raise typer.Exit(INTERRUPTED)
