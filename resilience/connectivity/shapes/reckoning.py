"""What each path pays for what it meets: joints once, and through or round, whatever is cheaper."""

from typing import NamedTuple

from resilience.connectivity.shapes.detours import (
    over_box_db,
    over_wall_db,
    round_ends_db,
    round_outline_db,
)
from resilience.connectivity.shapes.faces import TOUCH_M, Floats, Ints, Line, line_between
from resilience.connectivity.shapes.meetings import Meetings, Paths
from resilience.connectivity.shapes.scene import NONE, OVER, ROUND, Scene

# An edge that reaches into the path costs 6 dB at least (P.526), so cheaper things are not gone
# round.
LEAST_DETOUR_DB = 6.0
COUNTED = -1.0  # in place of a loss: something that touches it pays


class Bounds(NamedTuple):
    """What bounds the losses.

    Parameters
    ----------
    wavelength_m : float
        Wavelength. [m]
    most_db : float
        Largest loss of one pillar or one shaft's lining. [dB]
    spare_db : Floats
        Shape (paths,): loss beyond which a path is dropped. [dB]
    """

    wavelength_m: float
    most_db: float
    spare_db: Floats


class Paid(NamedTuple):
    """What the paths of a batch pay, each in order along the path.

    Parameters
    ----------
    start : Ints
        Where the hindrances of each path start; a path that is dropped has none. [-]
    label : Ints
        What each is called. [-]
    along, loss_db : Floats
        Where on the path, as a share of it, and what it takes. [-, dB]
    times : Ints
        How often it is crossed; 0 where the loss is held at a limit. [-]
    total_db : Floats
        Of each path; of one that is dropped, enough of it to be dropped. [dB]
    """

    start: Ints
    label: Ints
    along: Floats
    loss_db: Floats
    times: Ints
    total_db: Floats


class Payment(NamedTuple):
    """One row of what is paid."""

    label: int
    along: float
    loss_db: float
    times: int


class Reckoning(NamedTuple):
    """All that reckoning looks at."""

    scene: Scene
    met: Meetings
    bounds: Bounds
    paid: Paid


def reckon_paths(work: Reckoning, paths: Paths, first: int) -> None:
    """Reckon what the paths of a batch pay.

    Parameters
    ----------
    work : Reckoning
        What they meet, put in order along each path and settled; ``paid`` is overwritten. [-]
    paths : Paths
        All of them. [-]
    first : int
        The first path of this batch. [-]
    """
    n, paid = 0, work.paid
    for place in range(paid.total_db.shape[0]):
        path = first + place
        line = line_between(paths.points_m, paths.ends[path, 0], paths.ends[path, 1])
        rows = (work.met.start[place], work.met.start[place + 1])
        order_meetings(work.met, rows[0], rows[1])
        paid.start[place] = n
        spare_db = work.bounds.spare_db[path]
        total_db = settle_joints(work, line, rows, spare_db)
        if total_db <= spare_db:
            end = pay_others(work, line, rows, pay_linings(work, line, rows, n))
            order_paid(work.scene, paid, n, end)
            total_db = sum_db(paid, n, end)
        paid.total_db[place] = total_db
        if total_db <= spare_db:
            n = end
    paid.start[paid.total_db.shape[0]] = n


def settle_joints(work: Reckoning, line: Line, rows: tuple[int, int], spare_db: float) -> float:
    """Price walls and pillars, and leave the lossiest of what touches; return a sum so far.

    A joint is what a path meets within twice ``TOUCH_M``, and while it is inside a pillar. A side
    of a shaft takes part in it with its loss straight through. What loses is ``COUNTED``.

    Parameters
    ----------
    work : Reckoning
        What is met; losses and labels of walls and pillars become those of the cheapest way. [-]
    line : Line
        The path. [-]
    rows : tuple of int
        Its meetings, in order along it: the first, and the one after the last. [-]
    spare_db : float
        Loss beyond which nobody wants to know more. [dB]
    """
    scene, met = work.scene, work.met
    n_faces = scene.faces.shape[0]
    held, end_m, spent_db, has_pillar = -1, 0.0, 0.0, False
    for meeting in range(rows[0], rows[1]):
        thing, at_m = met.thing[meeting], met.along[meeting] * line.plan_m
        if thing >= n_faces + scene.n_pillars:
            continue
        is_pillar, leaves_m = thing >= n_faces, at_m
        if is_pillar:
            leaves_m += met.measure[meeting] * line.plan_m / line.length_m
        if not is_lining(scene, thing):
            loss_db, label = cheapest(work, line, meeting, met.through_db[meeting])
            met.through_db[meeting], met.label[meeting] = loss_db, label
        # Pillars side by side are two, so these have to overlap.
        reach_m = -TOUCH_M if is_pillar and has_pillar else 2 * TOUCH_M
        if held < 0 or at_m - end_m > reach_m:
            if held >= 0 and not is_lining(scene, met.thing[held]):
                spent_db += met.through_db[held]
                if spent_db > spare_db:
                    return spent_db
            held, end_m, has_pillar = meeting, leaves_m, is_pillar
            continue
        if is_pillar:
            end_m, has_pillar = max(end_m, leaves_m), True
        if is_dearer(scene.rank, met, held, meeting):
            met.through_db[held], held = COUNTED, meeting
        else:
            met.through_db[meeting] = COUNTED
    return spent_db


