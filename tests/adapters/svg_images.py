# ruff: noqa: E501 -- a drawing is easier to follow on one line
"""Drawings with pictures inside them, each thing alone and several together; twice as wide as high."""

import base64
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.adapters.svg_drawings import PAGE

Levels = NDArray[np.uint8]


def badge(columns: int = 240, rows: int = 160) -> Levels:
    """Draw a dark ring and a dark wedge, unlike in every direction, anti-aliased."""
    fine = 4
    y, x = np.mgrid[0 : rows * fine, 0 : columns * fine] / fine
    radius = np.hypot(x - rows / 2, y - rows / 2) / rows
    ring = (radius < 0.42) & (radius > 0.22)
    wedge = (x > 0.72 * columns) & (y > 0.1 * rows) & (y < 0.9 * rows) & (x - 0.72 * columns < y / 4)
    dark = (ring | wedge).reshape(rows, fine, columns, fine).mean(axis=(1, 3))
    return np.asarray((255 * (1 - dark)).round(), dtype=np.uint8)


def shades(columns: int = 120, rows: int = 80) -> Levels:
    """Draw soft greys, unlike in every direction."""
    y, x = np.mgrid[0:rows, 0:columns] / (rows, columns)[1]
    return np.asarray((40 + 120 * x + 80 * np.sin(5 * y * (1 + x))).clip(0, 255), dtype=np.uint8)


def link(pixels: Levels, kind: str = "PNG", mode: str | None = None, **more: object) -> str:
    """Write a picture as a link that holds it."""
    buffer = BytesIO()
    Image.fromarray(pixels, mode).save(buffer, kind, **more)
    return f"data:image/{kind.lower()};base64,{base64.b64encode(buffer.getvalue()).decode()}"


def _oriented(turn: int) -> object:
    exif = Image.Exif()
    exif[0x0112] = turn  # the tag "Orientation" of Exif 2.3
    return exif


B, S = link(badge()), link(shades())
SEE_THROUGH = link(np.dstack([np.zeros_like(badge())] * 3 + [255 - badge()]))
LINES = "\n".join(B[k : k + 76] for k in range(0, len(B), 76))
ESCAPED = B.replace("+", "%2B").replace("=", "%3D")

