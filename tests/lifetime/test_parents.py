"""Whom a device chooses, told on meshes small enough to work out by hand."""

from dataclasses import replace

import pytest

from resilience.building.site import Kind
from resilience.lifetime.mesh import MeshDevice
from resilience.lifetime.record import ParentChange


def _moves(lifetime) -> list[tuple]:
    return [(one.time_ms, one.device, one.old, one.new) for one in lifetime.history.parents]


@pytest.mark.parametrize(
    "candidate_moves",
    [
        (320, []),  # gain 180
        (308, []),  # gain 192: RFC 8180 section 6.4 moves only beyond the threshold
        (307, [(10, "s", "g1", "g2")]),  # gain 193
        (300, [(10, "s", "g1", "g2")]),  # gain 200
    ],
)
def test_a_device_moves_only_for_a_gain_beyond_192(mesh_of, played, dearer, calm, candidate_moves):
    """RFC 6719 section 5 sets 192; its path of 500 stays at 320 and leaves for 300."""
    candidate, moves = candidate_moves
    mesh = mesh_of({"g1~s": 500, "g2~s": candidate})
    lifetime = played(
        mesh, dearer("g2~s", (0, 10), amount=500), rules=replace(calm, hysteresis=192)
    )
    assert lifetime.history.first_parents == {"s": "g1"}
    assert _moves(lifetime) == moves
    assert lifetime.record.reparentings == ({"s": 1} if moves else {})


def test_without_hysteresis_the_least_gain_moves_and_equality_stays(mesh_of, played, dearer):
    equal = played(mesh_of({"g1~s": 256, "g2~s": 256}), dearer("g1~s", (0, 10), amount=1))
    assert equal.history.first_parents == {"s": "g2"}
    assert _moves(equal) == []
    better = played(mesh_of({"g1~s": 255, "g2~s": 256}), dearer("g1~s", (0, 10), amount=2))
    assert _moves(better) == [(10, "s", "g2", "g1")]


def test_of_two_equal_parents_the_lowest_id_is_chosen(mesh_of, played, down):
    mesh = mesh_of({"g~r1": 128, "g~r2": 128, "r1~s": 128, "r2~s": 128})
    assert played(mesh).history.first_parents == {"r1": "g", "r2": "g", "s": "r1"}
    lifetime = played(mesh, down("r1", (100, 200)))
    assert _moves(lifetime) == [
        (100, "r1", "g", None),
        (100, "s", "r1", "r2"),
        (200, "r1", None, "g"),
    ]


def test_a_cheaper_detour_is_taken_over_a_dear_hop(mesh_of, played):
    """ETX counts transmissions, not hops: 128 + 128 is less than 512 (RFC 6551, 128 x ETX)."""
    mesh = mesh_of({"g~s1": 128, "g~s2": 512, "s1~s2": 128})
    assert played(mesh).history.first_parents == {"s1": "g", "s2": "s1"}


def test_what_hangs_behind_a_device_moves_with_it_and_keeps_its_parent(mesh_of, played, cut):
    mesh = mesh_of({"g~r1": 128, "g~r2": 128, "r1~s1": 128, "r2~s1": 256, "s1~s2": 128})
    lifetime = played(mesh, cut("r1~s1", (500, 1000)))
    assert _moves(lifetime) == [(500, "s1", "r1", "r2")]
    assert lifetime.record.depth_ms["s2"] == {3: 1000}


def test_a_device_that_does_not_forward_is_nobodys_parent(mesh_of, played):
    links = {"g~s1": 128, "s1~s2": 128}
    mesh = mesh_of(links)
    silent = mesh_of(links, s1=MeshDevice("s1", Kind.SENSOR, forwards=False))
    assert played(mesh).record.orphan_ms == {"s1": 0, "s2": 0}
    assert played(silent).record.orphan_ms == {"s1": 0, "s2": 1000}


def test_a_gateway_does_not_relay_to_another(mesh_of, played, down):
    """g1 reaches g2 and s hears only g1: a primary that is down is no way to the other."""
    lifetime = played(mesh_of({"g1~g2": 128, "g1~s": 128}), down("g1", (100, 300)))
    assert lifetime.record.orphan_ms == {"s": 200}


@pytest.mark.parametrize(("n", "rank"), [(2, 1280), (3, 1792), (4, 2304), (5, 2816)])
def test_path_costs_along_the_chain_of_rfc_8180_add_up(mesh_of, played, n, rank):
    """RFC 8180 section 5.1.2, figure 4: nodes in line, ETX 4/3 on every link.

    With Sp = 3 ETX - 2 (figure 3) its rank after n links is 256 (1 + 3 E - 2 n), E the ETX of the
    path, which gives E back. The cost is told by what a device prefers: a direct link just below
    the cost of the chain is taken, one just above it is not. A link costs 171, since RFC 6551
    rounds 128 x 4/3 = 170.67: a third of a unit per hop.
    """
    chain = {f"s{hop}~s{hop + 1}": 171 for hop in range(1, 5)} | {"g1~s1": 171}
    etx = (rank / 256 - 1 + 2 * n) / 3
    path_cost = round(128 * etx + n / 3)
    below = played(mesh_of(chain | {f"g2~s{n}": path_cost - 1}))
    above = played(mesh_of(chain | {f"g2~s{n}": path_cost + 1}))
    assert below.history.first_parents[f"s{n}"] == "g2"
    assert above.history.first_parents[f"s{n}"] == f"s{n - 1}"


def test_the_history_names_each_change_of_parent_once(mesh_of, played, down):
    lifetime = played(mesh_of({"g~r1": 128, "r1~s": 128}), down("r1", (100, 200)))
    assert lifetime.history.parents == (
        ParentChange(100, "r1", "g", None),
        ParentChange(100, "s", "r1", None),
        ParentChange(200, "r1", None, "g"),
        ParentChange(200, "s", None, "r1"),
    )
    assert lifetime.record.reparentings == {}
