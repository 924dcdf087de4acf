"""How a head may move: accelerations, limits of its axes, and what it keeps of its speed at a corner."""

import math
from dataclasses import dataclass

JUNCTION_DEVIATION_MM = 0.05
"""How far a corner taken without a stop may be thought rounded; a usual setting, no source."""

PerAxis = tuple[float, float]
"""A limit of the x axis and one of the y axis."""


@dataclass(frozen=True)
class Kinematics:
    """Limits of motion; mm/s and mm/s².

    Attributes
    ----------
    acceleration
        The most in any direction, along the path as across it.
    axis_speeds, axis_accelerations
        The most of each axis, if that is limited: a slanting move may be faster than either.
    junction_deviation
        A corner is taken at the speed at which an arc that strays so many mm from it could be.
    velocity_jump
        Where it is not None it stands in for the deviation: the velocity changes by no more than
        this at a corner, in mm/s and as a vector.
    """

    acceleration: float = 3000.0
    axis_speeds: PerAxis | None = None
    axis_accelerations: PerAxis | None = None
    junction_deviation: float = JUNCTION_DEVIATION_MM
    velocity_jump: float | None = None

    @property
    def uniform(self) -> bool:
        """Whether all directions are alike."""
        return self.axis_speeds is None and self.axis_accelerations is None

    def most(self, speed: float) -> tuple[float, float]:
        """Give the speed, up to `speed`, and the acceleration that no direction exceeds.

        >>> Kinematics(5000, axis_speeds=(300, 400), axis_accelerations=(3000, 4000)).most(900)
        (500.0, 5000)
        """
        fastest = math.hypot(*self.axis_speeds) if self.axis_speeds else math.inf
        briskest = math.hypot(*self.axis_accelerations) if self.axis_accelerations else math.inf
        return min(speed, fastest), min(self.acceleration, briskest)
