"""The enumeration that the engine is measured by, itself measured by printed numbers."""

import networkx
import pytest

# Failing nodes, p = 0.9, gateway perfect: P(no orphan), E[orphans], E[connected], E[sum of depths].
# Enumerated by an independent program; path and cycle also follow by hand.
NODES = {
    "path of 5": (0.6643000000, 0.8144100000, 3.6855900000, 10.2838500000),
    "star of 5": (1.0, 0.0, 4.5, 4.5),
    "cycle of 6": (0.9503200000, 0.0812700000, 4.4187300000, 8.1674100000),
    "3x3 from a corner": (0.9586465300, 0.0978412500, 7.1021587500, 16.2807312600),
    "3x3 from its centre": (0.96717601, 0.036, 7.1640000000, 10.7280000000),
    "Petersen": (0.9935402770, 0.0116208000, 9 * 0.9 - 0.0116208, None),
    "K5": (1.0, 0.0, 3.6, 3.6),
}

# Failing links: all-terminal reliability at p = 0.5 and 0.9. Bridge and K4 are textbook (Barlow and
# Proschan 1975; Gilbert 1959); the rest by exact counts, e.g. 2000 spanning trees of Petersen.
LINKS = {
    "bridge": (0.437500000000, 0.976860000000),
    "K4": (0.593750000000, 0.995814000000),
    "K5": (0.710937500000, 0.999492242400),
    "cycle of 6": (0.109375000000, 0.885735000000),
    "3x3 from a corner": (0.105224609375, 0.946984815279),
    "Petersen": (0.182128906250, 0.988566914644),
}


@pytest.mark.parametrize("name", NODES)
def test_failing_nodes_orphan_as_many_as_printed(exact, name):
    figures = exact.with_failing_nodes(exact.graph_of(name))
    counts = (figures.none_orphaned, figures.orphans, figures.connected, figures.depth)
    for count, printed in zip(counts, NODES[name], strict=True):
        if printed is not None:
            assert exact.value(count, 0.9) == pytest.approx(printed, abs=1e-10)


@pytest.mark.parametrize("name", LINKS)
def test_failing_links_cut_off_as_often_as_printed(exact, name):
    figures = exact.with_failing_links(exact.graph_of(name))
    for p, printed in zip((0.5, 0.9), LINKS[name], strict=True):
        assert exact.value(figures.none_orphaned, p) == pytest.approx(printed, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "printed"), [("bridge", 0.04494), ("3x3 from a corner", 0.155550099401)]
)
def test_failing_links_disconnect_as_many_as_printed(exact, name, printed):
    figures = exact.with_failing_links(exact.graph_of(name))
    assert exact.value(figures.orphans, 0.9) == pytest.approx(printed, abs=1e-12)


def test_the_least_connected_networks_are_the_spanning_trees(exact):
    """Their number by Kirchhoff's determinant (192 for 3x3, OEIS A007341)."""
    for name, trees in (("3x3 from a corner", 192), ("Petersen", 2000), ("K4", 16)):
        graph = exact.graph_of(name)
        counts = exact.with_failing_links(graph).none_orphaned
        assert counts[len(graph) - 1] == trees
        assert round(networkx.number_of_spanning_trees(graph)) == trees


@pytest.mark.parametrize(
    ("name", "target", "printed"),
    [
        ("bridge", "s2", 0.978480000000),  # 2p^2 + 2p^3 - 5p^4 + 2p^5, textbook
        ("3x3 from a corner", "s7", 0.972502171407),
        ("Petersen", "s1", 0.997271880181),  # not adjacent
    ],
)
def test_decision_diagrams_find_the_printed_two_terminal_reliability(exact, name, target, printed):
    graph = exact.graph_of(name)
    assert exact.two_terminal(graph, "g", target)(0.9) == pytest.approx(printed, abs=1e-12)


@pytest.mark.parametrize(
    ("k", "p", "n", "printed"),
    [
        (2, 0.8, 10, 0.726663168000),
        (2, 0.9, 10, 0.919747224000),
        (2, 0.95, 50, 0.889424298069),
        (3, 0.9, 5, 0.9972),  # Birolini 2007, p. 45: coefficients 1 5 10 7 1
        (3, 0.8, 30, 0.831323090350),
    ],
)
def test_the_recursion_of_consecutive_failures_has_its_printed_values(exact, k, p, n, printed):
    assert exact.consecutive(n, k, p) == pytest.approx(printed, abs=1e-12)


@pytest.mark.parametrize(
    ("t_h", "printed"), [(0.5, 0.9955865980), (2, 0.9874626459), (10, 0.9805117009)]
)
def test_the_availability_of_one_unit_has_its_printed_values(exact, t_h, printed):
    """Failures at 0.01 per hour, repairs at 0.5 (closed form and matrix exponential)."""
    assert exact.availability(t_h, 100, 2) == pytest.approx(printed, abs=1e-10)
    assert exact.mean_availability(10, 100, 2) == pytest.approx(0.9842133920, abs=1e-10)
    average = exact.time_average(lambda p: p, 10, 100, 2)
    assert average == pytest.approx(0.9842133920, abs=1e-9)
