"""Artworks of a job document: texts from columns, pictures, and what is wrong with them."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from nesting.artwork import prepare
from nesting.check import check_plan
from nesting.errors import InputError
from nesting.geometry.drawing import Drawing
from nesting.job.job import Dots, Lettering
from nesting.job.load import job_from
from nesting.plan import make_plan
from nesting_adapters.svg_reader import SvgReader

TAG = {
    "name": "tag",
    "footprint": {"shape": "rectangle", "width": 60, "height": 30},
    "height": 3,
    "setting": "fine",
}


def document(**changes: Any) -> dict[str, Any]:
    """Write a small job whose orders stand in orders.csv."""
    return {
        "title": "names",
        "machine": {"bed": {"width": 300, "height": 200}, "kerf": {"birch plywood": 0.2}},
        "settings": [{"name": "fine", "interval": 0.3}],
        "stock": [
            {
                "name": "sheet",
                "outline": {"shape": "rectangle", "width": 200, "height": 150},
                "thickness": 3,
                "material": "birch plywood",
            }
        ],
        "blanks": [TAG],
        "artworks": [{"name": "who", "text": {"column": "Name", "size": 6}, "fit": "shrink"}],
        "order_list": {"file": "orders.csv"},
        **changes,
    }


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Make a folder with an order list and a picture."""
    rows = "blank,quantity,artwork,name\ntag,2,who,Ada\ntag,1,who + art/dot.png,Café Möwe\n"
    (tmp_path / "orders.csv").write_text(rows, encoding="utf-8")
    (tmp_path / "art").mkdir()
    levels = np.full((40, 40), 255, dtype=np.uint8)
    levels[10:30, 10:30] = 0
    Image.fromarray(levels).save(tmp_path / "art" / "dot.png")
    return tmp_path


def problems(folder: Path, **changes: Any) -> str:
    """Everything said against a job."""
    with pytest.raises(InputError) as caught:
        job_from(document(**changes), folder)
    return str(caught.value)


def test_names_of_the_order_list_are_marked(folder: Path) -> None:
    """Each row's name is marked on its units, with a picture beside it where the row asks for one."""
    plan = make_plan(job_from(document(), folder), effort=0.2)
    assert [m.name for m in plan.markings] == ["who 'Ada' on tag", "who 'Café Möwe' + art/dot.png on tag"]
    assert [p.text for m in plan.markings for p in m.placed] == ["Ada", "Café Möwe", None]
    assert check_plan(plan).ok


def test_a_missing_glyph_names_row_and_character(folder: Path) -> None:
    """A letter that the font does not have is an error at its cell, and an empty cell too."""
    rows = "blank,quantity,artwork,name\ntag,2,who,Ada\ntag,1,who,Жук\ntag,1,who,\n"
    (folder / "orders.csv").write_text(rows, encoding="utf-8")
    said = problems(folder)
    assert "row 3, column name" in said and "'Ж' (U+0416)" in said
    assert "row 4, column name: found no text" in said


@pytest.mark.parametrize(
    ("artwork", "said"),
    [
        ({"name": "who"}, "found neither of file and text"),
        ({"name": "who", "file": "art/dot.png", "text": {"words": "x"}}, "found both of file and text"),
        ({"name": "who", "text": {}}, "either column or words"),
        ({"name": "who", "text": {"column": "nmae"}}, "did you mean 'name'"),
        ({"name": "who", "text": {"words": "x", "font": "rond"}}, "did you mean 'round'"),
        ({"name": "who", "text": {"words": "x", "font": "gone.ttf"}}, "there is no such file"),
        ({"name": "who", "text": {"words": "漢"}}, "text.words"),
        ({"name": "who", "file": "art/dot.png", "unit": "mm", "fit": "size"}, "one of them is needed"),
        ({"name": "who", "text": {"words": "x"}, "fit": "fill"}, "found 'fill' with a text"),
        ({"name": "who", "text": {"words": "x"}, "around": {"count": 3, "radius": 5}}, "copies of a text"),
    ],
)
def test_what_is_wrong_with_an_artwork_is_said(folder: Path, artwork: dict[str, Any], said: str) -> None:
    """Keys that do not go together, unknown columns and fonts are named with what is allowed."""
    assert said in problems(folder, artworks=[artwork])


