"""The world of the compiled engine: what each number means, row by row.

A class below describes one row of an array of records; ``world.devices[row].cost`` is its number.
All are whole numbers unless said otherwise; -1 is "none" wherever a row or a time is meant, and
flags are 0 or 1. What a comment calls a step is the number of the step in which something was so:
it is compared with ``now.step`` and never has to be cleared.
"""

from typing import Any, NamedTuple, Protocol, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from resilience.lifetime.state.books import Account, Count, Line, Silence, Spell, Stock, UpkeepRules

Ints = NDArray[np.int64]
Row_co = TypeVar("Row_co", covariant=True)

NEVER = 1 << 62
LAYOUT, RADIO_DRAW = -2, -3  # holders that are no element
CLOSED_CDB = 1 << 40  # loss by which a cut closes its link
OPEN_CDB = 1 << 39  # what a link of given cost can take of any loss

IS_DOWN, IS_MUTE, IS_CUT, IS_LOSS, IS_COST, IS_SWING = range(6)


class Rules(UpkeepRules):
    """What holds for the whole lifetime."""

    horizon_ms: int
    hysteresis: int
    look_around_ms: int
    backups: int
    rejoin_short_ms: int
    rejoin_long_ms: int
    reformation_ms: int
    standby_switch_ms: int
    counts_outages: int
    counts_hops: int
    from_first_route: int  # whether a sensor counts among many from then on only
    by_sensor: int  # whether each of many has to be lost for long, not only so many by turns
    swings: int
    holds_ms: int
    has_common: int  # whether levels of the mesh and of devices are added to those of links
    mesh_key: np.uint64
    best_cdb: int  # highest and lowest level
    worst_cdb: int
    least_cdbm: int  # at which a direction receives enough
    first_cdbm: int  # of the curve
    device_slots: int  # where the calendar's slots of devices begin
    gateway_slot: int
    look_slot: int
    link_slot: int


class Device:
    """A device as routing sees it."""

    parent: int
    branch: int  # link to its parent
    routed: int
    cost: int  # of its path, as of the step ``costed``
    costed: int
    cost_before: int  # of its path a millisecond before the step ``costed_before``
    costed_before: int
    down: int  # absences that hold it down
    first: int  # its neighbours: from here
    beyond: int  # to before here
    nearest: int  # least that a path can ever cost it
    is_relay: int
    is_gateway: int
    is_sensor: int
    is_standby: int
    is_absent: int  # not of this layout
    child: int  # first child; next and previous child of the same parent
    next: int
    prev: int
    size: int  # sensors in its subtree, itself included
    mute: int
    saved: int  # step in which the three below were saved
    parent_before: int
    branch_before: int
    routed_before: int
    cleared: int  # step in which its parent was forgotten
    detached: int  # step in which it lost its route or came back
    offered: int  # step in which somebody offered it a path, and the least cost of such
    offer: int
    touched: int  # step in which its accounts have to be settled
    timed: int  # step in which its place in the calendar has to be found anew
    drains: int  # step in which its drain may have changed
    renewed: int  # step in which it got new cells
    replaced: int  # step in which it was replaced
    rejoined: int  # step in which its rejoin was found
    rejoin_ms: int
    cells: int  # its row of ``cells``; -1 on mains
    visit_end_ms: int
    visits: int  # opened
    repair_key: np.uint64
    repair_start: np.uint64
    island: int  # the last island that it was found in
    at_mean: int  # whether it has a route at mean shadowing
    swing_key: np.uint64  # of the levels that all its links share, and where these are
    swing_start: np.uint64
    swing_phase_ms: int


class Link:
    """A link: in this building a pure function of time."""

    held_until: int  # until and since when it holds the level below
    held_since: int
    held_cdb: int
    held_cost: int  # at that level if nothing strikes it; -1 where it is not usable then
    struck_until: int  # until and since when what strikes it adds up to the two below
    struck_since: int
    loss_cdb: int
    extra: int
    spare_cdb: int  # loss that it takes when calm; below 0 it is not usable then
    heard_there_cdbm: int  # calm strengths that stand for its reception
    heard_back_cdbm: int
    phase_ms: int
    start: np.uint64  # of its stream of levels
    burdens_first: int  # what can strike it, in ``places``: from here to before there
    burdens_beyond: int
    sought: int  # which change of level was sought last, and the first hold not looked at for it
    unsought: int
    worst_loss_cdb: int  # all of that at once
    is_firm: int  # whether nothing can close it
    least_cost: int  # at the best moment
    given_cost: int  # cost whatever happens; -1 where the radio decides
    a: int
    b: int
    exists: int  # whether it is usable at the best moment, and leads to what forwards
    swing: int  # its row of ``elements``
    key: np.uint64
    shift_there_cdb: int  # from a strength to the one that stands for reception
    shift_back_cdb: int
    floor_there_cdbm: int
    floor_back_cdbm: int


