"""What own history says: ``learnt.yaml`` of a site, read and written."""

from functools import cache
from pathlib import Path

from resilience.assumptions.catalogue import Setting, settings
from resilience.building.service.events import CIRCUIT, FAILURES, FLAT, OUTAGES, STRIKES
from resilience.building.settings import Learnt, LearntValue
from resilience.building.text.documents import Mapping, mapping, read_document, record
from resilience.building.text.entries import Findings, Span, TableRow
from resilience.building.text.keeping import write_whole
from resilience.building.text.values import limits_of
from resilience.errors import UsageError

LEARNT_FILE = "learnt.yaml"
FORMAT = 1
COUNT = Span(least=0, most=1e9, whole=True)
YEARS = Span("years", least=0, most=1e12)
FIELDS = ("value", "low", "high", "n_events", "at_risk_years")


def rate_key(cause: str) -> str:
    """Return the setting of a cause that says how often it strikes.

    Parameters
    ----------
    cause : str
        Its name. [-]
    """
    return f"hazards.{cause}.{'reach_per_year' if cause == 'removed' else 'per_year'}"


TIMED = (*(f"hazards.{cause}" for cause in OUTAGES), "upkeep.repair", "upkeep.gateway_repair")
KEYS = (
    *(rate_key(cause) for cause in (*FAILURES, *STRIKES, *OUTAGES)),
    f"hazards.{CIRCUIT}.share",
    *(f"hazards.{cause}.shape" for cause in FAILURES),
    *(f"{section}.{name}" for section in TIMED for name in ("median_h", "p90_h")),
    f"hazards.{FLAT}.spread",
)
UNREADABLE = "the file cannot be read: to undo what was learnt delete it, or learn again"
ABOUT = """\
# What own history says of rates, lives and durations, as `resilience learn` found it. Each value
# stands in the place of what site.yaml or the catalogue says of it; site.yaml is untouched, and a
# hazard that is off stays off. Low and high hold the truth in 95 of 100 cases; n_events says how
# many events a value rests on, at_risk_years in how much time they could happen.
# Delete this file to undo it.
"""


def read_learnt(path: Path, findings: Findings) -> Learnt | None:
    """Return what a file holds; faults and None if it holds nothing of use.

    Parameters
    ----------
    path : Path
        The file. [-]
    findings : Findings
        Where faults go. [-]
    """
    found = read_document(path, LEARNT_FILE, findings, UNREADABLE)
    if found is None:
        return None
    row = record(found, ("format",), findings, ("settings",))
    if row.number("format", Span(whole=True)) not in (FORMAT, None):
        row.fault("format", f"expected {FORMAT}, the only format that this version reads")
    body = mapping(found.entries.get("settings"), findings)
    if body is None:
        row.fault("settings", "expected what was learnt, setting by setting")
        return None
    values = []
    for key, node in body.entries.items():
        if key not in KEYS:
            findings.unknown(node.mark, key, KEYS, "a setting that can be learnt")
            continue
        entry = mapping(node, findings) or Mapping(node.mark, {})
        values.append(_value(key, record(entry, FIELDS, findings)))
    _check_pairs(body, findings)
    kept = [one for one in values if one is not None]
    return Learnt(tuple(sorted(kept, key=lambda one: one.key)))


def _value(key: str, row: TableRow) -> LearntValue | None:
    limits = limits_of(_setting(key))
    value, low, high = (row.number(name, limits) for name in FIELDS[:3])
    n_events, years = row.number("n_events", COUNT), row.number("at_risk_years", YEARS)
    if value is None or low is None or high is None or n_events is None or years is None:
        return None
    if value <= 0:
        row.fault("value", "expected it above 0; to switch a hazard off say so in site.yaml")
    elif not low <= value <= high:
        row.fault("value", f"expected it between low and high, {low:g} and {high:g}")
    else:
        return LearntValue(key, value, low, high, int(n_events), years)
    return None


@cache
def _setting(key: str) -> Setting:
    return next(one for one in settings() if one.key == key)


def _check_pairs(body: Mapping, findings: Findings) -> None:
    """Refuse a median without its 90 % point, and the other way round."""
    for section in TIMED:
        pair = [f"{section}.{name}" for name in ("median_h", "p90_h")]
        given = [key for key in pair if key in body.entries]
        if len(given) == 1:
            missing = next(key for key in pair if key not in given)
            findings.fault(body.entries[given[0]].mark, "it alone", f"expected {missing} as well")


def write_learnt(folder: Path, found: Learnt) -> Path:
    """Write ``learnt.yaml`` into a site folder and return its path.

    It is read back first: UsageError says why it cannot be kept; what was there before stays.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    found : Learnt
        In order of key. [-]
    """

    def refuse(draft: Path) -> None:
        findings = Findings()
        read = read_learnt(draft, findings)
        if findings.faults:
            told = "; ".join(str(fault) for fault in findings.faults)
            raise UsageError(f"what was learnt cannot be kept: {told}")
        if read != found:
            raise UsageError("what was learnt cannot be kept: it does not read back as it was")

    target = folder / LEARNT_FILE
    lines = [f"format: {FORMAT}", "settings:", *map(_line, found.values)]
    write_whole(target, ABOUT + "\n".join(lines) + "\n", refuse)
    return target


def _line(one: LearntValue) -> str:
    numbers = f"value: {one.value!r}, low: {one.low!r}, high: {one.high!r}"
    rests_on = f"n_events: {one.n_events}, at_risk_years: {one.at_risk_years!r}"
    return f"  {one.key}: {{{numbers}, {rests_on}}}"
