"""Who was called for and who came, in words."""

from collections import defaultdict
from collections.abc import Sequence

from resilience.hazards.causes import Effect, described
from resilience.lifetime.record import Call
from resilience.report.told.steps import Step
from resilience.report.words import listed, span, visible
from resilience.units import h_from_ms


def told_calls(step: Step) -> list[str]:
    """Return what a step did to calls and crews, as sentences.

    Parameters
    ----------
    step : Step
        What happened. [-]
    """
    nobody_left = [call for call in step.closed if call.left_ms is None]
    struck_off = [call.device for call in nobody_left if not call.seen_to_by]
    told = [_came(call) for call in step.closed if call.left_ms is not None]
    if struck_off:
        whose = "its call is" if len(struck_off) == 1 else "their calls are"
        told.append(f"{_who(struck_off)} heard again, and {whose} struck off.")
    told += _opened(step.opened)
    told += [_left(call) for call in step.left]
    seen_to: dict[str, list[str]] = defaultdict(list)
    for call in nobody_left:
        if call.seen_to_by:
            seen_to[call.seen_to_by].append(call.device)
    told += [
        f"The crew at {visible(device)} sees to {listed(others)} as well."
        for device, others in seen_to.items()
    ]
    return told


def _who(devices: Sequence[str]) -> str:
    return f"{listed(devices)} {'is' if len(devices) == 1 else 'are'}"


def _opened(calls: Sequence[Call]) -> list[str]:
    """Calls of devices that fell silent together are told together."""
    together: dict[int, list[str]] = defaultdict(list)
    for call in calls:
        together[call.opened_ms - call.silent_ms].append(call.device)
    told = []
    for silent_ms, devices in together.items():
        what = "A call is" if len(devices) == 1 else "Calls are"
        after = ""
        if silent_ms:
            they = "it" if len(devices) == 1 else "they"
            after = f", {span(h_from_ms(silent_ms))} after {they} fell silent"
        told.append(f"{what} opened for {listed(devices)}{after}.")
    return told


def _left(call: Call) -> str:
    assert call.left_ms is not None
    waited_ms = call.left_ms - call.opened_ms
    waited = f", who waited {span(h_from_ms(waited_ms))} for it" if waited_ms else ""
    return f"A crew sets out for {visible(call.device)}{waited}."


def _came(call: Call) -> str:
    assert call.left_ms is not None
    assert call.closed_ms is not None
    took = span(h_from_ms(call.closed_ms - call.left_ms))
    if not call.mended and call.n_dead:
        return f"The crew for {visible(call.device)} had a dead part with it; that took {took}."
    if not call.mended:
        return f"The crew for {visible(call.device)} found nothing to mend; that took {took}."
    if all(described(cause).effect is Effect.LOSS for cause, _ in call.mended):
        return f"The crew for {visible(call.device)} has surveyed anew after {took}."
    mended = (id for cause, id in call.mended if described(cause).effect is not Effect.LOSS)
    others = set(mended) - {call.device}
    more = f" and {listed(sorted(others))}" if others else ""
    return f"The crew for {visible(call.device)}{more} is done after {took}."
