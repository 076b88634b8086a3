"""From rules of upkeep to the rows that the compiled engine reads."""

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from resilience.draws import element_key
from resilience.hazards.laws import Law
from resilience.hazards.upkeep import PARTS, UNLIMITED, Calls, RoundPlan, delivery_luck
from resilience.lifetime.mesh import Rules
from resilience.lifetime.state.compiled import rows


def keys(devices: Iterable[str], what: str) -> NDArray[np.uint64]:
    """Keys of one of the draws of each device's upkeep.

    Parameters
    ----------
    devices : iterable of str
        Ids by row. [-]
    what : str
        Which draw. [-]
    """
    return np.array([element_key("device", device, what) for device in devices], np.uint64)


def silences(calls: Calls | None, devices: dict[str, int]) -> Any:
    """Rows of what is known of silent devices; none where nobody takes calls."""
    found = rows("silences", 0 if calls is None else len(devices))
    if calls is not None:
        found["response_key"] = keys(devices, "response")
        found["part_key"] = keys(devices, "part")
    return found


def stocks(calls: Calls | None) -> Any:
    """Rows of kinds of parts; none where there are as many as are needed of each."""
    kept = [UNLIMITED if calls is None else calls.shelf.kept(part) for part in PARTS]
    if all(n == UNLIMITED for n in kept):
        return rows("stocks", 0)
    found = rows("stocks", len(PARTS))
    found["kept"] = kept
    found["key"] = [element_key(*delivery_luck(part)) for part in PARTS]
    return found


def coming(calls: Calls | None, n_devices: int) -> NDArray[np.int64]:
    """Room for what is on order: what is kept, and one for each device that waits."""
    kept = stocks(calls)["kept"]
    return np.zeros((len(kept), max(kept.max(initial=0), 0) + n_devices + 1), np.int64)


def put_down(row: Any, rules: Rules) -> None:
    """Put down how calls are answered, and when rounds are made.

    Parameters
    ----------
    row : structured array
        Rules as the compiled engine reads them. [-]
    rules : Rules
        The same for people. [-]
    """
    if rules.calls is not None:
        _take_calls(row, rules.calls)
    if rules.rounds is not None:
        _plan_rounds(row, rules.rounds)


def _take_calls(row: Any, calls: Calls) -> None:
    row["takes_calls"] = 1
    for name in (
        *("alarm_ms", "hears_orphans", "crews", "mends_site", "opens_ms", "closes_ms", "days"),
        "resurveys",
    ):
        row[name] = getattr(calls, name)
    row["dead_share"] = calls.shelf.dead_share
    _put_law(row, "repair", calls.repair)
    _put_law(row, "delivery", calls.shelf.delivery)
    if calls.response is not None:
        row["has_response"] = 1
        _put_law(row, "response", calls.response)


def _put_law(row: Any, of: str, law: Law) -> None:
    for name, number in zip(("shape", "scale", "slope"), law.numbers, strict=True):
        row[f"{of}_{name}"] = number


def _plan_rounds(row: Any, plan: RoundPlan) -> None:
    row["has_rounds"] = 1
    for name in ("every_ms", "older_ms", "below", "service_ms"):
        row[name] = getattr(plan, name)
    row["begins_from_ms"], row["begins_to_ms"], row["begins_on"] = plan.hours
