"""The job document: what is written, in TOML or JSON, before files are read and names are looked up."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, Strict

from nesting.body.lens import DepthRule
from nesting.job.fields import (
    Coordinate,
    Count,
    Distance,
    FilePath,
    IsoDate,
    Length,
    Name,
    Spares,
    Text,
    Turn,
)
from nesting.job.job import (
    MOST_INCIDENCE_DEG,
    Align,
    AlignUp,
    Corner,
    Dither,
    Fit,
    HatchPattern,
    InLoad,
    OptionValue,
)

LengthUnit = Literal["mm", "cm", "m", "in", "ft", "pt", "px"]
Speed = Annotated[float, Strict(), Field(gt=0, le=20_000)]
Acceleration = Annotated[float, Strict(), Field(gt=0, le=200_000)]
Pause = Annotated[float, Strict(), Field(ge=0, le=600)]
Money = Annotated[float, Strict(), Field(ge=0, le=1e9)]
Percent = Annotated[float, Strict(), Field(gt=0, le=100)]


class Written(BaseModel):
    """Base of every table of the document: no unknown keys, no infinities, no changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class ShapeDocument(Written):
    """Base of the shapes; `x`, `y` shift what is drawn."""

    x: Coordinate = Field(0.0, description="shift to the right")
    y: Coordinate = Field(0.0, description="shift up")


class RectangleDocument(ShapeDocument):
    """A rectangle, its lower left corner at (0, 0)."""

    shape: Literal["rectangle"]
    width: Length = Field(description="width")
    height: Length = Field(description="height")
    radius: Distance = Field(0.0, description="radius of its rounded corners")


class CircleDocument(ShapeDocument):
    """A disc round (0, 0)."""

    shape: Literal["circle"]
    diameter: Length = Field(description="diameter")


class EllipseDocument(ShapeDocument):
    """An ellipse round (0, 0)."""

    shape: Literal["ellipse"]
    width: Length = Field(description="width")
    height: Length = Field(description="height")


class PolygonDocument(ShapeDocument):
    """Straight edges from point to point, closed by itself."""

    shape: Literal["polygon"]
    points: Annotated[
        tuple[tuple[Coordinate, Coordinate], ...],
        Field(min_length=3, max_length=20_000, description="corners [x, y]"),
    ]


class FileShapeDocument(ShapeDocument):
    """The closed lines of a drawing in true size, its lower left corner moved to (0, 0)."""

    shape: Literal["file"]
    file: FilePath = Field(description="drawing, a path from the job's folder")
    unit: LengthUnit | None = Field(None, description="unit of a drawing that does not say its own")


class InsetDocument(Written):
    """The footprint, made smaller all round."""

    shape: Literal["footprint"]
    inset: Distance = Field(0.0, description="distance from the footprint's edge")


Shape = Annotated[
    RectangleDocument | CircleDocument | EllipseDocument | PolygonDocument | FileShapeDocument,
    Field(discriminator="shape"),
]
ShapeList = Annotated[tuple[Shape, ...], Field(max_length=1000)]
MarkArea = Annotated[
    RectangleDocument
    | CircleDocument
    | EllipseDocument
    | PolygonDocument
    | FileShapeDocument
    | InsetDocument,
    Field(discriminator="shape"),
]


class AttachmentDocument(Written):
    """A handle or a rim that widens a body."""

    outline: Shape = Field(description="its outline from above, in the body's coordinates")
    bottom: Distance = Field(0.0, description="height above the bed of its lowest part")


class BodyDocument(Written):
    """Base of the bodies: x along the axis from 0 at the left end, y 0 on the axis."""

    attachments: Annotated[tuple[AttachmentDocument, ...], Field(max_length=20)] = Field(
        (), description="handles and rims that widen it"
    )
    pocket_width: Length | None = Field(
        None, description="width of a pocket on whose edges it lies; left out: it lies on the bed"
    )


class TurnedDocument(BodyDocument):
    """Base of the bodies of revolution that lie on their side."""

    shim: Distance | Literal["level"] = Field(
        0.0, description='what lies under its small end; "level" makes the crown level'
    )


class CylinderDocument(TurnedDocument):
    """A straight cylinder."""

    shape: Literal["cylinder"]
    diameter: Length = Field(description="diameter")
    length: Length = Field(description="length along the axis")


