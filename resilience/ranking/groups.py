"""Layouts that are told apart as groups, and what the better ones have that the others lack."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from resilience.building.site import Kind, Layout
from resilience.ranking.pairs import Verdict

VerdictOf = Callable[[str, str], Verdict]  # of two layouts, the better placed one first


@dataclass(frozen=True, slots=True)
class Split:
    """A place in the order at which every layout before is shown to be better than every one after.

    Parameters
    ----------
    n_better : int
        Layouts before it. [-]
    only_better_have, only_worse_have : tuple of str
        Gateways and repeaters that all layouts on this side have where no layout on the other side
        has one. [-]
    """

    n_better: int
    only_better_have: tuple[str, ...]
    only_worse_have: tuple[str, ...]


def splits_of(ordered: Sequence[Layout], verdict: VerdictOf) -> tuple[Split, ...]:
    """Return every split of layouts in order, the first places first.

    Parameters
    ----------
    ordered : sequence of Layout
        Best first. [-]
    verdict : callable
        What is shown of two of them. [-]
    """
    found = []
    for n_better in range(1, len(ordered)):
        better, worse = ordered[:n_better], ordered[n_better:]
        if all(
            verdict(first.name, second.name) is Verdict.BETTER
            for first in better
            for second in worse
        ):
            found.append(Split(n_better, _only_in(better, worse), _only_in(worse, better)))
    return tuple(found)


def _only_in(some: Sequence[Layout], others: Sequence[Layout]) -> tuple[str, ...]:
    """Ids of devices that all of some layouts have and none of the others."""
    in_all = set.intersection(*map(_placed, some))
    elsewhere = set[object]().union(*map(_placed, others))
    return tuple(sorted({str(device[0]) for device in in_all - elsewhere}))


def _placed(layout: Layout) -> set[tuple[object, ...]]:
    """Gateways and repeaters with what makes one of the same name another device."""
    return {
        (one.id, one.kind, one.place, one.supply, one.circuit_id, one.zone_id, one.standby)
        for one in layout.devices
        if one.kind is not Kind.SENSOR
    }
