"""Tables as RFC 4180 describes them, with either kind of decimal sign."""

import pytest

HEADER = "id,kind,level,x_m,y_m\n"
REST = "S1,sensor,ground,5,5\n"


def test_semicolons_bring_a_decimal_comma(folder):
    table = (
        "\ufeffid;kind;level;x_m;y_m;note\nG1;gateway;ground;4,25;1.5;a, b\nS1;sensor;ground;5;5;\n"
    )
    gateway = folder.write(layouts__a__devices_csv=table).read().layouts[0].gateways[0]
    assert (gateway.place.x_m, gateway.place.y_m, gateway.note) == (4.25, 1.5, "a, b")


def test_fields_in_quotes_may_hold_commas_and_quotes(folder):
    """RFC 4180, section 2, rules 6 and 7."""
    table = 'id,kind,level,x_m,y_m,note\r\nG1,gateway,ground,1,1,"say ""a"", b"\r\n' + (
        "S1,sensor,ground,5,5,\r\n"
    )
    (layout,) = folder.write(layouts__a__devices_csv=table).read().layouts
    assert layout.gateways[0].note == 'say "a", b'


@pytest.mark.parametrize("name", ["007", "1E5", "NA", "null", "TRUE", "=1+1", "été", "号1"])
def test_ids_in_a_table_stay_text(folder, name):
    table = f"{HEADER}{name},gateway,ground,1,1\n{REST}"
    assert folder.write(layouts__a__devices_csv=table).read().layouts[0].gateways[0].id == name


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("", "found an empty file; expected a header: id, kind, level, x_m, y_m"),
        (HEADER.replace("x_m", "x"), 'line 1, column 4: found "x"; expected a known column'),
        (HEADER.replace("kind", "knid"), "did you mean kind?"),
        (HEADER.replace(",y_m", ""), "line 1, column y_m: found no such column; add it"),
        (HEADER.replace("kind", "id"), 'column 2: found "id" again; expected each column once'),
        (HEADER + "G1,gateway,ground,1\n", "line 2: found 4 fields; expected 5, as in the header"),
        (HEADER + "G1,gateway,ground,4,2,1\n", "line 2: found 6 fields; expected 5"),
        (HEADER + "\n\nG1,gateway,ground,4,2,1\n", "line 4: found 6 fields"),
        (
            HEADER + 'G1,gateway,ground,"4,2",1\n',
            'line 2, column x_m: found "4,2"; expected metres',
        ),
        (HEADER + 'G1,gateway,ground,"4,2",1\n', "with a decimal point"),
        (HEADER + "G1,gateway,ground,nan,1\n", 'column x_m: found "nan"; expected metres'),
        (HEADER + "G1,gateway,ground,inf,1\n", 'column x_m: found "inf"; expected metres'),
        (HEADER + "G1,gateway,ground,1e999,1\n", 'column x_m: found "1e999"; expected metres'),
        (HEADER + "G1,gateway,ground,1_0,1\n", 'column x_m: found "1_0"; expected metres'),
        (HEADER + "G1,gateway,ground,,1\n", "column x_m: found nothing; expected metres"),
        (HEADER + 'G1,gateway,ground,"1\n', "expected fields whose quotes are closed"),
        (HEADER + '"' + "x" * 200_000 + '",', "expected fields whose quotes are closed"),
        (HEADER.encode() + b"G\xfc,gateway", "line 2: found the byte 0xfc"),
        (HEADER.encode("utf-16"), "expected text saved as UTF-8"),
        (HEADER + ",gateway,ground,1,1\n", "line 2, column id: found nothing; expected an id"),
        (HEADER + "G~1,gateway,ground,1,1\n", "expected an id without ~, / or \\"),
        (HEADER + "../G,gateway,ground,1,1\n", "expected an id without ~, / or \\"),
        (HEADER + "..,gateway,ground,1,1\n", "expected an id of more than dots"),
        (HEADER + f"{'G' * 65},gateway,ground,1,1\n", "expected an id of at most 64 characters"),
        (HEADER + "G\x1b[2J,gateway,ground,1,1\n", 'found "G\\x1b[2J"; expected an id without'),
        (HEADER + "G\u202e1,gateway,ground,1,1\n", 'found "G\\u202e1"; expected an id without'),
        (HEADER + "g1,gateway,ground,1,1\nG1,gateway,ground,1,1\n", "line 2 has it already"),
    ],
)
def test_a_bad_table_is_told_in_its_own_words(folder, table, message):
    faults = folder.write(layouts__a__devices_csv=table).faults()
    assert any(message in fault for fault in faults), faults


