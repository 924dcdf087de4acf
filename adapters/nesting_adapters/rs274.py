"""Writes cut and mark paths as RS-274/NGC programs (NISTIR 6556), for machines that read them.

What M3, M5 and S mean to a beam is each machine's convention, so they are options. In every travel and at
the end the beam is off: the word for it stands on a line of its own before the move (section 3.8 of the
standard lets spindle words act before the motion of their own line).
"""

import re
from collections.abc import Iterator
from functools import partial
from typing import Annotated, ClassVar

from pydantic import AfterValidator, Field, Strict, model_validator

from nesting.geometry.contour import Contour
from nesting.job.fields import refusal
from nesting.plan_values import CutSheet, Load, Plan, Trace
from nesting.plug_in_options import WithOptions
from nesting_adapters.memory import Memory
from nesting_adapters.plan_lookup import Lookup, heights_in_words, load_name
from nesting_adapters.plan_runs import MarkRun, cut_runs, mark_runs, sheet_mark_lines
from nesting_adapters.rs274_blocks import Motion, comment, numbered
from nesting_adapters.svg_path_data import number

PREAMBLE = "G21 G17 G90 G94 G40 G49 G80"
"""Millimetres, the XY plane, absolute places, feed a minute; no compensation, no canned cycle."""

ABOUT = (
    "The machine's own manual goes before this file: what M3, M5 and S mean to a beam is its maker's choice.",
    "Run it with the beam disabled first. Stay with the machine as long as its beam can fire.",
)

LONGEST_BLOCK = 240
_WORDS = re.compile(r"\s*(?:[A-Z]\s*[+-]?(?:\d+\.?\d*|\.\d+)\s*|\([^()]*\)\s*)+")


def _block(line: str) -> str:
    plain = line.isascii() and line.isprintable() and len(line) <= LONGEST_BLOCK
    if not plain or "%" in line:
        raise refusal(line, f"one line of ASCII without %, at most {LONGEST_BLOCK} characters")
    return line


def _words(line: str) -> str:
    if not _WORDS.fullmatch(_block(line)) or set("XYZABCIJKR") & set(re.sub(r"\([^()]*\)", "", line)):
        raise refusal(line, "words such as M3 that move nothing, with or without comments")
    return line


Block = Annotated[str, Strict(), AfterValidator(_block)]
BeamWords = Annotated[str, Strict(), AfterValidator(_words)]
Offset = Annotated[float, Strict(), Field(ge=-100_000, le=100_000)]


