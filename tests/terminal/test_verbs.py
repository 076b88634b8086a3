"""Every verb end to end, in a process of its own."""

import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest

import resilience


def refused(constant):
    raise ValueError(f"{constant} is not JSON")


def document(text: str) -> dict:
    """One strict JSON document, without NaN or Infinity (RFC 8259, section 6)."""
    return json.loads(text, parse_constant=refused)


def test_check_tells_what_was_read(run, chain):
    done = run("check", chain)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "Invented chain is sound" in done.stdout
    told = document(run("check", chain, "--json").stdout)
    assert told["sound"] is True
    assert told["version"] == resilience.__version__
    assert [layout["name"] for layout in told["layouts"]] == ["chain", "ring"]


def test_check_is_not_content_with_a_gateway_that_nobody_hears(run, written, tmp_path):
    site = written(
        tmp_path / "deaf",
        {
            "site.yaml": "format: 1\nname: Invented mill\nradio: {predict: off}\n",
            "layouts/a/devices.csv": "id,kind\nG1,gateway\nS1,sensor\nS2,sensor\n",
            "layouts/a/links.csv": "a,b,rssi_dbm\nG1,S1,-99\nS1,S2,-60\n",
        },
    )
    done = run("check", site)
    assert done.returncode == 2
    assert done.stdout.startswith("! layouts/a/devices.csv, gateway G1: found nobody who hears it;")
    assert "is sound" not in done.stdout
    as_json = run("check", site, "--json")
    assert as_json.returncode == 2
    assert document(as_json.stdout)["sound"] is False


def test_check_lists_every_mistake_on_a_line_of_its_own(run, written, tmp_path):
    site = written(
        tmp_path / "bad",
        {
            "site.yaml": "format: 1\nhorizon_yaers: 5\nradio: {predict: off}\n",
            "layouts/a/devices.csv": "id,kind\nG1,gateway\nG1,sensor\nS2,senor\n",
        },
    )
    done = run("check", site)
    assert done.returncode == 2
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert len(lines) >= 4
    assert lines[0].startswith("site.yaml, line 2")
    assert lines[-1] == f"{len(lines) - 1} mistakes; nothing was done."
    assert "Traceback" not in done.stderr
    as_json = run("check", site, "--json")
    assert as_json.returncode == 2
    told = document(as_json.stdout)
    assert told["sound"] is False
    assert len(told["faults"]) == len(lines) - 1
    assert {"where", "found", "wanted"} == set(told["faults"][0])


@pytest.mark.parametrize("verb", ["check", "links", "compare", "trace"])
def test_a_folder_that_is_not_there_is_bad_input(run, tmp_path, verb):
    done = run(verb, tmp_path / "nowhere")
    assert done.returncode == 2
    assert "no such folder" in done.stderr
    assert "Traceback" not in done.stderr


def test_compare_answers_on_standard_output_and_tells_progress_beside_it(run, chain):
    done = run("compare", chain, "--lifetimes", 16, "--workers", 1)
    assert done.returncode == 0
    assert done.stdout.startswith("ring and chain are too close to call on so few lifetimes.")
    assert "Seed 20300101, 16 lifetimes" in done.stdout
    assert re.search(r"of 32 lifetimes, .* lifetimes a second, .* left", done.stderr)
    assert "\x1b" not in done.stdout + done.stderr
    assert max(len(line) for line in done.stdout.splitlines()) <= 100


def test_compare_as_json_is_the_same_for_any_number_of_workers(run, chain):
    words = ("compare", chain, "--lifetimes", 16, "--json", "--quiet", "--seed", 5)
    alone, together = (run(*words, "--workers", n) for n in (1, 2))
    assert alone.returncode == 0
    assert alone.stderr == ""
    assert alone.stdout == together.stdout
    told = document(alone.stdout)
    assert told["seed"] == 5
    assert told["lifetimes"] == 16
    for key in ("format", "version", "stream_version", "level", "stopped_because", "pairs"):
        assert key in told


