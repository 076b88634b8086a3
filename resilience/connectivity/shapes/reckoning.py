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


class Limits(NamedTuple):
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
    total_db : Floats
        Of each path; of one that is dropped, enough of it to be dropped. [dB]
    """

    start: Ints
    label: Ints
    along: Floats
    loss_db: Floats
    total_db: Floats


class Books(NamedTuple):
    """All that reckoning looks at."""

    scene: Scene
    met: Meetings
    limits: Limits
    paid: Paid


def reckon_paths(books: Books, paths: Paths, first: int) -> None:
    """Reckon what the paths of a batch pay.

    Parameters
    ----------
    books : Books
        What they meet, put in order along each path; ``paid`` is overwritten. [-]
    paths : Paths
        All of them. [-]
    first : int
        The first path of this batch. [-]
    """
    n, paid = 0, books.paid
    for place in range(paid.total_db.shape[0]):
        path = first + place
        line = line_between(paths.points_m, paths.ends[path, 0], paths.ends[path, 1])
        row, end_row = books.met.start[place], books.met.start[place + 1]
        order_meetings(books.met, row, end_row)
        paid.start[place] = n
        spare_db = books.limits.spare_db[path]
        end = pay_walls(books, line, (row, end_row), n, spare_db)
        if sum_db(paid, n, end) <= spare_db:
            end = pay_linings(books, line, row, end_row, end)
            end = pay_others(books, line, row, end_row, end)
            order_paid(books.scene, paid, n, end)
        paid.total_db[place] = sum_db(paid, n, end)
        if paid.total_db[place] <= spare_db:
            n = end
    paid.start[paid.total_db.shape[0]] = n


def pay_walls(books: Books, line: Line, rows: tuple[int, int], n: int, spare_db: float) -> int:
    """Write down what the walls in a path take, each joint once; return the number of payments.

    Parameters
    ----------
    books : Books
        What is met and paid. [-]
    line : Line
        The path. [-]
    rows : tuple of int
        Its meetings, in order along it: the first, and the one after the last. [-]
    n : int
        Payments so far. [-]
    spare_db : float
        Loss beyond which nobody wants to know more. [dB]
    """
    met, paid = books.met, books.paid
    joint, spent_db, first = 0.0, 0.0, n
    for meeting in range(rows[0], rows[1]):
        if met.thing[meeting] >= books.scene.n_walls:
            continue
        loss_db, label = met.through_db[meeting], met.label[meeting]
        if loss_db > LEAST_DETOUR_DB:
            loss_db, label = cheapest(books, line, meeting, loss_db)
        along = met.along[meeting]
        if n == first or (along - joint) * line.plan_m > 2 * TOUCH_M:
            joint, spent_db = along, spent_db + loss_db
            n = pay(paid, n, label, along, loss_db)
            if spent_db > spare_db:
                return n
        elif is_dearer(books.scene.rank, paid, n - 1, label, loss_db):
            pay(paid, n - 1, label, along, loss_db)
    return n


def is_dearer(rank: Ints, paid: Paid, row: int, label: int, loss_db: float) -> bool:
    """Whether a wall takes more than the one of the same joint that is written down.

    Parameters
    ----------
    rank : Ints
        Order of labels, which decides between equals. [-]
    paid : Paid
        Payments. [-]
    row : int
        The one written down. [-]
    label : int
        What the wall is called. [-]
    loss_db : float
        What it takes. [dB]
    """
    held_db = paid.loss_db[row]
    return loss_db > held_db or (loss_db == held_db and rank[label] > rank[paid.label[row]])


def pay_linings(books: Books, line: Line, row: int, end_row: int, n: int) -> int:
    """Write down what lined shafts in a path take, each as a whole; return the number of payments.

    Parameters
    ----------
    books : Books
        What is met and paid. [-]
    line : Line
        The path. [-]
    row, end_row : int
        Its meetings, in order along it. [-]
    n : int
        Payments so far. [-]
    """
    scene, met = books.scene, books.met
    for first in range(row, end_row):
        if not is_lining(scene, met.thing[first]) or is_told(met, row, first):
            continue
        through_db, joint, joint_db = 0.0, met.along[first], 0.0
        for meeting in range(first, end_row):
            if met.label[meeting] != met.label[first]:
                continue
            if (met.along[meeting] - joint) * line.plan_m > 2 * TOUCH_M:
                through_db, joint, joint_db = through_db + joint_db, met.along[meeting], 0.0
            joint_db = max(joint_db, met.through_db[meeting])
        loss_db, label = cheapest(books, line, first, through_db + joint_db)
        n = pay(books.paid, n, label, met.along[first], loss_db)
    return n


def is_told(met: Meetings, row: int, meeting: int) -> bool:
    """Whether what is met there has been met before under the same label.

    Parameters
    ----------
    met : Meetings
        What is met. [-]
    row, meeting : int
        First meeting of the path, and the one in question. [-]
    """
    for before in range(row, meeting):  # noqa: SIM110 - a loop is what compiles
        if met.label[before] == met.label[meeting]:
            return True
    return False


def pay_others(books: Books, line: Line, row: int, end_row: int, n: int) -> int:
    """Write down what everything but walls and linings takes; return the number of payments.

    Parameters
    ----------
    books : Books
        What is met and paid. [-]
    line : Line
        The path. [-]
    row, end_row : int
        Its meetings. [-]
    n : int
        Payments so far. [-]
    """
    met = books.met
    for meeting in range(row, end_row):
        if met.thing[meeting] >= books.scene.faces.shape[0]:
            loss_db, label = cheapest(books, line, meeting, met.through_db[meeting])
            n = pay(books.paid, n, label, met.along[meeting], loss_db)
    return n


def cheapest(books: Books, line: Line, meeting: int, through_db: float) -> tuple[float, int]:
    """Loss of the cheapest way past one thing, and what that way is called.

    Parameters
    ----------
    books : Books
        What is met. [-]
    line : Line
        The path. [-]
    meeting : int
        Row of the meeting. [-]
    through_db : float
        Loss straight through. [dB]
    """
    scene, limits, thing = books.scene, books.limits, books.met.thing[meeting]
    n_faces = scene.faces.shape[0]
    is_wall, is_pillar = thing < scene.n_walls, n_faces <= thing < n_faces + scene.n_pillars
    loss_db, label = through_db, books.met.label[meeting]
    if is_lining(scene, thing) or is_pillar:
        loss_db = min(loss_db, limits.most_db)
    if thing >= n_faces + scene.boxes_m.shape[0] or loss_db <= LEAST_DETOUR_DB:
        return loss_db, label
    if is_wall:
        round_db = round_ends_db(scene, thing, line, limits.wavelength_m)
    else:
        round_db = round_outline_db(scene, thing, line, limits.wavelength_m)
    if round_db < loss_db:
        loss_db, label = round_db, scene.things[thing, ROUND]
    if scene.things[thing, OVER] != NONE:
        if is_wall:
            along = books.met.along[meeting]
            over_db = over_wall_db(scene, thing, along, line, limits.wavelength_m)
        else:
            over_db = over_box_db(scene, thing - n_faces, line, limits.wavelength_m)
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


def pay(paid: Paid, n: int, label: int, along: float, loss_db: float) -> int:
    """Write down one payment; return the number of payments then.

    Parameters
    ----------
    paid : Paid
        Written at row ``n``. [-]
    n : int
        The row. [-]
    label : int
        What it is called. [-]
    along : float
        Where on the path, as a share of it. [-]
    loss_db : float
        What it takes. [dB]
    """
    paid.label[n], paid.along[n], paid.loss_db[n] = label, along, loss_db
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
        through_db, hole = met.through_db[unsorted], unsorted
        while hole > row and (
            met.along[hole - 1] > along
            or (met.along[hole - 1] == along and met.thing[hole - 1] > thing)
        ):
            met.along[hole], met.thing[hole] = met.along[hole - 1], met.thing[hole - 1]
            met.label[hole], met.through_db[hole] = met.label[hole - 1], met.through_db[hole - 1]
            hole -= 1
        met.along[hole], met.thing[hole] = along, thing
        met.label[hole], met.through_db[hole] = label, through_db


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
        along, label, loss_db = paid.along[unsorted], paid.label[unsorted], paid.loss_db[unsorted]
        hole = unsorted
        while hole > row and (
            paid.along[hole - 1] > along
            or (paid.along[hole - 1] == along and rank[paid.label[hole - 1]] > rank[label])
        ):
            paid.along[hole], paid.label[hole] = paid.along[hole - 1], paid.label[hole - 1]
            paid.loss_db[hole] = paid.loss_db[hole - 1]
            hole -= 1
        paid.along[hole], paid.label[hole], paid.loss_db[hole] = along, label, loss_db
