"""Workbooks and Parquet hold what the CSV holds, cell by cell; pandas reads all three."""

import sys

import pandas
import pytest

from resilience.errors import UsageError
from resilience.sweep.kept.copies import Kind, copy_tables, refuse_missing
from resilience.sweep.kept.results import TEXTS, YES_OR_NO

pytestmark = pytest.mark.usefixtures("made_up")


def from_csv(path) -> pandas.DataFrame:
    # Text stays text, whatever it looks like.
    return pandas.read_csv(
        path,
        dtype=dict.fromkeys(TEXTS, str) | dict.fromkeys(YES_OR_NO, bool),
        keep_default_na=False,
        na_values=[""],
    )


def from_xlsx(path) -> pandas.DataFrame:
    return pandas.read_excel(
        path, dtype=dict.fromkeys(TEXTS, str), keep_default_na=False, na_values=[""]
    )


def test_copies_hold_the_values_of_the_csv(top, score_all, write_site, tmp_path):
    write_site(top / "#NA", 700, "'#N/A'")
    write_site(top / "007", 700, "'=1+1'")
    (top / "bad").mkdir()
    (top / "bad/site.yaml").write_text("format: 1\nnmae: x\nmore: [\n", encoding="utf-8")
    found, _ = score_all(top)
    assert {"#NA", "007", "a"} <= found.standings.keys()
    copy_tables(tmp_path / "run", found.standings, list(Kind))
    tables = sorted((tmp_path / "run").rglob("*.csv"))
    assert len(tables) == 3 + len(found.standings)
    for path in tables:
        expected = from_csv(path)
        assert len(expected) > 0
        for copy in (
            from_xlsx(path.with_suffix(".xlsx")),
            pandas.read_parquet(path.with_suffix(".parquet")),
        ):
            pandas.testing.assert_frame_equal(
                copy, expected, check_exact=True, check_dtype=False, check_column_type=False
            )


def test_columns_of_parquet_have_the_same_types_in_every_table(top, score_all, tmp_path):
    import pyarrow.parquet

    found, _ = score_all(top, only=("a",))
    copy_tables(tmp_path / "run", found.standings, [Kind.PARQUET])
    for name in ("sites", "failures"):  # of which the second is empty
        for column in pyarrow.parquet.read_schema(tmp_path / f"run/{name}.parquet"):
            assert (str(column.type) == "string") == (column.name in TEXTS), column


def test_without_the_libraries_the_way_to_them_is_told(monkeypatch):
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    refuse_missing([Kind.PARQUET])
    with pytest.raises(UsageError, match=r"pip install 'resilience\[tables\]'"):
        refuse_missing([Kind.XLSX])
