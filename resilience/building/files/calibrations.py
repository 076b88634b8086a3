"""What measurements corrected: ``calibration.yaml`` of a site, read and written."""

import json
import os
import tempfile
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from resilience.building.cells import Findings, Limits, Mark, Record
from resilience.building.files.documents import Mapping, mapping, read_document, record
from resilience.building.site import Calibration, Correction
from resilience.errors import UsageError

CALIBRATION_FILE = "calibration.yaml"
FORMAT = 1
HEAD_KEYS = ("format", "n_links", "residual_db")
OFFSET = Limits("dB", least=-100, most=100)
SPREAD = Limits("dB", least=0, most=100, above=True)
RESIDUAL = Limits("dB", least=0, most=100)
N_LINKS = Limits(least=1, most=1e9, whole=True)
UNREADABLE = "the file cannot be read: to undo the calibration delete it, or calibrate again"
ABOUT = """\
# What measured links say that the prediction is off by, as `resilience calibrate` fitted it.
# Offsets are added to the documented losses; what stands in site.yaml is untouched. A spread says
# how unsure an offset is (one standard deviation), n_links how many measured links bear on it.
# Delete this file to undo the calibration.
"""


def read_calibration(
    path: Path, constructions: Iterable[str], findings: Findings
) -> Calibration | None:
    """Return the calibration that a file holds; faults and None if it holds none.

    Parameters
    ----------
    path : Path
        The file. [-]
    constructions : iterable of str
        Names of the constructions that exist. [-]
    findings : Findings
        Where faults go. [-]
    """
    found = read_document(path, CALIBRATION_FILE, findings, UNREADABLE)
    if found is None:
        return None
    row = record(found, HEAD_KEYS, findings, ("distance", "constructions"))
    if row.number("format", Limits(whole=True)) not in (FORMAT, None):
        row.fault("format", f"expected {FORMAT}, the only format that this version reads")
    n_links = int(row.number("n_links", N_LINKS) or 0)
    residual_db = row.number("residual_db", RESIDUAL)
    body = mapping(found.entries.get("distance"), findings)
    distance = _correction(body, "offset_db_per_decade", "spread", findings) if body else None
    fitted = _constructions(mapping(found.entries.get("constructions"), findings), findings)
    known = list(constructions)
    for name, mark in fitted:
        if name not in known:
            findings.unknown(mark, name, known, "a construction")
    corrections = tuple(sorted((name, one) for (name, _), one in fitted.items() if one))
    _check_counts(row, n_links, [distance, *(one for _, one in corrections)])
    return Calibration(distance, corrections, residual_db or 0.0, n_links)


Fitted = dict[tuple[str, Mark], Correction | None]


def _constructions(found: Mapping | None, findings: Findings) -> Fitted:
    fitted: Fitted = {}
    for name, node in (found.entries if found else {}).items():
        body = mapping(node, findings) or Mapping(node.mark, {})
        fitted[name, node.mark] = _correction(body, "offset_db", "spread_db", findings)
    return fitted


def _correction(
    body: Mapping, offset_key: str, spread_key: str, findings: Findings
) -> Correction | None:
    row = record(body, (offset_key, spread_key, "n_links"), findings)
    offset, spread = row.number(offset_key, OFFSET), row.number(spread_key, SPREAD)
    n_links = row.number("n_links", N_LINKS)
    if offset is None or spread is None or n_links is None:
        return None
    return Correction(offset, spread, int(n_links))


def _check_counts(row: Record, n_links: int, corrections: list[Correction | None]) -> None:
    most = max((one.n_links for one in corrections if one), default=0)
    if n_links and most > n_links:
        row.fault("n_links", f"expected at least {most}, as one of the corrections rests on that")


def write_calibration(folder: Path, found: Calibration) -> Path:
    """Write ``calibration.yaml`` into a site folder and return its path.

    The file is whole or not there: it is written beside its place, read back and compared, and
    only then put into it. UsageError says why it could not be; what was there before stays.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    found : Calibration
        What the measurements corrected. [-]
    """
    target = folder / CALIBRATION_FILE
    found = replace(found, constructions=tuple(sorted(found.constructions)))
    draft: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{CALIBRATION_FILE}-", dir=folder)
        draft = Path(name)
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(_page(found))
            stream.flush()
            os.fsync(stream.fileno())
        _refuse_unreadable(draft, found)
        draft.chmod(0o644)
        os.replace(draft, target)
    except OSError as error:
        raise UsageError(f"{target} cannot be written: {error.strerror}") from error
    finally:
        if draft is not None:
            draft.unlink(missing_ok=True)
    return target


def _refuse_unreadable(draft: Path, found: Calibration) -> None:
    findings = Findings()
    read = read_calibration(draft, [name for name, _ in found.constructions], findings)
    if findings.faults:
        told = "; ".join(str(fault) for fault in findings.faults)
        raise UsageError(f"this calibration cannot be kept: {told}")
    if read != found:
        raise UsageError("this calibration cannot be kept: it does not read back as it was")


def _page(found: Calibration) -> str:
    """Return the text of the file; numbers in full, so that it reads back as it was."""
    lines = [
        f"format: {FORMAT}",
        f"n_links: {found.n_links}",
        f"residual_db: {float(found.residual_db)!r}",
    ]
    if found.distance:
        lines.append(
            f"distance: {{offset_db_per_decade: {float(found.distance.offset)!r}, "
            f"spread: {float(found.distance.spread)!r}, n_links: {found.distance.n_links}}}"
        )
    if found.constructions:
        lines.append("constructions:")
    for name, one in found.constructions:
        values = f"offset_db: {float(one.offset)!r}, spread_db: {float(one.spread)!r}"
        key = json.dumps(name, ensure_ascii=False)
        lines.append(f"  {key}: {{{values}, n_links: {one.n_links}}}")
    return ABOUT + "\n".join(lines) + "\n"