OUTLINES = {
    "plain": f'<image x="4" y="2" width="24" height="16" href="{B}"/>',
    "no_size": f'<g transform="scale(.12)"><image x="10" y="5" href="{B}"/></g>',
    "width_only": f'<image x="5" y="2" width="21" href="{B}"/>',
    "height_only": f'<image x="5" y="2" height="15" xlink:href="{B}"/>',
    "percent": f'<image x="10%" y="20%" width="75%" height="60%" href="{B}"/>',
    "fit_mid": f'<image x="2" y="2" width="36" height="12" href="{B}"/>',
    "fit_min": f'<image x="2" y="2" width="36" height="12" preserveAspectRatio="xMinYMin" href="{B}"/>',
    "fit_max": f'<image x="2" y="1" width="14" height="18" preserveAspectRatio="xMidYMax meet" href="{B}"/>',
    "stretched": f'<image x="2" y="2" width="36" height="9" preserveAspectRatio="none" href="{B}"/>',
    "slice_mid": f'<image x="2" y="6" width="36" height="8" preserveAspectRatio="xMidYMid slice" href="{B}"/>',
    "slice_max": f'<image x="8" y="2" width="9" height="16" preserveAspectRatio="xMaxYMid slice" href="{B}"/>',
    "turned": f'<image x="8" y="4" width="18" height="12" transform="rotate(25 18 10)" href="{B}"/>',
    "skewed": f'<image x="2" y="2" width="20" height="15" transform="skewX(30)" href="{B}"/>',
    "mirrored": f'<image x="-36" y="3" width="21" height="14" transform="scale(-1 1)" href="{B}"/>',
    "copies": f'<defs><image id="i" width="12" height="8" href="{B}"/></defs><use href="#i" x="2" y="2"/>'
    '<use href="#i" x="20" y="3" transform="rotate(10 26 10)"/>',
    "in_symbol": f'<symbol id="s" viewBox="0 0 10 10"><image width="14" height="10" href="{B}"/></symbol>'
    '<use href="#s" x="4" y="2" width="16" height="16"/>',
    "nested": f'<svg x="6" y="3" width="20" height="10"><image x="-4" y="-3" width="24" height="16" href="{B}"/></svg>',
    "clipped": f'<clipPath id="c"><circle cx="13" cy="9" r="6"/></clipPath><image x="4" y="2" width="24" height="16" '
    f'clip-path="url(#c)" href="{B}"/>',
    "clipped_group": '<clipPath id="c"><path d="M2 1H38L20 19Z"/></clipPath><g clip-path="url(#c)" transform="rotate(-8 20 10)">'
    f'<image x="4" y="2" width="24" height="16" href="{B}"/></g>',
    "seen_through": f'<image x="4" y="2" width="24" height="16" href="{SEE_THROUGH}"/>',
    "with_shapes": f'<circle cx="32" cy="6" r="4"/><image x="3" y="3" width="18" height="12" href="{B}"/><rect x="1" y="17" width="37" height="2"/>',
    "hidden": f'<image width="40" height="20" visibility="hidden" href="{B}"/><g display="none"><image href="{B}"/></g>'
    '<rect x="3" y="3" width="9" height="9"/>',
    "no_width": f'<image width="0" height="9" href="{B}"/><rect x="3" y="3" width="9" height="9"/>',
    "link_in_lines": f'<image x="4" y="2" width="24" height="16" href="\n{LINES}\n"/>',
    "link_escaped": f'<image x="4" y="2" width="24" height="16" href="{ESCAPED}"/>',
    "bitmap": f'<image x="4" y="2" width="24" height="16" href="{link(badge(), "BMP")}"/>',
}  # fmt: skip
"""Of two tones, for their outlines."""

GREYS = {
    "greys": f'<image x="4" y="2" width="24" height="16" href="{S}"/>',
    "greys_jpeg": f'<image x="4" y="2" width="24" height="16" href="{link(shades(), "JPEG", quality=95)}"/>',
    "greys_jpeg_turned_by_camera": f'<image x="14" y="2" width="12" height="16" href="{link(shades(), "JPEG", exif=_oriented(6))}"/>',
    "greys_turned": f'<image x="8" y="4" width="18" height="12" transform="rotate(25 18 10)" href="{S}"/>',
    "greys_mirrored_skewed": f'<image x="2" y="2" width="20" height="14" transform="matrix(-1 0 .4 1 32 0)" href="{S}"/>',
    "greys_stretched": f'<image x="2" y="2" width="36" height="9" preserveAspectRatio="none" href="{S}"/>',
    "greys_slice": f'<image x="2" y="6" width="36" height="8" preserveAspectRatio="xMidYMin slice" href="{S}"/>',
    "greys_faded": f'<g opacity=".8"><image x="4" y="2" width="24" height="16" opacity="50%" href="{S}"/></g>',
    "greys_clipped": '<clipPath id="c"><path d="M5 3H30L16 18Z"/></clipPath><image x="4" y="2" width="24" height="16" '
    f'clip-path="url(#c)" href="{S}"/>',
    "greys_on_greys": f'<image x="2" y="2" width="24" height="16" href="{S}"/><image x="15" y="5" width="18" height="12" '
    f'transform="rotate(9 24 11)" href="{S}"/>',
    "greys_of_colours": f'<image x="4" y="2" width="24" height="16" href="{link(np.dstack([shades(), shades()[::-1], shades()[:, ::-1]]))}"/>',
    "greys_under_shape": f'<image x="4" y="2" width="24" height="16" href="{S}"/><path fill="black" d="M10 0h9v12h-9z"/>',
}  # fmt: skip
"""Of many tones, for dots."""

OUTLINES = {name: f"{PAGE}{body}</svg>" for name, body in OUTLINES.items()}
GREYS = {name: f"{PAGE}{body}</svg>" for name, body in GREYS.items()}
