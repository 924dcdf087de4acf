import csv
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nesting import _plugins
from nesting.errors import InputError
from nesting.job.load import job_from
from nesting.plug_in_options import with_options
from nesting_adapters.csv_orders import CsvOrderReader
from tests.job.test_load import small

CELLS = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)


def read(folder: Path, content: str | bytes) -> list[tuple[int, dict[str, str]]]:
    """Read a list from a file with this content."""
    path = folder / "list.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return [(row.number, dict(row.cells)) for row in CsvOrderReader().read(path)]


def test_the_reader_is_found_by_its_suffix() -> None:
    """The entry point leads to this reader, whatever the case of the suffix."""
    assert isinstance(_plugins.load_for_suffix("order_readers", ".CSV"), CsvOrderReader)


@pytest.mark.parametrize(
    ("content", "cells"),
    [
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", ["zzz", "yyy", "xxx"]),  # rule 1: each record on its own line
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx", ["zzz", "yyy", "xxx"]),  # rule 2: the last line break is optional
        ("aaa,bbb,ccc\r\n z , y,x", [" z ", " y", "x"]),  # rule 4: spaces are part of a field
        ('aaa,"bbb",ccc\r\n"zzz","yyy",xxx', ["zzz", "yyy", "xxx"]),  # rule 5: fields may be quoted
        ('aaa,bbb,ccc\r\n"z""zz","y\r\nyy","x,x"', ['z"zz', "y\r\nyy", "x,x"]),  # rules 6 and 7
    ],
)
def test_the_rules_of_the_standard_are_kept(tmp_path: Path, content: str, cells: list[str]) -> None:
    """RFC 4180, section 2: its examples, with a header (rule 3), read as it says."""
    assert read(tmp_path, content) == [(2, dict(zip(["aaa", "bbb", "ccc"], cells, strict=True)))]


def test_rows_are_counted_as_a_spreadsheet_shows_them(tmp_path: Path) -> None:
    """A cell with line ends is one row; rows without text count but are passed over."""
    content = 'a,b\n"1\n2",x\n\n,\n3,y\n'
    assert read(tmp_path, content) == [(2, {"a": "1\n2", "b": "x"}), (5, {"a": "3", "b": "y"})]


def test_a_byte_order_mark_is_no_part_of_the_first_name(tmp_path: Path) -> None:
    """A file saved with the UTF-8 mark reads like one without it; names lose case and outer blanks."""
    assert read(tmp_path, b"\xef\xbb\xbf Blank ,Qty\nx,1\n") == read(tmp_path, "blank,qty\nx,1\n")


def test_a_header_alone_is_an_empty_list(tmp_path: Path) -> None:
    """Column names without rows are no error of the file."""
    assert read(tmp_path, "blank,quantity\n") == []


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(st.tuples(CELLS, CELLS, st.just("end")), max_size=6))
def test_what_a_writer_of_the_standard_quotes_is_read_back(
    tmp_path: Path, rows: list[tuple[str, str, str]]
) -> None:
    """Any text, with commas, quotes and line ends, survives writing by RFC 4180 and reading."""
    text = io.StringIO(newline="")
    csv.writer(text, quoting=csv.QUOTE_ALL).writerows([("a", "b", "c"), *rows])
    assert [tuple(cells.values()) for _, cells in read(tmp_path, text.getvalue())] == rows


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.binary(max_size=40))
def test_any_bytes_are_read_or_refused(tmp_path: Path, content: bytes) -> None:
    """Bytes of any kind give rows of equal width or an InputError that names the file."""
    try:
        rows = read(tmp_path, content)
    except InputError as error:
        assert {problem.file for problem in error.problems} == {str(tmp_path / "list.csv")}
    else:
        assert len({tuple(cells) for _, cells in rows}) <= 1


