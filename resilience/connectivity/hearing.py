"""Device by device: what each hears, how near to a limit, and what a second model says."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from resilience.building.site import Device, Kind
from resilience.connectivity.losses.second_opinion import second_opinion_db
from resilience.connectivity.rows import Link
from resilience.connectivity.table import LinkTable

THIN_MARGIN_DB = 10.0  # common practice: asked for at hand-over
LIMITS_DB = (0.0, THIN_MARGIN_DB)  # margins at which a link is usable, and accepted
NEAR_DB = 3.0
DISAGREE_DB = 6.0
LEAST_PARENTS = 2


@dataclass(frozen=True, slots=True)
class Ear:
    """One device with what it hears.

    Parameters
    ----------
    device : Device
        The device. [-]
    usable : sequence of Link
        Its usable links, the cheapest first. [-]
    missed : sequence of Link
        Its links that are not usable, the nearest to it first. [-]
    n_parents : int
        Usable neighbours that may be its parent. [-]
    """

    device: Device
    usable: Sequence[Link]
    missed: Sequence[Link]
    n_parents: int

    @property
    def lacks_parents(self) -> bool:
        """Whether the loss of one neighbour can silence it."""
        return self.device.kind is not Kind.GATEWAY and self.n_parents < LEAST_PARENTS


def ears(links: LinkTable) -> tuple[Ear, ...]:
    """Return every device of a layout with its usable links, in order of id.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    """
    devices, costs, margins_db = links.devices, links.costs, links.margins_db
    by_id = np.empty(len(costs), np.int64)  # decides between equals
    by_id[sorted(range(len(costs)), key=links.link_ids.__getitem__)] = np.arange(len(costs))
    order = np.lexsort((by_id, -margins_db, costs))
    is_relay = np.array([one.kind is Kind.GATEWAY or one.model.forwards for one in devices])
    found, ends = [], links.ends[order]
    for row, device in enumerate(devices):
        own = order[(ends == row).any(axis=1)]
        usable, missed = own[costs[own] > 0], own[costs[own] == 0]
        others = links.ends[usable].sum(axis=1) - row
        n_parents = int(is_relay[others].sum())
        found.append(Ear(device, links.rows(usable), links.rows(missed), n_parents))
    return tuple(found)


def other_end(link: Link, device_id: str) -> str:
    """Id of the device at the other end of a link."""
    return link.b if link.a == device_id else link.a


@dataclass(frozen=True, slots=True)
class Opinion:
    """What two models make of one path through what is drawn.

    Parameters
    ----------
    link : Link
        The link. [-]
    loss_db, other_db : float
        Loss by the prediction and by the multi-wall model. [dB]
    """

    link: Link
    loss_db: float
    other_db: float

    @property
    def apart_db(self) -> float:
        """Loss by the multi-wall model less that by the prediction."""
        return self.other_db - self.loss_db

    @property
    def differs(self) -> bool:
        """Whether the two are so far apart that one of them must be wrong about the path."""
        return abs(self.apart_db) > DISAGREE_DB

    def may_serve(self, links: LinkTable) -> bool:
        """Whether the path is usable as it stands, or would be with the other loss.

        Parameters
        ----------
        links : LinkTable
            Where it stands. [-]
        """
        margin_db = links.margin_db(self.link)
        return max(margin_db, margin_db - self.apart_db) >= 0


def opinions(links: LinkTable) -> tuple[Opinion, ...]:
    """Return both losses of every path predicted through what is drawn, the farthest apart first.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    """
    if not links.building.is_drawn:
        return ()
    found = []
    for link in links.rows(np.flatnonzero(~links.is_measured)):
        assert link.open_loss_db is not None
        assert link.distance_m is not None
        loss_db = link.open_loss_db + sum(one.loss_db for one in link.hindrances)
        other_db = second_opinion_db(
            link.hindrances, link.distance_m, links.radio.frequency_mhz, links.building
        )
        found.append(Opinion(link, loss_db, other_db))
    return tuple(sorted(found, key=lambda one: (-abs(one.apart_db), one.link.id)))


def is_near_limit(margin_db: float) -> bool:
    """Whether a few dB decide if a link is usable, or accepted.

    Parameters
    ----------
    margin_db : float
        Loss that the link can still take; negative where it is not usable. [dB]
    """
    return any(abs(margin_db - limit_db) <= NEAR_DB for limit_db in LIMITS_DB)
