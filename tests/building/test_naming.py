"""A site is named by its folder or by the file in it; everything else has a way out."""

import shutil

import pytest

from resilience.building.files.folder import read_site
from resilience.errors import InputError


def test_the_file_in_a_site_names_it_as_well(folder):
    assert read_site(folder.path / "site.yaml") == folder.read()


@pytest.fixture
def sites(folder, tmp_path_factory):
    """Two sites, annexe and mill, side by side."""
    top = tmp_path_factory.mktemp("sites")
    for name in ("annexe", "mill"):
        shutil.copytree(folder.path, top / name)
    return top


@pytest.mark.parametrize(
    ("named", "told"),
    [
        (".", "found no site.yaml; .*sites are in its folders annexe, mill"),
        ("anexe", "found no such folder; expected a site; did you mean annexe"),
        ("anexe/site.yaml", "found no such folder; expected a site; did you mean annexe"),
        ("mill/layouts", "found no site.yaml; .*such as the folder above"),
        ("mill/layouts/a", "found no site.yaml; .*such as the folder above"),
        ("mill/layouts/a/devices.csv", "found another file; expected a site folder"),
    ],
)
def test_what_is_no_site_says_where_one_is(sites, named, told):
    with pytest.raises(InputError, match=told):
        read_site(sites / named)
