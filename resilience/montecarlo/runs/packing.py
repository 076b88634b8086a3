"""What lifetimes add up to as bytes: as a ledger keeps it, and as it travels between processes."""

import json
import zlib
from collections import Counter
from dataclasses import astuple, dataclass
from typing import Self

import numpy as np

from resilience.lifetime.record import Holder
from resilience.lifetime.tally import BY_HOLDER, COLUMNS, DrainSums, SensorSums, Tally


@dataclass(frozen=True, slots=True)
class PackedPiece:
    """Lifetimes of one layout added up, as a ledger keeps them and as they travel.

    Parameters
    ----------
    layout : str
        Its name. [-]
    first : int
        Number of the first lifetime. [-]
    n : int
        Lifetimes. [-]
    tally : bytes
        What they add up to, packed with a checksum. [-]
    """

    layout: str
    first: int
    n: int
    tally: bytes

    @classmethod
    def of(cls, layout: str, tally: Tally) -> Self:
        """Pack what some lifetimes of a layout add up to.

        Parameters
        ----------
        layout : str
            Its name. [-]
        tally : Tally
            What they add up to. [-]
        """
        return cls(layout, tally.first, tally.n_lifetimes, packed_tally(tally))

    def unpacked(self) -> Tally:
        """Return what the lifetimes add up to."""
        return tally_in(self.first, self.tally)


def packed_tally(tally: Tally) -> bytes:
    """Whole numbers of any size as text, packed with a checksum.

    Parameters
    ----------
    tally : Tally
        What some lifetimes add up to. [-]
    """
    columns = [tally.rows[:, column].tolist() for column in range(len(COLUMNS))]
    document = {
        "columns": dict(zip(COLUMNS, columns, strict=True)),
        "sensors": [[*key, sums.total, sums.squares] for key, sums in tally.sensors.items()],
        "drains": [[id, *astuple(drain)] for id, drain in tally.drains.items()],
    }
    for name in BY_HOLDER:
        document[name] = [[*holder, value] for holder, value in getattr(tally, name).items()]
    return zlib.compress(json.dumps(document, separators=(",", ":")).encode(), 1)


def tally_in(first: int, packed: bytes) -> Tally:
    """Return what lifetimes add up to; an error of zlib, json or a key says that it is damaged.

    Parameters
    ----------
    first : int
        Number of the first lifetime. [-]
    packed : bytes
        From ``packed_tally``. [-]
    """
    document = json.loads(zlib.decompress(packed))
    columns = [document["columns"][name] for name in COLUMNS]
    return Tally(
        first,
        np.array(columns, np.int64).T,
        {(figure, id): SensorSums(total, sq) for figure, id, total, sq in document["sensors"]},
        drains={id: DrainSums(*sums) for id, *sums in document["drains"]},
        **{name: _by_holder(document[name]) for name in BY_HOLDER},
    )


def _by_holder(listed: list[tuple[str, str, int]]) -> Counter[Holder]:
    return Counter({(cause, id): value for cause, id, value in listed})