class TaperedDocument(TurnedDocument):
    """A frustum, its small end on the left."""

    shape: Literal["tapered"]
    small_diameter: Length = Field(description="diameter of the left end")
    large_diameter: Length = Field(description="diameter of the right end")
    length: Length = Field(description="length along the axis")


class SteppedDocument(TurnedDocument):
    """A body of revolution of several pieces."""

    shape: Literal["stepped"]
    profile: Annotated[
        tuple[tuple[Distance, Length], ...],
        Field(min_length=2, max_length=200, description="stations [position, diameter], the first at 0"),
    ]


class SphereDocument(BodyDocument):
    """A sphere round (0, 0)."""

    shape: Literal["sphere"]
    diameter: Length = Field(description="diameter")


BodyShape = Annotated[
    CylinderDocument | TaperedDocument | SteppedDocument | SphereDocument, Field(discriminator="shape")
]


class BedDocument(Written):
    """The area that the machine reaches."""

    width: Length = Field(description="width of the bed")
    height: Length = Field(description="depth of the bed, front to back")


class LensDocument(Written):
    """The focusing lens and the beam that meets it."""

    focal_length: Length = Field(description="focal length of the lens")
    beam_diameter: Length = Field(description="diameter of the beam at the lens, where irradiance is 1/e²")
    wavelength: Length = Field("0.0106 mm", description="wavelength of the beam")
    beam_quality: Annotated[float, Strict(), Field(ge=1, le=100)] = Field(
        1.0, description="beam propagation ratio M², 1 for an ideal beam"
    )
    depth_rule: DepthRule = Field(
        "rayleigh",
        description="definition of the depth of focus: the spot grows by the root of two, by 10 % or by 5 %",
    )


class AxisSpeedsDocument(Written):
    """A speed of each axis."""

    x: Speed = Field(description="along the bed's width, in mm/s")
    y: Speed = Field(description="along the bed's height, in mm/s")


class AxisAccelerationsDocument(Written):
    """An acceleration of each axis."""

    x: Acceleration = Field(description="along the bed's width, in mm/s²")
    y: Acceleration = Field(description="along the bed's height, in mm/s²")


class RefocusDocument(Written):
    """A machine that can focus at several heights in one load."""

    seconds: Pause = Field(0.0, description="how long it takes to focus at another height")
    range: Distance = Field(
        description="how far the heights of blanks in one load may be apart, the head clear of the highest"
    )


class MachineDocument(Written):
    """The machine; speeds in mm/s and the acceleration in mm/s², whatever the job's unit."""

    bed: BedDocument = Field(description="size of the bed")
    origin: Corner = Field("front left", description="corner of the bed where the head waits")
    travel_speed: Speed = Field(400.0, description="beam-off speed in mm/s")
    cut_speed: Speed = Field(15.0, description="cutting speed in mm/s")
    acceleration: Acceleration = Field(3000.0, description="acceleration in mm/s²")
    axis_speeds: AxisSpeedsDocument | None = Field(None, description="the most speed of each axis")
    axis_accelerations: AxisAccelerationsDocument | None = Field(
        None, description="the most acceleration of each axis"
    )
    junction_deviation: Length | None = Field(
        None, description="how far a corner may be thought rounded that is taken without a stop"
    )
    velocity_jump: Speed | None = Field(
        None, description="how much the velocity may change at a corner, in mm/s, instead of a deviation"
    )
    kerf: dict[Name, Distance] = Field(description="width that the beam removes, by stock material")
    lens: LensDocument | None = Field(None, description="lens and beam, for the depth of focus")
    beam_on_delay: Pause = Field(0.0, description="seconds the head stands where the beam goes on")
    beam_off_delay: Pause = Field(0.0, description="seconds the head stands where the beam goes off")
    pierce_time: Pause = Field(0.0, description="seconds the beam stands before a cut begins")
    lead_in: Distance = Field(0.0, description="length of the first stretch of a cut, in the waste")
    heat_distance: Distance = Field(0.0, description="cuts nearer than this are neighbours")
    heat_time: Pause = Field(0.0, description="seconds in which no neighbour of a cut is cut")
    thin_web: Distance = Field(0.0, description="contours that leave thinner webs are cut last")
    refocus: RefocusDocument | None = Field(
        None, description="how it refocuses within a load; left out: it cannot"
    )


