"""A body as it is laid into a pocket: its outlines, its pose and the heights of its upper surface."""

from dataclasses import dataclass
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.body.body import Body, Pose, Sphere
from nesting.body.rest import rest
from nesting.body.seat import joined, seat, silhouette
from nesting.body.surface import top
from nesting.geometry.region import Region

Floats = NDArray[np.float64]

_SAMPLES = 60


@dataclass(frozen=True)
class Attachment:
    """A handle or a rim: its outline from above, in the body's coordinates, and its height above the bed."""

    outline: Region
    bottom: float = 0.0


@dataclass(frozen=True)
class Solid:
    """A body, how it is laid, and what is attached to it.

    Attributes
    ----------
    body
        The body.
    pocket_width
        Width of a pocket on whose edges it lies, in mm; None lets it down onto the bed.
    shim
        What lies under its small end, in mm.
    attachments
        What is added to its silhouette, and to its seat where it reaches below the sheet's face.

    Examples
    --------
    >>> from nesting.body.body import Turned
    >>> cup = Solid(Turned.tapered(70, 90, 200))
    >>> [round(side, 1) for side in cup.outline(6).bounds]
    [-0.0, -45.0, 203.8, 45.0]
    """

    body: Body
    pocket_width: float | None = None
    shim: float = 0.0
    attachments: tuple[Attachment, ...] = ()

    def pose(self, thickness: float) -> Pose:
        """Find how it lies in a sheet so thick.

        Raises
        ------
        nesting.body.rest.NotSeatedError
            If it does not come to rest.
        """
        return rest(self.body, thickness, self.pocket_width, self.shim)

    def outline(self, thickness: float) -> Region:
        """Give its silhouette from above."""
        return _outline(self, thickness)

    def seat(self, thickness: float) -> Region | None:
        """Give the outline that it needs in a sheet so thick; None if it lies above the sheet's face."""
        return _seat(self, thickness)

    def top(self, x: Floats, y: Floats, thickness: float) -> Floats:
        """Measure the height of its upper surface above the bed; NaN beside the body."""
        return top(self.body, self.pose(thickness), x, y)

    def heights(self, area: Region, thickness: float) -> Floats:
        """Measure its upper surface on an even grid over an area."""
        places = grid_over(area)
        found = self.top(places[:, 0], places[:, 1], thickness)
        return np.asarray(found[~np.isnan(found)])


@cache
def _outline(solid: Solid, thickness: float) -> Region:
    outline = silhouette(solid.body, solid.pose(thickness))
    return _with(outline, [part.outline for part in solid.attachments])


@cache
def _seat(solid: Solid, thickness: float) -> Region | None:
    low = [part.outline for part in solid.attachments if part.bottom < thickness]
    found = seat(solid.body, solid.pose(thickness), thickness)
    if found is None:
        return None
    if solid.pocket_width is not None:
        x0, _, x1, _ = found.bounds
        ball = isinstance(solid.body, Sphere)
        found = Region.circle(solid.pocket_width) if ball else _slot(x0, x1, solid.pocket_width)
    return _with(found, low)


def _slot(x0: float, x1: float, width: float) -> Region:
    return Region.rectangle(x1 - x0, width).moved(x0, -width / 2)


def _with(outline: Region, others: list[Region]) -> Region:
    if not others:
        return outline
    return joined([region.shape("outer") for region in (outline, *others)])


@cache
def grid_over(area: Region) -> Floats:
    """Spread places evenly over an area, its edge included: shape (n, 2)."""
    x0, y0, x1, y1 = area.bounds
    columns, rows = np.meshgrid(np.linspace(x0, x1, _SAMPLES + 1), np.linspace(y0, y1, _SAMPLES + 1))
    polygon = area.shape("on")
    shapely.prepare(polygon)
    inside = shapely.intersects_xy(polygon, columns.ravel(), rows.ravel())
    edge = area.outer.flattened()
    return np.concatenate([np.column_stack([columns.ravel()[inside], rows.ravel()[inside]]), edge])
