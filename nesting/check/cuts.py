"""The check of cut paths: inner before outer, thin webs late, lead-ins in the waste, heat spread."""

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely

from nesting.check.clock import cut_seconds, travel_seconds
from nesting.check.paths import Key, check_path
from nesting.check.report import Findings
from nesting.check.solids import chain
from nesting.check.stretch import Stretch, stretch_of
from nesting.geometry.contour import Contour
from nesting.job.job import Machine, Stock
from nesting.plan_values import CutSheet, Times

OUTLINE = 0
"""What stands for a pocket's number in the steps that cut out the sheet."""

_SLACK_MM = 0.05
"""Curves are cut into chords here and there."""

_ROOM_MM = 0.01


def check_cut_path(
    sheet: CutSheet, stock: Stock, machine: Machine, origin: complex, findings: Findings
) -> None:
    """Check the cut path of a sheet."""
    place = f"sheet {sheet.name}, cut path"
    contours = {(pocket.number, k): c for pocket in sheet.pockets for k, c in enumerate(pocket.path)}
    contours |= {(OUTLINE, k): contour for k, contour in enumerate(sheet.outline_path)}
    _check_outline(sheet, stock, machine, findings)
    stretches = {key: stretch_of(contour) for key, contour in contours.items()}
    leads = {(s.pocket, s.part): complex(*s.lead) for s in sheet.cut_path.steps if s.lead is not None}
    led = {key: replace(stretch, lead=leads.get(key)) for key, stretch in stretches.items()}
    if check_path(sheet.cut_path, led, origin, machine, place, findings, numbered=stretches):
        rules = _Rules(sheet, contours, led, machine, place, findings)
        rules.check_inner_first()
        rules.check_leads()
        rules.check_thin_webs_last(stock)
        rules.check_heat(origin)
        rules.check_seconds(sheet.cut_path.times)


def _check_outline(sheet: CutSheet, stock: Stock, machine: Machine, findings: Findings) -> None:
    """Check that a sheet is cut out where its stock says so, half a kerf outside its outline."""
    place = f"sheet {sheet.name}, outline"
    if bool(sheet.outline_path) != stock.cut_out:
        found = "cut out" if sheet.outline_path else "not cut out"
        findings.add("path", place, f"the sheet is {found}; its stock says otherwise")
    half = machine.kerf.get(stock.material, 0.0) / 2
    edge = shapely.Polygon(chain(stock.region.outer))
    for contour in sheet.outline_path:
        ring = shapely.Polygon(chain(contour))
        apart = shapely.hausdorff_distance(ring.exterior, edge.exterior, 0.05)
        wide = half * 1.5 + _SLACK_MM  # a corner lies up to 1.42 times as far out
        if not ring.buffer(_ROOM_MM).covers(edge) or ring.exterior.distance(edge.exterior) < half - _ROOM_MM:
            findings.add("kerf", place, "the beam cuts into the sheet; keep half a kerf outside")
        elif apart > wide:
            findings.add("kerf", place, f"up to {apart:.3f} mm outside the sheet; allowed: half a kerf")