class MarkSettingDocument(Written):
    """How the beam marks; the speed is in mm/s, whatever the job's unit."""

    name: Name = Field(description="name of the setting")
    speed: Speed = Field(300.0, description="marking speed in mm/s")
    interval: Length = Field(0.1, description="distance between two sweeps of a fill")
    power: Percent | None = Field(None, description="power in %")
    passes: Annotated[int, Strict(), Field(ge=1, le=100)] = Field(1, description="how often it is repeated")


class StockDocument(Written):
    """Sheets of one kind."""

    name: Name = Field(description="name of the stock")
    outline: Shape = Field(description="outline of a sheet, often a rectangle")
    thickness: Length = Field(description="thickness of the sheet")
    material: Name = Field(description="what it is made of")
    quantity: Count | None = Field(None, description="sheets at hand; left out: as many as it takes")
    margin: Distance = Field(0.0, description="clear distance to the sheet's edge")
    keep_outs: ShapeList = Field((), description="areas that stay free")
    cost: Money | None = Field(None, description="cost of a sheet")
    cut_out: Annotated[bool, Strict()] = Field(
        default=False, description="whether the sheet itself is cut out of a larger board, last"
    )


class BlankDocument(Written):
    """A kind of blank, seen from above as it lies in its pocket at turn 0."""

    name: Name = Field(description="name of the blank")
    footprint: Shape | None = Field(None, description="outline of a flat blank seen from above")
    body: BodyShape | None = Field(
        None, description="shape of a blank that is not flat, instead of a footprint"
    )
    holes: ShapeList = Field((), description="holes through it, in the footprint's coordinates")
    height: Distance | None = Field(
        None, description="height of a flat blank's marked face above the bed; a body has its own"
    )
    gap: Distance = Field(0.0, description="clear distance to any other blank")
    clearance: Distance = Field(0.3, description="play per side between blank and pocket")
    notch: Distance = Field(
        0.0, description="diameter of two finger notches in the pocket's edge, where there is room; 0: none"
    )
    notch_reserved: Annotated[bool, Strict()] = Field(
        default=False, description="leave room for both notches in the layout"
    )
    corner_relief: Distance = Field(
        0.0, description="diameter of discs cut out at the corners of a flat blank; 0: none"
    )
    turns: Annotated[tuple[Turn, ...], Field(min_length=1, max_length=360)] = Field(
        (0, 90), description="allowed turns in degrees, counter-clockwise"
    )
    mark_area: MarkArea = Field(
        InsetDocument(shape="footprint", inset="1 mm"), description="where on the blank artwork may go"
    )
    setting: Name = Field(description="name of the mark setting")
    material: Name | None = Field(None, description="what the blank is made of")
    finish: Name | None = Field(None, description="what its surface is like, for same_in_load")
    most_incidence: Annotated[float, Strict(), Field(gt=0, le=75)] = Field(
        MOST_INCIDENCE_DEG,
        description="degrees between beam and surface normal, beyond which artwork on a body is warned of "
        "and wrapped artwork does not reach",
    )


class TextDocument(Written):
    """A text to be written, the same on every unit or from a column of the order list."""

    column: Name | None = Field(None, description="column of the order list, or key of texts, that holds it")
    words: Name | None = Field(None, description="the text, where it is the same on every unit")
    font: Name = Field("round", description="name of a packaged font, or a font file in the job's folder")
    size: Length = Field("10 mm", description="height of the capitals")
    smallest: Length = Field("1 mm", description="capitals are never made smaller")
    lines: Annotated[int, Strict(), Field(ge=1, le=20)] = Field(
        1, description="so many lines it may be wrapped into"
    )
    align: Align = Field("centre", description="how the lines lie to each other")
    spacing: Annotated[float, Strict(), Field(ge=1, le=5)] = Field(
        1.6, description="distance of the baselines, in heights of the capitals"
    )