def test_a_single_building_draw_is_still_json(run, chain):
    done = run("compare", chain, "--lifetimes", 2, "--json", "--quiet", "--workers", 1)
    assert document(done.stdout)["lifetimes"] == 2


def test_time_that_is_used_up_ends_a_study_with_what_is_done(run, chain):
    words = ("--lifetimes", 100_000, "--seconds", 0, "--workers", 1, "--json", "--quiet")
    done = run("compare", chain, *words)
    assert done.returncode == 0
    assert document(done.stdout)["stopped_because"] == "the time allowed was used up"


def test_links_shows_one_layout_and_names_the_others(run, chain):
    done = run("links", chain, "--layout", "ring")
    assert done.returncode == 0
    assert "Links of layout ring" in done.stdout
    assert "The site also has chain (--layout)." in " ".join(done.stdout.split())
    assert document(run("links", chain, "--json").stdout)["layout"] == "chain"


def test_trace_tells_a_lifetime_in_words_or_for_replay(run, chain):
    done = run("trace", chain, "--layout", "ring", "--lifetime", 3)
    assert done.returncode == 0
    assert done.stdout.startswith("Lifetime 3 of layout ring, Invented chain")
    assert "failed (hardware)." in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 100
    told = document(run("trace", chain, "--layout", "ring", "--lifetime", 3, "--json").stdout)
    assert told["lifetime"] == 3
    assert told["version"] == resilience.__version__


@pytest.mark.parametrize("verb", ["links", "trace"])
def test_an_unknown_layout_is_bad_usage_that_names_the_known_ones(run, chain, verb):
    done = run(verb, chain, "--layout", "loop")
    assert done.returncode == 2
    assert "it has chain, ring" in done.stderr
    assert "Traceback" not in done.stderr


def test_defaults_lists_one_section_or_all(run):
    every, radio = run("defaults"), run("defaults", "radio")
    assert every.returncode == radio.returncode == 0
    assert "hazards.hardware" in every.stdout
    assert "hazards.hardware" not in radio.stdout
    keys = [one["key"] for one in document(run("defaults", "radio", "--json").stdout)["settings"]]
    assert keys
    assert all(key.startswith("radio.") for key in keys)
    unknown = run("defaults", "radoi")
    assert unknown.returncode == 2
    assert "did you mean radio?" in unknown.stderr
    assert "did you mean hazards?" in run("defaults", "hazard").stderr
    assert "known are radio, models, mountings, building, " in run("defaults", "xyzzy").stderr


def test_every_verb_takes_the_file_in_a_site_for_the_site(run, chain):
    for verb in (("check",), ("links",), ("calibrate",), ("trace",), ("compare", "--lifetimes", 2)):
        by_file, by_folder = (
            run(verb[0], site, *verb[1:], "--json") for site in (chain / "site.yaml", chain)
        )
        assert (by_file.returncode, by_file.stdout) == (by_folder.returncode, by_folder.stdout)


def test_an_id_in_the_wrong_case_is_named_in_the_right_one(run, chain):
    done = run("links", chain, "--device", "s1")
    assert done.returncode == 2
    assert "has no device 's1': did you mean S1?" in done.stderr
    assert "did you mean ring?" in run("links", chain, "--layout", "Ring").stderr


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("trace", "--lifetime", "abc"), "'--lifetime': expected a whole number, such as 3"),
        (("trace", "--lifetime", "2.5"), "'--lifetime': expected a whole number, such as 3"),
        (("compare", "--seconds", "x"), "'--seconds': expected a number with a decimal point"),
    ],
)
def test_words_in_the_place_of_numbers_are_told_in_plain_words(run, chain, words, told):
    done = run(words[0], chain, *words[1:])
    assert done.returncode == 2
    assert told in done.stderr


