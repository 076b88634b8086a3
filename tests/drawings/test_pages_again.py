"""Whatever is drawn reads back as it was written: any ids, any lengths in whole millimetres."""

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from resilience.building.files.folder import read_site
from resilience.building.parts import WALLS
from resilience.building.settings import Duration
from resilience.building.structure import (
    Building,
    Change,
    Door,
    Level,
    Obstacle,
    Opening,
    Pillar,
    Plate,
    Shaft,
    Wall,
    Window,
)
from resilience.drawings.adopting.pages import joined_table, site_page, wall_row, with_parts

# Not the question mark: of ?0 in brackets the YAML library writes what it does not read.
VISIBLE = st.characters(
    categories=("L", "N", "P", "S"), include_characters=" ", exclude_characters="~/\\?"
)
IDS = st.one_of(
    st.sampled_from(
        ["007", "1E5", "null", "on", "No", "=1+1", "<b>", "0x1F", "1_0", "a: b", "- x"]
    ),
    st.text(VISIBLE, min_size=1, max_size=6).filter(lambda text: text.strip(". ") == text),
)
MADE_OF = st.sampled_from(["brick_120", "concrete_200", "glass_10", "open"])
SLABS = st.sampled_from(["concrete_200", "unknown_slab"])


def mm(least_m, most_m):
    """Return lengths in whole millimetres."""
    return st.integers(round(least_m * 1000), round(most_m * 1000)).map(lambda n: n / 1000)


LASTS = st.one_of(
    mm(1, 100).map(lambda mean_h: Duration("exponential", mean_h=mean_h)),
    mm(1, 100).map(lambda mean_h: Duration("fixed", mean_h=mean_h)),
    st.tuples(mm(1, 10), mm(10, 99)).map(lambda pair: Duration("lognormal", *pair)),
)
CHANGES = st.builds(Change, mm(0.1, 40), mm(0.1, 900), LASTS)


@st.composite
def buildings(draw):
    """Return two levels with one of everything, more or less, none in another's way."""
    names = draw(st.lists(IDS, min_size=12, max_size=12, unique_by=str.casefold))
    low, high, first, second, *rest = names
    height_m = draw(mm(3, 9))
    levels = (
        Level(low, 0.0, height_m, draw(SLABS)),
        Level(high, round(height_m + draw(mm(0, 1)), 3), draw(mm(3, 9)), draw(SLABS)),
    )
    walls = tuple(
        Wall(
            name,
            draw(st.sampled_from([low, high])),
            draw(mm(-9, 0)),
            y_m,
            draw(mm(10, 20)),
            y_m,
            draw(MADE_OF),
            draw(st.none() | mm(2.5, 9)),
        )
        for name, y_m in ((first, draw(mm(0, 5))), (second, draw(mm(6, 9))))
    )
    x_m, y_m = draw(mm(-5, 5)), draw(mm(-5, 5))
    outline = ((x_m, y_m), (x_m + 2, y_m), (x_m + 2, y_m + 1.5))
    outline = tuple((round(a, 3), round(b, 3)) for a, b in outline)
    block = draw(st.tuples(mm(-9, 9), mm(-9, 9), mm(0.1, 5), mm(0.1, 5)))
    lift_m = draw(mm(0, 3))
    change = draw(st.none() | CHANGES)
    door = Door(
        rest[0].replace(" ", "_") + "d",
        first,
        draw(mm(0, 4)),
        draw(mm(0.5, 1)),
        draw(mm(1, 2.5)),
        draw(st.sampled_from(["open", "glass_10"])),
        change,
    )
    pane = Window(
        rest[1],
        first,
        draw(mm(5, 8)),
        draw(mm(0, 1)),
        draw(mm(0.1, 1.5)),
        draw(mm(0.1, 1.4)),
        draw(MADE_OF),
    )
    box = Obstacle(
        rest[2].replace(" ", "_") + "o",
        draw(st.sampled_from(["vehicle", "tea cart"])),
        low,
        *block,
        draw(mm(0, 1)),
        draw(mm(0.1, 2)),
        draw(mm(0, 100)),
        draw(CHANGES),
    )
    return Building(
        levels,
        tuple(sorted(walls, key=lambda wall: wall.id)),
        (door,),
        (pane,),
        (Pillar(rest[3], low, draw(st.sampled_from([low, high])), *block, draw(MADE_OF)),),
        (Shaft(rest[4], low, high, outline, draw(st.none() | st.just("brick_120"))),),
        (Opening(rest[5], high, outline, draw(st.none() | st.just("glass_10"))),),
        (Plate(rest[6], low, tuple((*corner, lift_m) for corner in outline), "open"),),
        (box,),
    )


@settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(drawn=buildings())
def test_any_building_reads_back_as_it_was_written(tmp_path, drawn):
    (tmp_path / "layouts/a").mkdir(parents=True, exist_ok=True)
    low = drawn.levels[0].id.replace('"', '""')
    rows = f'G1,gateway,"{low}",1,1\nS1,sensor,"{low}",2,2\n'
    (tmp_path / "layouts/a/devices.csv").write_text(
        f"id,kind,level,x_m,y_m\n{rows}", encoding="utf-8"
    )
    page = with_parts(site_page("=1+1 <b>"), drawn, ())
    (tmp_path / "site.yaml").write_text(page, encoding="utf-8")
    table = joined_table([], [wall_row(wall) for wall in drawn.walls], WALLS.columns)
    (tmp_path / "walls.csv").write_text(table, encoding="utf-8")
    site = read_site(tmp_path)
    assert replace(site.building, constructions=()) == drawn
    assert site.name == "=1+1 <b>"
