"""Put made-up drawings, jobs, order lists and plans to the readers, for as long as is wished.

``python -m tests.adapters.fuzz --seconds 600`` says how many were read and how many refused; anything but
the named errors ends it, with the file that did it.
"""

import argparse
import json
import random
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from nesting.errors import NestingError
from nesting.job.load import load_job
from nesting.plan_file import load_plan
from nesting_adapters.csv_orders import CsvOrderReader
from nesting_adapters.svg_reader import SvgReader
from tests.adapters.svg_drawings import DRAWINGS

ODD = [
    "", "0", "-1", "1e9", "1e308", "nan", "inf", "%", "50%", "mm", "#", "url(#c)", "url(#", "<",
    ">", '"', "&",
    "&#0;",
    "z", "M", "A1 1 0 0 0", "-", ".", ",", "none", "inherit", "\0", "é", "\n", "{", "}", "[", "]", ":",
    "null",
    "true", "scale(0)", "matrix(1 0 0 0 0 0)", "stroke-dasharray='0 1'", "clip-path='url(#a)'",
    "href='#a'", "id='a'", "<use href='#a'/>", "<svg>", "</svg>", "<g>", "</g>", "stroke-width='1e-9'",
]  # fmt: skip

PLAN = '{"version": 1, "sheets": [{"x": [1, 2.5, -3], "name": "a"}], "loads": [], "title": "b"}'
JOB = json.dumps(
    {
        "title": "cups", "orders": [{"blank": "cup", "quantity": 3, "artwork": "a"}],
        "blanks": [{"name": "cup", "footprint": {"shape": "circle", "diameter": "90 mm"}, "height": 80}],
        "stock": [{"name": "s", "width": 600, "height": 400}], "artworks": [{"name": "a", "file": "a.svg"}],
    }
)  # fmt: skip
ROWS = 'blank,quantity,artwork\ncup,3,"a ""b"""\npen,4,c.svg\n'


def changed(text: str, dice: random.Random) -> str:
    """Change a text in a few places: cut out, double, swap or put in something odd."""
    for _ in range(dice.randint(1, 6)):
        a = dice.randrange(len(text) + 1)
        b = min(len(text), a + dice.choice([0, 1, 2, 5, 20]))
        piece = dice.choice([dice.choice(ODD), text[a:b] * 2, "", str(dice.uniform(-50, 50))])
        text = text[:a] + piece + text[b:]
    return text


SOURCES: dict[str, tuple[Callable[[Path], object], list[str]]] = {
    "a.svg": (SvgReader().read, list(DRAWINGS.values())),
    "a.csv": (CsvOrderReader().read, [ROWS]),
    "job.json": (load_job, [JOB]),
    "job.toml": (load_job, ['title = "a"\n[[blanks]]\nname = "b"\nheight = 3\n']),
    "plan.json": (load_plan, [PLAN]),
}


def run(seconds: float, seed: int) -> Counter[str]:
    """Try changed files until the time is over; the counts of what was read and refused."""
    dice, counts = random.Random(seed), Counter[str]()
    end = time.monotonic() + seconds
    with tempfile.TemporaryDirectory(prefix="fuzz-") as folder:
        while time.monotonic() < end:
            name = dice.choice(["a.svg", "a.svg", "a.svg", *SOURCES])
            read, texts = SOURCES[name]
            path = Path(folder) / name
            path.write_bytes(changed(dice.choice(texts), dice).encode("utf-8", "surrogatepass"))
            counts[f"{name} {_outcome(read, path)}"] += 1
    return counts


def _outcome(read: Callable[[Path], object], path: Path) -> str:
    try:
        read(path)
    except NestingError:
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
