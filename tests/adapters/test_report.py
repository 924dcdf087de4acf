"""The report and the run sheet, read back with a parser of the standard library."""

import math
import re
from base64 import b64encode
from dataclasses import dataclass, field, replace
from hashlib import sha256
from html.parser import HTMLParser
from importlib.resources import files

import pytest
from shapely import Point
from svg.path import Line, parse_path

from nesting.plan_values import Cost, Plan, Step
from nesting_adapters.report import HtmlReportWriter
from nesting_adapters.report.writer import plan_key
from tests.adapters.written_plan import many_units, renamed_plan, small_plan
from tests.plans import hand_made_plan

PAGES = ("report.html", "run-sheet.html")
VOID = {"meta", "input", "br", "link", "img"}
HOSTILE = "\"'><script>alert(1)</script>{{ 7 * 7 }}</style><img src=x onerror=y>"


@dataclass
class Element:
    """An element of a page: its name, attributes, children and the text right inside it."""

    tag: str
    attributes: dict[str, str]
    children: list["Element"] = field(default_factory=list)
    text: str = ""

    def all(self, tag: str, **attributes: str) -> list["Element"]:
        found = [e for child in self.children for e in child.all(tag, **attributes)]
        wanted = {name.rstrip("_"): value for name, value in attributes.items()}
        here = self.tag == tag and all(self.attributes.get(k) == v for k, v in wanted.items())
        return [self, *found] if here else found

    def words(self) -> str:
        return " ".join(" ".join([self.text, *(child.words() for child in self.children)]).split())


