"""Files made to exhaust or mislead a reader: each is refused, in a process that is measured."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
PAGE = HEAD + 'width="40mm" height="20mm" viewBox="0 0 40 20">'
CLIPPED = '<path clip-path="url(#c)" d="M1 1h1v1z"/>'

SECONDS = 2.0
MEGABYTES = 500.0

READ = """
import json, os, resource, sys, time
from pathlib import Path
import nesting
from nesting.errors import InputError
from nesting.plan_file import load_plan
from nesting.job.load import load_job
from nesting_adapters.csv_orders import CsvOrderReader
from nesting_adapters.svg_reader import SvgReader
readers = {"svg": SvgReader().read, "csv": CsvOrderReader().read, "plan": load_plan, "job": load_job}
for path in map(Path, sys.argv[1:]):
    if os.fork():
        os.wait()
        continue
    start, outcome = time.process_time(), "read"
    try:
        readers[path.name.split("-")[0]](path)
    except InputError as error:
        outcome = "refused: " + str(error)[:300]
    except BaseException as error:
        outcome = "crashed: " + repr(error)[:300]
    seconds = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps([path.name, outcome, seconds, peak]), flush=True)
    os._exit(0)
"""


def svg(body: str) -> str:
    return f"{PAGE}{body}</svg>"


def doubled(first: str, count: int, tag: str = "g") -> str:
    groups = "".join(
        f'<{tag} id="n{k}"><use href="#n{k - 1}"/><use href="#n{k - 1}"/></{tag}>' for k in range(1, count)
    )
    return f'<defs>{first}{groups}</defs><use href="#n{count - 1}"/>'


def entities(count: int) -> str:
    lines = "".join(f'<!ENTITY e{k} "{f"&e{k - 1};" * 10}">' for k in range(1, count))
    return f'<!DOCTYPE svg [<!ENTITY e0 "ha">{lines}]>{PAGE}<text>&e{count - 1};</text></svg>'


FILES: dict[str, Callable[[], str | bytes]] = {
    "svg-entity-expansion.svg": lambda: entities(12),
    "svg-entity-quadratic.svg": lambda: (
        f'<!DOCTYPE svg [<!ENTITY a "{"x" * 100_000}">]>{PAGE}<text>{"&a;" * 10_000}</text></svg>'
    ),
    "svg-entity-file.svg": lambda: (
        f'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>{PAGE}<text>&a;</text></svg>'
    ),
    "svg-entity-parameter.svg": lambda: (
        f'<!DOCTYPE svg [<!ENTITY % a SYSTEM "http://example.org/a.dtd"> %a;]>{PAGE}<text>a</text></svg>'
    ),
    "svg-image-outside.svg": lambda: svg('<image width="4" height="4" href="file:///etc/passwd"/>'),
    "svg-image-remote.svg": lambda: svg(
        '<image width="4" height="4" xlink:href="http://example.org/a.png"/>'
    ),
    "svg-use-remote.svg": lambda: svg('<use href="http://example.org/a.svg#b"/>'),
    "svg-use-other-file.svg": lambda: svg('<use href="../../etc/passwd#b"/>'),
    "svg-sheet-import.svg": lambda: svg('<style>@import url("http://example.org/a.css");</style><rect/>'),
    "svg-use-itself.svg": lambda: svg('<g id="a"><use href="#a"/></g>'),
    "svg-use-ring.svg": lambda: svg(
        '<g id="a"><use href="#b"/></g><g id="b"><use href="#c"/></g><g id="c"><use href="#a"/></g>'
    ),
    "svg-clip-itself.svg": lambda: svg(
        '<clipPath id="c" clip-path="url(#c)"><path d="M0 0h9v9z"/></clipPath>' + CLIPPED
    ),
    "svg-clip-ring.svg": lambda: svg(
        '<clipPath id="c"><path clip-path="url(#d)" d="M0 0h9v9z"/></clipPath>'
        '<clipPath id="d"><path clip-path="url(#c)" d="M0 0h9v9z"/></clipPath>' + CLIPPED
    ),
    "svg-use-doubling.svg": lambda: svg(doubled('<rect id="n0" width="1" height="1"/>', 40)),
    "svg-use-doubling-nothing.svg": lambda: svg(doubled('<g id="n0"/>', 40)),
    "svg-use-doubling-symbol.svg": lambda: svg(
        doubled('<symbol id="n0"><rect width="1" height="1"/></symbol>', 40, "symbol")
    ),
    "svg-closing-copied.svg": lambda: svg(
        f'<defs><path id="a" d="M1 1{"z" * 300_000}"/></defs>' + '<use href="#a"/>' * 10_000
    ),
    "svg-bad-path-copied.svg": lambda: svg(
        f'<defs><path id="a" d="M1 1{"h1" * 50_000}X"/></defs>' + '<use href="#a"/>' * 10_000
    ),
    "svg-far-path-copied.svg": lambda: svg(
        f'<defs><path id="a" d="M9 1{"h1" * 20_000}h1e9"/></defs>' + '<use href="#a"/>' * 10_000
    ),
    "svg-million-points.svg": lambda: svg(f'<path d="M1 1{"L2 3" * 1_000_000}"/>'),
    "svg-million-corners.svg": lambda: svg(f'<polygon points="{"1,2 " * 1_000_000}"/>'),
    "svg-many-curves.svg": lambda: svg(f'<path d="M1 1{"C2 3 5 2 1 9" * 59_000}"/>'),
    "svg-many-elements.svg": lambda: svg("<g/>" * 500_000),
    "svg-deep.svg": lambda: svg("<g>" * 100_000),
    "svg-many-attributes.svg": lambda: svg(
        "<g " + " ".join(f'a{k}="1"' for k in range(100_000)) + "><text/></g>"
    ),
    "svg-nan.svg": lambda: svg('<rect width="NaN" height="1"/>'),
    "svg-infinite.svg": lambda: svg('<path d="M0 0L1e400 3"/>'),
    "svg-huge-number.svg": lambda: svg('<rect width="1e300" height="1"/>'),
    "svg-digits.svg": lambda: svg(f'<rect width="{"1" * 1_000_000}" height="1"/>'),
    "svg-dashes.svg": lambda: svg('<path d="M0 0H40" stroke="red" stroke-dasharray="1e-7"/>'),
    "svg-selectors.svg": lambda: svg(f"<style>{'g g g g g{fill:red}' * 5000}</style>" + "<g>" * 90),
    "svg-clip-scribble.svg": lambda: svg(
        f'<clipPath id="c"><path d="M0 0{"L40 20 0 19 40 1 1 20" * 2000}"/></clipPath>{CLIPPED}'
    ),
    "svg-clips-copied.svg": lambda: svg(
        f'<clipPath id="c"><path d="M0 0{"h.01v.01" * 900}V0z"/></clipPath>{CLIPPED * 10_000}'
    ),
    "svg-not-text.svg": lambda: bytes(range(256)) * 1000,
    "csv-open-quote.csv": lambda: 'blank,quantity\n"' + "a,b\n" * 1_000_000,
    "csv-cell.csv": lambda: f"blank,quantity\n{'a' * 5_000_000},1\n",
    "csv-nul.csv": lambda: "blank,quantity\na\0b,1\n",
    "csv-too-large.csv": lambda: "blank,quantity\n" + "cup,1\n" * 3_500_000,
    "job-deep.json": lambda: "[" * 500_000,
    "job-deep.toml": lambda: f"a = {'[' * 100_000}",
    "job-digits.json": lambda: f'{{"title": {"9" * 1_000_000}}}',
    "job-nan.json": lambda: '{"title": NaN}',
    "job-outside.json": lambda: json.dumps({"artworks": [{"name": "a", "file": "../../etc/passwd"}]}),
    "plan-deep.json": lambda: "[" * 500_000,
    "plan-nan.json": lambda: '{"version": NaN}',
    "plan-empty-object.json": lambda: "{}",
    "plan-too-large.json": lambda: '{"a": "' + "a" * 250_000_000 + '"}',
}


@pytest.mark.slow
def test_hostile_files_are_refused(tmp_path: Path) -> None:
    """Forty files made to do harm are refused with a message, each within 2 s of CPU time and 500 MB."""
    paths = [tmp_path / name for name in FILES]
    for path, content in zip(paths, (make() for make in FILES.values()), strict=True):
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    link = tmp_path / "svg-link.svg"
    link.symlink_to("/etc/passwd")
    command = [sys.executable, "-c", READ, *map(str, paths), str(link)]
    result = subprocess.run(command, capture_output=True, text=True, timeout=600, check=True)
    found = [json.loads(line) for line in result.stdout.splitlines()]
    print(*found, sep="\n")  # noqa: T201 -- shown by -s
    assert len(found) == len(paths) + 1 >= 40
    wrong = [f for f in found if not f[1].startswith("refused: ") or f[2] > SECONDS or f[3] > MEGABYTES]
    assert not wrong
