"""What was learnt, kept beside a site: it takes the place of what is stated, and can be undone."""

import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from resilience.building.files.folder import read_site
from resilience.building.service.learnt import KEYS, TIMED, read_learnt, write_learnt
from resilience.building.settings import Learnt, LearntValue
from resilience.building.text.entries import Findings
from resilience.errors import UsageError
from resilience.units import HOURS_PER_YEAR

FOUND = Learnt(
    (
        LearntValue("hazards.gateway_outage.per_year", 1.5, 0.7, 2.5, 10, 10.5),
        LearntValue("hazards.hardware.per_year", 0.04, 0.01, 0.09, 3, 60.25),
        LearntValue("upkeep.repair.median_h", 48.0, 30.0, 80.0, 8, 0.0),
        LearntValue("upkeep.repair.p90_h", 200.0, 110.0, 600.0, 8, 0.0),
    )
)
PLAIN = """\
format: 1
settings:
  hazards.hardware.per_year: {value: 0.04, low: 0.01, high: 0.09, n_events: 3, at_risk_years: 60}
"""


def test_what_was_learnt_takes_the_place_of_what_is_stated_until_it_is_deleted(folder):
    before = folder.read()
    path = write_learnt(folder.path, FOUND)
    site = folder.read()
    assert site.learnt == FOUND
    assert site.hazards.hardware.mttf_h == pytest.approx(HOURS_PER_YEAR / 0.04)
    assert site.hazards.gateway_outage.per_year == 1.5
    assert site.hazards.gateway_outage.lasts == before.hazards.gateway_outage.lasts
    assert (site.upkeep.repair.median_h, site.upkeep.repair.p90_h) == (48.0, 200.0)
    assert any("as own history taught (learnt.yaml)" in note for note in site.notes)
    path.unlink()
    assert folder.read() == before


def test_it_replaces_other_ways_to_state_the_same_and_leaves_off_what_is_off(folder):
    text = (folder.path / "site.yaml").read_text()
    text += "hazards:\n  hardware: {mttf_h: 8766, shape: 1.3}\n  gateway_outage: off\n"
    text += "upkeep:\n  repair: {mean_h: 240, distribution: fixed}\n"
    folder.write(site_yaml=text)
    write_learnt(folder.path, FOUND)
    site = folder.read()
    assert site.hazards.hardware.mttf_h == pytest.approx(HOURS_PER_YEAR / 0.04)
    assert site.hazards.hardware.shape == 1.3
    assert site.hazards.gateway_outage is None
    assert site.upkeep.repair.distribution == "lognormal"
    assert site.upkeep.repair.median_h == 48.0


def values(key):
    numbers = st.floats(0.3, 19.0)
    made = st.tuples(numbers, numbers, numbers).map(sorted)
    if key.endswith((".spread", ".share")):
        made = st.tuples(*[st.floats(0.01, 0.9)] * 3).map(sorted)
    counts = st.tuples(st.integers(0, 10**6), st.floats(0, 1e6))
    return st.builds(
        lambda three, rest: LearntValue(key, three[1], three[0], three[2], *rest), made, counts
    )


@settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(found=st.tuples(*map(values, sorted(KEYS))))
def test_anything_learnt_reads_back_to_the_last_digit(folder, found):
    findings = Findings()
    path = write_learnt(folder.path, Learnt(found))
    assert read_learnt(path, findings) == Learnt(found)
    assert findings.faults == ()


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("format: 1", "format: 2", 'found "2"; expected 1, the only format'),
        ("settings:", "setings:", "did you mean settings?"),
        (
            "hazards.hardware.per_year",
            "hazards.hardware.per_yaer",
            "did you mean hazards.hardware.",
        ),
        ("hazards.hardware.per_year", "radio.swing_db", "expected a setting that can be learnt"),
        (
            "hazards.hardware.per_year",
            "upkeep.repair.p90_h",
            "expected upkeep.repair.median_h as w",
        ),
        ("value: 0.04", "value: 4", "expected it between low and high, 0.01 and 0.09"),
        (
            "value: 0.04, low: 0.01",
            "value: 0, low: 0",
            "to switch a hazard off say so in site.yaml",
        ),
        ("value: 0.04", "value: .nan", 'value: found ".nan"'),
        ("n_events: 3", "n_events: -3", 'n_events: found "-3"'),
        ("n_events: 3, ", "", "n_events: found nothing"),
        ("at_risk_years: 60", "at_risk_years: sixty", 'at_risk_years: found "sixty"'),
    ],
)
def test_a_file_that_was_changed_into_nonsense_is_refused(folder, old, new, message):
    assert old in PLAIN
    told = folder.write(learnt_yaml=PLAIN.replace(old, new)).faults()
    assert any(one.startswith("learnt.yaml") and message in one for one in told), told


def test_a_file_that_cannot_be_read_says_how_to_undo_it(folder):
    told = folder.write(learnt_yaml="format: [1\n").faults()
    assert "to undo what was learnt delete it" in told[0]


def test_what_could_not_be_read_is_not_written(folder, monkeypatch):
    write_learnt(folder.path, FOUND)
    odd = Learnt((LearntValue("hazards.hardware.per_year", float("nan"), 0.0, 1.0, 3, 1.0),))
    with pytest.raises(UsageError, match="cannot be kept"):
        write_learnt(folder.path, odd)
    assert folder.read().learnt == FOUND
    with pytest.raises(UsageError, match="cannot be written"):
        write_learnt(folder.path / "nowhere", FOUND)
    assert [name for name in os.listdir(folder.path) if name.startswith(".learnt")] == []


def test_an_unused_history_is_told_and_a_learnt_one_is_not(folder):
    folder.write(history_csv="what,cause,from\n")
    told = "history.csv: nothing is learnt from it yet (resilience learn)."
    assert told in folder.read().notes
    write_learnt(folder.path, FOUND)
    assert told not in folder.read().notes


def test_every_duration_that_can_be_learnt_has_both_its_points():
    for section in TIMED:
        assert {f"{section}.median_h", f"{section}.p90_h"} <= set(KEYS)


def test_what_was_learnt_can_be_assumed_otherwise_and_a_median_takes_its_90_per_cent_point(folder):
    """Rates at another end of their own bounds; 48 h with 200 h, so 24 h come with 100 h."""
    write_learnt(folder.path, FOUND)
    other = {"hazards.hardware.per_year": 0.08, "upkeep.repair.median_h": 24.0}
    site = read_site(folder.path, assumed=other)
    assert site.hazards.hardware.mttf_h == pytest.approx(HOURS_PER_YEAR / 0.08)
    assert site.hazards.gateway_outage.per_year == 1.5
    assert (site.upkeep.repair.median_h, site.upkeep.repair.p90_h) == (24.0, 100.0)