class Neighbour:
    """One end of a link as seen from the other: gateways first, then by least cost."""

    device: int
    link: int
    least_cost: int  # of the link, at the best moment


class Element:
    """Something that strikes, and where it stands in its own story; rows in order of name."""

    effect: int
    away: int
    since: int  # time of its last strike or return
    next: int  # time of its next, for what holds links
    cycle: int  # strikes so far, ended ones
    epoch: int  # lifetime in which its clock was set
    start: np.uint64
    slot: int  # in the calendar; -1 for what holds links
    is_mended: int  # ends with a visit, and its device is new
    noted_by: int  # device whose visit to the site ends it
    is_lasting: int  # a visit to an orphan that is put down to it ends it
    is_service: int  # a planned round holds its device while it puts new cells in
    cells: int  # row of ``cells`` whose death this is
    is_scripted: int
    targets_first: int  # in ``places``
    targets_beyond: int
    script_first: int
    script_beyond: int
    strike_shape: int
    strike_scale: float
    strike_slope: float
    last_shape: int
    last_scale: float
    last_slope: float
    weak_share: float
    weak_ms: float
    lived_ms: float  # age of its device as a lifetime begins
    is_found_down: int  # is away then
    is_shared: int  # strikes with events that others share, and whose clock that is
    event_key: np.uint64
    event_ms: int  # end of the event that came last, from which the next one is at risk
    event_share: float  # chance to be struck, and how long after the event
    after_ms: int
    spread_ms: int
    key: np.uint64
    later: int  # list of what holds devices and is away, by strike time
    earlier: int
    held: int  # first sensor whose open spell it holds
    strikes: int  # in this lifetime
    column: int  # of the row of a lifetime in which its strikes are counted
    blame_ms: int  # in all lifetimes
    early_blame_ms: int  # the part before a sensor's first route
    began: int
    struck: int


OVER_LIFETIMES = ("blame_ms", "early_blame_ms", "began", "struck")  # columns of elements


class Cells:
    """The battery of one device."""

    left: int  # nA ms, of a full set so much
    full: int
    drain: int  # nA, self-discharge among it
    drain_since: int
    sets: int
    fresh_ms: int  # when the present set was put in
    drained: int  # nA ms by all sets of this lifetime (room for 2.5 million mAh), and for how long
    drained_ms: int
    leaf: int  # nA: with a route, per sensor behind it, without a route
    forwarding: int
    searching: int
    wastes: int  # nA: self-discharge
    course: int  # its row of ``courses``; -1 where no month differs
    course_ms: int  # how much of a year is over at hand-over
    month_ms: int
    element: int
    service: int  # element that holds its device while a round renews it; -1 without rounds
    key: np.uint64
    start: np.uint64
    batch_key: np.uint64
    batch_start: np.uint64
    charge: float  # nA ms, of an average set
    age_ms: int  # of the first set, whether it was measured what is left of it, and that
    is_measured: int
    left_share: float
    spread_shape: int
    spread_scale: float
    spread_slope: float
    batch_shape: int
    batch_scale: float
    batch_slope: float


class Now:
    """What is true of the lifetime as a whole."""

    seed: np.uint64
    lifetime: int
    epoch: int  # lifetimes played on this world
    mesh_start: np.uint64  # of the stream of levels that all links share
    mesh_phase_ms: int
    step: int
    time_ms: int
    in_outage: int
    outage_since: int
    paused_ms: int
    outage_ms: int
    outages: int
    back_since: int
    no_primary_since: int
    is_switched: int  # standby gateways serve until a primary is up
    gateway_turned: int
    looks_around: int
    shortest: int  # least that a path of anything but a gateway can ever cost
    dearest: int  # path at the look-around, and the cheapest of what is no gateway
    cheapest: int
    n_orphans: int
    count_since: int
    latest: int  # latest strike of what holds devices and is away
    n_visits: int
    n_fruitless: int
    n_resurveys: int
    n_dead: int  # parts
    worked_ms: int  # by visits to sensors and repeaters, and by services
    n_cells: int
    n_replaced: int  # sensors and repeaters; gateways
    n_gateways: int
    n_rounds: int
    round_row: int  # row of ``cells`` that the round under way looks at next
    serving: int  # the one in service
    has_served: int  # whether that round has renewed any
    n_waiting: int  # calls that nobody has set out for
    n_sent: int  # crews
    n_started: int
    work_starts_ms: int  # of the crew on its way to the site
    n_islands: int
    first_island: int  # islands found before this step
    n_touched: int
    n_timed: int
    n_asked: int
    n_struck: int
    n_ended: int
    n_drains: int
    n_detached: int
    n_new: int
    n_queued: int
    heap_is_full: int
    n_logged: int
    n_spells: int
    deepest: int
    layout_ms: int
    radio_draw_ms: int
    early_layout_ms: int
    early_radio_draw_ms: int
    layout_began: int
    radio_draw_began: int


