"""Make the pictures of the documentation by the library itself: ``python docs/make_pictures.py``."""

import json
import re
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import nesting
from nesting.examples import write_example
from nesting.geometry.contour import Contour
from nesting.geometry.region import Region

PICTURES = Path(__file__).parent / "pictures"
BLANK, POCKET, BEAM = "#c8dbe0", "#fff", "#b3261e"


def main() -> None:
    """Make all of them."""
    _example()
    _write("distances", _distances())
    _write("seat", _seat())
    _write("order", _order())


def _example() -> None:
    """Draw the sheets of the small example, and a load without the hidden lines of its fills."""
    with tempfile.TemporaryDirectory() as folder:
        write_example("first", Path(folder) / "job")
        plan = nesting.make_plan(nesting.load_job(Path(folder) / "job" / "job.toml"), effort=2)
        nesting.write_plan(plan, Path(folder) / "out", formats=["svg"])
        load = (Path(folder) / "out" / "load-01-marks.svg").read_text(encoding="utf-8")
    shown = re.sub(r'<g id="(sweeps|trace)".*?</g>\n', "", load, flags=re.S)
    shown = shown.replace('stroke-width="0.1"', 'stroke-width="0.5"')
    _write("load", re.sub(r"(\.\d\d)\d+", r"\1", shown))
    _write("sheets", plan._repr_svg_())


def _distances() -> str:
    """Draw two blanks at the edge of a sheet; play and kerf are far larger than in truth."""
    plate = {"shape": "rectangle", "width": 60, "height": 44, "radius": 8}
    blank = {"name": "plate", "footprint": plate, "clearance": 3, "gap": 16, "turns": [0]}
    plan = _planned(blank, quantity=2, kerf=2, width=182, height=86, margin=18)
    sheet = plan.sheets[0]
    pieces = [_shape(Region.rectangle(182, 86).contours, "#f6f0e4")]
    for pocket in sheet.pockets:
        pieces.append(_shape(pocket.outline.contours, POCKET))
        pieces.append(_shape(plan.job.blanks[0].footprint.moved(pocket.x, pocket.y).contours, BLANK))
        pieces.append(_shape(pocket.path, "none", BEAM, "2 1.5"))
    first, second = sorted(pocket.outline.bounds for pocket in sheet.pockets)
    left, right = first[2] - 3, second[0] + 3
    middle = (first[1] + first[3]) / 2
    pieces += [
        _measure(left, right, middle - 8, "gap"),
        _measure(first[2], second[0], middle + 8, "web"),
        _measure(0, first[0] + 3, middle, "margin"),
        _label(first[0] + 33, middle, "blank"),
        _label(second[0] + 33, middle, "blank"),
        _label(91, 7, "white: the pocket, larger by the clearance; dashed: the middle of the beam"),
    ]
    return _picture(pieces, 182, 86)


def _seat() -> str:
    """Draw a cup from above: its silhouette, and the pocket that it needs in the thickness of the sheet."""
    body = {"shape": "tapered", "small_diameter": 54, "large_diameter": 60, "length": 90}
    plan = _planned({"name": "cup", "body": body, "clearance": 0.5, "turns": [0]}, width=130, height=80)
    pocket = plan.sheets[0].pockets[0]
    cup = plan.job.blanks[0].footprint.moved(pocket.x, pocket.y)
    pieces = [
        _shape(Region.rectangle(130, 80).contours, "#f6f0e4"),
        _shape(cup.contours, BLANK),
        _shape(pocket.outline.contours, POCKET),
        _label(pocket.x + 45, pocket.y - 1, "pocket"),
        _label(pocket.x + 45, pocket.y + 22, "silhouette"),
    ]
    return _picture(pieces, 130, 80)


def _order() -> str:
    """Draw the way of the head over some holes, as they were given and as they were ordered."""
    places = [(17 * k % 113 + 8, 29 * k % 61 + 8) for k in range(14)]
    rings = [Contour.circle(8, x, y) for x, y in places]
    path = nesting.order_path(rings, effort=5)
    given = [(x + 4.0, float(y)) for x, y in places]
    ordered = [rings[step.contour].started(step.start).points[0] for step in path.steps]
    drawn = []
    for k, (spots, travel) in enumerate(((given, path.given_travel), (ordered, path.travel))):
        line = [(0.0, 0.0), *((float(x), float(y)) for x, y in spots)]
        drawn += [_shape([ring.moved(140 * k, 0)], POCKET) for ring in rings]
        drawn.append(_shape([Contour.polyline(line, closed=False).moved(140 * k, 0)], "none", BEAM))
        drawn.append(_label(140 * k + 62, 78, f"{'as given' if k == 0 else 'ordered'}: {travel:.0f} mm"))
    return _picture(drawn, 266, 84)


def _planned(
    blank: dict[str, Any],
    width: float,
    height: float,
    *,
    quantity: int = 1,
    kerf: float = 0.2,
    margin: float = 5,
) -> nesting.Plan:
    """Plan one kind of blank on one sheet."""
    flat = {} if "body" in blank else {"height": 4}
    sheet = {"shape": "rectangle", "width": width, "height": height}
    job = {
        "title": "a picture",
        "machine": {"bed": {"width": width, "height": height}, "kerf": {"plywood": kerf}},
        "settings": [{"name": "fine"}],
        "stock": [{"name": "s", "outline": sheet, "thickness": 3, "material": "plywood", "margin": margin}],
        "blanks": [{**blank, **flat, "setting": "fine"}],
        "orders": [{"blank": blank["name"], "quantity": quantity}],
        "sheet_use": "once",
    }
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.json"
        path.write_text(json.dumps(job), encoding="utf-8")
        return nesting.make_plan(nesting.load_job(path), effort=1)


def _shape(contours: Iterable[Contour], fill: str, stroke: str = "#1d2b30", dashes: str = "none") -> str:
    data = ""
    for contour in contours:
        points = "L".join(f"{x:.2f} {-y:.2f}" for x, y in contour.flattened(0.05))
        data += f"M{points}{'Z' if contour.closed else ''}"
    line = f'stroke="{stroke}" stroke-width="0.5" stroke-dasharray="{dashes}"'
    return f'<path d="{data}" fill="{fill}" fill-rule="evenodd" {line}/>'


def _measure(x0: float, x1: float, y: float, words: str) -> str:
    ends = [[(x, y - 2), (x, y + 2)] for x in (x0, x1)]
    lines = [Contour.polyline(points, closed=False) for points in (*ends, [(x0, y), (x1, y)])]
    return _shape(lines, "none") + _label((x0 + x1) / 2, y + 2, words)


def _label(x: float, y: float, words: str) -> str:
    return f'<text x="{x:.1f}" y="{-y:.1f}" font-size="4" text-anchor="middle">{words}</text>'


def _picture(pieces: Iterable[str], width: float, height: float) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{4 * width:.0f}" height="{4 * height:.0f}" '
        f'viewBox="-1 {-height - 1:g} {width + 2:g} {height + 2:g}" font-family="sans-serif">\n'
        + "\n".join(pieces)
        + "\n</svg>\n"
    )


def _write(name: str, text: str) -> None:
    (PICTURES / f"{name}.svg").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
