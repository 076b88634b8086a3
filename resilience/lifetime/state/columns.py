"""What each number of the state means: one row per device, link, element or set of cells.

All state is 64-bit integers; -1 is "none" wherever a place in a list or a cost is meant.
"""

# A row of ``dev``: a device as routing sees it. Two cache lines.
PARENT = 0
COST = 1  # path cost; -1 without a route; 0 for a serving gateway
CHILD = 2  # first child
NEXT = 3  # next and previous child of the same parent
PREV = 4
SIZE = 5  # sensors in its subtree, itself included
DOWN = 6  # absences that hold it down
MUTE = 7
SENSOR = 8  # constants of the layout: 0 or 1
GATEWAY = 9
RELAY = 10
STANDBY = 11
SAVED = 12  # step in which the two below were saved
PARENT_BEFORE = 13
COST_BEFORE = 14
CLEARED = 15  # step in which its parent was forgotten
DEV_COLUMNS = 16

# A row of ``acc``: the open and closed accounts of a device (most of them of a sensor).
DOWN_SINCE = 0
DARK_SINCE = 1
CUT_OFF_SINCE = 2
DEPTH = 3
DEPTH_SINCE = 4
SPELL_SINCE = 5
SPELL_PROMISE = 6
HOLDER = 7  # element; -1 none, else LAYOUT or RADIO_DRAW
HOLDER_STRUCK = 8
HOLDER_SINCE = 9
SILENT_SINCE = 10
SILENT_UNTIL = 11
HAD_ROUTE = 12
DETACHED = 13  # step in which it lost its route
ISLAND = 14  # the last island that it was found in
TOUCHED = 15  # step in which its accounts have to be settled
ORPHAN_MS = 16
DARK_MS = 17
DOWN_MS = 18
CUT_OFF_MS = 19
NOT_REACHED_MS = 20
INTERRUPTED_MS = 21
REPARENTINGS = 22
CELLS = 23  # its row of ``bat``; -1 on mains
VISIT_END = 24
VISITS = 25  # opened
RENEWED = 26  # step in which it got new cells
DRAINS = 27  # step in which its drain may have changed
NEXT_HELD = 28  # next and previous sensor whose spell the same element holds
PREV_HELD = 29
ACC_COLUMNS = 32

LAYOUT = -2
RADIO_DRAW = -3

# A row of ``lnk``: a link.
LINK_COST = 0  # -1 while it is not usable
CUTS = 1
LOSS = 2
EXTRA = 3
LINK_SAVED = 4  # step in which the cost below was saved
LINK_BEFORE = 5
END_A = 6
END_B = 7
CALM_COST = 8  # -1 where this building has no such link
OTHER_LOSS = 9  # the loss that was last asked for, and the cost under it
OTHER_COST = 10
LNK_COLUMNS = 16

# A row of ``rad``: what a link knows of its radio, per direction.
FIXED = 0  # cost whatever happens; -1 where the radio decides
RSSI_THERE = 1
RSSI_BACK = 2
FLOOR_THERE = 3
FLOOR_BACK = 4
MEASURED_THERE = 5  # -1 where the curve alone decides
MEASURED_BACK = 6
EXPECTED_THERE = 7
EXPECTED_BACK = 8
RAD_COLUMNS = 9

# A row of ``ele``: an element and where it stands in its own story.
EFFECT = 0  # constants
AMOUNT = 1
MENDED = 2
RENEWS = 3
CELLS_OF = 4  # row of ``bat`` whose death this is; -1
SCRIPTED = 5
AWAY = 6
CYCLE = 7  # strikes so far, ended ones
STRUCK = 8
LATER = 9  # list of what is away, by strike time
EARLIER = 10
HELD = 11  # first sensor whose open spell it holds; -1
SLOT = 12  # place in the calendar; -1 where it is left out
STRIKES = 13
BLAME_MS = 14
BEGAN = 15
ELE_COLUMNS = 16

IS_DOWN, IS_MUTE, IS_CUT, IS_LOSS, IS_COST = range(5)

# A row of ``bat``: the cells of one device.
LEFT = 0
DRAIN = 1
DRAIN_SINCE = 2
SETS = 3
LEAF = 4  # constants
FORWARDING = 5
SEARCHING = 6
BAT_DEVICE = 7
BAT_ELEMENT = 8
BAT_COLUMNS = 10

# ``rules``: numbers that hold for the whole lifetime.
HORIZON = 0
HYSTERESIS = 1
BACKUPS = 2
REJOIN_SHORT = 3
REJOIN_LONG = 4
REFORMATION = 5
STANDBY_SWITCH = 6
COUNT_OUTAGES = 7
MIN_PRR = 8
COUNT_HOPS = 9
CURVE_FIRST = 10
RULES_COLUMNS = 11

# ``now``: what is true of the lifetime as a whole.
STEP = 0
IN_OUTAGE = 1
OUTAGE_SINCE = 2
PAUSED = 3
OUTAGE_MS = 4
OUTAGES = 5
BACK_SINCE = 6
NO_PRIMARY_SINCE = 7
N_ORPHANS = 8
COUNT_SINCE = 9
LATEST = 10  # latest strike of what is away
N_VISITS = 11
N_CELLS = 12
N_ISLANDS = 13
N_TOUCHED = 14
N_CHANGED = 15  # links
N_DRAINS = 16
LOGGED = 17
DEEPEST = 18
LAYOUT_MS = 20
RADIO_DRAW_MS = 21
LAYOUT_BEGAN = 22
RADIO_DRAW_BEGAN = 23
N_DETACHED = 24
N_QUEUED = 25
N_SAVED = 26
HEAP_IS_FULL = 27
N_SPELLS = 28
FIRST_ISLAND = 29  # islands found before this step
NOW_COLUMNS = 32

# Codes of the log, kept when a history is wanted: time, code and three numbers.
LOG_STRIKE, LOG_END, LOG_PARENT, LOG_OUTAGE = range(4)
LOG_COLUMNS = 5

# A line of ``spells``.
SPELL_SENSOR, SPELL_START, SPELL_END, SPELL_ORPHAN_MS, SPELL_IS_CUT = range(5)

NEVER = 1 << 61

# Rows of ``lists``: what one step works through; their lengths stand in ``now`` or are local.
TOUCHED_LIST, CHANGED_LIST, DRAINS_LIST, DETACHED_LIST, STACK, NEW_LIST, SHIFTED_LIST = range(7)
STRUCK_LIST, ENDED_LIST, SAVED_LIST, VERDICTS = 7, 8, 9, 10
N_LISTS = 11