# Rows of ``lists``: what one step works through; their lengths stand in ``now`` or are local.
TOUCHED, TIMED, ASKED, STRUCK, ENDED, DRAINS, DETACHED, NEW, STACK, SHIFTED, CHAIN = range(11)
ISLAND_HOLDER, ISLAND_STRUCK, ISLAND_UNTIL = 11, 12, 13
ELEMENT_OF = 14  # by slot of the calendar; never changes
ORDERED, N_BELOW = 15, 16
CALLS, STARTED = 17, 18  # devices whose calls wait; visits whose work begins in this step
PARTS_UNTIL, PARTS_CDB = 19, 20  # of the level that is sought, where it is a sum
N_LISTS = 21
TOLD_COSTS = 4096  # from this cost on, links are not told apart when neighbours are put in order


class Rows(Protocol[Row_co]):
    """An array of records, as the type checker sees it: rows by number, columns by name."""

    size: int

    @overload
    def __getitem__(self, row: int, /) -> Row_co: ...

    @overload
    def __getitem__(self, rows: str | slice, /) -> Any: ...

    def __setitem__(self, column: str, values: Any, /) -> None: ...


class World(NamedTuple):
    """Everything that a lifetime is played on.

    Parameters
    ----------
    rules, now : Rows
        One row each. [-]
    devices, accounts : Rows
        A row for each device, in order of id. [-]
    silences : Rows
        A row for each device; none where nobody takes calls. [-]
    stocks : Rows
        Spare devices and cells; none where there are as many as are needed. [-]
    coming : Ints
        Shape (stocks, most on order): when what is on order arrives. [ms]
    links : Rows
        A row for each link, in order of its ends. [-]
    neighbours : Rows
        Usable links of each device in turn, gateways first, then by least cost. [-]
    elements : Rows
        In order of (cause, id); the swing of each link among them. [-]
    cells : Rows
        In order of device. [-]
    courses : Ints
        Shape (courses, 12): what stays in cells in the cold, month by month. [1/1000]
    counts : Rows
        For each way to be lost by number of sensors, from 0. [-]
    crowds, durations, lost_since : Ints
        How many are lost in each way, then as of the last step that counted; the watch's; shape
        (ways, devices), from when on each is, or -1; empty where numbers alone count. [-, ms, ms]
    places, weights : Ints
        Targets of elements and what strikes links, end to end, and what each of that adds. [-]
    script : Ints
        Shape (times, 3): scripted starts and ends, or windows and the time in those before. [ms]
    levels : Ints
        Shape (parts, levels), rising: of a link by itself, of the mesh, of a device. [cdB]
    curve : Ints
        Reception ratio by strength. [2^-16]
    calendar, heap : Ints
        What comes next; what to attach or to move next. [-]
    lists, depths : Ints
        Shapes (N_LISTS, longest) and (deepest + 1, devices): time at each hop depth. [-, ms]
    spells, log : Rows
        Spells that are over; what happened, where it is kept. [-]
    """

    rules: Rows[Rules]
    now: Rows[Now]
    devices: Rows[Device]
    accounts: Rows[Account]
    silences: Rows[Silence]
    stocks: Rows[Stock]
    coming: Ints
    links: Rows[Link]
    neighbours: Rows[Neighbour]
    elements: Rows[Element]
    cells: Rows[Cells]
    courses: Ints
    counts: Rows[Count]
    crowds: Ints
    durations: Ints
    lost_since: Ints
    places: Ints
    weights: Ints
    script: Ints
    levels: Ints
    curve: Ints
    calendar: Ints
    heap: Ints
    lists: Ints
    depths: Ints
    spells: Rows[Spell]
    log: Rows[Line]
