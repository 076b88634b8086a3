"""What ``plan`` draws: parsed as a browser would, and compared with the site it is of."""

import base64
import hashlib
import math
import re
import xml.etree.ElementTree as ET
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from itertools import combinations
from pathlib import Path

import pytest
from shapely import STRtree
from shapely.affinity import rotate
from shapely.geometry import LineString, Point, box

from resilience.building.files.folder import read_site
from resilience.connectivity.links import links
from resilience.report.answers.plan import plan, plan_sheet
from resilience.report.drawing.frame import Cut, bar_m
from resilience.report.drawing.ink import DARK, LIGHT
from resilience.report.drawing.marks import hole_of
from resilience.report.drawing.strokes import CARRYING, Weight, carrying, weight_of
from resilience.report.sheet import html, is_ours, svg

SITES = Path(__file__).parent.parent.parent / "sites"
LETTER = (
    0.6  # width of a letter of usual monospaced fonts, as a share of their size: common practice
)
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "=cmd|' /C calc'!A0",
    "\u202eS",
    "\x00\x1bS",
)


def sheet_of(site, layout: str | None = None):
    return plan_sheet(plan(site, links(site, layout or site.layouts[0].name)))


def pictures(page: str) -> dict[str, ET.Element]:
    """The pictures of a page, by title."""
    found = [ET.fromstring(one) for one in re.findall(r"<svg.*?</svg>", page, re.DOTALL)]
    return {one.find("title").text: one for one in found}


def elements(page: str) -> set[str]:
    """Kinds of elements that a browser finds in a page, with the names of their attributes."""
    found = set()

    class Reader(HTMLParser):
        def handle_starttag(self, tag, attrs):
            found.update({tag, *(f"{tag} {name}" for name, _ in attrs)})

    Reader().feed(page)
    return found


def plans(page: str) -> dict[str, ET.Element]:
    return {title: one for title, one in pictures(page).items() if title.startswith("Level ")}


def marked(drawn, attribute: str) -> list[str]:
    return [one.get(attribute) for one in drawn.iter() if one.get(attribute) is not None]


def points(path: str) -> list[tuple[float, float]]:
    """Points of a path that are told by their own coordinates."""
    numbers = r"(-?[\d.]+) (-?[\d.]+)"
    bows = re.findall(rf"Q{numbers} {numbers}", path)
    ends = [point for x1, y1, x2, y2 in bows for point in ((x1, y1), (x2, y2))]
    return [(float(x), float(y)) for x, y in (*re.findall(rf"[ML]{numbers}", path), *ends)]


def signs(picture) -> dict[str, tuple[float, float]]:
    """Middle of the sign of each device."""
    found = {}
    for one in picture.iter("g"):
        if one.get("data-device"):
            path = next(part.get("d") for part in one if part.get("class") == "sign")
            corners = points(path)
            if "a" in path:
                radius = float(re.search(r"a(\S+)", path)[1])
                found[one.get("data-device")] = (corners[0][0] + radius, corners[0][1])
            else:
                xs, ys = zip(*corners, strict=True)
                found[one.get("data-device")] = (sum(xs) / len(xs), sum(ys) / len(ys))
    return found


def written(folder: Path, files: dict[str, str]):
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return read_site(folder)


def crowd(folder: Path, n: int):
    """So many sensors in a ragged grid on one level of 48 m by 30 m, among 24 walls."""
    rows = [
        f"S{one:03},sensor,hall,{2 + one % 12 * 3.8 + one % 5 * 0.3:.1f},"
        f"{2 + one // 12 * 28 / (n / 12 + 1) + one % 7 * 0.2:.1f}"
        for one in range(n)
    ]
    walls = [
        f"east-wing-wall-{one:02},hall,{2 * one},9,{2 * one},14,stud_wall" for one in range(24)
    ]
    return written(
        folder,
        {
            "site.yaml": "format: 1\nname: Invented crowd\nbuilding:\n"
            "  outline: [[0, 0], [48, 0], [48, 30], [0, 30]]\n  levels: [{id: hall}]\n",
            "walls.csv": "id,level,x1_m,y1_m,x2_m,y2_m,construction\n" + "\n".join(walls),
            "layouts/a/devices.csv": "id,kind,level,x_m,y_m\nG1,gateway,hall,1,1\n"
            + "\n".join(rows),
        },
    )


