"""Which folders are sites, and what is refused before anything is played."""

import pytest

from resilience.errors import UsageError
from resilience.sweep.finding import SHARED, Found, Terms, checked, site_folders


def names(top, *only):
    return [path.relative_to(top).as_posix() for path in site_folders(top, only)]


def test_sites_lie_at_any_depth_but_not_in_each_other_nor_behind_links(top, write_site):
    write_site(top / "a/layouts/inner", 1)
    write_site(top / ".hidden", 1)
    (top / "loop").symlink_to(top)
    assert names(top) == ["a", "north/b", "north/c"]


def test_patterns_choose_by_the_path(top):
    assert names(top, "north/*") == ["north/b", "north/c"]
    assert names(top, "*b", "a") == ["a", "north/b"]


def tag(folder, tags):
    """Give a site tags, as they stand in its file."""
    path = folder / "site.yaml"
    path.write_text(f"{path.read_text(encoding='utf-8')}tags: {tags}\n", encoding="utf-8")


def tagged(top, *tags):
    return [path.name for path in site_folders(top, (), tags)]


def test_tags_choose_sites_that_have_all_of_them(top):
    tag(top / "a", "school, of brick")
    tag(top / "north/b", '"of brick,  by the sea,"')
    tag(top / "north/c", "")
    assert tagged(top, "of brick") == ["a", "b"]
    assert tagged(top, "of brick", "school") == ["a"]
    assert tagged(top, "by the sea") == ["b"]


def test_a_tag_that_no_site_has_is_refused_with_the_nearest_one(top):
    tag(top / "a", "school, of brick")
    with pytest.raises(UsageError, match="no site is tagged 'shool'; did you mean school"):
        site_folders(top, (), ("shool",))


def test_a_site_that_cannot_be_read_is_taken_whatever_its_tags_and_then_told(top):
    tag(top / "a", "school")
    tag(top / "north/b", "[school, of brick]")
    (top / "north/c/site.yaml").write_text("format: 1: 2", encoding="utf-8")
    assert tagged(top, "school") == ["a", "b", "c"]
    folders = site_folders(top, (), ("school",))
    _, listed, broken = checked(top, folders, Terms(1, "reference"), lambda *_: None)
    assert "key tags: found a list; expected a single value" in listed.reason
    assert "site.yaml" in broken.reason


def test_what_holds_no_site_is_refused_with_a_way_out(top, tmp_path):
    for folder, only, told in (
        (top, ("z*",), r"no site that fits z\*"),
        (top / "a", (), "is one site; name the folder that it lies in"),
        (top / "none", (), "is no folder"),
        (top / "a/layouts", (), "holds no site"),
    ):
        with pytest.raises(UsageError, match=told):
            site_folders(folder, only)


def test_one_promise_for_all_takes_the_place_of_their_own(top, tmp_path):
    shared = tmp_path / "promise.yaml"
    shared.write_text(
        "format: 1\nmax_orphans: 1\nlonger_than_h: 48\nkept_with_probability: 0.9\n",
        encoding="utf-8",
    )
    taken = {}
    terms = Terms(1, "reference", shared)
    found = list(checked(top, site_folders(top), terms, taken.__setitem__))
    assert all(isinstance(one, Found) for one in found)
    assert {asked.promise for asked in taken.values()} == {SHARED}
    assert {asked.policy.longer_than_h for asked in taken.values()} == {48}


def test_a_promise_that_does_not_fit_a_site_is_a_mistake_of_that_site(top, tmp_path):
    shared = tmp_path / "promise.yaml"
    shared.write_text(
        "format: 1\nmax_orphans: 3\nlonger_than_h: 48\nkept_with_probability: 0.9\n",
        encoding="utf-8",
    )
    terms = Terms(1, "reference", shared)
    (first, *_) = checked(top, site_folders(top), terms, lambda *_: None)
    assert "expected at most 2, as there are no more sensors" in first.reason
