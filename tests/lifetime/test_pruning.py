"""What is left out of a lifetime changes nothing in it."""

from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from resilience.building.settings import Blockage, Duration, GatewayOutage, Hardware
from resilience.building.site import Kind
from resilience.connectivity.links import link_table
from resilience.connectivity.luck.prospect import prospect
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element
from resilience.hazards.table import HazardTable, hazard_table
from resilience.lifetime.mesh import GivenPath, Luck, Mesh, MeshDevice, MeshLink, Rules, mesh_of
from resilience.lifetime.pruning import pruned
from resilience.lifetime.reference.simulator import simulate

HORIZON_YEARS = 0.01  # 88 h
STORMY = {
    "hardware": Hardware(60.0, 1.0),
    "gateway_outage": GatewayOutage(200.0, Duration("exponential", mean_h=3.0)),
}
QUICK = {"repair": Duration("fixed", mean_h=10.0), "gateway_repair": Duration("fixed", mean_h=5.0)}


@dataclass(frozen=True)
class Case:
    """One lifetime of one layout, ready to be played with or without what does not matter."""

    mesh: Mesh
    hazards: HazardTable
    rules: Rules
    luck: Luck

    def told(self, hazards):
        """What the lifetime leaves, the blockages themselves left out."""
        lifetime = simulate(self.mesh, hazards, self.rules, self.luck)
        history = lifetime.history
        return (
            lifetime.record,
            history.first_parents,
            history.parents,
            history.outages_ms,
            history.faded,
            [one for one in history.absences if one.element.cause != "link_blockage"],
        )


@st.composite
def _places(draw):
    """Where a gateway, a repeater and some sensors hang, often at the edge of reach."""
    ids = ["g1", "r1", "s1", "s2", "s3", "s4"][: draw(st.integers(3, 6))]
    grid = st.tuples(st.integers(0, 6), st.integers(0, 6))
    places = draw(st.lists(grid, min_size=len(ids), max_size=len(ids), unique=True))
    return {id: (6.0 * x, 6.0 * y) for id, (x, y) in zip(ids, places, strict=True)}


@pytest.fixture(scope="module")
def case(small_site):
    def made(places, seed=1, loss_db=10.0, counts=False, *, objective="etx", mute=()):
        devices = [
            small_site.device(id, *place, forwards=id not in mute) for id, place in places.items()
        ]
        layout = small_site.layout("a", *devices)
        blockage = Blockage(400.0, 0.5, 20.0, loss_db, Duration("exponential", mean_h=5.0))
        site = small_site(
            layout,
            horizon_years=HORIZON_YEARS,
            routing={"objective": objective, "hysteresis": 64},
            hazards=STORMY | {"link_blockage": blockage},
            upkeep=QUICK,
        )
        table = link_table(site, layout)
        mesh = mesh_of(table, prospect(table).strengths_cdbm(seed, 0))
        rules = Rules.of(site.routing, HORIZON_YEARS, counts)
        return Case(mesh, hazard_table(site, table), rules, Luck(seed, 0))

    return made


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    places=_places(),
    seed=st.integers(0, 999),
    loss_db=st.sampled_from((1.0, 4.0, 10.0, 40.0)),
    rest=st.fixed_dictionaries(
        {
            "counts": st.booleans(),
            "objective": st.sampled_from(("etx", "hops")),
            "mute": st.sampled_from(((), ("s1",), ("s1", "s2"))),
        }
    ),
)
def test_a_pruned_lifetime_is_the_unpruned_one(case, places, seed, loss_db, rest):
    one = case(places, seed, loss_db, **rest)
    assert one.told(pruned(one.mesh, one.hazards)) == one.told(one.hazards)


def test_there_is_something_to_prune_and_something_to_keep(case):
    """Near pairs stay perfect behind 4 dB, pairs at the edge of reach do not."""
    places = {"g1": (0.0, 0.0), "s1": (2.0, 0.0), "s2": (3.0, 1.0), "s3": (24.0, 0.0)}
    one = case(places, loss_db=4.0)
    kept = [row for row in pruned(one.mesh, one.hazards).elements if row.cause == "link_blockage"]
    all_of_them = [row for row in one.hazards.elements if row.cause == "link_blockage"]
    assert 0 < len(kept) < len(all_of_them) == 6


@dataclass(frozen=True)
class Sudden:
    """A link that costs the same up to a margin and is closed beyond."""

    margin_cdb: int

    def cost(self, loss_cdb):
        return 128 if loss_cdb <= self.margin_cdb else None


@pytest.fixture(scope="module")
def kept():
    """Names of the causes that are kept, on a mesh g1-s1-s2 whose links take 10 dB."""
    devices = (
        MeshDevice("g1", Kind.GATEWAY),
        MeshDevice("s1", Kind.SENSOR),
        MeshDevice("s2", Kind.SENSOR),
    )
    links = (
        MeshLink("g1~s1", "g1", "s1", Sudden(1000)),
        MeshLink("s1~s2", "s1", "s2", GivenPath(128)),
    )
    mesh = Mesh(devices, links, frozenset())

    def of(*elements):
        return {row.cause for row in pruned(mesh, HazardTable(elements, ())).elements}

    return of


def test_what_holds_a_device_is_always_kept(kept):
    assert kept(
        Element("a", "s1", Effect.DOWN, ("s1",)), Element("b", "s2", Effect.MUTE, ("s2",))
    ) == {"a", "b"}


def test_what_strikes_a_link_that_does_not_exist_is_left_out(kept):
    effects = (Effect.CUT, Effect.COST, Effect.LOSS)
    assert not kept(*(Element(effect, "g1~s2", effect, ("g1~s2",), 9000) for effect in effects))
    assert kept(
        *(Element(effect, "g1~s1", effect, ("g1~s2", "g1~s1"), 9000) for effect in effects)
    ) == {
        "cut",
        "cost",
        "loss",
    }


def test_a_loss_within_the_margin_is_left_out(kept):
    assert not kept(Element("a", "g1~s1", Effect.LOSS, ("g1~s1",), 1000))
    assert kept(Element("a", "g1~s1", Effect.LOSS, ("g1~s1",), 1001))


def test_losses_that_matter_only_together_are_all_kept(kept):
    losses = [Element(cause, "g1~s1", Effect.LOSS, ("g1~s1",), 400) for cause in "abc"]
    assert not kept(*losses[:2])
    assert kept(*losses) == {"a", "b", "c"}


def test_no_loss_matters_to_a_link_of_given_cost(kept):
    assert not kept(Element("a", "s1~s2", Effect.LOSS, ("s1~s2",), 9000))


def test_cells_are_never_left_out(case):
    one = case({"g1": (0.0, 0.0), "s1": (2.0, 0.0)})
    assert pruned(one.mesh, one.hazards).cells == one.hazards.cells != ()