@pytest.fixture(scope="module")
def hall():
    return read_site(SITES / "market-hall")


@pytest.fixture(scope="module")
def library():
    return read_site(SITES / "seed-library")


@pytest.fixture(scope="module")
def sixty(tmp_path_factory):
    return crowd(tmp_path_factory.mktemp("sixty"), 59)


@pytest.fixture(scope="module")
def pages(hall, library, sixty):
    return {site.name: (site, html(sheet_of(site))) for site in (hall, library, sixty)}


def test_every_device_is_once_on_the_plan_of_its_level_and_once_on_the_section(pages):
    for site, page in pages.values():
        devices = site.layouts[0].devices
        for level in site.building.levels:
            here = sorted(one.id for one in devices if one.place.level == level.id)
            assert sorted(marked(plans(page)[f"Level {level.id}"], "data-device")) == here
        whole = marked(pictures(page)["Section"], "data-device")
        assert sorted(whole) == [one.id for one in devices]


def test_signs_stand_as_far_apart_as_the_devices_hang(library):
    """One scale for both axes and all levels; y counts upwards in the site, downwards in SVG."""
    page, scales = html(sheet_of(library)), []
    for level in library.building.levels:
        at = signs(plans(page)[f"Level {level.id}"])
        hung = {one.id: one.place for one in library.layouts[0].devices if one.id in at}
        for a, b in combinations(at, 2):
            apart_m = (hung[b].x_m - hung[a].x_m, hung[b].y_m - hung[a].y_m)
            apart = (at[b][0] - at[a][0], at[a][1] - at[b][1])
            scale = math.hypot(*apart) / math.hypot(*apart_m)
            assert apart == pytest.approx([scale * one for one in apart_m], abs=0.3)
            if math.hypot(*apart_m) > 8:
                scales.append(scale)
    assert min(scales) == pytest.approx(max(scales), rel=2e-3)


def test_the_bar_is_as_long_as_it_says(library):
    picture = plans(html(sheet_of(library)))["Level cellar"]
    at = signs(picture)
    bar = points(next(one.get("d") for one in picture.iter("path") if one.get("class") == "bar"))
    says_m = float(re.search(r">([\d.]+) m<", ET.tostring(picture, encoding="unicode"))[1])
    per_m = (at["S03"][0] - at["S01"][0]) / (26 - 15)  # sensors.csv: x of both
    assert (max(x for x, _ in bar) - min(x for x, _ in bar)) / per_m == pytest.approx(
        says_m, rel=0.01
    )


def test_everything_drawn_is_once_on_each_level_it_stands_on_as_links_names_it(pages):
    for site, page in pages.values():
        building, order = site.building, [level.id for level in site.building.levels]
        for level in building.levels:
            wanted = [f"wall {one.id}" for one in building.walls if one.level == level.id]
            own = {one.id for one in building.walls if one.level == level.id}
            wanted += [f"door {one.id}" for one in building.doors if one.wall in own]
            for kind, things in (("pillar", building.pillars), ("shaft", building.shafts)):
                for one in things:
                    reach = range(order.index(one.lowest), order.index(one.highest) + 1)
                    wanted += [f"{kind} {one.id}"] * (order.index(level.id) in reach)
            wanted += [
                f"{one.kind} {one.id}" for one in building.obstacles if one.level == level.id
            ]
            found = marked(plans(page)[f"Level {level.id}"], "data-part")
            assert sorted(found) == sorted([f"level {level.id}", *wanted])
        every = {
            part for picture in pictures(page).values() for part in marked(picture, "data-part")
        }
        met = {one.what for link in links(site, site.layouts[0]).links for one in link.hindrances}
        plain = {re.sub("^(round|over|lining of) ", "", one) for one in met}
        assert met
        assert plain <= every


