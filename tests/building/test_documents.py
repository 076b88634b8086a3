"""Rules of YAML 1.2.2 (yaml.org/spec/1.2.2) and of this project's narrower reading of it."""

import pytest


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "site.yaml: found nothing; expected keys and values, the first format: 1"),
        ("# only a comment\n", "site.yaml: found nothing; expected keys and values"),
        ("- 1\n", "site.yaml, line 1: found a list; expected keys and values"),
        ("format: 1\nname: a\nname: b\n", "line 3, key name: found the same key again"),
        ("format: 1\nname: &x a\n", 'line 2: found an anchor or alias "x"; write it out'),
        ("format: 1\nname: *x\n", 'line 2: found an anchor or alias "x"; write it out'),
        ("format: 1\nname: !!python/name:os.system x\n", "line 2: found a tag"),
        ("format: 1\n---\nformat: 1\n", "line 2: found a second document"),
        ("format: 1\nname: " + "[" * 5000 + "]" * 5000, "line 2: found deep nesting"),
        ("format: 1\n? [a]\n: b\n", "line 2: found a key that is a list or mapping"),
        ("format: 1\nname: [a\n", "line 2: found a bracket that is not closed"),
        ('format: 1\nname: "\\UFFFFFFFF"\n', "expected YAML 1.2"),
        ("format: 1\n\tname: a\n", "line 2: found"),
        (b"format: 1\nname: \xff\n", "line 2: found the byte 0xff, perhaps"),
        (b"format: 1\n\0\n", "line 2: found binary data; expected text saved as UTF-8"),
        ("#" * 2_000_001, "site.yaml: found a huge file; expected at most 2 MB"),
    ],
)
def test_an_unusable_document_is_refused_with_its_line(folder, text, message):
    assert any(message in fault for fault in folder.write(site_yaml=text).faults())


def test_an_alias_bomb_is_refused_at_its_first_anchor(folder):
    bomb = "a: &a [x,x]\n" + "".join(
        f"{new}: &{new} [*{old},*{old}]\n" for old, new in zip("abcdefgh", "bcdefghi", strict=True)
    )
    assert folder.write(site_yaml=bomb).faults() == [
        'site.yaml, line 1: found an anchor or alias "a"; write it out'
    ]


def test_a_missing_document_and_a_missing_folder_are_told(empty_folder):
    (fault,) = empty_folder.faults()
    assert fault.endswith("found no site.yaml; expected a site folder with site.yaml in it")
    empty_folder.path = empty_folder.path / "nowhere"
    (fault,) = empty_folder.faults()
    assert fault.endswith("found no such folder; expected a site")


def test_a_directory_in_the_place_of_a_file_is_told(folder):
    (folder.path / "sensors.csv").mkdir()
    assert folder.faults() == ["sensors.csv: found no such file; expected a file"]


@pytest.mark.parametrize("word", ["off", "false", "no", "Off", "FALSE", "'off'"])
def test_off_and_false_are_alike(folder, word):
    """In YAML 1.2 ``off`` is a text and ``false`` a boolean (section 10.2.1.2)."""
    site = f"format: 1\nradio: {{predict: {word}}}\nhazards: {{battery: {word}}}\n"
    read = folder.write(site_yaml=site + f"upkeep: {{repair: {word}}}\n").read()
    assert read.radio.predict is False
    assert read.hazards.battery is None
    assert read.upkeep.repair is None


@pytest.mark.parametrize("word", ["007", "1E5", "NA", "null_", "0x1F", "1.0", "yes"])
def test_ids_in_a_document_stay_text(folder, word):
    site = f"format: 1\nbuilding: {{levels: [{{id: {word}}}]}}\n"
    devices = f"id,kind,level,x_m,y_m\nG,gateway,{word},1,1\nS,sensor,{word},2,2\n"
    read = folder.write(site_yaml=site, layouts__a__devices_csv=devices).read()
    assert read.building.levels[0].id == word


def test_a_byte_order_mark_is_no_mistake(folder):
    marked = b"\xef\xbb\xbfformat: 1\nradio: {predict: off}\n"
    assert folder.write(site_yaml=marked).read().radio.predict is False