def is_dearer(rank: Ints, met: Meetings, held: int, meeting: int) -> bool:
    """Whether something takes more than what is held to be the lossiest of the same joint.

    Parameters
    ----------
    rank : Ints
        Order of labels, which decides between equals. [-]
    met : Meetings
        What is met. [-]
    held, meeting : int
        The one that is held, and the other. [-]
    """
    loss_db, held_db = met.through_db[meeting], met.through_db[held]
    is_ahead = rank[met.label[meeting]] > rank[met.label[held]]
    return loss_db > held_db or (loss_db == held_db and is_ahead)


def pay_linings(work: Reckoning, line: Line, rows: tuple[int, int], n: int) -> int:
    """Write down what lined shafts in a path take, each as a whole; return the number of payments.

    Parameters
    ----------
    work : Reckoning
        What is met and paid. [-]
    line : Line
        The path. [-]
    rows : tuple of int
        Its meetings, settled and in order along it. [-]
    n : int
        Payments so far. [-]
    """
    scene, met = work.scene, work.met
    for first in range(rows[0], rows[1]):
        if not is_lining(scene, met.thing[first]) or is_told(met, rows[0], first):
            continue
        through_db, times = 0.0, 0
        for meeting in range(first, rows[1]):
            if met.label[meeting] == met.label[first] and met.through_db[meeting] != COUNTED:
                through_db, times = through_db + met.through_db[meeting], times + 1
        loss_db, label = cheapest(work, line, first, through_db)
        if loss_db >= work.bounds.most_db:
            times = 0
        n = pay(work.paid, n, Payment(label, met.along[first], loss_db, times))
    return n


def is_told(met: Meetings, row: int, meeting: int) -> bool:
    """Whether what is met there counts elsewhere, or has been met before under the same label.

    Parameters
    ----------
    met : Meetings
        What is met, settled. [-]
    row, meeting : int
        First meeting of the path, and the one in question. [-]
    """
    if met.through_db[meeting] == COUNTED:
        return True
    for before in range(row, meeting):
        if met.label[before] == met.label[meeting] and met.through_db[before] != COUNTED:
            return True
    return False


def pay_others(work: Reckoning, line: Line, rows: tuple[int, int], n: int) -> int:
    """Write down what everything but linings takes; return the number of payments.

    Parameters
    ----------
    work : Reckoning
        What is met and paid. [-]
    line : Line
        The path. [-]
    rows : tuple of int
        Its meetings, settled. [-]
    n : int
        Payments so far. [-]
    """
    scene, met = work.scene, work.met
    n_faces = scene.faces.shape[0]
    for meeting in range(rows[0], rows[1]):
        thing, loss_db, label = met.thing[meeting], met.through_db[meeting], met.label[meeting]
        if loss_db == COUNTED or is_lining(scene, thing):
            continue
        times = 1
        if thing >= n_faces + scene.n_pillars:
            loss_db, label = cheapest(work, line, meeting, loss_db)
        elif thing >= n_faces and loss_db >= work.bounds.most_db:
            times = 0
        n = pay(work.paid, n, Payment(label, met.along[meeting], loss_db, times))
    return n


