"""Bodies from the job document to a checked plan, and faults made in them on purpose."""

from dataclasses import replace
from typing import Any

import pytest

from nesting.check import check_plan
from nesting.geometry.offset import offset
from nesting.geometry.region import Region
from nesting.job.load import job_from
from nesting.plan import make_plan
from nesting.plan_file import plan_from_json, plan_to_json
from nesting.plan_values import Plan, Pocket
from tests.faults import with_job, with_pocket
from tests.job.test_load import blank, refused, sheet, small

CUP = {"shape": "tapered", "small_diameter": 70, "large_diameter": 80, "length": 110}
AREA = {"shape": "rectangle", "width": 50, "height": 20, "x": 30, "y": -10}


def cup(**body: Any) -> dict[str, Any]:
    laid = {"gap": 2, "clearance": 0.3, "setting": "wood"}
    return {"name": "plate", "body": {**CUP, **body}, "mark_area": AREA, **laid}


BODIES: dict[str, dict[str, Any]] = {
    "can": {"shape": "cylinder", "diameter": 70, "length": 110},
    "can on its edges": {"shape": "cylinder", "diameter": 70, "length": 110, "pocket_width": 20},
    "bottle": {"shape": "stepped", "profile": [[0, 26], [30, 26], [50, 66], [110, 66]]},
    "barrel": {"shape": "stepped", "profile": [[0, 50], [10, 50], [10, 66], [100, 66], [110, 54]]},
    "ball": {"shape": "sphere", "diameter": 60},
    "ball on its edge": {"shape": "sphere", "diameter": 60, "pocket_width": 18},
}


@pytest.mark.parametrize("kind", BODIES)
def test_every_kind_of_body_is_sampled(kind: str) -> None:
    """A plan of each kind is sound, and a hole for it that is 0.1 mm too small on each side is found."""
    area = {"shape": "circle", "diameter": 6, "x": 0 if "ball" in kind else 80, "y": 0}
    body = {"name": "plate", "body": BODIES[kind], "mark_area": area, "setting": "wood", "clearance": 0.3}
    made = make_plan(job_from(small(blanks=[body], orders=[{"blank": "plate", "quantity": 1}])), effort=0.3)
    assert check_plan(made).ok, str(check_plan(made))

    def smaller(pocket: Pocket) -> Pocket:
        (inner,) = offset(pocket.outline, -0.1)
        return replace(pocket, outline=inner)

    assert "seat" in check_plan(with_pocket(made, smaller)).kinds


@pytest.fixture(scope="module", params=["on the bed", "on a shim", "on its edges", "with a handle"])
def plan(request: pytest.FixtureRequest) -> Plan:
    handle: dict[str, Any] = {
        "outline": {"shape": "rectangle", "width": 40, "height": 30, "x": 30, "y": 20},
        "bottom": 20,
    }
    bodies: dict[str, dict[str, Any]] = {
        "on the bed": {},
        "on a shim": {"shim": 3},
        "on its edges": {"pocket_width": 29},
        "with a handle": {"attachments": [handle]},
    }
    plate = {**blank(), "name": "flat", "gap": 1}
    orders = [{"blank": "plate", "quantity": 3}, {"blank": "flat", "quantity": 2}]
    return make_plan(job_from(small(blanks=[cup(**bodies[request.param]), plate], orders=orders)), effort=2)


def test_a_plan_with_bodies_is_sound(plan: Plan) -> None:
    """Silhouettes keep the gap, holes the web, and every seat is what samples of the solid give."""
    report = check_plan(plan)
    assert report.ok, str(report)
    assert not plan.unplaced
    assert plan_from_json(plan_to_json(plan)) == plan


def test_faults_in_bodies_are_named(plan: Plan) -> None:
    """A pocket, a silhouette, a height and a relief that are not the solid's are each found."""
    (body,) = (b for b in plan.job.blanks if b.solid)
    which = next(k for k, p in enumerate(plan.sheets[0].pockets) if p.blank == body.name)

    def changed(**changes: Any) -> Plan:
        return with_job(plan, blanks=tuple(replace(b, **changes) if b.solid else b for b in plan.job.blanks))

    def narrower(outline: Region) -> Region:
        x0, y0, x1, y1 = outline.bounds
        return Region.rectangle(x1 - x0, y1 - y0 - 0.2).moved(x0, y0 + 0.1)

    faults = [
        with_pocket(plan, lambda p: replace(p, outline=narrower(p.outline)), which),
        changed(footprint=Region.rectangle(112, 80).moved(0, -40)),
        changed(relief=body.relief + 1),
        changed(height=body.height + 5),
    ]
    for fault in faults:
        assert "seat" in check_plan(fault).kinds


def test_bodies_that_cannot_lie_so_are_refused() -> None:
    """What is wrong with a body is said at its place: too narrow a slot, two thicknesses, a second height."""
    narrow = refused(small(blanks=[cup(pocket_width=10)]))
    assert "lifts the small end off the bed" in narrow["blanks[0].body"]
    two = small(blanks=[cup(pocket_width=29)], stock=[sheet(), sheet(name="thick", thickness=5)])
    assert "one thickness" in refused(two)["blanks[0].body"]
    assert "drop it" in refused(small(blanks=[{**cup(), "height": 40}]))["blanks[0].height"]
    bare = {key: value for key, value in cup().items() if key != "body"}
    assert "a footprint, or a body" in refused(small(blanks=[bare]))["blanks[0].footprint"]
