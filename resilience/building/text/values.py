"""The value of one setting as it stands in a file, checked against the catalogue."""

from resilience.assumptions.catalogue import Setting, Value, section
from resilience.building.text.entries import Entry, Findings, Span, alternatives, quoted
from resilience.units import HOURS_PER_YEAR

FAR = 5  # times outside the listed range: told, not refused


def limits_of(setting: Setting) -> Span:
    """Return what a number of that setting may be."""
    counts = isinstance(setting.default, int) and not isinstance(setting.default, bool)
    whole = counts or is_word(setting)  # a number in the place of a word is a count
    return Span(setting.unit, setting.least, setting.most, setting.above, whole)


def is_switch(setting: Setting) -> bool:
    """Whether the setting is either on or off."""
    return isinstance(setting.default, bool)


def is_word(setting: Setting) -> bool:
    """Whether the setting is a word, or a count where it has limits."""
    return isinstance(setting.default, str)


def checked(setting: Setting, entry: Entry, findings: Findings) -> Value:
    """Return the value of one setting; a fault and None if it is not one."""
    if is_switch(setting):
        return entry.switch(findings)
    if is_word(setting):
        return _word(setting, entry, findings)
    limits = limits_of(setting)
    value = entry.number(limits, findings)
    if value is None:
        return None
    _tell_if_far(setting, entry, value, findings)
    return int(value) if limits.whole else value


def _word(setting: Setting, entry: Entry, findings: Findings) -> str | int | None:
    if not setting.choices:
        return entry.free_text(findings)
    choices = [str(choice) for choice in setting.choices]
    if entry.text in choices:
        return entry.text
    if setting.least is not None:
        if entry.is_number and limits_of(setting).allow(float(entry.text)):
            return int(float(entry.text))
        choices.append(f"a whole number from {setting.least:g}")
    wanted = f"expected {' or '.join(choices)} ({setting.meaning.rstrip('.')})"
    way_out = alternatives(entry.text, choices)
    if way_out.startswith("did"):
        wanted += f"; {way_out}"
    findings.fault(entry.mark, quoted(entry.text), wanted)
    return None


def _tell_if_far(setting: Setting, entry: Entry, value: float, findings: Findings) -> None:
    listed = _listed(setting)
    if listed is None:
        return
    low, high, source = listed
    # A ratio has no meaning for a level in dBm or for a range that holds 0: there the range's own
    # width is the yardstick.
    if low >= 0:
        least, most = low / FAR, high * FAR
    else:
        least, most = low - FAR * (high - low), high + FAR * (high - low)
    if not least <= value <= most:
        findings.note(
            f"{entry.mark}: is {_plain(value)} meant? It is more than five times outside the "
            f"listed range of {_plain(low)} to {_plain(high)} {setting.unit} ({source})."
        )


def _listed(setting: Setting) -> tuple[float, float, str] | None:
    """Return the listed range of a setting and its source, or that of the one it stands for."""
    if setting.low is not None and setting.high is not None:
        return setting.low, setting.high, setting.source
    beside = {one.name: one for one in section(setting.section)}
    usual = beside.get(setting.instead_of or "median_h")
    if usual is None or not (usual.low and usual.high):
        return None
    if setting.name == "mttf_h":
        return HOURS_PER_YEAR / usual.high, HOURS_PER_YEAR / usual.low, usual.source
    if setting.name == "mean_h":
        return usual.low, usual.high, usual.source
    if setting.name == "p90_h":
        ratio = number_in(setting.default) / number_in(usual.default)
        return usual.low, usual.high * ratio, usual.source
    return None


def _plain(value: float) -> str:
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:g}"


def number_in(value: Value) -> float:
    """Return the value of a setting that is a number."""
    assert isinstance(value, int | float)  # the catalogue's numbers; a test holds it to that
    return float(value)