class Reader(HTMLParser):
    """Builds the tree and refuses tags that do not match."""

    def __init__(self) -> None:
        super().__init__()
        self.open = [Element("", {})]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].children.append(Element(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop().tag == tag

    def handle_data(self, data: str) -> None:
        self.open[-1].children.append(Element("#text", {}, text=data))


def _pages(plan: Plan) -> dict[str, str]:
    return {name: content.decode("utf-8") for name, content in HtmlReportWriter().files(plan).items()}


def _read(page: str) -> Element:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert len(reader.open) == 1
    return reader.open[0]


def _tree(name: str, plan: Plan | None = None) -> Element:
    return _read(_pages(plan or small_plan())[name])


def _section(page: Element, name: str) -> Element:
    return page.all("section", id=name)[0]


@pytest.mark.parametrize("name", PAGES)
def test_every_unit_is_in_the_table_of_its_load(name: str) -> None:
    """Each load's table has one row a unit with pocket, blank, order line, texts, turn, focus and setting."""
    plan, page = small_plan(), _tree(name)
    settings = {blank.name: blank.setting for blank in plan.job.blanks}
    for load in plan.loads:
        rows = _section(page, f"load-{load.number}").all("tbody")[0].all("tr")
        assert len(rows) == len(load.fillings)
        for row, filling in zip(rows, load.fillings, strict=True):
            pocket, order = plan.sheet(load.sheet).pockets[filling.pocket - 1], plan.order(filling.unit.line)
            words = row.words()
            assert row.all("td", class_="pocket-number")[0].words() == str(pocket.number)
            assert f"{filling.unit.line}, unit {filling.unit.number}" in words
            expected = [pocket.blank, f"{pocket.turn:g}°", f"{load.focus_height:g} mm", *order.texts.values()]
            expected += [settings[pocket.blank]] if filling.marking else ["nothing to mark"]
            assert [text for text in expected if " ".join(text.split()) not in words] == []


@pytest.mark.parametrize("name", PAGES)
def test_every_unit_has_a_box_to_tick(name: str) -> None:
    """Each unit can be ticked, on paper and on screen; the run sheet has boxes for its sheets too."""
    plan, page = small_plan(), _tree(name)
    for load in plan.loads:
        boxes = _section(page, f"load-{load.number}").all("input", class_="tick")
        labels = [f"Pocket {filling.pocket} done" for filling in load.fillings]
        assert [box.attributes["aria-label"] for box in boxes] == labels
    sheets = [b for b in page.all("input") if b.attributes.get("aria-label") == "Sheet A cut"]
    assert len(sheets) == (1 if name == "run-sheet.html" else 0)
    ticks = [box.attributes["data-tick"] for box in page.all("input") if "data-tick" in box.attributes]
    assert len(set(ticks)) == len(ticks)


def test_every_pocket_is_numbered_on_its_sheet_and_in_each_load() -> None:
    """The drawings carry the number of every pocket, filled or not."""
    plan, page = small_plan(), _tree("report.html")
    numbers = [str(pocket.number) for pocket in plan.sheets[0].pockets]
    for section in ("sheet-1", "load-1", "load-2"):
        drawing = _section(page, section).all("svg", class_="drawing")[0]
        assert [text.words() for text in drawing.all("text", class_="number")] == numbers


@pytest.mark.parametrize("name", PAGES)
def test_warnings_and_unplaced_units_come_first(name: str) -> None:
    """What the operator must know stands before everything else in the page's main part."""
    plan, page = small_plan(), _tree(name)
    first = page.all("main")[0].all("section")[0]
    assert first.attributes["id"] == "warnings"
    assert "4 units of order line O-3" in first.words()
    assert all(warning in first.words() for warning in plan.warnings)
    calm = _tree(name, replace(plan, warnings=(), unplaced=()))
    assert calm.all("section", id="warnings") == []


@pytest.mark.parametrize("name", PAGES)
def test_the_cautions_are_on_both_pages(name: str) -> None:
    """Fire, chlorine, fume, unknown materials, vessels and test pieces are spoken of, standards named."""
    words = _section(_tree(name), "cautions").words()
    topics = ("extinguisher", "PVC", "hydrogen chloride", "ABS", "Acrylic", "MDF", "data sheet", "vessels",
              "test piece", "local codes", "licensed practice", "interlock")  # fmt: skip
    standards = ("IEC 60825-1:2014", "ANSI Z136.1", "ISO 11553-1:2020", "NFPA 115")
    assert [topic for topic in (*topics, *standards) if topic not in words] == []


@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_fetched(name: str) -> None:
    """No address of another machine, and a policy that allows its one script alone (W3C CSP level 3)."""
    page = _tree(name)
    everything = [e for tag in ("link", "img", "iframe", "object") for e in page.all(tag)]
    assert everything == []
    assert [script.attributes for script in page.all("script")] == [{"type": "module"}]
    addresses = re.findall(r'(?:href|src)="([^"]*)"|url\(([^)]*)\)|@import', _pages(small_plan())[name])
    assert {a or b for a, b in addresses if not (a or b).startswith("#")} <= {"run-sheet.html", "report.html"}
    policy = [m.attributes["content"] for m in page.all("meta") if m.attributes.get("http-equiv")]
    script = re.findall(r'<script type="module">(.*?)</script>', _pages(small_plan())[name], re.S)
    digest = b64encode(sha256(script[0].encode()).digest()).decode()
    assert policy == [f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"]


@pytest.mark.parametrize("name", PAGES)
def test_hostile_names_stay_text(name: str) -> None:
    """Titles, texts and warnings that look like markup or a template are shown as they are."""
    page = _tree(name, renamed_plan(HOSTILE))
    assert len(page.all("script")) == 1 and page.all("img") == []
    assert "alert" not in page.all("script")[0].words()
    assert page.all("h1")[0].words() == f"Autumn fair{HOSTILE}"
    assert f"Ada{HOSTILE}" in page.words()
    assert not any(key.startswith("on") for key in _attribute_names(page))


def _attribute_names(element: Element) -> set[str]:
    return set(element.attributes).union(*map(_attribute_names, element.children))


@pytest.mark.parametrize("name", PAGES)
def test_the_page_can_be_read_aloud(name: str) -> None:
    """Language, one main heading, labelled drawings, captions and column headings are there (WCAG 2.2)."""
    page = _tree(name)
    assert page.all("html")[0].attributes["lang"] == "en"
    assert len(page.all("h1")) == 1
    drawings = [svg for svg in page.all("svg") if svg.attributes.get("aria-hidden") != "true"]
    assert drawings
    assert all(svg.attributes.get("role") == "img" and svg.attributes["aria-label"] for svg in drawings)
    assert all(table.all("caption") and table.all("th", scope="col") for table in page.all("table"))
    markup = re.sub(r"<script.*</script>", "", _pages(small_plan())[name], flags=re.S)
    ids = re.findall(r'\bid="([^"]*)"', markup)
    assert len(ids) == len(set(ids))
    links = re.findall(r'(?:href="#|aria-labelledby=")([^"]*)"', markup)
    assert set(links) <= set(ids)


def test_text_has_enough_contrast() -> None:
    """Each text colour has a ratio of 4.5 or more on every background (WCAG 2.2, success criterion 1.4.3)."""
    style = (files("nesting_adapters.report") / "templates" / "style.css").read_text(encoding="utf-8")
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", style))
    for text in ("ink", "soft", "deep", "alert"):
        for ground in ("#ffffff", colours["tint"], colours["alert-tint"], colours["wood"]):
            assert _contrast(colours[text], ground) >= 4.5


def _contrast(a: str, b: str) -> float:
    high, low = sorted((_luminance(a), _luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance, by the definition in WCAG 2.2."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_units_are_drawn_where_they_lie() -> None:
    """A unit's symbol, put through its transform, lies on its footprint, within what drawings simplify."""
    plan, page = small_plan(), _tree("report.html")
    blanks = {blank.name: blank for blank in plan.job.blanks}
    drawn = [
        g
        for g in _section(page, "load-1").all("svg", class_="drawing")[0].all("g")
        if "transform" in g.attributes
    ]
    assert len(drawn) == 4
    for group, pocket in zip(drawn, plan.sheets[0].pockets, strict=True):
        symbol = group.all("use")[0].attributes["href"].removeprefix("#")
        data = page.all("g", id=symbol)[0].all("path")[0].attributes["d"]
        outline = blanks[pocket.blank].footprint.moved(pocket.x, pocket.y, pocket.turn).shape("on").exterior
        for point in (segment.point(k / 4) for segment in parse_path(data) for k in range(4)):
            x, y = _transformed(point, group.attributes["transform"])
            assert outline.distance(Point(x, 200 - y)) < 0.06


def _transformed(point: complex, transform: str) -> tuple[float, float]:
    """Apply ``translate(x y) rotate(a)`` as the SVG standard defines them."""
    shift = re.search(r"translate\(([-\d.]+) ([-\d.]+)\)", transform)
    turn = re.search(r"rotate\(([-\d.]+)\)", transform)
    assert shift
    angle = math.radians(float(turn[1])) if turn else 0.0
    spun = point * complex(math.cos(angle), math.sin(angle))
    return spun.real + float(shift[1]), spun.imag + float(shift[2])


def test_the_way_drawn_is_as_long_as_the_plan_says() -> None:
    """The dashed way on a sheet, from the origin corner on, adds up to the cut path's travel."""
    plan = hand_made_plan()
    section = _section(_tree("report.html", plan), "sheet-1")
    legs = [
        leg
        for leg in parse_path(section.all("path", class_="travel")[0].attributes["d"])
        if isinstance(leg, Line)
    ]
    assert abs(legs[0].start - complex(0, 150)) < 0.01
    total = math.fsum(abs(leg.end - leg.start) for leg in legs)
    assert total == pytest.approx(plan.sheets[0].cut_path.travel, abs=0.05)


def test_the_player_runs_the_whole_path_in_the_time_the_plan_says() -> None:
    """Its visits follow the plan's steps, begin and end where they do, and take the plan's time in all."""
    plan = hand_made_plan()
    for section, path in (
        ("sheet-1", plan.sheets[0].cut_path),
        *((f"load-{load.number}", load.mark_path) for load in plan.loads),
    ):
        player = _section(_tree("report.html", plan), section).all("div", class_="player scripted")[0]
        visits = _visits(player)
        steps = list(dict.fromkeys(step.pocket for step in path.steps))
        assert [pockets for pockets, *_ in visits] == [[number] for number in steps]
        assert sum(sum(times) for _, times, _ in visits) == pytest.approx(path.seconds, abs=0.05)
        bounds = {pocket.number: pocket.outline.bounds for pocket in plan.sheets[0].pockets}
        for (number,), _, spots in visits:
            x0, y0, x1, y1 = bounds[number]
            assert all(x0 <= x <= x1 and y0 <= 150 - y <= y1 for x, y in spots)


def _visits(player: Element) -> list[tuple[list[int], list[float], list[tuple[float, float]]]]:
    """Pockets, seconds of travel, waiting and beam, and points of each visit."""
    found = []
    for visit in player.attributes["data-visits"].split(";"):
        pockets, *words = visit.split()
        figures = [float(word) for word in words]
        spots = list(zip(figures[3::2], figures[4::2], strict=True))
        found.append(([int(number) for number in pockets.split(",")], figures[:3], spots))
    return found


def test_the_player_begins_a_cut_at_its_lead_and_after_its_wait() -> None:
    """The first point of a cut is that of its lead, and its wait is shown as long as the plan has it."""
    plan = hand_made_plan()
    sheet = plan.sheets[0]
    first, *rest = sheet.cut_path.steps
    path = replace(sheet.cut_path, steps=(replace(first, lead=(50.0, 131.0), wait=4.5), *rest))
    page = _tree("report.html", replace(plan, sheets=(replace(sheet, cut_path=path),)))
    visits = _visits(_section(page, "sheet-1").all("div", class_="player scripted")[0])
    assert visits[0][2][0] == (50.0, 150 - 131.0)
    assert [times[1] for _, times, _ in visits] == [4.5, 0, 0, 0]
    assert sum(sum(times) for _, times, _ in visits) == pytest.approx(path.seconds, abs=0.05)


def test_the_player_sweeps_rows_across_the_units_that_share_them() -> None:
    """Fills swept together are one visit of both pockets, from end to end of each row, to and fro."""
    plan = hand_made_plan()
    load = plan.loads[0]
    steps = (Step(1, 0), Step(2, 0, joined=True), Step(1, 1), Step(2, 1), *load.mark_path.steps[4:])
    path = replace(load.mark_path, steps=steps)
    page = _tree("report.html", replace(plan, loads=(replace(load, mark_path=path), *plan.loads[1:])))
    visits = _visits(_section(page, "load-1").all("div", class_="player scripted")[0])
    assert [pockets for pockets, *_ in visits][:3] == [[1, 2], [1], [2]]
    ends = [(x, round(150 - y, 1)) for x, y in visits[0][2]]
    # 20 rows half a millimetre apart; the bar is 20 mm wide, and its neighbour begins 45 mm further right
    left, right = min(ends)[0], max(ends)[0]
    assert len(ends) == 40 and right - left == 65
    assert [x for x, _ in ends] == [left, right, right, left] * 10
    assert ends[0][1] == ends[1][1] and ends[2][1] == ends[3][1] != ends[0][1]


def test_two_plans_never_share_their_ticks() -> None:
    """The key under which a device keeps ticks differs as soon as anything in the plan does."""
    plan = small_plan()
    keys = {plan_key(plan), plan_key(replace(plan, seed=8)), plan_key(renamed_plan("!"))}
    assert len(keys) == 3 and plan_key(small_plan()) in keys


def test_a_marking_is_stored_once_and_used_by_every_unit() -> None:
    """Three coasters with one artwork refer to one symbol; an empty pocket and a plain unit refer to none."""
    page = _tree("report.html")
    first, second = (_section(page, f"load-{k}").all("svg", class_="drawing")[0] for k in (1, 2))
    uses = [use.attributes["href"] for use in first.all("use")]
    assert uses.count("#marking-1") == uses.count("#marking-2") == 2
    assert [use.attributes["href"] for use in second.all("use") if "marking" in use.attributes["href"]] == [
        "#marking-1", "#marking-2",
    ]  # fmt: skip
    assert len(second.all("use", class_="empty")) == 1


def test_the_bound_is_told_as_what_it_is() -> None:
    """A proven plan says so; one that is not says how many sheets it takes at least."""
    plan = small_plan()
    assert "proven: no plan cuts fewer" in _tree("report.html", plan).words()
    words = _tree("report.html", replace(plan, proven=False)).words()
    assert "no plan cuts fewer than 1" in words
    assert "proven" not in words
    assert plan.bound_reason in words


def test_limits_on_loads_and_cost_are_told() -> None:
    """What is proven of loads and cost is called so; otherwise the limit and its reason are given."""
    plan = replace(small_plan(), unplaced=(), loads_bound=2, loads_reason="of their number")
    words = _tree("report.html", replace(plan, cost=Cost(stock=8.0, loading=2.5, bound=10.5))).words()
    assert "proven: no plan has fewer on as few sheets" in words
    assert "Why no plan has fewer loads: of their number" in words
    assert "10.50" in words and "stock 8.00" in words and "proven: no plan costs less" in words
    open_ = replace(plan, loads_bound=1, cost=Cost(stock=8.0, bound=7.0, reason="the least there is"))
    words = _tree("report.html", open_).words()
    assert "no plan has fewer than 1 on as few sheets" in words
    assert "no plan costs less than 7.00, the least there is" in words


@pytest.mark.parametrize("name", PAGES)
def test_a_plan_that_places_nothing_still_has_its_pages(name: str) -> None:
    """Without sheets and loads the page says what is not placed."""
    plan = replace(small_plan(), sheets=(), loads=(), markings=(), unplaced=(("O-1", 3), ("O-2", 3)))
    assert "Not placed: 3 units of order line O-1." in _tree(name, plan).words()


def test_three_hundred_units_stay_small() -> None:
    """With an outline of its own for each of 300 units, every page stays below 2 MB."""
    pages = HtmlReportWriter().files(many_units())
    assert max(map(len, pages.values())) < 2_000_000
    words = _read(pages["report.html"].decode()).all("main")[0].words()
    assert len(set(re.findall(r", unit (\d+)", words))) == 300