def test_every_wrong_row_is_reported_at_once(tmp_path: Path) -> None:
    """Rows of the wrong width and cells with NUL are listed together, each at its row."""
    with pytest.raises(InputError) as caught:
        read(tmp_path, "a,b\n1\n1,2\n1,2,3\n1,\0\n")
    assert [problem.where for problem in caught.value.problems] == ["row 2", "row 4", "row 5, column b"]


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_that_of_the_header(tmp_path: Path, separator: str) -> None:
    """Commas, semicolons, tabs and bars are told from the header, those inside quotes left out."""
    content = f'blank{separator}"a,b;c,d;e"{separator}due\nplate{separator}x,y;z{separator}-\n'
    if separator in "x,y;z":
        content = content.replace("x,y;z", '"x,y;z"')
    assert read(tmp_path, content) == [(2, {"blank": "plate", "a,b;c,d;e": "x,y;z", "due": "-"})]


@pytest.mark.parametrize("encoding", ["cp1252", "iso8859-15", "utf-8", "mac_roman"])
def test_a_stated_encoding_is_used(tmp_path: Path, encoding: str) -> None:
    """A list of another encoding reads right once its encoding is stated."""
    path = tmp_path / "list.csv"
    path.write_bytes("naïve;höhe\r\nÉclair;3\r\n".encode(encoding))
    reader = with_options(CsvOrderReader(), {"encoding": encoding}, "order_list.reading")
    assert [dict(row.cells) for row in reader.read(path)] == [{"naïve": "Éclair", "höhe": "3"}]


def test_utf_16_is_known_by_its_mark(tmp_path: Path) -> None:
    """What spreadsheets call Unicode text, UTF-16 with tabs, needs nothing stated."""
    assert read(tmp_path, "a\tb\r\nü\t2\r\n".encode("utf-16")) == [(2, {"a": "ü", "b": "2"})]


def test_another_encoding_is_refused_with_what_to_state(tmp_path: Path) -> None:
    """A byte that is not UTF-8 is named with its line and the two ways out."""
    with pytest.raises(
        InputError, match=r"line 2: found the byte 0xfc.*save the file as UTF-8, or state its"
    ):
        read(tmp_path, "a,b\nf\xfcr,2\n".encode("latin-1"))


@pytest.mark.parametrize("options", [{"encoding": "klingon"}, {"encoding": "base64"}, {"separator": "x"}])
def test_wrong_options_are_refused_at_their_key(options: dict[str, str]) -> None:
    """An encoding that is none and a separator that is none are errors at their key path."""
    with pytest.raises(InputError, match=rf"order_list\.reading\.{next(iter(options))}: found"):
        with_options(CsvOrderReader(), options, "order_list.reading")


@pytest.mark.parametrize(
    ("decimal", "written", "quantity"),
    [
        (None, "12", 12), (None, "12,0", 12), (None, "12.00", 12), (",", "1.200", 1200), (".", "1,200", 1200),
        (",", "12,000", 12), (",", "1.200,00", 1200), (".", "12.0", 12),
    ],
)  # fmt: skip
def test_numbers_are_read_as_their_country_writes_them(
    tmp_path: Path, decimal: str | None, written: str, quantity: int
) -> None:
    """A decimal sign that is stated tells fractions from thousands."""
    (tmp_path / "list.csv").write_text(f"blank;quantity\nplate;{written}\n")
    order_list = {"file": "list.csv"} | ({"decimal": decimal} if decimal else {})
    assert job_from(small(orders=None, order_list=order_list), tmp_path).orders[0].quantity == quantity


@pytest.mark.parametrize(
    ("decimal", "written"), [(None, "1.000"), (None, "1,200"), (",", "12,5"), (".", "1.200,0"), (",", "1.20")]
)
def test_a_number_that_is_not_whole_or_not_clear_is_refused(
    tmp_path: Path, decimal: str | None, written: str
) -> None:
    """Nothing is guessed: a fraction, or a sign that could mean thousands, is an error at row and column."""
    (tmp_path / "list.csv").write_text(f"blank;quantity\nplate;{written}\n")
    order_list = {"file": "list.csv"} | ({"decimal": decimal} if decimal else {})
    with pytest.raises(InputError, match=r"row 2, column quantity: found"):
        job_from(small(orders=None, order_list=order_list), tmp_path)
