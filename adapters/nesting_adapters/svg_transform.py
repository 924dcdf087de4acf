"""Affine maps of SVG: the transform attribute, viewBox and preserveAspectRatio."""

import math
import re
from typing import NamedTuple

from nesting_adapters.svg_values import has_more, numbers, shortened

MAX_FUNCTIONS = 100

_OPEN = re.compile(r"\(")
_FUNCTION = re.compile(r"\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)[\s,]*")
_ARGUMENTS = {
    "matrix": (6,),
    "translate": (1, 2),
    "scale": (1, 2),
    "rotate": (1, 3),
    "skewX": (1,),
    "skewY": (1,),
}
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
_ALIGN = re.compile(r"(?:defer\s+)?(?:(none)|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?")


class Matrix(NamedTuple):
    """The map x' = a x + c y + e, y' = b x + d y + f (the order of letters in SVG 2, section 8.5)."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    def after(self, first: "Matrix") -> "Matrix":
        """Do `first`, then this one."""
        a, b = self._turned(first.a, first.b)
        c, d = self._turned(first.c, first.d)
        e, f = self._turned(first.e, first.f)
        return Matrix(a, b, c, d, e + self.e, f + self.f)

    def point(self, at: complex) -> complex:
        """Map a point, given as x + iy."""
        x, y = self._turned(at.real, at.imag)
        return complex(x + self.e, y + self.f)

    def along(self, step: complex) -> complex:
        """Map a step, which is not shifted."""
        return complex(*self._turned(step.real, step.imag))

    def inverse(self) -> "Matrix":
        """Undo this map; its determinant is not 0."""
        k = self.determinant
        turned = Matrix(self.d / k, -self.b / k, -self.c / k, self.a / k)
        back = turned.point(complex(-self.e, -self.f))
        return turned._replace(e=back.real, f=back.imag)

    @property
    def determinant(self) -> float:
        """By how much areas grow; below 0 when the map mirrors."""
        return self.a * self.d - self.b * self.c

    @property
    def scale(self) -> float:
        """By how much lengths grow, on the mean."""
        return math.sqrt(abs(self.determinant))

    @property
    def is_similarity(self) -> bool:
        """Whether circles stay circles."""
        size = self.a**2 + self.b**2
        return math.isclose(size, self.c**2 + self.d**2, rel_tol=1e-6) and (
            abs(self.a * self.c + self.b * self.d) <= 1e-6 * size
        )

    def _turned(self, x: float, y: float) -> tuple[float, float]:
        return self.a * x + self.c * y, self.b * x + self.d * y


def transform(text: str) -> Matrix:
    """Read a list of transform functions; the rightmost acts first.

    >>> transform("translate(10 5) scale(2)").point(1 + 1j)
    (12+7j)
    """
    total, position = Matrix(), 0
    text = text.strip()
    if text == "none":
        return total
    if has_more(_OPEN, text, MAX_FUNCTIONS):
        raise ValueError(f"a transform of more than {MAX_FUNCTIONS} functions")
    while position < len(text):
        match = _FUNCTION.match(text, position)
        if match is None:
            raise ValueError(
                f"the transform {shortened(text[position:])} is not understood; "
                "allowed: matrix, translate, scale, rotate, skewX, skewY of plain numbers"
            )
        total = total.after(_function(match[1], numbers(match[2])))
        position = match.end()
    return total


def _function(name: str, values: list[float]) -> Matrix:
    if len(values) not in _ARGUMENTS[name]:
        allowed = " or ".join(map(str, _ARGUMENTS[name]))
        raise ValueError(f"{name}() has {len(values)} numbers; allowed: {allowed}")
    match name:
        case "matrix":
            return Matrix(*values)
        case "translate":
            return Matrix(e=values[0], f=values[1] if len(values) == 2 else 0.0)
        case "scale":
            return Matrix(a=values[0], d=values[-1])
        case "rotate":
            return _rotation(*values)
        case "skewX":
            return Matrix(c=math.tan(math.radians(values[0])))
        case _:
            return Matrix(b=math.tan(math.radians(values[0])))


def _rotation(angle: float, x: float = 0.0, y: float = 0.0) -> Matrix:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return Matrix(c, s, -s, c, x - c * x + s * y, y - s * x - c * y)


def view_box(text: str) -> tuple[float, float, float, float]:
    """Read ``min-x min-y width height``."""
    values = numbers(text)
    if len(values) != 4 or values[2] <= 0 or values[3] <= 0:
        raise ValueError(f"the viewBox {shortened(text)} must be four numbers, width and height above 0")
    return values[0], values[1], values[2], values[3]


def view_box_map(box: tuple[float, float, float, float], ratio: str, width: float, height: float) -> Matrix:
    """Map a viewBox into a viewport of `width` x `height` (SVG 2, section 8.2).

    >>> view_box_map((0, 0, 10, 10), "xMidYMid meet", 40, 20).point(0j)
    (10+0j)
    """
    match = _ALIGN.fullmatch(ratio.strip())
    if match is None:
        raise ValueError(f"preserveAspectRatio {shortened(ratio)} is not understood")
    across, up = width / box[2], height / box[3]
    if match[1]:
        return Matrix(a=across, d=up, e=-box[0] * across, f=-box[1] * up)
    k = max(across, up) if match[4] == "slice" else min(across, up)
    spare_x, spare_y = width - box[2] * k, height - box[3] * k
    return Matrix(
        k, 0, 0, k, spare_x * _SHARE[match[2]] - box[0] * k, spare_y * _SHARE[match[3]] - box[1] * k
    )
