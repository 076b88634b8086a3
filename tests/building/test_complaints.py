"""What a beginner writes, and a sentence with a way out; the mistakes were seen in a trial."""

import pytest

DRAWN = "building:\n  levels: [{id: ground}]\n"


@pytest.mark.parametrize(
    ("page", "told"),
    [
        ("radio: {environment: quiet}\n  levels:\n", "line 3: found.*such as building:"),
        ("name: X\n  levels:\n    - {id: ground}\n", "line 3: found.*such as building: with"),
        ("levels: [{id: ground}]\n", "line 2, key levels: .* below building: and indented"),
        ("environment: quiet\n", "line 2, key environment: .* below radio: and indented"),
        ("building:\n\tlevels: []\n", "line 3: found a tab; .*never with the tab key"),
        ("building:\n  levels:\n    - {id: a}\n   doors: []\n", "line 5: .*as many blanks"),
        ("building:\n  levels: [{id: ground}\n", "line 3: found a bracket that is not closed"),
        (f'name: "Haus\n{DRAWN}', "line 2: found a quotation mark that is not closed"),
        (f"name: Haus: Ost\n{DRAWN}", "line 2: .*has to be put in quotes"),
        ("building\n  levels: []\n", 'line 2: found "building"; .*with a colon'),
        (f"{DRAWN}name: @home\n", "line 4: .*put it in quotes"),
    ],
)
def test_yaml_that_cannot_be_read_is_told_in_plain_words(folder, page, told):
    import re

    faults = folder.write(site_yaml=f"format: 1\n{page}").faults()
    assert any(re.search(told, fault) for fault in faults), faults
    assert not any("block end" in fault or "token" in fault[:60] for fault in faults), faults


@pytest.mark.parametrize(
    ("page", "told"),
    [
        ("name: a\x07b\n", 'line 2: found the character "\\x07"'),
        ("name: a\n\x0c\n", 'line 3: found the character "\\x0c"'),
        ("# \u00e9 \U0001f600\nname: a\x7fb\n", 'line 3: found the character "\\x7f"'),
        ("name: a\ufffeb\n", 'line 2: found the character "\\ufffe"'),
    ],
)
def test_a_character_that_no_yaml_file_may_hold_is_told_with_its_line(folder, page, told):
    """YAML 1.2.2, section 5.1: C0 controls but tab and line breaks, DEL, U+FFFE and U+FFFF."""
    (fault,) = folder.write(site_yaml=f"format: 1\n{page}").faults()
    assert fault == f"site.yaml, {told}; expected none that is invisible"


TABLE = "id,kind,level,x_m,y_m\nG1,gateway,ground,1,1\nS1,sensor,ground,5,5\n"


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (TABLE.replace("S1", "Süd").encode("cp1252"), 'line 3: found the byte 0xfc, perhaps "ü"'),
        (TABLE.encode("utf-16"), "UTF-16"),
        (b"PK\x03\x04\x14\x00\x06\x00", "a workbook of a spreadsheet"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "a workbook of a spreadsheet"),
        (TABLE.replace(",", "\t").encode(), "line 1: found columns separated by tabs"),
        (TABLE.replace("S1", "S\0").encode(), "line 3: found binary data"),
    ],
)
def test_a_table_in_a_spreadsheets_own_form_says_how_to_save_it(folder, raw, told):
    (fault,) = folder.write(layouts__a__devices_csv=raw).faults()
    assert told in fault
    assert "File, Save As, and the type CSV UTF-8" in fault


def test_a_main_file_in_another_encoding_says_what_the_editor_can_do(folder):
    (fault,) = folder.write(site_yaml=f"format: 1\nname: Süd\n{DRAWN}".encode("cp1252")).faults()
    assert 'perhaps "ü"' in fault
    assert "in the editor choose Save As and the encoding UTF-8" in fault