class Rs274Writer(WithOptions):
    """A program of cuts a sheet, a program of marks a load, and those that trace them with the beam off."""

    summary: ClassVar[str] = "sheet-A-pockets.ngc and load-01-marks.ngc: RS-274/NGC programs"

    beam_on: BeamWords = Field("M3", description="words that turn the beam on")
    beam_off: BeamWords = Field("M5", description="words that turn the beam off")
    power_word: Annotated[str, Strict(), Field(pattern="^[A-Z]?$")] = Field(
        "S", description="letter of the word that sets the power; empty for no such word"
    )
    full_power: Annotated[float, Strict(), Field(gt=0, le=1e6)] = Field(
        1000.0, description="number after that letter at 100 %"
    )
    cut_power: Annotated[float, Strict(), Field(gt=0, le=100)] | None = Field(
        None, description="power of the cuts in %"
    )
    header: Annotated[tuple[Block, ...], Field(max_length=100)] = Field(
        (), description="lines before the program's own first ones"
    )
    footer: Annotated[tuple[Block, ...], Field(max_length=100)] = Field(
        (), description="lines before the end, the beam being off"
    )
    end: Annotated[str, Strict(), Field(pattern="^(M2|M30)$")] = Field(
        "M2", description="last word, M2 or M30"
    )
    percent: Annotated[bool, Strict()] = Field(
        default=False, description="whether lines of % stand round the program"
    )
    arcs: Annotated[bool, Strict()] = Field(default=True, description="whether arcs are G2 and G3, not lines")
    tolerance: Annotated[float, Strict(), Field(ge=0.0005, le=1)] = Field(
        0.005, description="distance in mm between an arc and its lines"
    )
    line_numbers: Annotated[int, Strict(), Field(ge=0, le=1000)] = Field(
        0, description="step of the line numbers; 0 for none"
    )
    focus: Annotated[str, Strict(), Field(pattern="^(pause|Z)$")] = Field(
        "pause", description="how the focus height changes within a load: by a pause, M0, or by Z words"
    )
    work_z: Offset = Field(0.0, description="Z where the beam is in focus on the bed, mm; for focus Z")
    work_x: Offset = Field(0.0, description="place of the sheet's left edge in work coordinates, mm")
    work_y: Offset = Field(0.0, description="place of the sheet's front edge in work coordinates, mm")

    @model_validator(mode="after")
    def _on_is_not_off(self) -> "Rs274Writer":
        if self.beam_on.split() == self.beam_off.split():
            raise refusal(self.beam_on, "other words to turn the beam on than to turn it off")
        return self

    def files(self, plan: Plan) -> dict[str, bytes]:
        """Make the programs."""
        lookup = Lookup(plan)
        programs = {sheet.name: _Programs(self, lookup, sheet) for sheet in plan.all_sheets}
        cuts = {f"sheet-{sheet.name}-pockets.ngc": programs[sheet.name].cuts() for sheet in plan.sheets}
        marks = {f"{load_name(load)}-marks.ngc": programs[load.sheet].marks(load) for load in plan.loads}
        marks |= {
            f"sheet-{sheet.name}-marks.ngc": programs[sheet.name].sheet_marks()
            for sheet in plan.sheets
            if sheet.marks
        }
        traces = {
            f"sheet-{sheet.name}-trace.ngc": programs[sheet.name].trace(sheet.trace, f"sheet {sheet.name}")
            for sheet in plan.all_sheets
            if sheet.trace.points
        }
        traces |= {
            f"{load_name(load)}-trace.ngc": programs[load.sheet].trace(load.trace, f"load {load.number}")
            for load in plan.loads
            if load.trace.points
        }
        return {name: text.encode("ascii") for name, text in (cuts | marks | traces).items()}


