"""A region of the plane: one outline and its holes, with true arcs."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from shapely import Polygon

from nesting.geometry.contour import FLATTEN_MM, Contour


@dataclass(frozen=True)
class Region:
    """An outline and the holes in it.

    The outline runs counter-clockwise and the holes clockwise; the constructor turns them so.

    Raises
    ------
    ValueError
        If a contour is open, has no area, crosses itself, or a hole leaves the outline.

    Examples
    --------
    >>> washer = Region(Contour.circle(30), (Contour.circle(10),))
    >>> round(washer.area, 3)
    628.319
    >>> Region.rectangle(40, 20).bounds
    (0.0, 0.0, 40.0, 20.0)
    >>> Region.polygon([(0, 0), (1, 0)])
    Traceback (most recent call last):
    ValueError: an outline needs an area
    """

    outer: Contour
    holes: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        for contour in (self.outer, *self.holes):
            if not contour.closed:
                raise ValueError("an outline must be closed")
            if abs(contour.area) <= 1e-9:
                raise ValueError("an outline needs an area")
        object.__setattr__(self, "outer", self.outer if self.outer.area > 0 else self.outer.reversed())
        object.__setattr__(self, "holes", tuple(h if h.area < 0 else h.reversed() for h in self.holes))
        if not self.shape("on").is_valid:
            raise ValueError("an outline must not cross itself, and a hole must lie inside its outline")

    @classmethod
    def rectangle(cls, width: float, height: float, radius: float = 0.0) -> "Region":
        """Make a rectangle with its lower left corner at (0, 0); `radius` rounds its corners.

        >>> round(Region.rectangle(40, 20, radius=5).area, 4)
        778.5398
        """
        _positive(width=width, height=height)
        if not 0 <= radius <= min(width, height) / 2:
            raise ValueError(f"a corner radius of {radius:g} does not fit {width:g} x {height:g}")
        if radius == 0:
            return cls.polygon([(0, 0), (width, 0), (width, height), (0, height)])
        quarter, r = math.tan(math.pi / 8), radius
        corners = [
            (r, 0, 0.0), (width - r, 0, quarter), (width, r, 0.0), (width, height - r, quarter),
            (width - r, height, 0.0), (r, height, quarter), (0, height - r, 0.0), (0, r, quarter),
        ]  # fmt: skip
        kept = [v for k, v in enumerate(corners) if v[2] or v[:2] != corners[(k + 1) % 8][:2]]
        return cls(Contour(tuple(kept)))

    @classmethod
    def circle(cls, diameter: float) -> "Region":
        """Make a disc round (0, 0).

        >>> Region.circle(90).bounds
        (-45.0, -45.0, 45.0, 45.0)
        """
        _positive(diameter=diameter)
        return cls(Contour.circle(diameter))

    @classmethod
    def ellipse(cls, width: float, height: float) -> "Region":
        """Make an ellipse round (0, 0), as a polygon around it, nowhere more than 0.01 mm outside it.

        >>> 0 < Region.ellipse(60, 30).area / (math.pi * 30 * 15) - 1 < 0.001
        True
        """
        _positive(width=width, height=height)
        if width == height:
            return cls.circle(width)
        a, b = width / 2, height / 2
        tolerance = FLATTEN_MM / 2
        # the affine image of a polygon around the unit circle lies around the ellipse
        pieces = max(8, math.ceil(math.pi / math.acos(1 / (1 + tolerance / max(a, b)))))
        reach = 1 / math.cos(math.pi / pieces)
        angles = [2 * math.pi * (k + 0.5) / pieces for k in range(pieces)]
        return cls.polygon([(a * reach * math.cos(t), b * reach * math.sin(t)) for t in angles])

    @classmethod
    def polygon(
        cls, points: Iterable[Sequence[float]], holes: Iterable[Iterable[Sequence[float]]] = ()
    ) -> "Region":
        """Make a region with straight edges from its corner points (mm)."""
        corners = list(points)
        rings = [list(hole) for hole in holes]
        if len(corners) < 3 or any(len(ring) < 3 for ring in rings):
            raise ValueError("an outline needs an area")
        return cls(Contour.polyline(corners), tuple(Contour.polyline(ring) for ring in rings))

    @property
    def contours(self) -> tuple[Contour, ...]:
        """The holes, then the outline: the order in which they are cut."""
        return (*self.holes, self.outer)

    @property
    def area(self) -> float:
        """Area in mm², the holes left out, exact for arcs."""
        return math.fsum(contour.area for contour in self.contours)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """``(min x, min y, max x, max y)`` in mm, exact for arcs."""
        return self.outer.bounds

    @property
    def is_rectangle(self) -> bool:
        """Whether this is a rectangle with sides along the axes and no hole."""
        x0, y0, x1, y1 = self.bounds
        straight = not self.holes and not any(bulge for _, _, bulge in self.outer.vertices)
        return straight and math.isclose(self.area, (x1 - x0) * (y1 - y0), rel_tol=1e-12)

    @property
    def is_circle(self) -> bool:
        """Whether this is a disc without holes, wherever it lies."""
        x0, y0, x1, y1 = self.bounds
        square = math.isclose(x1 - x0, y1 - y0, rel_tol=1e-9)
        return (
            not self.holes and square and math.isclose(self.area, math.pi * (x1 - x0) ** 2 / 4, rel_tol=1e-9)
        )

    def moved(self, x: float = 0.0, y: float = 0.0, turn: float = 0.0) -> "Region":
        """Turn by `turn` degrees counter-clockwise round (0, 0), then shift by (x, y)."""
        return Region(self.outer.moved(x, y, turn), tuple(hole.moved(x, y, turn) for hole in self.holes))

    def mirrored(self) -> "Region":
        """Mirror in the y axis."""
        return Region(self.outer.mirrored(), tuple(hole.mirrored() for hole in self.holes))

    def shape(
        self, side: Literal["on", "outer", "inner"] = "outer", tolerance: float = FLATTEN_MM
    ) -> Polygon:
        """Flatten to a shapely polygon.

        ``"outer"`` contains the region, ``"inner"`` lies in it, ``"on"`` has its points on the arcs;
        none is further away than `tolerance` mm.
        """
        # a hole runs clockwise, so the outside of its arcs is already the region's outside
        rings = [contour.flattened(tolerance, side) for contour in (self.outer, *self.holes)]
        return Polygon(rings[0], rings[1:])


def _positive(**lengths: float) -> None:
    for name, value in lengths.items():
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be a length above 0, not {value!r}")