class RasterDocument(Written):
    """How a picture of pixels is marked: its outlines filled, or row by row as dots."""

    how: Literal["outlines", "dots"] = Field("outlines", description="trace outlines, or sweep dots")
    ppi: Annotated[float, Strict(), Field(ge=1, le=100_000)] | None = Field(
        None, description="pixels per inch; left out: what the file says"
    )
    threshold: Annotated[float, Strict(), Field(gt=0, lt=1)] | None = Field(
        None, description="what is darker is marked, 0 white to 1 black; left out: by Otsu's method"
    )
    smooth: Distance = Field(0.0, description="outlines may be straightened by this, for outlines")
    speck: Annotated[float, Strict(), Field(ge=0, le=10_000)] = Field(
        0.0, description="spots and holes of fewer mm² are dropped, for outlines"
    )
    dither: Dither = Field("diffusion", description="how greys become dots, for dots")
    inverted: Annotated[bool, Strict()] = Field(default=False, description="mark what is light instead")


class HatchDocument(Written):
    """How areas are filled."""

    pattern: HatchPattern = Field("lines", description="parallel lines, or rings along the edges")
    angle: Turn | None = Field(
        None, description="direction of the lines in degrees, counter-clockwise; left out: 0 or 90"
    )
    interval: Length | None = Field(None, description="their distance; left out: the mark setting's")


class MarginsDocument(Written):
    """Clear distance to the extent of the mark area."""

    left: Distance = Field(0.0, description="on the left")
    below: Distance = Field(0.0, description="below")
    right: Distance = Field(0.0, description="on the right")
    above: Distance = Field(0.0, description="above")


class AroundDocument(Written):
    """Copies round a circle, the first one on top."""

    count: Annotated[int, Strict(), Field(ge=2, le=360)] = Field(description="how many")
    radius: Length = Field(description="from the centre to the middle of each, before it is fitted")


class ArtworkDocument(Written):
    """What is marked, from a file or as a text, and how it is fitted into a mark area."""

    name: Name = Field(description="name of the artwork")
    file: FilePath | None = Field(None, description="drawing or picture, a path from the job's folder")
    unit: LengthUnit | None = Field(None, description="unit of a drawing that does not say its own")
    strokes: Literal["lines", "outlines"] = Field(
        "lines", description="a drawing's lines: followed by the beam, or as areas as wide as they are drawn"
    )
    fonts: Annotated[dict[Name, Name], Field(max_length=100)] = Field(
        {}, description="fonts of a drawing's texts, packaged or files, by the family that the drawing names"
    )
    text: TextDocument | None = Field(None, description="a text, in place of a file")
    raster: RasterDocument = Field(RasterDocument(), description="how a picture of pixels is marked")
    fit: Fit = Field("inside", description="rule that gives it its size; fill covers the area and cuts off")
    width: Length | None = Field(None, description='width it gets, for fit = "size" or "shrink"')
    height: Length | None = Field(None, description='height it gets, for fit = "size" or "shrink"')
    inset: Distance = Field(0.0, description="clear distance to the mark area's edge")
    margins: MarginsDocument = Field(
        MarginsDocument(), description="clear distance to the mark area's extent, side by side"
    )
    turn: Turn = Field(0.0, description="turn on the blank in degrees, counter-clockwise")
    align_x: Align = Field("centre", description="where in the mark area, left to right")
    align_y: AlignUp = Field("middle", description="where in the mark area, bottom to top")
    offset: tuple[Coordinate, Coordinate] = Field(
        (0.0, 0.0), description="how far it is moved from there, right and up"
    )
    mirrored: Annotated[bool, Strict()] = Field(default=False, description="swap left and right of it")
    around: AroundDocument | None = Field(None, description="copies round a circle")
    hatch: HatchDocument = Field(HatchDocument(), description="how its areas are filled")
    wrap: Annotated[bool, Strict()] = Field(
        default=False, description="keep its measures along the surface of a body, not as seen from above"
    )


class OrderDocument(Written):
    """So many units of one blank."""

    line: Name | None = Field(None, description="name of the order line; left out: its number")
    blank: Name = Field(description="name of a blank")
    quantity: Count = Field(description="how many units")
    artwork: Name | None = Field(
        None, description="name of an artwork, or a drawing's path; several with ' + ' between them"
    )
    texts: dict[Name, Text] = Field(default_factory=dict, description="further columns, for the run sheet")
    due: IsoDate | None = Field(None, description="date it is due")
    priority: Annotated[int, Strict(), Field(ge=1, le=9)] = Field(5, description="1 goes first, 9 last")
    customer: Name | None = Field(None, description="who ordered it, for same_in_load")
    spares: Spares = Field(0, description='units made beyond the quantity: a number, or a share as in "3 %"')


