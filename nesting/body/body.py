"""The shapes of blanks that are not flat: turned bodies and spheres, lying on their side."""

import math
from dataclasses import dataclass
from itertools import pairwise

Station = tuple[float, float]
"""Position along the axis and radius there, in mm."""


@dataclass(frozen=True)
class Turned:
    """A body of revolution: its radius along the axis, straight between the stations.

    Attributes
    ----------
    profile
        Stations in the order of their positions, the first at 0; two at one position are a step.

    Raises
    ------
    ValueError
        If positions go back, a radius is not above 0, or the body has no length.

    Examples
    --------
    >>> Turned.cylinder(75, 120).length
    120.0
    >>> round(Turned.tapered(70, 90, 200).taper, 6)
    2.862405
    """

    profile: tuple[Station, ...]

    def __post_init__(self) -> None:
        stations = tuple((float(at), float(radius)) for at, radius in self.profile)
        object.__setattr__(self, "profile", stations)
        if not all(math.isfinite(value) for station in stations for value in station):
            raise ValueError("stations must be finite numbers")
        if len(stations) < 2 or stations[0][0] != 0 or stations[-1][0] <= 0:
            raise ValueError("a profile needs two stations or more, the first at 0 and the last beyond it")
        if any(b[0] < a[0] for a, b in pairwise(stations)):
            raise ValueError("the positions of a profile must not go back")
        if any(radius <= 0 for _, radius in stations):
            raise ValueError("the diameters of a profile must be above 0")

    @classmethod
    def cylinder(cls, diameter: float, length: float) -> "Turned":
        """Make a straight cylinder."""
        return cls(((0.0, diameter / 2), (length, diameter / 2)))

    @classmethod
    def tapered(cls, small_diameter: float, large_diameter: float, length: float) -> "Turned":
        """Make a frustum, its small end at position 0; `length` is along the axis."""
        return cls(((0.0, small_diameter / 2), (length, large_diameter / 2)))

    @property
    def length(self) -> float:
        """Length along the axis."""
        return self.profile[-1][0]

    @property
    def taper(self) -> float:
        """Taper per side in degrees, from the first station to the last; above 0 if it widens."""
        (_, first), (length, last) = self.profile[0], self.profile[-1]
        return math.degrees(math.atan2(last - first, length))

    @property
    def pieces(self) -> list[tuple[Station, Station]]:
        """The frusta it consists of, steps left out."""
        return [(a, b) for a, b in pairwise(self.profile) if b[0] > a[0]]

    @property
    def is_plain(self) -> bool:
        """Whether it is one cylinder or one frustum."""
        return len(self.profile) == 2


@dataclass(frozen=True)
class Sphere:
    """A sphere.

    Raises
    ------
    ValueError
        If the radius is not above 0.
    """

    radius: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.radius) and self.radius > 0):
            raise ValueError(f"the radius must be a length above 0, not {self.radius!r}")


Body = Turned | Sphere


@dataclass(frozen=True)
class Pose:
    """How a body lies.

    Attributes
    ----------
    tilt
        Slope of its axis in degrees; above 0 if the far end is the higher one.
    axis
        Height above the bed of its axis at position 0, or of a sphere's middle, in mm.
    """

    tilt: float
    axis: float

    def height_at(self, position: float) -> float:
        """Height of the axis at a position along it."""
        return self.axis + position * math.sin(math.radians(self.tilt))


def left_of(body: Turned, pose: Pose) -> float:
    """Where the first station's middle lies, seen from above: x is 0 at the body's left end."""
    tilt = math.radians(pose.tilt)
    return -min(at * math.cos(tilt) - radius * abs(math.sin(tilt)) for at, radius in body.profile)
