import pytest

from resilience.building.files.folder import read_site
from resilience.errors import InputError

PLAIN_SITE = """\
format: 1
name: Invented annexe
building:
  levels: [{id: ground}, {id: upper}]
  outline: [[0, 0], [20, 0], [20, 10], [0, 10]]
radio: {environment: quiet}
"""
PLAIN_DEVICES = """\
id,kind,level,x_m,y_m
G1,gateway,ground,1,1
S1,sensor,ground,5,5
S2,sensor,upper,8,5
"""


class SiteFolder:
    """A site folder that a test fills, reads and asks for its faults."""

    def __init__(self, path):
        self.path = path

    def write(self, **files):
        """Write files by name; ``layouts__a__devices_csv`` stands for layouts/a/devices.csv."""
        for key, text in files.items():
            *folders, name = key.split("__")
            stem, _, suffix = name.rpartition("_")
            path = self.path.joinpath(*folders, f"{stem}.{suffix}")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return self

    def read(self):
        return read_site(self.path)

    def faults(self):
        """Return the faults as lines; fails if the folder reads without any."""
        with pytest.raises(InputError) as caught:
            read_site(self.path)
        return [str(fault) for fault in caught.value.faults]


@pytest.fixture
def empty_folder(tmp_path):
    return SiteFolder(tmp_path)


@pytest.fixture
def folder(empty_folder):
    """A small drawn site with one layout, free of faults."""
    return empty_folder.write(site_yaml=PLAIN_SITE, layouts__a__devices_csv=PLAIN_DEVICES)


@pytest.fixture
def linked_folder(empty_folder):
    """A site of given links only: a gateway, two sensors in a row."""
    return empty_folder.write(
        site_yaml="format: 1\nradio: {predict: off}\n",
        layouts__a__devices_csv="id,kind\nG1,gateway\nS1,sensor\nS2,sensor\n",
        layouts__a__links_csv="a,b,prr\nG1,S1,0.9\nS1,S2,0.8\n",
    )
