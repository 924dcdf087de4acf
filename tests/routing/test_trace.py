"""Traces lead round what they say, with the time of moves from corner to corner."""

import pytest

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Machine
from nesting.motion.profile import move_time
from nesting.plan_values import Filling, Marking, Part, Placed, Pocket, Trace, Unit
from nesting.routing.trace import marks_trace, outline_trace

MACHINE = Machine(600, 400)


def test_outline() -> None:
    """The trace of a sheet begins at the corner nearest to the origin and comes back to it."""
    trace = outline_trace(Region.rectangle(300, 200), MACHINE, (300.0, 0.0))
    assert trace.points == ((300.0, 0.0), (300.0, 200.0), (0.0, 200.0), (0.0, 0.0))
    times = [move_time(length, 400, 3000) for length in (300, 200, 300, 200)]
    assert trace.seconds == pytest.approx(sum(times))


def test_marks() -> None:
    """The trace of a load is the rectangle round all its marks, on turned blanks too, arcs exactly."""
    disc = Marking("disc", "b", (Placed("art", 1, 0, 0, 0, (Part("line", (Contour.circle(10, 20, 0),)),)),))
    pockets = {
        1: Pocket(1, "b", 100, 50, 0, Region.rectangle(1, 1), ()),
        2: Pocket(2, "b", 200, 60, 90, Region.rectangle(1, 1), ()),
    }
    fillings = [Filling(1, Unit("a", 1), "disc"), Filling(2, Unit("a", 2), "disc")]
    trace = marks_trace(fillings, pockets, {"disc": disc}, MACHINE, (0.0, 0.0))
    corners = [(115, 45), (205, 45), (205, 85), (115, 85)]
    assert [pytest.approx(corner) for corner in corners] == list(trace.points)
    assert marks_trace([Filling(1, Unit("a", 1), None)], pockets, {}, MACHINE, (0.0, 0.0)) == Trace()