def test_windows_openings_and_plates_are_drawn_too(tmp_path):
    site = written(
        tmp_path,
        {
            "site.yaml": "format: 1\nname: Invented barn\nbuilding:\n"
            "  outline: [[0, 0], [12, 0], [12, 8], [0, 8]]\n  levels: [{id: low}, {id: high}]\n"
            "  windows: [{id: F1, wall: W1, at_m: 3, sill_m: 1, width_m: 2, height_m: 1}]\n"
            "  openings: [{id: O1, level: high, outline: [[1, 1], [3, 1], [3, 3], [1, 3]]}]\n"
            "  plates: [{id: P1, level: high, construction: timber_floor,\n"
            "    corners: [[6, 0, 1], [12, 0, 1], [12, 8, 2], [6, 8, 2]]}]\n",
            "walls.csv": "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,low,0,4,12,4,brick_120\n",
            "layouts/a/devices.csv": "id,kind,level,x_m,y_m\n"
            "G1,gateway,low,1,1\nS1,sensor,high,9,2\n",
        },
    )
    page = html(sheet_of(site))
    low, high = plans(page)["Level low"], plans(page)["Level high"]
    assert {"wall W1", "window F1"} <= set(marked(low, "data-part"))
    assert {"slab opening O1", "plate P1"} <= set(marked(high, "data-part"))


def test_every_line_of_a_link_is_drawn_once_on_its_level_or_on_the_section(pages):
    for site, page in pages.values():
        table = links(site, site.layouts[0])
        level = {one.id: one.place.level for one in site.layouts[0].devices}
        found = Counter()
        for title, picture in pictures(page).items():
            for id in marked(picture, "data-link"):
                a, b = id.split("~")
                found[id] += 1
                assert title == (f"Level {level[a]}" if level[a] == level[b] else "Section")
        assert set(found.values()) == {1}
        usable = {link.id for link in table.links if table.is_usable(link)}
        assert found.keys() <= usable
        for device in level:
            own = [link for link in usable if device in link.split("~")]
            drawn = [link for link in own if link in found]
            assert len(drawn) >= min(6, len(own))
            if len(own) <= 6:
                assert len(drawn) == len(own)


def test_the_line_of_a_link_says_how_much_it_can_lose_and_whether_it_was_measured(hall):
    table, page = links(hall, "edge-and-row"), html(sheet_of(hall, "edge-and-row"))
    looks = {
        one.get("data-link"): one.get("class").split()
        for one in pictures(page)["Level hall"].iter("g")
        if one.get("data-link")
    }
    for link in table.links:
        if link.id in looks:
            margin_db = table.margin_db(link)
            near, thin, ample = margin_db < 3, margin_db < 10, margin_db < 20
            look = "near" if near else "thin" if thin else "ample" if ample else "strong"
            assert looks[link.id][1] == look
            assert ("measured" in looks[link.id]) == link.measured
    assert sum("measured" in one for one in looks.values()) > 5


def test_the_classes_of_links_begin_where_a_link_is_sure_accepted_and_strong():
    steps = [weight_of(one) for one in (0, 2.99, 3, 9.99, 10, 19.99, 20, 50)]
    assert steps == [one for one in Weight if one not in CARRYING for _ in range(2)]


def test_the_classes_of_links_by_what_they_carry_begin_at_a_hundredth_a_tenth_and_a_half():
    found = [carrying(share) for share in (0, 0.0099, 0.01, 0.099, 0.1, 0.49, 0.5, 1)]
    none, seldom, often, mainly = None, Weight.SELDOM, Weight.OFTEN, Weight.MAINLY
    assert found == [none, none, seldom, seldom, often, often, mainly, mainly]


