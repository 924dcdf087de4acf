"""Files made to exhaust or mislead a reader: each is refused, in a process that is measured."""

import base64
import json
import random
import struct
import subprocess
import sys
import zipfile
import zlib
from collections.abc import Callable
from io import BytesIO
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
from nesting.ports import Tracing
from nesting_adapters.csv_orders import CsvOrderReader
from nesting_adapters.dxf_reader import DxfReader
from nesting_adapters.font_files import FontFiles
from nesting_adapters.raster_reader import RasterReader
from nesting_adapters.xlsx_orders import XlsxOrderReader
from nesting_adapters.svg_reader import SvgReader
pictures = RasterReader()
readers = {
    "svg": SvgReader().read,
    "dxf": DxfReader().read,
    "csv": CsvOrderReader().read,
    "xlsx": XlsxOrderReader().read,
    "picture": lambda path: pictures.trace(pictures.picture(path), Tracing(), path),
    "font": lambda path: FontFiles().read(str(path), "abc"),
    "plan": load_plan,
    "job": load_job,
}
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


def png(columns: int, rows: int, content: bytes, *chunks: bytes) -> bytes:
    """Write a grey PNG that promises so many pixels (W3C Portable Network Graphics, third edition)."""
    parts = [
        (b"IHDR", struct.pack(">IIBBBBB", columns, rows, 8, 0, 0, 0, 0)),
        *((chunk[:4], chunk[4:]) for chunk in chunks),
        (b"IDAT", zlib.compress(content, 9)),
        (b"IEND", b""),
    ]
    written = (struct.pack(">I", len(d)) + k + d + struct.pack(">I", zlib.crc32(k + d)) for k, d in parts)
    return b"\x89PNG\r\n\x1a\n" + b"".join(written)


def noise(columns: int, rows: int) -> bytes:
    """Make random greys, each row of a PNG after its filter byte 0."""
    dice = random.Random(1)
    return b"".join(b"\0" + dice.randbytes(columns) for _ in range(rows))