def test_comments_are_skipped_wherever_they_stand(folder):
    table = f'# who: A.\n\n{HEADER}G1,gateway,ground,1,1\n  # a, "D1, was shut\n{REST}#'
    site = folder.write(layouts__a__devices_csv=table).read()
    assert [device.id for device in site.layouts[0].devices] == ["G1", "S1"]
    assert not [note for note in site.notes if "comment" in note]


def test_a_row_that_is_switched_off_is_told(folder):
    table = f"{HEADER}G1,gateway,ground,1,1\n{REST}#S2,sensor,ground,7,5\n"
    site = folder.write(layouts__a__devices_csv=table).read()
    assert len(site.layouts[0].devices) == 2
    told = "layouts/a/devices.csv, line 4: left out as a comment, for the leading #."
    assert told in site.notes


def test_what_starts_with_a_hash_in_quotes_is_no_comment(folder):
    table = f'{HEADER}"#1",gateway,ground,1,1\n{REST}'
    assert folder.write(layouts__a__devices_csv=table).read().layouts[0].gateways[0].id == "#1"
    table = f'{HEADER[:-1]},note\nG1,gateway,ground,1,1,"one\n#two"\nS1,sensor,ground,5,5,\n'
    (fault,) = folder.write(layouts__a__devices_csv=table).faults()
    assert "expected text without control" in fault  # the note was read, line break and all


@pytest.mark.parametrize(
    "header",
    ["id,kind,level,x_m,y_m,#mood", "# mood: of the fitter\nid,kind,level,x_m,y_m,mood"],
)
def test_a_column_that_is_marked_or_named_in_a_comment_is_left_out(folder, header):
    table = f"{header}\nG1,gateway,ground,1,1,good\nS1,sensor,ground,5,5,bad\n"
    site = folder.write(layouts__a__devices_csv=table).read()
    assert len(site.layouts[0].devices) == 2
    (note,) = [note for note in site.notes if "mood" in note]
    assert note.startswith("layouts/a/devices.csv: column ")
    assert note.endswith("mood left out, as # asks for.")


def test_a_marked_column_may_be_the_first(folder):
    table = "#no;id;kind;level;x_m;y_m\n1;G1;gateway;ground;1,5;1\n2;S1;sensor;ground;5;5\n"
    site = folder.write(layouts__a__devices_csv=table).read()
    assert site.layouts[0].gateways[0].place.x_m == 1.5


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("# mood\nid,kind,level,x_m,y_m,moods\n", 'column 6: found "moods"; expected a known'),
        ("# no table\n", "found nothing but comments; expected a header: id, kind, level, x_m"),
        ("id,kind,level,x_m,#y_m\nG1,gateway,ground,1,1\n", "column y_m: found no such column"),
    ],
)
def test_a_hash_makes_up_for_no_mistake(folder, table, message):
    faults = folder.write(layouts__a__devices_csv=table).faults()
    assert any(message in fault for fault in faults), faults


def test_a_file_of_many_mistakes_is_told_in_part_and_counted(folder):
    table = HEADER + "".join(f"S{n},sensor,cellar,1,1\n" for n in range(1000))
    faults = folder.write(layouts__a__devices_csv=table).faults()
    # a thousand unknown levels and one missing gateway; 200 of them are told
    assert faults[-1] == "layouts/a/devices.csv: found 801 more mistakes; mend those above first"
    assert len(faults) == 201