class _Programs:
    """The programs of one sheet."""

    def __init__(self, options: Rs274Writer, lookup: Lookup, sheet: CutSheet) -> None:
        self.options, self.lookup, self.sheet = options, lookup, sheet
        self.stock = lookup.stock[sheet.stock]
        self.memory: Memory[str] = Memory()

    def cuts(self) -> str:
        """Write the program that cuts the pockets."""
        about = (
            f"pockets of sheet {self.sheet.name}, kerf taken off the paths",
            f"stock: {self.stock.name}, {self.stock.material} {self.stock.thickness:g} mm",
        )
        return self._whole(about, self._cut_blocks())

    def marks(self, load: Load) -> str:
        """Write the program that marks a load."""
        about = (
            f"marks of load {load.number} on sheet {load.sheet}",
            f"focus {heights_in_words(load)} above the bed",
        )
        return self._whole(about, self._mark_blocks(load))

    def sheet_marks(self) -> str:
        """Write the program that marks the sheet itself, before it is cut."""
        about = (
            f"marks on sheet {self.sheet.name} itself, before it is cut",
            f"focus {self.stock.thickness:g} mm above the bed",
        )
        return self._whole(about, self._sheet_mark_blocks())

    def _sheet_mark_blocks(self) -> Iterator[str]:
        wanted, job = self.lookup.plan.job.sheet_marks, self.lookup.plan.job
        setting = next(s for s in job.settings if wanted is not None and s.name == wanted.setting)
        for contour in [*sheet_mark_lines(self.sheet)] * setting.passes:
            yield from self._stroke(self._motion(), contour, setting.speed, setting.power)

    def trace(self, trace: Trace, of: str) -> str:
        """Write the program that leads round a sheet or its marks, the beam off all the way."""
        motion = self._motion()
        moves = [move for x, y in (*trace.points, trace.points[0]) for move in motion.travel((x, y))]
        return self._whole((f"trace of {of}, with the beam off",), iter(moves))

    def _whole(self, about: tuple[str, ...], pieces: Iterator[str]) -> str:
        title = (f"Job: {self.lookup.plan.job.title}", *about)
        notes = [line for text in (*title, *self._frame(), *ABOUT) for line in comment(text)]
        options = self.options
        # whatever the lines of others do, modes are set and the beam is off after them
        lines = [
            *notes, *options.header, PREAMBLE, options.beam_off, *pieces,
            options.beam_off, *options.footer, options.beam_off, options.end,
        ]  # fmt: skip
        text = "\n".join(lines)
        if options.line_numbers:
            text = "\n".join(numbered(text.split("\n"), options.line_numbers))
        return f"%\n{text}\n%\n" if options.percent else f"{text}\n"

    def _frame(self) -> tuple[str, ...]:
        x, y = self.options.work_x, self.options.work_y
        return (f"sheet from X{x:g} Y{y:g} to X{x + self.stock.width:g} Y{y + self.stock.height:g}, in mm",)

    def _cut_blocks(self) -> Iterator[str]:
        machine, power = self.lookup.plan.job.machine, self.options.cut_power
        for run in cut_runs(self.sheet):
            number_ = run.pocket.number
            motion = self._motion()
            yield from comment(f"pocket {number_}" if number_ else "outline of the sheet")
            yield from motion.travel(run.line.vertices[0][:2])
            yield from _dwell(run.wait)
            yield from self._stroke(motion, run.line, machine.cut_speed, power, machine.pierce_time)

    def _mark_blocks(self, load: Load) -> Iterator[str]:
        focus: float | None = None
        for run in mark_runs(load, self.lookup.places(load)):
            height = load.focus_of(run.place.filling)
            if height != focus:
                yield from self._focus(height, first=focus is None)
            focus = height
            yield self.memory.once(run.key, partial(self._run, run))

    def _focus(self, height: float, *, first: bool) -> Iterator[str]:
        """Focus at a height, the beam off and the head still where it was; the first one needs no pause."""
        yield from comment(f"focus {height:g} mm above the bed")
        if self.options.focus == "Z":
            yield f"G0 Z{number(self.options.work_z + height, 3)}"
        elif not first:
            yield "M0"

    def _run(self, run: MarkRun) -> str:
        setting, motion = run.place.setting, self._motion()
        pockets = ", ".join(map(str, run.pockets))
        lines = list(comment(f"pocket {pockets}; setting {setting.name}"))
        for contour in run.strokes * setting.passes:
            lines += self._stroke(motion, contour, setting.speed, setting.power)
        return "\n".join(lines)

    def _motion(self) -> Motion:
        options = self.options
        return Motion((options.work_x, options.work_y), options.arcs, options.tolerance)

    def _stroke(
        self, motion: Motion, contour: Contour, speed: float, power: float | None, pierce: float = 0.0
    ) -> Iterator[str]:
        """Write one stretch: to its start, the beam on, along it, the beam off."""
        yield from motion.travel(contour.vertices[0][:2])
        run = motion.follow(contour, speed)
        if run:
            yield self._on(power)
            yield from _dwell(pierce)
            yield from run
            yield self.options.beam_off

    def _on(self, power: float | None) -> str:
        if power is None or not self.options.power_word:
            return self.options.beam_on
        level = number(power / 100 * self.options.full_power, 3)
        return f"{self.options.power_word}{level} {self.options.beam_on}"


def _dwell(seconds: float) -> list[str]:
    return [f"G4 P{number(seconds, 3)}"] if seconds > 0 else []
