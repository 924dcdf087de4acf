"""Put changed drawings, pictures, jobs, order lists and plans to the readers, for as long as is wished.

``python -m tests.adapters.fuzz --seconds 600`` says how many were read and how many refused; anything but
the named errors ends it, with the file that did it.
"""

import argparse
import json
import random
import re
import shutil
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Sequence
from io import BytesIO, StringIO
from pathlib import Path

import ezdxf
from PIL import Image

import nesting
from nesting.errors import NestingError
from nesting.geometry.inside import TangleError
from nesting.geometry.stroke import outlined
from nesting.job.inlays import dots_in, traced
from nesting.job.load import load_job
from nesting.plan_file import load_plan, plan_to_json
from nesting.ports import Tracing
from nesting_adapters.csv_orders import CsvOrderReader
from nesting_adapters.dxf_reader import DxfReader
from nesting_adapters.raster_reader import RasterReader
from nesting_adapters.stroke_font import StrokeFonts
from nesting_adapters.svg_reader import SvgReader
from tests.adapters.svg_drawings import DRAWINGS, PAGE
from tests.adapters.svg_images import GREYS, OUTLINES, shades
from tests.adapters.test_svg_text import TEXTS
from tests.adapters.written_plan import small_plan

ODD = [
    "", "0", "-1", "1e9", "1e308", "nan", "inf", "%", "50%", "mm", "#", "url(#c)", "url(#", "<",
    ">", '"', "&",
    "&#0;",
    "z", "M", "A1 1 0 0 0", "-", ".", ",", "none", "inherit", "\0", "é", "\n", "{", "}", "[", "]", ":",
    "null",
    "true", "scale(0)", "matrix(1 0 0 0 0 0)", "stroke-dasharray='0 1'", "clip-path='url(#a)'",
    "href='#a'", "id='a'", "<use href='#a'/>", "<svg>", "</svg>", "<g>", "</g>", "stroke-width='1e-9'",
]  # fmt: skip

FIRST = Path(nesting.__file__).parent / "examples" / "first"
TOML = (FIRST / "job.toml").read_text(encoding="utf-8")
JOB = json.dumps(tomllib.loads(TOML), default=str)
PLAN = plan_to_json(small_plan())
ROWS = 'blank,quantity,artwork\ncup,3,"a ""b"""\npen,4,c.svg\n'


def changed(text: str, dice: random.Random) -> str:
    """Change a text in a few places: cut out, double, swap or put in something odd.

    Of half of the texts only numbers and words change, so that they stay well formed and come further.
    """
    if dice.random() < 0.5:
        return _reworded(text, dice)
    for _ in range(dice.randint(1, 6)):
        a = dice.randrange(len(text) + 1)
        b = min(len(text), a + dice.choice([0, 1, 2, 5, 20]))
        piece = dice.choice([dice.choice(ODD), text[a:b] * 2, "", str(dice.uniform(-50, 50))])
        text = text[:a] + piece + text[b:]
    return text


def _reworded(text: str, dice: random.Random) -> str:
    """Put other numbers for numbers, and words of the text for words."""
    tokens = re.split(r"(-?\d+\.?\d*|[A-Za-z_]+)", text)
    for _ in range(dice.randint(1, 4)):
        k = 2 * dice.randrange(len(tokens) // 2) + 1
        number = dice.choice(["0", "-1", "1e-9", "1e9", "7", "0.5", str(dice.uniform(-50, 50))])
        tokens[k] = dice.choice(tokens[1::2]) if tokens[k].isalpha() else number
    return "".join(tokens)


def damaged(content: bytes, dice: random.Random) -> bytes:
    """Change some bytes, and now and then cut the end off or double a piece."""
    bad = bytearray(content)
    for _ in range(dice.randint(1, 8)):
        bad[dice.randrange(len(bad))] = dice.choice([0, 1, 0x7F, 0xFF, dice.randrange(256)])
    a = dice.randrange(len(bad))
    return bytes(dice.choice([bad, bad, bad[: a + 1], bad[:a] + bad[a // 2 :]]))


def _drawing(path: Path) -> object:
    drawing = SvgReader().read_lettered(path, lambda _, letters: StrokeFonts().read("round", letters))
    return outlined(traced(drawing, Tracing(), PICTURES, path)), list(dots_in(drawing, "diffusion", 0.5))


def _picture(path: Path) -> object:
    return PICTURES.trace(PICTURES.picture(path), Tracing(), path)


def _saved(kind: str) -> bytes:
    buffer = BytesIO()
    Image.fromarray(shades(24, 16)).save(buffer, kind)
    return buffer.getvalue()


def _dxf() -> str:
    """Draw one of each kind of entity that is read."""
    document = ezdxf.new(units=4)
    space, block = document.modelspace(), document.blocks.new("B")
    block.add_circle((0, 0), 2)
    space.add_line((0, 0), (9, 3))
    space.add_arc((3, 3), 2, 10, 250)
    space.add_lwpolyline([(0, 0, 0.5), (4, 0, 0), (4, 4, -1)], format="xyb", close=True)
    space.add_polyline2d([(1, 1), (5, 2), (3, 7)])
    space.add_spline([(0, 0), (3, 5), (7, -2), (9, 9)])
    space.add_ellipse((5, 5), (3, 1), 0.4, 0, 5)
    space.add_blockref("B", (5, 5), dxfattribs={"xscale": 2, "rotation": 30})
    stream = StringIO()
    document.write(stream)
    return stream.getvalue()


PICTURES = RasterReader()
WRITTEN = [f"{PAGE}{body}</svg>" for body in TEXTS.values()]
SOURCES: dict[str, tuple[Callable[[Path], object], Sequence[str | bytes]]] = {
    "a.svg": (_drawing, [*DRAWINGS.values(), *OUTLINES.values(), *GREYS.values(), *WRITTEN]),
    "a.dxf": (DxfReader().read, [_dxf()]),
    "a.png": (_picture, [_saved("PNG")]),
    "a.jpg": (_picture, [_saved("JPEG")]),
    "a.bmp": (_picture, [_saved("BMP")]),
    "a.csv": (CsvOrderReader().read, [ROWS]),
    "job.json": (load_job, [JOB]),
    "job.toml": (load_job, [TOML]),
    "plan.json": (load_plan, [PLAN]),
}


def run(seconds: float, seed: int) -> Counter[str]:
    """Try changed files until the time is over; the counts of what was read and refused."""
    dice, counts = random.Random(seed), Counter[str]()
    end = time.monotonic() + seconds
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        shutil.copytree(FIRST, folder, dirs_exist_ok=True)
        while time.monotonic() < end:
            name = dice.choice(["a.svg", "a.svg", "a.svg", *SOURCES])
            read, seeds = SOURCES[name]
            path = Path(folder) / name
            seed_file = dice.choice(seeds)
            if isinstance(seed_file, bytes):
                path.write_bytes(damaged(seed_file, dice))
            else:
                path.write_bytes(changed(seed_file, dice).encode("utf-8", "surrogatepass"))
            counts[f"{name} {_outcome(read, path)}"] += 1
    return counts


def _outcome(read: Callable[[Path], object], path: Path) -> str:
    try:
        read(path)
    except (NestingError, TangleError):
        return "refused"
    except BaseException:
        print(f"this did it:\n{path.read_bytes()!r}")  # noqa: T201
        raise
    return "read"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=600)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    for outcome, count in sorted(run(arguments.seconds, arguments.seed).items()):
        print(f"{outcome}: {count}")  # noqa: T201
