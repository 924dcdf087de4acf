"""Figures of a frustum that lies on the bed along its side, in closed form.

Symbols: radii R1 > R2, axial length L, taper per side α = atan((R1 - R2) / L), u the distance along the
contact with the bed from the small rim. At height t the section is a parabola with straight ends,
y² = 2 t (R2 / cos α + u tan α) - t² (1 - tan² α). Derived by hand, and checked by bisection.
"""

import math
from dataclasses import dataclass

from nesting.body.body import Turned


@dataclass(frozen=True)
class Frustum:
    """A frustum on the bed; lengths in mm, angles in degrees.

    Examples
    --------
    >>> cup = Frustum(45, 35, 200)
    >>> round(cup.section_area(6), 6), round(cup.level_shim, 6)
    (8437.445497, 19.975047)
    """

    large: float
    small: float
    length: float

    @classmethod
    def of(cls, body: Turned) -> "Frustum":
        """Take the figures of a plain body."""
        (_, first), (length, last) = body.profile
        return cls(max(first, last), min(first, last), length)

    @property
    def taper(self) -> float:
        """Taper per side."""
        return math.degrees(self._alpha)

    @property
    def slant(self) -> float:
        """Length of its side."""
        return self.length / math.cos(self._alpha)

    @property
    def plan_length(self) -> float:
        """Length of its silhouette."""
        return self.length * math.cos(self._alpha) + (self.large + self.small) * math.sin(self._alpha)

    @property
    def crown_slope(self) -> float:
        """Slope of its crown: twice the taper."""
        return 2 * self.taper

    @property
    def level_shim(self) -> float:
        """What raises the small end until the crown is level: 2 (R1 - R2) cos α."""
        return 2 * (self.large - self.small) * math.cos(self._alpha)

    @property
    def development(self) -> tuple[float, float, float]:
        """Its side laid flat: inner radius, outer radius and angle of a sector (none for a cylinder)."""
        sine = math.sin(self._alpha)
        return self.small / sine, self.large / sine, 360 * sine

    def half_width(self, along: float, height: float) -> float:
        """Half the width of the section at a height, `along` mm from the small rim."""
        return math.sqrt(self._rise(height) * along + self._base(height))

    def section_area(self, height: float) -> float:
        """Area of the section at a height: (4 / 3B) [(A + B u1)^1.5 - (A + B u0)^1.5]."""
        tan = math.tan(self._alpha)
        start, end = -height * tan, self.slant - height * tan
        base, rise = self._base(height), self._rise(height)
        if rise < 1e-9:
            return 2 * math.sqrt(base) * (end - start)
        return float(4 / (3 * rise) * ((base + rise * end) ** 1.5 - (base + rise * start) ** 1.5))

    def shadow_length(self, height: float) -> float:
        """Length of the shadow of everything below a height: G + t tan α."""
        return self.slant + height * math.tan(self._alpha)

    def top(self, along: float, across: float = 0.0) -> float:
        """Height of its upper surface, `along` mm from the small rim and `across` mm from the axis.

        >>> round(Frustum(45, 35, 200).top(200.249844 / 2, 10), 6)
        79.032211
        """
        square = math.tan(self._alpha) ** 2
        if square == 0:
            return self.large + math.sqrt(self.large**2 - across**2)
        x = along + self.small / math.sin(self._alpha)
        root = math.sqrt(x * x * square - (1 - square) * across**2)
        return (x * math.tan(self._alpha) + root) / (1 - square)

    def crown_end(self, radius: float) -> float:
        """Height of the upper end of the rim of this radius: 2 R cos α above the bed."""
        return 2 * radius * math.cos(self._alpha)

    def crown_in_focus(self, depth: float) -> float:
        """Length of the crown that lies in a depth of focus: Z / tan 2α (without end for a cylinder)."""
        return depth / math.tan(2 * self._alpha) if self._alpha else math.inf

    @property
    def _alpha(self) -> float:
        return math.atan2(self.large - self.small, self.length)

    def _rise(self, height: float) -> float:
        return 2 * height * math.tan(self._alpha)

    def _base(self, height: float) -> float:
        tan = math.tan(self._alpha)
        return 2 * height * self.small / math.cos(self._alpha) - height**2 * (1 - tan**2)
