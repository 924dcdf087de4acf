"""Writes pockets and units as features in the manner of GeoJSON (RFC 7946), in millimetres.

Programs that read GeoJSON read the shapes; the standard's own coordinates are degrees on the globe, these
are millimetres on the sheet, y pointing up, as the foreign member "units" says. Arcs are lines, no further
than the tolerance away.
"""

import json
from collections.abc import Iterable
from typing import Annotated, Any, ClassVar

from pydantic import Field, Strict

from nesting.geometry.contour import Contour
from nesting.geometry.region import Region
from nesting.job.job import Stock
from nesting.plan_values import CutSheet, Load, Plan
from nesting.plug_in_options import WithOptions
from nesting_adapters.memory import Memory
from nesting_adapters.plan_lookup import Lookup, Place, load_name

Feature = dict[str, Any]


class GeoJsonWriter(WithOptions):
    """One file of pockets a sheet, one file of units a load."""

    summary: ClassVar[str] = (
        "sheet-A-pockets.geojson and load-01-units.geojson: shapes in mm with their names"
    )

    tolerance: Annotated[float, Strict(), Field(ge=0.0005, le=1)] = Field(
        0.01, description="distance in mm between an arc and its lines"
    )

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make the files."""
        lookup = Lookup(plan)
        sheets = {
            f"sheet-{sheet.name}-pockets.geojson": self._sheet(lookup.stock[sheet.stock], sheet)
            for sheet in plan.all_sheets
        }
        shapes: Memory[Feature] = Memory()
        loads = {f"{load_name(load)}-units.geojson": self._load(lookup, load, shapes) for load in plan.loads}
        return {name: _text(features) for name, features in (sheets | loads).items()}

    def _sheet(self, stock: Stock, sheet: CutSheet) -> list[Feature]:
        pockets = [
            _feature(
                self._shape(pocket.outline),
                role="pocket", sheet=sheet.name, pocket=pocket.number, blank=pocket.blank,
                x=pocket.x, y=pocket.y, turn=pocket.turn,
            )
            for pocket in sheet.pockets
        ]  # fmt: skip
        keep_outs = [
            _feature(self._shape(area), role="keep-out", sheet=sheet.name) for area in stock.keep_outs
        ]
        outline = _feature(self._shape(stock.region), role="sheet", sheet=sheet.name, stock=stock.name)
        marks = [
            _feature(
                self._lines(mark.lines),
                role="sheet mark",
                sheet=sheet.name,
                kind=mark.kind,
                pocket=mark.pocket,
            )
            for mark in sheet.marks
        ]
        return [outline, *keep_outs, *pockets, *marks]

    def _load(self, lookup: Lookup, load: Load, shapes: Memory[Feature]) -> list[Feature]:
        return [self._unit(place, shapes) for place in lookup.places(load)]

    def _unit(self, place: Place, shapes: Memory[Feature]) -> Feature:
        pocket, order = place.pocket, place.order
        footprint, at = place.blank.footprint, (pocket.x, pocket.y, pocket.turn)
        shape = shapes.once((footprint, at), lambda: self._shape(footprint.moved(*at)))
        return _feature(
            shape,
            role="unit", load=place.load.number, sheet=place.sheet.name, pocket=pocket.number,
            blank=place.blank.name, line=order.name, unit=place.filling.unit.number,
            marking=place.filling.marking, texts=order.texts, setting=place.setting.name,
            focus_height=place.load.focus_of(place.filling), x=pocket.x, y=pocket.y, turn=pocket.turn,
        )  # fmt: skip

    def _shape(self, region: Region) -> Feature:
        rings = [self._ring(contour) for contour in (region.outer, *region.holes)]
        return {"type": "Polygon", "coordinates": rings}

    def _lines(self, lines: Iterable[Contour]) -> Feature:
        drawn = [
            self._ring(line) if line.closed else line.flattened(self.tolerance).round(4).tolist()
            for line in lines
        ]
        return {"type": "MultiLineString", "coordinates": drawn}

    def _ring(self, contour: Contour) -> list[list[float]]:
        points = contour.flattened(self.tolerance).round(4).tolist()
        return [*points, points[0]]


def _feature(shape: Feature, **properties: object) -> Feature:
    return {"type": "Feature", "properties": properties, "geometry": shape}


def _text(features: Iterable[Feature]) -> bytes:
    lines = ",\n".join(json.dumps(feature, ensure_ascii=False) for feature in features)
    return f'{{"type": "FeatureCollection", "units": "mm", "features": [\n{lines}\n]}}\n'.encode()
