"""Links as rows: what the table of a layout makes of its columns when somebody asks for a link."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import overload

from resilience.connectivity.shapes.crossings import Hindrance


@dataclass(frozen=True, slots=True)
class Heard:
    """One direction of a link, from sender to receiver.

    Parameters
    ----------
    rssi_dbm : float
        Calm strength; where only a reception ratio was measured, what it stands for. [dBm]
    heard_dbm : float
        Strength that stands for its reception ratio: another only where both were measured. [dBm]
    floor_dbm : float
        Weakest strength at which the receiver keeps a link. [dBm]
    """

    rssi_dbm: float
    heard_dbm: float
    floor_dbm: float


@dataclass(frozen=True, slots=True)
class Link:
    """Two devices that hear each other, or nearly: one row of a table.

    Parameters
    ----------
    id : str
        The two ids joined by ``~``, the lesser by code point first. [-]
    a, b : str
        Ids of the devices, a before b by code point. [-]
    distance_m : float or None
        Between the devices; None where one has no place. [m]
    open_loss_db : float or None
        Loss of the path before hindrances; None where nothing is predicted. [dB]
    hindrances : sequence of Hindrance
        What stands in the way, from a to b. [-]
    there, back : Heard
        From a to b, and from b to a. [-]
    measured : bool
        Whether a measurement overrides the prediction. [-]
    predicted_dbm : (float, float) or None
        Strengths there and back as predicted; None where nothing is predicted. [dBm]
    correction_db : float
        What the calibration added to the predicted loss as drawn. [dB]
    row : int
        Its row in the table. [-]
    """

    id: str
    a: str
    b: str
    distance_m: float | None
    open_loss_db: float | None
    hindrances: Sequence[Hindrance]
    there: Heard
    back: Heard
    measured: bool
    predicted_dbm: tuple[float, float] | None = None
    correction_db: float = 0.0
    row: int = field(default=0, compare=False)


class Links(Sequence[Link]):
    """Rows of a table, each made when it is asked for."""

    __slots__ = ("_link", "_rows")

    def __init__(self, link: Callable[[int], Link], rows: Sequence[int]) -> None:
        self._link, self._rows = link, rows

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, place: int) -> Link: ...

    @overload
    def __getitem__(self, place: slice) -> "Links": ...

    def __getitem__(self, place: int | slice) -> "Link | Links":
        if isinstance(place, slice):
            return Links(self._link, self._rows[place])
        return self._link(self._rows[place])

    def __iter__(self) -> Iterator[Link]:
        return map(self._link, self._rows)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and tuple(self) == tuple(other)

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return repr(tuple(self))


def link_id(a: str, b: str) -> str:
    """Id of the link between two devices.

    Parameters
    ----------
    a, b : str
        Their ids, the lesser by code point first. [-]
    """
    return f"{a}~{b}"


def link_ends(id: str) -> tuple[str, str] | None:
    """Ids of the two ends of a link; None for an id that is of no link.

    Parameters
    ----------
    id : str
        Of a link, or of anything else: no other id has a ``~`` in it. [-]
    """
    a, is_link, b = id.partition("~")
    return (a, b) if is_link else None