def test_a_sign_is_the_more_open_the_more_of_the_time_its_device_is_silent():
    holes = [hole_of(share) for share in (0, 0.0009, 0.001, 0.009, 0.01, 0.049, 0.05, 1)]
    assert holes == sorted(holes)
    assert len(set(holes)) == 4
    assert (holes[0], max(holes) < 1) == (0, True)


def test_up_and_down_count_all_usable_links_to_other_levels(library):
    table = links(library, "two-lines")
    order = [level.id for level in library.building.levels]
    on = {one.id: order.index(one.place.level) for one in library.layout("two-lines").devices}
    page = html(sheet_of(library, "two-lines"))
    texts = {one.text for picture in plans(page).values() for one in picture.iter("text")}
    for id, level in on.items():
        others = [on[other] for other in table.usable_neighbours(id)]
        n_up, n_down = sum(one > level for one in others), sum(one < level for one in others)
        ways = (f"↑{n_up}" if n_up else "") + (f"↓{n_down}" if n_down else "")
        assert f"{id} {ways}".strip() in texts


def test_links_between_buildings_side_by_side_go_neither_up_nor_down(tmp_path):
    site = written(
        tmp_path,
        {
            "site.yaml": "format: 1\nname: Invented barns\nbuilding:\n  levels:\n"
            "    - {id: west, floor_m: 0, outline: [[0, 0], [8, 0], [8, 8], [0, 8]]}\n"
            "    - {id: east, floor_m: 0, outline: [[12, 0], [20, 0], [20, 8], [12, 8]]}\n",
            "layouts/a/devices.csv": "id,kind,level,x_m,y_m\n"
            "G1,gateway,west,4,4\nS1,sensor,east,16,4\n",
        },
    )
    page = html(sheet_of(site))
    west = [text for text, _ in lettered(plans(page)["Level west"])]
    assert "G1 ↔1" in west
    assert marked(pictures(page)["Section"], "data-link") == ["G1~S1"]


def lettered(picture) -> list:
    """Room of every text that is always shown, by the width of usual letters."""
    found = []
    for one in picture.iter("text"):
        if one.get("class") and "tip" in one.get("class"):
            continue
        size, x, y = (float(one.get(key)) for key in ("font-size", "x", "y"))
        long = LETTER * size * len(one.text)
        left = x if "left" in one.get("class", "") else x - long / 2
        room = box(left, y - 0.75 * size, left + long, y + 0.15 * size)
        turned = re.match(r"rotate\((\S+) (\S+) (\S+)\)", one.get("transform", ""))
        if turned:
            turn, *about = map(float, turned.groups())
            room = rotate(room, turn, origin=tuple(about))
        found.append((one.text, room))
    return found


def test_no_name_covers_another_with_sixty_devices_on_a_level(pages):
    for _, page in pages.values():
        for picture in pictures(page).values():
            names = lettered(picture)
            tree = STRtree([room for _, room in names])
            pairs = tree.query([room for _, room in names], predicate="overlaps").T
            assert [(names[a][0], names[b][0]) for a, b in pairs if a < b] == []


def test_every_device_and_every_wall_among_sixty_devices_has_its_name_written(sixty, pages):
    _, page = pages[sixty.name]
    texts = [text for text, _ in lettered(plans(page)["Level hall"])]
    assert {one.id for one in sixty.layouts[0].devices} <= set(texts)
    assert {one.id for one in sixty.building.walls} <= set(texts)


def test_a_straight_line_of_a_link_passes_through_no_sign_but_its_ends(pages):
    """Signs reach 5 units or more; lines that would meet one are bows, and there are some."""
    n_bows = 0
    for _, page in pages.values():
        for picture in plans(page).values():
            at = signs(picture)
            for one in picture.iter("g"):
                if one.get("data-link") is None:
                    continue
                path = one.find("path").get("d")
                if "Q" in path:
                    n_bows += 1
                    continue
                others = [at[id] for id in at.keys() - set(one.get("data-link").split("~"))]
                way = LineString(points(path))
                assert all(way.distance(Point(other)) > 4.9 for other in others)
    assert n_bows > 5


