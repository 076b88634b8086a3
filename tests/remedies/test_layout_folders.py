"""Candidate places are read from a table, and what was found is written as a layout."""

import shutil
from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.building.files.policies import read_policy
from resilience.building.service.places import read_places
from resilience.building.site import Kind, Supply
from resilience.errors import InputError, UsageError
from resilience.montecarlo.estimates import Estimate
from resilience.policy.judgement import Verdict as Kept
from resilience.ranking.pairs import Pair, RankedBy, Verdict
from resilience.remedies.groundwork.spots import free, hung
from resilience.remedies.outset.allowed import allowed_of
from resilience.remedies.outset.folders import write_proposal
from resilience.remedies.outset.proposals import Outset, Proposal
from resilience.remedies.reinforcing.folders import refuse_name, write_layout
from resilience.remedies.reinforcing.options import options
from resilience.remedies.reinforcing.proposal import Confirmed, Reinforcement, Step

DEMO = Path(__file__).parent.parent.parent / "sites" / "seed-library"
START = "one-at-the-door"
HEAD = "id,level,x_m,y_m,height_m,kind,supply,note\n"
NOTHING = Estimate(-1.0, -2.0, -0.5, 0.95, "made by hand")


@pytest.fixture
def library(tmp_path):
    return Path(shutil.copytree(DEMO, tmp_path / "library"))


def _places(folder, text):
    (folder / "places.csv").write_text(HEAD + text, encoding="utf-8")
    return read_places(folder, read_site(folder))


def test_a_folder_without_the_table_has_no_places(library):
    assert read_places(library, read_site(library)) is None


def test_places_are_read_with_the_usual_height_and_kind(library):
    one, two = _places(library, "P2,cellar,3,4,,gateway,,desk\nP1,ground,2,2.5,1.5,,mains,\n")
    assert (one.id, one.kind, one.supply) == ("P1", Kind.REPEATER, Supply.MAINS)
    assert (one.place.level, one.place.x_m, one.place.height_m) == ("ground", 2.0, 1.5)
    assert (two.kind, two.supply, two.note, two.place.height_m) == (Kind.GATEWAY, None, "desk", 1.8)


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("P1,celler,3,4,,,,", 'places.csv, line 2, column level: found "celler"'),
        ("P1,cellar,3,4,9,,,", 'column height_m: found "9"; expected 0 to'),
        ("R1,cellar,3,4,,,,", "expected an id that no device of any layout has"),
        ("P1,cellar,3,4,,sensor,,", 'column kind: found "sensor"'),
    ],
)
def test_mistakes_in_the_table_are_told_with_line_and_column(library, row, told):
    with pytest.raises(InputError) as caught:
        _places(library, row + "\n")
    assert told in "\n".join(str(fault) for fault in caught.value.faults)


def _found(folder, *spots):
    """As if some changes had been found: one that adds, one that moves, one on mains."""
    site = read_site(folder)
    start = site.layout(START)
    layout, steps = start, []
    for wanted in spots:
        could = [hung(site, start, one) for one in read_places(folder, site) or ()]
        option = next(
            one for one in options(layout, could) if (one.move, one.device, one.spot) == wanted
        )
        layout = option.made(layout)
        pair = Pair(START, START, RankedBy.ALL, NOTHING, NOTHING, Verdict.BETTER, 0, (), 0.9, 64)
        taken = Confirmed(option, 1.0, pair)
        steps.append(Step((taken,), taken, NOTHING))
    return Reinforcement(
        site, start, layout, tuple(steps), None, 1, 0.95, 2, 0, 9, 0, "made by hand"
    )


CHANGES = [("add", "P1", "P1"), ("move", "R3", "P2"), ("mains", "R1", ""), ("move", "P1", "P3")]
TABLE = "P1,ground,2,2.5,1.5,,mains,by the stairs\nP2,first,3.25,4,,,,\nP3,ground,5,2.5,1.5,,,\n"


def test_a_layout_that_is_written_reads_back_as_it_was_found(library):
    _places(library, TABLE)
    found = _found(library, *CHANGES)
    assert write_layout(library, "stronger", found) == library / "layouts" / "stronger"
    (library / "places.csv").unlink()
    assert read_site(library).layout("stronger").devices == found.layout.devices
    assert read_site(library).layout(START) == found.start


@pytest.mark.parametrize("name", ["two-lines", "TWO-LINES", "a/b", "..", ""])
def test_names_that_are_taken_or_none_are_refused(library, name):
    with pytest.raises(UsageError, match="--write"):
        refuse_name(library, name)


def test_nothing_found_is_not_written(library):
    with pytest.raises(UsageError, match="nothing was found"):
        write_layout(library, "stronger", _found(library))


def test_places_outside_or_in_a_shaft_are_parted_from_the_others(library):
    places = _places(library, "P1,ground,2,2.5,,,,\nP2,ground,900,2,,,,\n")
    kept, forbidden = free(read_site(library).building, places)
    assert [one.id for one in kept] == ["P1"]
    assert [one.id for one in forbidden] == ["P2"]


def _proposed(folder, verdict, *ids):
    """As if a layout from sensors alone had been judged: the gateway, and what hangs at places."""
    site = read_site(folder)
    start = site.layout(START)
    allowed = allowed_of(site, start, read_places(folder, site), ("G1",))
    added = tuple(one for one in allowed.could if one.id in {"G1", *ids})
    layout = allowed.made("proposal", added)
    broken = Estimate(0.01, 0.0, 0.02, 0.99, "made by hand")
    proposal = Proposal(layout, added, 2.0, broken, verdict, 640)
    head = (site, start, read_policy(folder, site), allowed, (proposal,))
    return Outset(*head, (), (), False, False, 0.99, 1, "made by hand")


def test_a_proposal_that_is_written_reads_back_as_it_was_judged(library):
    _places(library, TABLE)
    found = _proposed(library, Kept.KEPT, "P1", "P2")
    assert write_proposal(library, "fresh", found) == library / "layouts" / "fresh"
    (library / "places.csv").unlink()
    fresh = read_site(library).layout("fresh")
    assert fresh.devices == found.proposals[0].layout.devices
    assert fresh.gateways == found.start.gateways


def test_what_is_not_shown_to_keep_the_promise_is_not_written(library):
    _places(library, TABLE)
    with pytest.raises(UsageError, match="none is written"):
        write_proposal(library, "fresh", _proposed(library, Kept.UNDECIDED, "P1"))