def specks(columns: int, rows: int) -> bytes:
    """Make dark dots, each alone, as many as outlines may have points for."""
    plain, dotted = b"\0" + b"\xff" * columns, b"\0" + (b"\0" + b"\xff" * 11) * (columns // 12 + 1)
    return b"".join(plain if row % 3 else dotted[: columns + 1] for row in range(rows))


def image(content: bytes, kind: str = "png") -> str:
    link = f"data:image/{kind};base64,{base64.b64encode(content).decode()}"
    return f'<image id="i" width="4" height="4" href="{link}"/>'


def dxf(entities: str, blocks: str = "") -> str:
    """Write a drawing in mm with these entities and blocks (published DXF reference)."""
    head = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
    blocks = f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n"
    return f"{head}{blocks}0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n"


CIRCLE = "0\nCIRCLE\n8\n0\n10\n1\n20\n2\n40\n3\n"


def lines(count: int) -> str:
    """Draw lines, each written as long as programs do, with handle, owner and subclasses."""
    place = "10\n1.5\n20\n2.5\n30\n0.0\n11\n3.5\n21\n4.5\n31\n0.0\n"
    rest = f"330\n2\n100\nAcDbEntity\n8\n0\n62\n7\n100\nAcDbLine\n{place}"
    return "".join(f"0\nLINE\n5\n{k + 256:X}\n{rest}" for k in range(count))


def block(number: int, entities: str) -> str:
    return f"0\nBLOCK\n8\n0\n2\nb{number}\n70\n0\n10\n0\n20\n0\n{entities}0\nENDBLK\n8\n0\n"


def insert(name: str) -> str:
    return f"0\nINSERT\n8\n0\n2\n{name}\n10\n0\n20\n0\n"


def zipped(content: bytes) -> bytes:
    """Pack the first worksheet of a workbook."""
    buffer = BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in ("[Content_Types].xml", "xl/workbook.xml", "xl/worksheets/sheet1.xml"):
            archive.writestr(name, content)
    return buffer.getvalue()


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
    "svg-text-long.svg": lambda: svg(f"<text>{'ab ' * 2_000_000}</text>"),
    "svg-text-copied.svg": lambda: svg(
        f'<defs><text id="t">{"ab " * 9_000}</text></defs>' + '<use href="#t"/>' * 10_000
    ),
    "svg-text-places.svg": lambda: svg(f'<text x="{"1 " * 2_000_000}">a</text>'),
    "svg-text-spans.svg": lambda: svg(f"<text>{'<tspan>' * 90_000}"),
    "svg-image-bomb.svg": lambda: svg(image(png(60_000, 60_000, bytes(100_000_000)))),
    "svg-image-promise.svg": lambda: svg(image(png(2**31 - 1, 2**31 - 1, b""))),
    "svg-image-text-bomb.svg": lambda: svg(
        image(png(9, 9, bytes(90), b"zTXtk\0\0" + zlib.compress(bytes(200_000_000), 9)))
    ),
    "svg-image-cut-off.svg": lambda: svg(image(png(2000, 2000, bytes(1_000_000)))),
    "svg-image-nonsense.svg": lambda: svg(image(b"nonsense" * 1_500_000)),
    "svg-image-base64.svg": lambda: svg(f'<image href="data:image/png;base64,{"A" * 18_000_000}"/>'),
    "svg-image-escaped.svg": lambda: svg(f'<image href="data:image/png;base64,{"%" * 10_000_000}"/>'),
    "svg-image-media-type.svg": lambda: svg(f'<image href="data:image/png{";a" * 5_000_000},"/>'),
    "svg-image-copied.svg": lambda: svg(
        f"<defs>{image(png(2000, 2000, bytes(4_002_000)))}</defs>" + '<use href="#i"/>' * 10_000
    ),
    "svg-image-bad-copied.svg": lambda: svg(
        f"<defs>{image(bytes(9_000_000))}</defs>" + '<use href="#i"/>' * 10_000
    ),
    "svg-image-many.svg": lambda: svg(image(png(2000, 1000, bytes(2_001_000))) * 4_000),
    "svg-image-drawing.svg": lambda: svg(image(svg("<rect/>").encode(), "svg+xml")),
    "svg-image-gif.svg": lambda: svg(image(b"GIF89a" + bytes(100), "gif")),
    "picture-bomb.png": lambda: png(60_000, 60_000, bytes(100_000_000)),
    "picture-noise.png": lambda: png(2800, 2850, noise(2800, 2850)),
    "picture-specks.png": lambda: png(2800, 2850, specks(2800, 2850)),
    "picture-another-format.bmp": lambda: b"BM" + bytes([255] * 60),
    "svg-not-text.svg": lambda: bytes(range(256)) * 1000,
    "dxf-million-lines.dxf": lambda: dxf(lines(300_000)),
    "dxf-million-points.dxf": lambda: dxf(
        "0\nLWPOLYLINE\n8\n0\n100\nAcDbPolyline\n90\n1000000\n70\n0\n" + "10\n1\n20\n2\n" * 1_000_000
    ),
    "dxf-wrong-at-last.dxf": lambda: dxf(lines(10_000) + "0\nTEXT\n8\n0\n10\n1\n20\n2\n40\n3\n1\na\n"),
    "dxf-doubling.dxf": lambda: dxf(
        insert("b30"), block(0, CIRCLE) + "".join(block(k, insert(f"b{k - 1}") * 2) for k in range(1, 31))
    ),
    "dxf-insert-itself.dxf": lambda: dxf(insert("b1"), block(1, insert("b1"))),
    "dxf-array.dxf": lambda: dxf(insert("b1") + "70\n30000\n71\n30000\n44\n1\n45\n1\n", block(1, CIRCLE)),
    "dxf-nan.dxf": lambda: dxf(CIRCLE.replace("\n3\n", "\nnan\n")),
    "dxf-huge.dxf": lambda: dxf(CIRCLE.replace("\n3\n", "\n1e300\n")),
    "dxf-nothing.dxf": lambda: b"",
    "dxf-binary.dxf": lambda: b"AutoCAD Binary DXF\r\n\x1a\0" + bytes(range(256)) * 100,
    "xlsx-zip-bomb.xlsx": lambda: zipped(bytes(400_000_000)),
    "font-nonsense.ttf": lambda: b"\0\1\0\0" + bytes(range(256)) * 100,
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