def test_where_walls_are_many_what_all_their_names_begin_with_is_said_once(tmp_path):
    places = [(n, n % 15 * 2, n // 15 * 2) for n in range(90)]
    walls = [f"EG-wall-{n:03},EG,{x},{y},{x + 1},{y},brick_120" for n, x, y in places]
    site = written(
        tmp_path,
        {
            "site.yaml": "format: 1\nname: Invented rooms\nbuilding:\n"
            "  outline: [[0, 0], [30, 0], [30, 12], [0, 12]]\n  levels: [{id: EG}]\n",
            "walls.csv": "id,level,x1_m,y1_m,x2_m,y2_m,construction\n" + "\n".join(walls),
            "layouts/a/devices.csv": "id,kind,level,x_m,y_m\nG1,gateway,EG,1,1\nS1,sensor,EG,9,1\n",
        },
    )
    page = html(sheet_of(site))
    texts = {text for text, _ in lettered(plans(page)["Level EG"])}
    assert {f"{one:03}" for one in range(90)} <= texts
    assert "What begins with wall EG-wall- is named by what follows." in page
    assert "wall EG-wall-089" in marked(plans(page)["Level EG"], "data-part")


def test_everything_lies_in_its_picture(pages):
    for _, page in pages.values():
        for picture in pictures(page).values():
            _, _, wide, high = map(float, picture.get("viewBox").split())
            inside = box(0, 0, wide, high)
            assert all(inside.covers(room) for _, room in lettered(picture))
            for path in picture.iter("path"):
                for x, y in points(path.get("d")):
                    assert 0 <= x <= wide
                    assert 0 <= y <= high


def test_a_page_of_sixty_devices_is_below_a_megabyte_and_one_of_300_too(pages, sixty, tmp_path):
    assert len(pages[sixty.name][1].encode()) < 1_000_000
    assert len(html(sheet_of(crowd(tmp_path, 299))).encode()) < 1_000_000


def test_a_page_asks_nothing_of_anybody_and_a_policy_forbids_it(pages):
    for _, page in pages.values():
        found = {word for one in elements(page) for word in one.split()}
        assert not found & {*("script", "link", "img", "iframe", "object", "use", "image", "a")}
        assert not found & {*("href", "src", "srcset", "xlink:href", "action")}
        assert not any(one.startswith("on") for one in found)
        assert not re.search(r"url\(|@import|https?:", page)
        style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)[1]
        digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        policy = re.search(r'content="(default-src[^"]*)" http-equiv="Content-Security', page)[1]
        assert policy.startswith(f"default-src 'none'; style-src 'sha256-{digest}';")


def renamed(site, names: dict[str, str], wall: str):
    """The same site with other names; the reader refuses most of those that are tried here."""
    layout = site.layouts[0]
    devices = [replace(one, id=names.get(one.id, one.id)) for one in layout.devices]
    layout = replace(layout, devices=tuple(sorted(devices, key=lambda one: one.id)))
    walls = tuple(replace(one, id=wall) for one in site.building.walls)
    building = replace(site.building, walls=walls)
    return replace(site, name="<b>bold</b> & co", building=building, layouts=(layout,))


def test_names_are_text_whatever_they_hold(tmp_path):
    rows = "".join(f"S{n},sensor,L1,{3 * n + 2},5\n" for n in range(len(HOSTILE)))
    site = written(
        tmp_path,
        {
            "site.yaml": "format: 1\nname: Invented\nbuilding:\n"
            "  outline: [[0, 0], [20, 0], [20, 10], [0, 10]]\n  levels: [{id: L1}]\n",
            "walls.csv": "id,level,x1_m,y1_m,x2_m,y2_m,construction\nW1,L1,0,4,20,4,brick_120\n",
            "layouts/a/devices.csv": "id,kind,level,x_m,y_m\nG1,gateway,L1,1,1\n" + rows,
        },
    )
    names = {f"S{n}": name for n, name in enumerate(HOSTILE)}
    sheet = sheet_of(renamed(site, names, "</title><script>1</script>"))
    page, picture = html(sheet), ET.fromstring(svg(sheet))
    assert elements(page) == elements(html(sheet_of(site)))
    assert not re.search("[\u202e\x00-\x09\x0b-\x1f]", page)
    assert {one.tag.rpartition("}")[2] for one in picture.iter()} <= {
        *("svg", "g", "title", "desc", "style", "rect", "text", "tspan", "path", "circle")
    }
    shown = {*HOSTILE[:3], "\\u202eS", "\\x00\\x1bS"}
    assert shown <= set(marked(plans(page)["Level L1"], "data-device"))
    titles = " ".join(one.text for one in picture.iter("{http://www.w3.org/2000/svg}title"))
    assert "wall </title><script>1</script>: brick_120" in titles


def given(folder: Path):
    return written(
        folder,
        {
            "site.yaml": "format: 1\nname: Invented row\nradio: {predict: off}\n",
            "layouts/a/devices.csv": "id,kind\nG1,gateway\nR1,repeater\nS1,sensor\nS2,sensor\n",
            "layouts/a/links.csv": "a,b,prr\nG1,R1,0.95\nR1,S1,0.9\n",
        },
    )


def test_a_site_without_places_is_a_plain_graph_that_says_so_and_is_always_the_same(tmp_path):
    site = given(tmp_path)
    page = html(sheet_of(site))
    assert set(pictures(page)) == {"Signs and lines", "Graph"}
    graph = pictures(page)["Graph"]
    assert sorted(marked(graph, "data-device")) == ["G1", "R1", "S1", "S2"]
    assert sorted(marked(graph, "data-link")) == ["G1~R1", "R1~S1"]
    assert "this is a plain graph" in page
    assert html(sheet_of(site)) == page
    at = signs(graph)
    assert len({(round(x), round(y)) for x, y in at.values()}) == 4


def test_who_could_lose_the_last_way_has_a_ring_and_is_named(tmp_path):
    page = html(sheet_of(given(tmp_path)))
    ringed = {
        one.get("data-device")
        for one in pictures(page)["Graph"].iter("g")
        if one.get("data-device") and one.find("circle") is not None
    }
    assert ringed == {"S1", "S2"}  # one neighbour that forwards, and none; R1 has two
    assert "Nobody hears S2 (dashed ring)." in page
    assert "Fewer than two neighbours can be parent of S1 (dashed ring)." in page


def test_a_layout_without_a_single_point_of_failure_names_none(hall):
    page = html(sheet_of(hall, "two-gateways"))
    assert "single point" not in page.lower()
    assert 'class="sole"' not in page


def test_single_points_of_failure_have_corners_and_are_named_in_words(tmp_path):
    page = html(sheet_of(given(tmp_path)))
    cornered = {
        one.get("data-device")
        for one in pictures(page)["Graph"].iter("g")
        if any(path.get("class") == "sole" for path in one.findall("path"))
    }
    assert cornered == {"G1", "R1"}  # the only gateway, and what S1 hears it through
    assert "Single points of failure (corners round their signs): G1 and R1." in page
    assert "single point of failure: all ways of S1 lead through it" in page
    legend = [one.text for one in pictures(page)["Signs and lines"].iter("text")]
    assert "single point of failure" in legend


def test_a_page_says_that_it_is_predicted_and_what_it_is_not_for(pages):
    for _, page in pages.values():
        assert "Predicted, not surveyed" in page
        assert "Not for fire, gas, medical or other life-safety signalling." in page
        assert "work at height" in page


def test_every_picture_has_a_title_and_says_what_it_shows(pages):
    for _, page in pages.values():
        for picture in pictures(page).values():
            assert [one.tag for one in picture][:2] == ["title", "desc"]
            assert len(picture.find("desc").text) > 20


def test_the_picture_alone_holds_all_that_the_page_does(library):
    sheet = sheet_of(library)
    whole, page = ET.fromstring(svg(sheet)), html(sheet)
    for attribute in ("data-device", "data-link", "data-part"):
        on_page = [id for one in pictures(page).values() for id in marked(one, attribute)]
        assert sorted(marked(whole, attribute)) == sorted(on_page)
    texts = " ".join(one.text or "" for one in whole.iter("{http://www.w3.org/2000/svg}text"))
    assert "Predicted, not surveyed" in texts
    assert "life-safety" in texts


def test_drawings_are_known_as_ours_and_other_files_are_not(library, tmp_path):
    sheet = sheet_of(library)
    for name, text, ours in (
        ("a.html", html(sheet), True),
        ("a.svg", svg(sheet), True),
        ("b.html", "<!DOCTYPE html><title>resilience plan</title>", False),
        ("c.svg", "", False),
    ):
        (tmp_path / name).write_text(text, encoding="utf-8")
        assert is_ours(tmp_path / name) == ours


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition)."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_words_and_marks_stand_out_as_wcag_asks():
    """WCAG 2.2, 1.4.3 (text, 4.5 to 1) and 1.4.11 (graphics, 3 to 1)."""
    for palette in (LIGHT, DARK):
        for ground in (palette.paper, palette.floor):
            for text in (palette.ink, palette.quiet, palette.link):
                assert contrast(text, ground) >= 4.5
            for mark in ("gateway", "repeater", "sensor", "link", "measured", "moving", "wall"):
                assert contrast(getattr(palette, mark), ground) >= 3.0, mark


