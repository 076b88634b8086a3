"""The two engines behind one door: the compiled one, or the reference where it cannot run."""

from typing import TYPE_CHECKING, Protocol

from resilience.connectivity.luck.prospect import Prospect
from resilience.errors import UsageError
from resilience.hazards.table import HazardTable
from resilience.lifetime.mesh import Luck, Mesh, Rules
from resilience.lifetime.record import Lifetime, Record
from resilience.lifetime.tally import Tally

if TYPE_CHECKING:
    from resilience.lifetime.branching.aims import Aim
    from resilience.lifetime.branching.splitter import Splitter

COMPILED, REFERENCE = "compiled", "reference"


class Player(Protocol):
    """One layout in one possible building, ready to be played."""

    def record(self, luck: Luck) -> Record:
        """Play one lifetime and return its record."""
        ...

    def lifetime(self, luck: Luck) -> Lifetime:
        """Play one lifetime and return its record and its history."""
        ...


class ReferencePlayer:
    """The engine that is the specification."""

    def __init__(self, mesh: Mesh, hazards: HazardTable, rules: Rules) -> None:
        self._played = (mesh, hazards, rules)

    def record(self, luck: Luck) -> Record:
        """Play one lifetime and return its record."""
        return self.lifetime(luck).record

    def lifetime(self, luck: Luck) -> Lifetime:
        """Play one lifetime and return its record and its history."""
        from resilience.lifetime.reference.simulator import simulate

        return simulate(*self._played, luck)


class Tallier(Protocol):
    """One layout, ready for lifetime after lifetime."""

    def tally(self, seed: int, first: int, n: int) -> Tally:
        """Play lifetimes in a row and add them up."""
        ...


def why_not_compiled() -> str:
    """Return why the compiled engine cannot run here; empty where it can."""
    try:
        import numba  # noqa: F401 - only whether it is there
    except ImportError as error:
        return f"numba is not available ({error})"
    return ""


def player(engine: str, mesh: Mesh, hazards: HazardTable, rules: Rules) -> Player:
    """Make a mesh ready to be played.

    Parameters
    ----------
    engine : str
        ``compiled`` or ``reference``; the compiled one falls back where it cannot run. [-]
    mesh : Mesh
        The layout in one possible building. [-]
    hazards : HazardTable
        What can strike it. [-]
    rules : Rules
        Horizon and routing. [-]

    Raises
    ------
    UsageError
        There is no engine of that name.
    """
    if engine not in (COMPILED, REFERENCE):
        raise UsageError(f"there is no engine {engine!r}; choose {COMPILED} or {REFERENCE}")
    if engine == COMPILED and can_compile(mesh, hazards, rules):
        from resilience.lifetime.casting.records import Recorder
        from resilience.lifetime.casting.worlds import cast_of

        return Recorder(cast_of(mesh, hazards, rules))
    return ReferencePlayer(mesh, hazards, rules)


def tallier(prospect: Prospect, mesh: Mesh, hazards: HazardTable, rules: Rules) -> Tallier | None:
    """Make a layout ready for many compiled lifetimes; None where the compiled engine cannot run.

    Parameters
    ----------
    prospect : Prospect
        What the luck of a building works on. [-]
    mesh : Mesh
        Devices of the layout at mean shadowing; those that the prospect has more are left out. [-]
    hazards : HazardTable
        Everything that can strike the prospect's devices and links. [-]
    rules : Rules
        Horizon and routing. [-]
    """
    if not can_compile(mesh, hazards, rules):
        return None
    from resilience.lifetime.casting.tallying import Tallier as Compiled
    from resilience.lifetime.casting.worlds import cast_of

    return Compiled(cast_of(mesh, hazards, rules, prospect.table), prospect)


def splitter(
    aim: "Aim", prospect: Prospect, mesh: Mesh, hazards: HazardTable, rules: Rules
) -> "Splitter | None":
    """Make a layout ready for lifetimes that branch; None where the compiled engine cannot run.

    Parameters
    ----------
    aim : Aim
        What is looked for. [-]
    prospect : Prospect
        What the luck of a building works on. [-]
    mesh : Mesh
        Devices of the layout at mean shadowing; those that the prospect has more are left out. [-]
    hazards : HazardTable
        Everything that can strike the prospect's devices and links. [-]
    rules : Rules
        Horizon and routing. [-]
    """
    if not can_compile(mesh, hazards, rules):
        return None
    from resilience.lifetime.branching.splitter import Splitter
    from resilience.lifetime.casting.worlds import cast_of

    return Splitter(cast_of(mesh, hazards, rules, prospect.table), aim, prospect)


def can_compile(mesh: Mesh, hazards: HazardTable, rules: Rules) -> bool:
    """Whether the compiled engine can run here, and the layout fits into its packed keys.

    Parameters
    ----------
    mesh : Mesh
        The layout in one possible building. [-]
    hazards : HazardTable
        What can strike it. [-]
    rules : Rules
        Horizon and routing. [-]
    """
    if why_not_compiled():
        return False
    from resilience.lifetime.casting.worlds import fits

    return fits(mesh, hazards, rules)
