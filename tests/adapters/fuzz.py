"""Put made-up drawings, jobs, order lists and plans to the readers, for as long as is wished.

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
from collections.abc import Callable
from pathlib import Path

import nesting
from nesting.errors import NestingError
from nesting.job.load import load_job
from nesting.plan_file import load_plan, plan_to_json
from nesting_adapters.csv_orders import CsvOrderReader
from nesting_adapters.svg_reader import SvgReader
from tests.adapters.svg_drawings import DRAWINGS
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


SOURCES: dict[str, tuple[Callable[[Path], object], list[str]]] = {
    "a.svg": (SvgReader().read, list(DRAWINGS.values())),
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
