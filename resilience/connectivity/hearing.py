"""Device by device: what each hears, how near to a limit, and what a second model says."""

from collections import defaultdict
from dataclasses import dataclass

from resilience.building.site import Device, Kind
from resilience.connectivity.links import Link, LinkTable
from resilience.connectivity.losses.second_opinion import second_opinion_db

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
    usable : tuple of Link
        Its usable links, the cheapest first. [-]
    missed : tuple of Link
        Its links that are not usable, the nearest to it first. [-]
    n_parents : int
        Usable neighbours that may be its parent. [-]
    """

    device: Device
    usable: tuple[Link, ...]
    missed: tuple[Link, ...]
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
    usable: dict[str, list[tuple[int, float, str, Link]]] = defaultdict(list)
    misses: dict[str, list[tuple[float, str, Link]]] = defaultdict(list)
    for link in links.links:
        cost, margin_db = links.cost(link), links.margin_db(link)
        for end in (link.a, link.b):
            if cost is None:
                misses[end].append((-margin_db, link.id, link))
            else:
                usable[end].append((cost, -margin_db, link.id, link))
    relays = {
        one.id for one in links.layout.devices if one.kind is Kind.GATEWAY or one.model.forwards
    }
    found = []
    for device in links.layout.devices:
        own = tuple(entry[-1] for entry in sorted(usable[device.id], key=lambda entry: entry[:3]))
        missed = tuple(entry[-1] for entry in sorted(misses[device.id], key=lambda one: one[:2]))
        n_parents = sum(other_end(link, device.id) in relays for link in own)
        found.append(Ear(device, own, missed, n_parents))
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
    found = []
    for link in links.links:
        if link.measured or not links.building.is_drawn:
            continue
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