def test_a_picture_is_traced_or_swept(folder: Path) -> None:
    """The same file is outlines by default and dots when asked, in the size its resolution gives."""
    art = [
        {"name": "who", "text": {"words": "x"}},
        {"name": "a", "file": "art/dot.png", "raster": {"ppi": 25.4}},
        {"name": "b", "file": "art/dot.png", "raster": {"ppi": 25.4, "how": "dots"}},
    ]
    text, traced, swept = (a.content for a in job_from(document(artworks=art), folder).artworks[:3])
    assert isinstance(text, Lettering)
    assert isinstance(traced, Drawing) and abs(traced.contours[0].area) == pytest.approx(400, abs=1)
    assert isinstance(swept, Dots) and swept.picture.width == pytest.approx(40)


def test_one_file_is_read_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many orders name a picture, it is decoded once."""
    rows = "blank,quantity,artwork,name\n" + "tag,1,art/dot.png,x\n" * 50
    (folder / "orders.csv").write_text(rows, encoding="utf-8")
    opened: list[object] = []
    real = Image.open

    def counted(*args: Any, **more: Any) -> Any:
        opened.append(args)
        return real(*args, **more)

    monkeypatch.setattr(Image, "open", counted)
    assert len(job_from(document(artworks=[]), folder).artworks) == 1
    assert len(opened) == 1


RING = (
    '<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 24 24">'
    '<circle cx="12" cy="12" r="8" fill="none" stroke="black" stroke-width="2"/></svg>'
)


def _ring(folder: Path, size: str, **changes: Any) -> dict[str, Any]:
    """Write a job that marks a ring on a tag."""
    (folder / "art" / "ring.svg").write_text(RING.format(size=size), encoding="utf-8")
    rows = "blank,quantity,artwork\ntag,1,ring\n"
    (folder / "orders.csv").write_text(rows, encoding="utf-8")
    return document(artworks=[{"name": "ring", "file": "art/ring.svg", **changes}])


def test_strokes_become_outlines_where_asked(folder: Path) -> None:
    """A ring drawn 2 wide with radius 8 is followed, or becomes an area of 2 pi 8 x 2 to sweep."""
    followed = job_from(_ring(folder, 'width="24mm"'), folder).artworks[0].content
    swept = job_from(_ring(folder, 'width="24mm"', strokes="outlines"), folder).artworks[0].content
    assert isinstance(followed, Drawing) and isinstance(swept, Drawing)
    assert [(s.filled, s.stroked) for s in followed.shapes] == [(False, True)]
    assert [(s.filled, s.stroked) for s in swept.shapes] == [(True, False)]
    outer, inner = sorted((abs(c.area) for c in swept.contours), reverse=True)
    assert outer - inner == pytest.approx(32 * np.pi, rel=0.005)


def test_strokes_go_with_drawings_alone(folder: Path) -> None:
    """A picture and a text have no lines to make outlines of."""
    picture = {"name": "who", "file": "art/dot.png", "strokes": "outlines"}
    assert "has no lines; leave it out" in problems(folder, artworks=[picture])
    text = {"name": "who", "text": {"words": "Ada"}, "strokes": "outlines"}
    assert "found with a text; allowed: with a drawing" in problems(folder, artworks=[text])


def test_a_drawing_without_a_size_has_no_true_one(folder: Path) -> None:
    """As drawn is an error for a file with a viewBox alone, and none for one that states its width."""
    assert job_from(_ring(folder, 'width="24mm"', fit="true"), folder).artworks[0].fit == "true"
    with pytest.raises(InputError, match="does not state its size"):
        job_from(_ring(folder, "", fit="true"), folder)


def test_an_artwork_of_many_units_is_read_and_prepared_once(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """500 tags of 100 order lines with one ring: one reading of the file, one preparation of its marking."""
    calls: list[str] = []

    def counted(name: str, what: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any) -> Any:
            calls.append(name)
            return what(*args)

        return call

    monkeypatch.setattr(SvgReader, "read", counted("read", SvgReader.read))
    monkeypatch.setattr(prepare, "_best", counted("prepared", prepare._best))
    written = _ring(folder, 'width="24mm"')
    rows = "tag,5,ring\n" * 100
    (folder / "orders.csv").write_text(f"blank,quantity,artwork\n{rows}", encoding="utf-8")
    job = job_from(written, folder)
    assert sum(line.quantity for line in job.orders) == 500
    assert len(prepare.prepare_markings(job)) == 1
    assert calls == ["read", "prepared"]
