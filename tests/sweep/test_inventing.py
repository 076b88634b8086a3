"""Invented portfolios are sound, of several kinds, and the same wherever they are made."""

import hashlib
from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.building.files.policies import read_policy
from resilience.errors import UsageError
from resilience.sweep.finding import site_folders
from resilience.sweep.inventing.portfolios import invent, invented_site

DEMO = Path(__file__).parent.parent.parent / "sites/portfolio"


def digests(folder):
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_the_demo_portfolio_is_what_its_readme_says_it_is(tmp_path):
    assert "--sites 12 --seed 7" in (DEMO / "README.md").read_text(encoding="utf-8")
    invent(tmp_path / "again", 12, 7)
    assert digests(tmp_path / "again") == digests(DEMO)


def test_every_invented_site_is_sound_and_small():
    folders = site_folders(DEMO)
    assert len(folders) == 12
    for folder in folders:
        site = read_site(folder)
        read_policy(folder, site)
        assert 2 <= len(site.layouts) <= 3
        assert all(4 <= len(layout.devices) <= 60 for layout in site.layouts)


def test_sites_differ_in_kind_size_and_age():
    pages = [invented_site(1, number)[1]["site.yaml"] for number in range(60)]
    ages = {page.splitlines()[0].split("invented, ")[1] for page in pages}
    kinds = {page.splitlines()[2].rsplit(" ", 1)[1] for page in pages}
    assert (len(ages), len(kinds)) == (4, 7)
    assert len({page.count("{id: L") for page in pages}) == 4


def test_a_site_depends_on_seed_and_number_alone(tmp_path):
    invent(tmp_path / "few", 3, 5)
    invent(tmp_path / "more", 6, 5)
    few, more = digests(tmp_path / "few"), digests(tmp_path / "more")
    del few["README.md"], more["README.md"]
    assert few.items() <= more.items()
    assert invented_site(5, 0) != invented_site(6, 0)


def test_a_folder_that_is_not_empty_stays_as_it_is(tmp_path):
    (tmp_path / "mine").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="not empty"):
        invent(tmp_path, 2, 1)
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]
