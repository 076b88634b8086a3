"""What a site promises: ``policy.yaml``, read and written."""

from pathlib import Path

from resilience.building.files.naming import folder_of
from resilience.building.service.policy import Lost, Policy, Start
from resilience.building.site import Site
from resilience.building.text.documents import read_document, record
from resilience.building.text.entries import Findings, Span, TableRow
from resilience.building.text.keeping import write_whole
from resilience.errors import UsageError
from resilience.units import HOURS_PER_YEAR

POLICY_FILE = "policy.yaml"
FORMAT = 1
MOST = ("max_orphans", "max_orphan_share")
KEYS = ("format", *MOST, "longer_than_h", "kept_with_probability", "count", "per_sensor", "from")
SHARE = Span(least=0, most=1)
PROBABILITY = Span(least=0, most=1, above=True)
COUNT = Span(least=0, whole=True)
DURATION = Span("h", least=0)
UNREADABLE = "expected a promise: max_orphans, longer_than_h and kept_with_probability"
ABOUT = """\
# What is promised: never more than max_orphans sensors lost at once for longer than longer_than_h
# hours without a break (per_sensor: each of them, not some by turns), kept over the whole horizon
# with this probability. `resilience judge` tells which layouts keep it.
"""


def read_policy(folder: str | Path, site: Site) -> Policy | None:
    """Return what a site folder promises, None if it has no policy.

    Parameters
    ----------
    folder : str or Path
        The site folder, or the main file in it. [-]
    site : Site
        The same, read: the policy has to make sense for it. [-]

    Raises
    ------
    InputError
        The policy holds mistakes: every one of them.
    """
    path = folder_of(Path(folder)) / POLICY_FILE
    if not path.exists() and not path.is_symlink():
        return None
    return policy_in(path, site)


def policy_in(path: Path, site: Site) -> Policy:
    """Return what a policy file promises of a site; InputError holds every mistake in it.

    Parameters
    ----------
    path : Path
        The file, wherever it lies. [-]
    site : Site
        The site, read: the policy has to make sense for it. [-]
    """
    findings = Findings()
    policy = _read(path, site, findings)
    findings.raise_if_any()
    assert policy is not None  # or there would have been a fault
    return policy


def _read(path: Path, site: Site, findings: Findings) -> Policy | None:
    found = read_document(path, POLICY_FILE, findings, UNREADABLE)
    if found is None:
        return None
    row = record(found, KEYS, findings)
    if row.number("format", Span(whole=True)) not in (FORMAT, None):
        row.fault("format", f"expected {FORMAT}, the only format that this version reads")
    horizon_h = site.horizon_years * HOURS_PER_YEAR
    most, share = _most(row, len(site.layouts[0].sensors))
    longer_than_h = row.number("longer_than_h", DURATION)
    if longer_than_h is not None and longer_than_h >= horizon_h:
        row.fault("longer_than_h", f"expected less than the horizon of {horizon_h:g} h")
    kept = row.number("kept_with_probability", PROBABILITY)
    if kept == 1:
        row.fault("kept_with_probability", "expected less than 1, as nothing is certain")
    count = row.word("count", list(Lost), "orphans or dark", Lost.ORPHANS.value)
    start = row.word("from", list(Start), "hand_over or first_route", Start.HAND_OVER.value)
    if findings.faults or longer_than_h is None or kept is None or not count or not start:
        return None
    per_sensor = row.switch("per_sensor", False)
    return Policy(longer_than_h, kept, most, share, Lost(count), Start(start), per_sensor)


def _most(row: TableRow, n_sensors: int) -> tuple[int | None, float | None]:
    """Return how many sensors may be lost at once, or which share of them."""
    if all(map(row.has, MOST)):
        row.fault("max_orphan_share", "expected either max_orphans or max_orphan_share, not both")
        return None, None
    if row.has("max_orphan_share"):
        return None, row.number("max_orphan_share", SHARE)
    most = row.number("max_orphans", COUNT)
    if most is not None and most > n_sensors:
        row.fault("max_orphans", f"expected at most {n_sensors}, as there are no more sensors")
    return None if most is None else int(most), None


def write_policy(target: Path, policy: Policy, site: Site, may_replace: bool) -> None:
    """Write a policy, whole or not at all; UsageError says why it could not be.

    Parameters
    ----------
    target : Path
        The file. [-]
    policy : Policy
        What is promised. [-]
    site : Site
        Of which. [-]
    may_replace : bool
        Whether a file that is there may be lost. [-]
    """
    if not may_replace and (target.exists() or target.is_symlink()):
        raise UsageError(
            f"{target} is there already and stays as it is; --replace writes over it, --to FILE "
            "writes elsewhere"
        )
    write_whole(target, _page(policy), lambda draft: _refuse_unreadable(draft, policy, site))


def _page(policy: Policy) -> str:
    values = {"format": FORMAT, **policy.to_json()}
    values["per_sensor"] = "on" if policy.per_sensor else "off"
    return ABOUT + "".join(f"{key}: {value}\n" for key, value in values.items())


def _refuse_unreadable(draft: Path, policy: Policy, site: Site) -> None:
    findings = Findings()
    if _read(draft, site, findings) != policy:
        told = "; ".join(str(fault) for fault in findings.faults)
        raise UsageError(f"this policy cannot be kept: {told or 'it does not read back'}")
