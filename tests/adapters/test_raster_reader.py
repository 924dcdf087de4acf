"""Pictures of pixels: tracing between the pixels, and files that are refused."""

import math
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from nesting.errors import InputError
from nesting.ports import Tracing
from nesting_adapters.raster_reader import RasterReader

READER = RasterReader()
PIXEL = 25.4 / 96


def ring_levels(outer: float, inner: float, size: int = 600, fine: int = 8) -> NDArray[np.uint8]:
    """Draw a dark ring of two radii in pixels, each pixel as dark as the share of it that is covered."""
    y, x = np.mgrid[0 : size * fine, 0 : size * fine] + 0.5
    radius = np.hypot(x / fine - size / 2, y / fine - size / 2)
    covered = ((radius < outer) & (radius > inner)).reshape(size, fine, size, fine).mean(axis=(1, 3))
    return np.asarray((255 * (1 - covered)).round(), dtype=np.uint8)


def saved(levels: NDArray[np.uint8], folder: Path, name: str = "x.png") -> Path:
    """Save grey levels as a picture."""
    Image.fromarray(levels).save(folder / name)
    return folder / name


def traced_areas(path: Path, tracing: Tracing | None = None, ppi: float | None = None) -> list[float]:
    """Trace a picture and give the areas inside its outlines, largest first."""
    drawing = READER.trace(READER.picture(path, ppi), tracing or Tracing(), path)
    return sorted((abs(contour.area) for contour in drawing.contours), reverse=True)


def test_the_area_of_an_anti_aliased_ring(tmp_path: Path) -> None:
    """Outline and hole of a ring are found to 0.1 % of its area, pi (R² - r²)."""
    outer, inner = traced_areas(saved(ring_levels(200, 120), tmp_path))
    assert outer - inner == pytest.approx(math.pi * (200**2 - 120**2) * PIXEL**2, rel=1e-3)


def test_a_shape_at_the_edge_of_the_picture_keeps_its_size(tmp_path: Path) -> None:
    """A dark half of a picture is traced to the picture's edge, corners cut by less than a pixel."""
    levels = np.full((40, 80), 255, dtype=np.uint8)
    levels[:, :40] = 0
    (area,) = traced_areas(saved(levels, tmp_path), ppi=25.4)
    assert area == pytest.approx(1600, abs=1)


def test_specks_are_dropped_and_light_is_marked_when_asked(tmp_path: Path) -> None:
    """A spot below the stated area goes, and the inverted picture has the rest as its area."""
    levels = np.full((50, 50), 255, dtype=np.uint8)
    levels[10:30, 10:30] = 0
    levels[40:42, 40:42] = 0
    path = saved(levels, tmp_path)
    assert len(traced_areas(path, ppi=25.4)) == 2
    assert len(traced_areas(path, Tracing(speck=10), ppi=25.4)) == 1
    light = READER.trace(READER.picture(path, 25.4, inverted=True), Tracing(threshold=0.5), path)
    assert light.bounds == pytest.approx((0, 0, 50, 50))


def test_a_page_s_resolution_gives_its_size(tmp_path: Path) -> None:
    """The file's own pixels per inch, the job's, and CSS pixels, in this order of weakness."""
    levels = np.zeros((100, 200), dtype=np.uint8)
    Image.fromarray(levels).save(tmp_path / "x.png", dpi=(254, 254))
    assert READER.picture(tmp_path / "x.png").width == pytest.approx(20, rel=1e-4)
    assert READER.picture(tmp_path / "x.png", 508).width == pytest.approx(10)
    assert READER.picture(saved(levels, tmp_path, "y.png")).width == pytest.approx(200 * PIXEL)


def test_what_is_transparent_is_white(tmp_path: Path) -> None:
    """Only the opaque part of a black picture is dark."""
    pixels = np.zeros((20, 20, 4), dtype=np.uint8)
    pixels[5:15, 5:15, 3] = 255
    Image.fromarray(pixels).save(tmp_path / "x.png")
    assert READER.picture(tmp_path / "x.png").darkness.sum() == pytest.approx(100)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _png(width: int, height: int, *chunks: bytes) -> bytes:
    header = _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + b"".join(chunks) + _chunk(b"IEND", b"")


NOISE = np.random.default_rng(1).integers(0, 256, (1200, 1200), dtype=np.uint8)
HOSTILE: dict[str, Callable[[], bytes]] = {
    "bomb of zeros": lambda: _png(60_000, 60_000, _chunk(b"IDAT", zlib.compress(bytes(10_000_000)))),
    "promise of 2^62 pixels": lambda: _png(2**31 - 1, 2**31 - 1),
    "no pixels": lambda: _png(0, 10),
    "pixels cut off": lambda: _png(100, 100, _chunk(b"IDAT", zlib.compress(bytes(50)))),
    "data that is not packed": lambda: _png(10, 10, _chunk(b"IDAT", b"nonsense")),
    "wrong checksum": lambda: _png(10, 10).replace(b"IHDR", b"IHDX"),
    "text that unpacks to 200 MB": lambda: _png(
        10, 10, _chunk(b"zTXt", b"k\0\0" + zlib.compress(bytes(200_000_000), 1))
    ),
    "another format": lambda: b"GIF89a" + bytes(100),
    "nothing": lambda: b"",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_pictures_are_refused(name: str, tmp_path: Path) -> None:
    """Damaged pictures and decompression bombs end in an error with the file's name."""
    path = tmp_path / "x.png"
    path.write_bytes(HOSTILE[name]())
    with pytest.raises(InputError, match=r"x\.png"):
        READER.picture(path)


def test_noise_is_not_outlined(tmp_path: Path) -> None:
    """A picture whose outlines would be endless is refused with advice."""
    path = saved(NOISE, tmp_path)
    with pytest.raises(InputError, match="as dots"):
        READER.trace(READER.picture(path), Tracing(), path)


def test_a_white_picture_has_no_outline(tmp_path: Path) -> None:
    """Nothing dark is an error, not an empty drawing."""
    path = saved(np.full((9, 9), 255, dtype=np.uint8), tmp_path)
    with pytest.raises(InputError, match="nothing in the picture"):
        READER.trace(READER.picture(path), Tracing(), path)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.integers(0, 400), byte=st.integers(0, 255), cut=st.integers(0, 400))
def test_damaged_bytes_give_a_picture_or_a_named_error(at: int, byte: int, cut: int, tmp_path: Path) -> None:
    """Whatever byte of a picture is changed and wherever it is cut, nothing else is raised."""
    good = saved(ring_levels(6, 3, 16), tmp_path).read_bytes()
    bad = bytearray(good)
    bad[at % len(bad)] = byte
    (tmp_path / "bad.png").write_bytes(bytes(bad[: len(bad) - cut % len(bad)]))
    try:
        READER.trace(READER.picture(tmp_path / "bad.png"), Tracing(), tmp_path / "bad.png")
    except InputError as error:
        assert "bad.png" in str(error)
