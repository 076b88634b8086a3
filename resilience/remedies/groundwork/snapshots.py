"""Who has a way to a gateway in many states at once, one bit a state, 64 states a word."""

from dataclasses import dataclass

import numpy as np

from resilience.building.site import Kind
from resilience.connectivity.luck.routes import Flags, forwards, of_kind
from resilience.connectivity.table import Ints
from resilience.remedies.groundwork.chances import BITS, States, Words


@dataclass(frozen=True, slots=True)
class Ways:
    """Directed steps from what passes readings on to what hears it, in order of the latter.

    Parameters
    ----------
    source, target, link : Ints
        Shape (steps,): rows of devices and of links. [-]
    """

    source: Ints
    target: Ints
    link: Ints

    @property
    def starts(self) -> Ints:
        """Where the steps towards each target begin, one entry a target that has any."""
        found: Ints = np.flatnonzero(np.diff(self.target, prepend=-1))
        return found

    def among(self, present: Flags) -> "Ways":
        """Return the steps between some devices.

        Parameters
        ----------
        present : Flags
            Shape (devices,). [-]
        """
        kept = present[self.source] & present[self.target]
        return Ways(self.source[kept], self.target[kept], self.link[kept])


def ways_of(states: States) -> Ways:
    """Return all steps over links of a layout.

    Parameters
    ----------
    states : States
        Of the layout. [-]
    """
    table, n_links = states.table, len(states.table.ends)
    source = np.concatenate((table.ends[:, 0], table.ends[:, 1]))
    target = np.concatenate((table.ends[:, 1], table.ends[:, 0]))
    link = np.tile(np.arange(n_links), 2)
    kept = forwards(table)[source] & ~of_kind(table, Kind.GATEWAY)[target]
    order = np.flatnonzero(kept)
    order = order[np.argsort(target[order], kind="stable")]
    return Ways(source[order], target[order], link[order])


def spread(states: States, ways: Ways, reached: Words) -> Words:
    """What is reached from what is, shape (devices, words).

    Parameters
    ----------
    states : States
        Who is up and which links are open. [-]
    ways : Ways
        The steps that may be taken. [-]
    reached : Words
        What is reached already, gateways among it; shape (devices, words). [-]
    """
    reached = reached.copy()
    if not len(ways.source):
        return reached
    starts = ways.starts
    targets = ways.target[starts]
    is_open = states.is_open[ways.link]
    while True:
        heard = np.bitwise_or.reduceat(reached[ways.source] & is_open, starts, axis=0)
        further = reached[targets] | (heard & states.up[targets])
        if np.array_equal(further, reached[targets]):
            return reached
        reached[targets] = further


def gateways_up(states: States, present: Flags) -> Words:
    """Return gateways that are up, all else reached by nothing yet, shape (devices, words).

    Parameters
    ----------
    states : States
        Who is up. [-]
    present : Flags
        Which devices there are, shape (devices,). [-]
    """
    begun = np.zeros_like(states.up)
    rows = np.flatnonzero(of_kind(states.table, Kind.GATEWAY) & present)
    begun[rows] = states.up[rows]
    return begun


def taken(states: States, wanted: Words, most: int) -> tuple[States, float]:
    """Some of the states, packed anew, and how many of those wanted each of them stands for.

    In states that fill the last word nobody is up.

    Parameters
    ----------
    states : States
        All of them. [-]
    wanted : Words
        Shape (words,): which. [-]
    most : int
        How many at most, evenly from among them. [-]
    """
    columns = np.flatnonzero(np.unpackbits(wanted.view(np.uint8)))
    weight = max(1.0, len(columns) / most)
    if weight > 1:
        columns = columns[np.linspace(0, len(columns) - 1, most).astype(np.int64)]
    few = States(states.table, _packed(states.up, columns), _packed(states.is_open, columns))
    return few, weight


def _packed(rows: Words, columns: Ints) -> Words:
    n_words = max(1, -(-len(columns) // BITS))
    bits = np.zeros((len(rows), n_words * BITS), np.uint8)
    for first in range(0, len(rows), 1024):
        part = slice(first, first + 1024)
        bits[part, : len(columns)] = np.unpackbits(
            np.ascontiguousarray(rows[part]).view(np.uint8), axis=1
        )[:, columns]
    found: Words = np.packbits(bits, axis=1).view(np.uint64)
    return found


def counted(rows: Words) -> int:
    """Return how many bits are 1.

    Parameters
    ----------
    rows : Words
        Any shape. [-]
    """
    return int(np.unpackbits(np.ascontiguousarray(rows).view(np.uint8)).sum())