class ColumnsDocument(Written):
    """Which column of the order list holds what, where it is not the key's own name."""

    line: Name = "line"
    blank: Name = "blank"
    quantity: Name = "quantity"
    artwork: Name = "artwork"
    due: Name = "due"
    priority: Name = "priority"
    customer: Name = "customer"
    spares: Name = "spares"


class OrderListDocument(Written):
    """A file with one order line a row; columns without a meaning of their own become texts."""

    file: FilePath = Field(description="order list, a path from the job's folder")
    columns: ColumnsDocument = Field(ColumnsDocument(), description="names of its columns")
    decimal: Literal[".", ","] | None = Field(
        None, description="decimal sign of its numbers; the other one may then stand between thousands"
    )
    reading: dict[Name, OptionValue] = Field(
        default_factory=dict, description="options of the reader, such as encoding, separator or worksheet"
    )


class SheetMarksDocument(Written):
    """Marks on each sheet: numbers and arrows beside the pockets, two fiducials, a registration corner."""

    setting: Name = Field(description="name of the mark setting")
    size: Length = Field("4 mm", description="height of the numbers; made smaller where there is less room")
    font: Name = Field("round", description="packaged font, or font file, of single lines")


class CostsDocument(Written):
    """What work costs besides the stock, in one currency; with this table the least cost is planned for."""

    sheet: Money = Field(0.0, description="setting up one sheet to cut, besides the stock's own cost")
    cutting_minute: Money = Field(0.0, description="a minute of cutting, besides what the machine costs")
    load: Money = Field(0.0, description="changing the blanks for one load")
    machine_minute: Money = Field(
        0.0, description="a minute of the machine, whether it cuts, marks or travels"
    )


class JobDocument(Written):
    """Everything a plan is made from."""

    title: Name = Field(description="title of the job")
    unit: LengthUnit = Field("mm", description="unit of lengths without one")
    sheet_use: Literal["reload", "once"] = Field(
        "reload", description="whether a sheet is loaded again and again, or every unit gets its own pocket"
    )
    web: Distance = Field("3 mm", description="least material between two pockets")
    overhang: Distance | None = Field(
        None,
        description="how far silhouettes of bodies may reach beyond a rectangular sheet's edge, while their "
        "pockets keep the margin; left out: all of a blank keeps it",
    )
    same_in_load: Annotated[tuple[InLoad, ...], Field(max_length=3)] = Field(
        (), description="what all units of a load must share, besides being in focus together"
    )
    costs: CostsDocument | None = Field(None, description="what work costs")
    acknowledged_materials: tuple[Name, ...] = Field((), description="unlisted materials known to be safe")
    machine: MachineDocument = Field(description="the machine")
    settings: Annotated[tuple[MarkSettingDocument, ...], Field(min_length=1, max_length=1000)] = Field(
        description="mark settings"
    )
    stock: Annotated[tuple[StockDocument, ...], Field(min_length=1, max_length=1000)] = Field(
        description="sheets at hand"
    )
    blanks: Annotated[tuple[BlankDocument, ...], Field(min_length=1, max_length=1000)] = Field(
        description="kinds of blank"
    )
    artworks: Annotated[tuple[ArtworkDocument, ...], Field(max_length=10_000)] = Field(
        (), description="drawings to mark"
    )
    orders: Annotated[tuple[OrderDocument, ...], Field(max_length=100_000)] = Field(
        (), description="order lines"
    )
    order_list: OrderListDocument | None = Field(None, description="file with further order lines")
    rack: FilePath | None = Field(
        None, description="rack of sheets that are kept from earlier plans, a path from the job's folder"
    )
    sheet_marks: SheetMarksDocument | None = Field(None, description="what is marked on the sheets")
    output: dict[Name, dict[Name, OptionValue]] = Field(
        default_factory=dict, description="options of plan writers, by the writer's name"
    )
