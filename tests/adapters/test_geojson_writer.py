"""Features in the manner of GeoJSON, read back by the standard library and shapely."""

import json
from typing import Any

import pytest
import shapely
from shapely.geometry import shape

from nesting.plug_in_options import with_options
from nesting_adapters.geojson_writer import GeoJsonWriter
from tests.adapters.written_plan import renamed_plan, small_plan, with_sheet_marks


def _features(name: str, role: str, **options: Any) -> list[dict[str, Any]]:
    files = with_options(GeoJsonWriter(), options, "output.geojson").files(small_plan())
    found = json.loads(files[name])
    assert (found["type"], found["units"]) == ("FeatureCollection", "mm")
    return [f for f in found["features"] if f["type"] == "Feature" and f["properties"]["role"] == role]


def test_pockets_are_polygons_that_equal_the_plans() -> None:
    """Each pocket's polygon lies within the tolerance of the plan's outline, under its own number."""
    found = _features("sheet-A-pockets.geojson", "pocket", tolerance=0.001)
    pockets = small_plan().sheets[0].pockets
    assert [f["properties"]["pocket"] for f in found] == [pocket.number for pocket in pockets]
    for feature, pocket in zip(found, pockets, strict=True):
        outline = pocket.outline.shape("on", 0.0001)
        assert shapely.hausdorff_distance(shape(feature["geometry"]), outline) < 0.0012
        assert feature["properties"]["x"] == pocket.x


def test_rings_follow_the_standard() -> None:
    """Rings are closed, the outer one runs counter-clockwise, holes clockwise (RFC 7946, section 3.1.6)."""
    for feature in _features("sheet-A-pockets.geojson", "pocket"):
        outer, *holes = feature["geometry"]["coordinates"]
        assert outer[0] == outer[-1] and shapely.LinearRing(outer).is_ccw
        assert not any(shapely.LinearRing(hole).is_ccw for hole in holes)


def test_units_lie_in_their_pockets() -> None:
    """Every unit of a load is there with its order line, and its footprint lies in its pocket."""
    plan = small_plan()
    pockets = {f["properties"]["pocket"]: f for f in _features("sheet-A-pockets.geojson", "pocket")}
    for load in plan.loads:
        units = _features(f"load-{load.number:02d}-units.geojson", "unit")
        found = [(u["properties"]["pocket"], u["properties"]["line"], u["properties"]["unit"]) for u in units]
        assert found == [(f.pocket, f.unit.line, f.unit.number) for f in load.fillings]
        for unit in units:
            pocket = shape(pockets[unit["properties"]["pocket"]]["geometry"])
            assert pocket.contains(shape(unit["geometry"]))


def test_marks_on_a_sheet_are_lines() -> None:
    """A ring is a closed line on its circle, an arrow's shaft a line of two points; each says what it is."""
    found = json.loads(GeoJsonWriter().files(with_sheet_marks())["sheet-A-pockets.geojson"])["features"]
    ring, arrow = (f for f in found if f["properties"]["role"] == "sheet mark")
    assert (ring["properties"]["kind"], arrow["properties"]["pocket"]) == ("fiducial", 1)
    assert arrow["geometry"]["coordinates"] == [[[45.0, 140.0], [45.0, 160.0]]]
    line = shape(ring["geometry"])
    assert line.is_closed
    assert shapely.hausdorff_distance(line, shapely.Point(6, 6).buffer(2, 256).exterior) < 0.02


def test_any_name_survives() -> None:
    """Quotes, line breaks and other alphabets in names come back as they were."""
    ending = '"\n\\ 名'
    files = GeoJsonWriter().files(renamed_plan(ending))
    unit = json.loads(files["load-01-units.geojson"])["features"][0]
    assert unit["properties"]["blank"] == f"coaster{ending}"


@pytest.mark.parametrize("tolerance", [0.002, 0.5])
def test_the_tolerance_sets_the_number_of_points(tolerance: float) -> None:
    """A circle's lines leave it by no more than the tolerance, and by a quarter of it at the least."""
    feature = _features("sheet-A-pockets.geojson", "pocket", tolerance=tolerance)[0]
    gap = (
        1 - shapely.LinearRing(feature["geometry"]["coordinates"][0]).distance(shapely.Point(45, 150)) / 30.25
    )
    assert tolerance / 4 < gap * 30.25 < tolerance + 1e-4
