"""Two measured meshes played as given links, where RESILIENCE_FIELD_DATA names their folder.

Public traces published with Brun-Laguna et al. 2016 and 2018: an office floor and an orchard, both
at 2.4 GHz. N1, which talks to most others, is taken for the gateway.
"""

import csv
import os
from dataclasses import replace
from pathlib import Path

import pytest

from resilience.building.site import GivenLink, Layout
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.lifetime.playing import Stage

FOLDER = os.environ.get("RESILIENCE_FIELD_DATA")
DAYS = 365.25

pytestmark = pytest.mark.skipif(FOLDER is None, reason="RESILIENCE_FIELD_DATA names no folder")


def id_of(name):
    return "g1" if name == "N1" else name.replace("N", "s")


@pytest.fixture(scope="module", params=["office34", "orchard16"])
def mesh(request, small_site):
    """A year on one of the meshes, with every hazard at its default."""
    with (Path(FOLDER) / f"{request.param}-links.csv").open(newline="", encoding="utf-8") as rows:
        links = tuple(
            GivenLink(id_of(row["a"]), id_of(row["b"]), float(row["prr"]), float(row["rssi_dbm"]))
            for row in csv.DictReader(rows)
        )
    ids = sorted({end for link in links for end in (link.a, link.b)})
    layout = Layout("measured", tuple(small_site.device(id) for id in ids), links)
    environment = "busy" if request.param == "office34" else "quiet"
    return small_site(layout, radio={"predict": False, "environment": environment})


def test_both_engines_tell_the_same_story_of_a_measured_mesh(mesh):
    short = replace(mesh, horizon_years=0.1)
    told = [
        Stage(short, mesh.layouts[0], 7, False, engine).play(0) for engine in (COMPILED, REFERENCE)
    ]
    assert told[0] == told[1]
    assert told[0].history.parents


def test_devices_of_a_measured_mesh_change_their_parent_less_than_every_other_day(
    mesh, record_property
):
    """Counted in the field: at most about 0.5 changes a day and device in the office, 0.15 in the
    orchard, those with a single parent left out (Brun-Laguna et al. 2018, section on stability).
    """
    n = 16
    tally = Stage(mesh, mesh.layouts[0], 7, False).tally(0, n)
    moves = tally.column("reparentings").sum() / n / DAYS / len(mesh.layouts[0].devices)
    record_property("parent changes per device and day", f"{moves:.3f}")
    assert 0.001 < moves < 0.5