def test_schema_is_a_json_schema(run):
    told = document(run("schema").stdout)
    assert told["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert told == document(run("schema", "--json").stdout)


ANSWERS = (
    *("--name", "Invented mill", "--levels", 2, "--length-m", 30, "--width-m", 12),
    *("--sensors-per-level", 3, "--gateway", "corner"),
)


def test_new_writes_a_site_that_check_finds_sound(run, tmp_path):
    folder = tmp_path / "mill"
    done = run("new", folder, *ANSWERS)
    assert done.returncode == 0
    assert f"resilience check {folder}" in done.stdout
    assert f"resilience compare {folder}" in done.stdout
    assert run("check", folder).returncode == 0
    again = run("new", folder, *ANSWERS)
    assert again.returncode == 2
    assert "is not empty" in again.stderr


def test_new_as_json_lists_what_was_written(run, tmp_path):
    told = document(run("new", tmp_path / "mill", *ANSWERS, "--json").stdout)
    assert "site.yaml" in told["files"]
    assert all((Path(told["folder"]) / name).is_file() for name in told["files"])


def test_new_without_a_terminal_lists_the_answers_that_are_missing(run, tmp_path):
    done = run("new", tmp_path / "mill", *ANSWERS[:4])
    assert done.returncode == 2
    assert "--length-m, --width-m, --sensors-per-level, --gateway" in done.stderr
    assert not (tmp_path / "mill").exists()


def test_a_picked_lifetime_is_the_one_of_that_number(run, chain):
    told = document(run("trace", chain, "--pick", "first-orphan", "--json").stdout)
    picked = told.pop("picked")
    assert picked["as"] == "first-orphan"
    assert picked["among"] == 128
    assert sum(told["record"]["orphan_ms"].values()) == picked["orphan_hours"] * 3_600_000 > 0
    again = document(run("trace", chain, "--lifetime", picked["lifetime"], "--json").stdout)
    assert again.pop("picked") is None
    assert again == told


def test_a_lifetime_is_named_or_picked_but_not_both(run_made_up, chain):
    done = run_made_up("trace", chain, "--pick", "bad", "--lifetime", 3)
    assert done.returncode == 2
    assert "--lifetime makes no sense with it" in done.stderr


def test_hostile_names_are_shown_as_text(run, written, tmp_path, chain):
    name = "[bold red]x[/] {0} :smile: =1+1"
    files = {
        path.relative_to(chain).as_posix(): path.read_text(encoding="utf-8")
        for path in chain.rglob("*")
        if path.is_file()
    }
    files["site.yaml"] = files["site.yaml"].replace("Invented chain", f'"{name}"')
    files = {path.replace("ring", "[red]ring[bold]"): text for path, text in files.items()}
    files = {path: text.replace("R1", "[i]R1") for path, text in files.items()}
    site = written(tmp_path / "hostile", files)
    words = ("--lifetimes", 2, "--workers", 1)
    for done in (
        run("check", site),
        run("links", site, "--layout", "[red]ring[bold]"),
        run("trace", site, "--layout", "[red]ring[bold]"),
        run("compare", site, *words),
    ):
        assert done.returncode == 0, done.stderr
        assert "[red]ring[bold]" in re.sub(r"\s", "", done.stdout)
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f\u202a-\u202e]", done.stdout)


def on_a_terminal(words: list[object], environment: dict[str, str]) -> str:
    """Standard output of a run on a terminal of 140 columns."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "resilience", *(str(word) for word in words)]
    settings = environment | {"COLUMNS": "140", "TERM": "xterm-256color"}
    with subprocess.Popen(command, stdout=theirs, stdin=subprocess.DEVNULL, env=settings) as child:
        os.close(theirs)
        told = b""
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:  # the other end was closed
                break
            if not part:
                break
            told += part
        assert child.wait(60) == 0
    os.close(ours)
    return told.decode("utf-8")


def test_a_wide_terminal_gets_100_columns_in_colour_unless_colour_is_unwanted(chain, environment):
    """NO_COLOR as no-color.org words it: present and not empty, no colour (from memory)."""
    coloured = on_a_terminal(["check", chain], environment(COLORTERM="truecolor"))
    assert "\x1b[1;38;2;86;180;233m" in coloured
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert max(len(line) for line in bare.splitlines()) <= 100
    plain = on_a_terminal(["check", chain], environment(NO_COLOR="1"))
    assert not re.search(r"\x1b\[[0-9;]*38;", plain)
