"""What an earlier run of a portfolio has left in its folder."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

import resilience
from resilience.draws import STREAM_VERSION
from resilience.errors import RunError, UsageError
from resilience.montecarlo.runs.ledger import FILE as LEDGER_FILE
from resilience.montecarlo.runs.manifest import code_digest
from resilience.ranking.many.moving import Grounds, Known
from resilience.ranking.many.sites import Risk, SiteScore
from resilience.sweep.kept.results import MANIFEST, SITE, SITES, folder_name

PROGRAM = ("version", "stream_version", "code")


def refuse_others(folder: Path) -> None:
    """Raise UsageError unless a folder is that of a run of ``portfolio``.

    Parameters
    ----------
    folder : Path
        As it was named. [-]
    """
    missing = [one for one in (MANIFEST, SITES, LEDGER_FILE) if not (folder / one).is_file()]
    if missing:
        raise UsageError(
            f"{folder} is no run of portfolio, as it holds no {missing[0]}: name a folder that "
            "portfolio has said a run is kept in"
        )


def is_of_another_program(folder: Path, seed: int) -> bool:
    """Whether another version of this program has made a run, of which then nothing is taken over.

    Parameters
    ----------
    folder : Path
        Of the run. [-]
    seed : int
        That is asked for now. [-]

    Raises
    ------
    UsageError
        The run has another seed, or it is none of ``portfolio``.
    """
    refuse_others(folder)
    told = _manifest(folder)
    if told["seed"] != seed:
        raise UsageError(
            f"the run in {folder} has seed {told['seed']} and this one {seed}, so that nothing can "
            f"be taken over: say --seed {told['seed']}, or leave --since out"
        )
    now = (resilience.__version__, STREAM_VERSION, code_digest())
    return tuple(told[name] for name in PROGRAM) != now


def _manifest(folder: Path) -> dict[str, Any]:
    try:
        told = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        if {"seed", *PROGRAM} <= told.keys():
            return dict(told)
    except (OSError, ValueError, AttributeError) as error:
        raise _unreadable(folder, str(error)) from error
    raise _unreadable(folder, f"{MANIFEST} does not say what made it")


def _unreadable(folder: Path, why: str) -> RunError:
    return RunError(
        f"what the run in {folder} has left cannot be read ({why}): it is damaged, or another "
        "version of this program has made it; the same portfolio command makes it anew"
    )


@dataclass(frozen=True, slots=True)
class Run:
    """A run that has ended.

    Parameters
    ----------
    folder : Path
        Its folder. [-]
    by : Risk
        By what its sites are ranked. [-]
    sites : dict of str to Known
        Sites that have a score, by id. [-]
    without_an_answer : frozenset of str
        Other sites that were there. [-]
    """

    folder: Path
    by: Risk
    sites: dict[str, Known] = field(default_factory=dict)
    without_an_answer: frozenset[str] = frozenset()

    @classmethod
    def read(cls, folder: Path) -> Self:
        """Read a run.

        Parameters
        ----------
        folder : Path
            Its folder. [-]

        Raises
        ------
        UsageError
            It is no run of ``portfolio``.
        RunError
            The run has not ended, or what it left cannot be read.
        """
        refuse_others(folder)
        told = _manifest(folder)
        if told.get("stopped_because") is None:
            raise RunError(
                f"the run in {folder} is under way, or was killed: the command that made it goes "
                "on from there"
            )
        try:
            without = frozenset(told["without_an_answer"])
            scored = [id for id in told["sites"] if id not in without]
            sites = {id: _known(folder, id, told) for id in scored}
            return cls(folder, Risk(told["ranked_by"]), sites, without)
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise _unreadable(folder, repr(error)) from error


def _known(folder: Path, id: str, manifest: Mapping[str, Any]) -> Known:
    text = (folder / "sites" / folder_name(id) / SITE).read_text(encoding="utf-8")
    program = json.dumps([manifest[name] for name in PROGRAM])
    digest, files, promise = (manifest[name][id] for name in ("sites", "files", "promises"))
    grounds = Grounds(digest, files, promise, program, manifest["seed"])
    return Known(SiteScore.from_json(json.loads(text)), grounds)