def cheapest(work: Reckoning, line: Line, meeting: int, through_db: float) -> tuple[float, int]:
    """Loss of the cheapest way past one thing, and what that way is called.

    Parameters
    ----------
    work : Reckoning
        What is met. [-]
    line : Line
        The path. [-]
    meeting : int
        Row of the meeting. [-]
    through_db : float
        Loss straight through. [dB]
    """
    scene, bounds, thing = work.scene, work.bounds, work.met.thing[meeting]
    n_faces = scene.faces.shape[0]
    is_wall, is_pillar = thing < scene.n_walls, n_faces <= thing < n_faces + scene.n_pillars
    loss_db, label = through_db, work.met.label[meeting]
    if is_lining(scene, thing) or is_pillar:
        loss_db = min(loss_db, bounds.most_db)
    if thing >= n_faces + scene.boxes_m.shape[0] or loss_db <= LEAST_DETOUR_DB:
        return loss_db, label
    if is_wall:
        round_db = round_ends_db(scene, thing, line, bounds.wavelength_m)
    else:
        round_db = round_outline_db(scene, thing, line, bounds.wavelength_m)
    if round_db < loss_db:
        loss_db, label = round_db, scene.things[thing, ROUND]
    if scene.things[thing, OVER] != NONE:
        if is_wall:
            along = work.met.along[meeting]
            over_db = over_wall_db(scene, thing, along, line, bounds.wavelength_m)
        else:
            over_db = over_box_db(scene, thing - n_faces, line, bounds.wavelength_m)
        if over_db < loss_db:
            loss_db, label = over_db, scene.things[thing, OVER]
    return loss_db, label


def sum_db(paid: Paid, first: int, end: int) -> float:
    """Sum of some payments, one after the other.

    Parameters
    ----------
    paid : Paid
        Payments. [-]
    first, end : int
        Which: the first, and the one after the last. [-]
    """
    total_db = 0.0
    for row in range(first, end):
        total_db += paid.loss_db[row]
    return total_db


def is_lining(scene: Scene, thing: int) -> bool:
    """Whether a thing is a side of a lined shaft.

    Parameters
    ----------
    scene : Scene
        Everything drawn. [-]
    thing : int
        Which thing. [-]
    """
    return scene.n_walls <= thing < scene.faces.shape[0]


def pay(paid: Paid, n: int, payment: Payment) -> int:
    """Write down one payment; return the number of payments then.

    Parameters
    ----------
    paid : Paid
        Written at row ``n``. [-]
    n : int
        The row. [-]
    payment : Payment
        What is written there. [-]
    """
    paid.label[n], paid.along[n] = payment.label, payment.along
    paid.loss_db[n], paid.times[n] = payment.loss_db, payment.times
    return n + 1


def order_meetings(met: Meetings, row: int, end_row: int) -> None:
    """Put the meetings of one path in order along it, things at one point by their numbers.

    Parameters
    ----------
    met : Meetings
        Sorted in place. [-]
    row, end_row : int
        Those of the path; few, so that plain insertion is fast. [-]
    """
    for unsorted in range(row + 1, end_row):
        along, thing, label = met.along[unsorted], met.thing[unsorted], met.label[unsorted]
        through_db, measure = met.through_db[unsorted], met.measure[unsorted]
        hole = unsorted
        while hole > row and (
            met.along[hole - 1] > along
            or (met.along[hole - 1] == along and met.thing[hole - 1] > thing)
        ):
            met.along[hole], met.thing[hole] = met.along[hole - 1], met.thing[hole - 1]
            met.label[hole], met.through_db[hole] = met.label[hole - 1], met.through_db[hole - 1]
            met.measure[hole] = met.measure[hole - 1]
            hole -= 1
        met.along[hole], met.thing[hole] = along, thing
        met.label[hole], met.through_db[hole] = label, through_db
        met.measure[hole] = measure


def order_paid(scene: Scene, paid: Paid, row: int, end_row: int) -> None:
    """Put the payments of one path in order along it, those at one point by what they say.

    Parameters
    ----------
    scene : Scene
        Holds the order of labels. [-]
    paid : Paid
        Sorted in place. [-]
    row, end_row : int
        Those of the path. [-]
    """
    rank = scene.rank
    for unsorted in range(row + 1, end_row):
        along, label = paid.along[unsorted], paid.label[unsorted]
        loss_db, times, hole = paid.loss_db[unsorted], paid.times[unsorted], unsorted
        while hole > row and (
            paid.along[hole - 1] > along
            or (paid.along[hole - 1] == along and rank[paid.label[hole - 1]] > rank[label])
        ):
            paid.along[hole], paid.label[hole] = paid.along[hole - 1], paid.label[hole - 1]
            paid.loss_db[hole], paid.times[hole] = paid.loss_db[hole - 1], paid.times[hole - 1]
            hole -= 1
        pay(paid, hole, Payment(label, along, loss_db, times))