def test_the_colours_of_marks_are_those_of_okabe_and_ito():
    """Okabe and Ito (2008), the eight colours, from memory; words and light grounds are ours."""
    published = {
        "#000000",
        "#e69f00",
        "#56b4e9",
        "#009e73",
        "#f0e442",
        "#0072b2",
        "#d55e00",
        "#cc79a7",
    }
    for palette in (LIGHT, DARK):
        used = {palette.gateway, palette.sensor, palette.link, palette.measured, palette.moving}
        assert used <= published
    assert LIGHT.repeater in published


def test_a_cut_through_an_l_shaped_level_has_the_stretches_that_lie_inside():
    corner = ((0, 0), (10, 0), (10, 4), (6, 4), (6, 9), (0, 9))
    assert Cut(True, 2).spans_m(corner) == [(0, 10)]
    assert Cut(True, 6).spans_m(corner) == [(0, 6)]
    assert Cut(False, 8).spans_m(corner) == [(0, 4)]
    assert Cut(True, 12).spans_m(corner) == []
    horseshoe = ((0, 0), (9, 0), (9, 6), (6, 6), (6, 2), (3, 2), (3, 6), (0, 6))
    assert Cut(True, 4).spans_m(horseshoe) == [(0, 3), (6, 9)]


def test_the_section_shows_the_walls_at_the_cut_without_the_door_in_it(library):
    """The stair is 12 to 16 m up the plan and the walls beside it run from y = 8 to 16."""
    sheet = sheet_of(library)
    section = pictures(html(sheet))["Section"]
    titles = [one.text for one in section.iter("title")]
    assert sum(one.startswith("wall third-north-west:") for one in titles) == 1
    assert not any(one.startswith("wall third-south-west:") for one in titles)
    assert sum(one.startswith("lining of shaft lift: concrete_200") for one in titles) == 2
    slabs = {one.get("data-part"): one for one in section.iter("g") if one.get("data-part")}
    cut = slabs["slab under third"].findall("path")[1].get("d")
    assert cut.count("M") == 3  # left of the stair, between stair and lift, right of the lift
    assert slabs["slab under cellar"].findall("path")[1].get("d").count("M") == 1


@pytest.mark.parametrize(
    ("most_m", "bar"), [(0.9, 0.5), (1, 1), (4.9, 2), (5, 5), (19, 10), (250, 200)]
)
def test_bars_are_of_one_two_or_five(most_m, bar):
    assert bar_m(most_m) == pytest.approx(bar)