class _Rules:
    """The rules of one cut path whose steps are sound."""

    def __init__(
        self,
        sheet: CutSheet,
        contours: Mapping[Key, Contour],
        stretches: Mapping[Key, Stretch],
        machine: Machine,
        place: str,
        findings: Findings,
    ) -> None:
        self._steps, self._machine = sheet.cut_path.steps, machine
        self._place, self._findings = place, findings
        self._keys = [(step.pocket, step.part) for step in self._steps]
        self._contours = [contours[key] for key in self._keys]
        self._stretches = [stretches[key] for key in self._keys]
        self._lines = [_line(contour) for contour in self._contours]
        self._areas = {k: shapely.Polygon(chain(c)) for k, c in enumerate(self._contours) if c.closed}
        self._inside = self._contained()

    def _contained(self) -> list[tuple[int, int]]:
        """Pair the steps whose contour lies inside another's with that one."""
        rings = list(self._areas)
        if not rings:
            return []
        areas = [self._areas[k] for k in rings]
        inner, outer = shapely.STRtree(areas).query([area.representative_point() for area in areas], "within")
        pairs = [(rings[i], rings[o]) for i, o in zip(inner.tolist(), outer.tolist(), strict=True) if i != o]
        return [(i, o) for i, o in pairs if self._areas[o].contains(self._areas[i])]

    def _add(self, step: int, message: str) -> None:
        pocket, part = self._keys[step]
        self._findings.add("path", f"{self._place}, pocket {pocket}, part {part}", message)

    def check_inner_first(self) -> None:
        """Check that what lies inside a contour is cut before it."""
        for i, o in self._inside:
            if i > o:
                self._add(i, f"lies inside pocket {self._keys[o][0]}, part {self._keys[o][1]}; cut it first")

    def check_leads(self) -> None:
        """Check that lead-ins lie in what falls out, and run to where the cut begins."""
        for k, step in enumerate(self._steps):
            if step.lead is None:
                continue
            if k not in self._areas:
                self._add(k, "an open line has no waste; leave out its lead-in")
                continue
            on = self._stretches[k].vertices[step.start]
            way = shapely.LineString([step.lead, (on.real, on.imag)])
            inner = [self._areas[i] for i, o in self._inside if o == k]
            area = self._areas[k].buffer(_ROOM_MM)
            outside = step.pocket == OUTLINE
            clear = not way.intersects(self._areas[k].buffer(-_ROOM_MM)) if outside else area.covers(way)
            if not clear or any(way.intersects(hole) for hole in inner):
                self._add(k, "its lead-in leaves the waste; begin it inside")

    def check_thin_webs_last(self, stock: Stock) -> None:
        """Check that what leaves a thin web is cut after all that does not."""
        web = self._machine.thin_web
        if web <= 0:
            return
        edges = [_line(ring) for ring in stock.region.contours]
        own = [k for k in range(len(self._keys)) if self._keys[k][0] != OUTLINE]
        thin = set()
        for k in own:
            others = [self._lines[i] for i in own if i != k] + edges
            if min((self._lines[k].distance(other) for other in others), default=web) < web - _SLACK_MM:
                thin.add(k)
        late = thin | {o for i, o in self._inside if i in thin}
        first = min(thin, default=len(self._keys))
        for k in own:
            nearest = [self._lines[k].distance(o) for o in [self._lines[i] for i in own if i != k] + edges]
            if k > first and k not in late and min(nearest, default=math.inf) > web + _SLACK_MM:
                self._add(k, f"cut after a web of less than {web:g} mm; cut it before")

    def check_heat(self, origin: complex) -> None:
        """Check that neighbours have time to cool, by what travel, cuts at full speed and waits take."""
        near, cool = self._machine.heat_distance, self._machine.heat_time
        if near <= 0 or cool <= 0:
            return
        begins, ends, now, here = [], [], 0.0, origin
        for stretch, step in zip(self._stretches, self._steps, strict=True):
            on, off = stretch.ends(step)
            now += travel_seconds(on - here, self._machine) + step.wait
            begins.append(now)
            now += stretch.run_length(step) / self._machine.cut_speed + self._machine.cut_dwell
            ends.append(now)
            here = off
        for later in range(len(begins)):
            for k in range(later):
                # corners are taken more slowly than at full speed, so a little more time goes by
                slack = 0.02 * cool + 0.05 * (later - k)
                short = begins[later] - ends[k] < cool - slack
                if short and self._lines[k].distance(self._lines[later]) < near - _SLACK_MM:
                    self._add(later, f"cut too soon after pocket {self._keys[k][0]}; wait {cool:g} s")

    def check_seconds(self, times: Times) -> None:
        """Check the time that cutting takes, by integration; a plan of an older version states none."""
        if not times.total:
            return
        cuts = zip(self._contours, self._stretches, self._steps, strict=True)
        found = math.fsum(cut_seconds(c, step.start, s.lead, self._machine) for c, s, step in cuts)
        if not abs(times.cut - found) <= 0.01 * found + 0.05:
            message = f"cutting is stated to take {times.cut:.2f} s; it takes {found:.2f} s"
            self._findings.add("number", self._place, message)


def _line(contour: Contour) -> shapely.LineString:
    points = chain(contour)
    return shapely.LineString(np.vstack([points, points[:1]]) if contour.closed else points)
