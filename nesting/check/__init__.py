"""The independent check: everything a layout or a plan states, worked out again from what was asked.

It shares the value types with the rest of the package and shapely with the engines, and nothing
else: it flattens arcs, turns outlines and measures distances with code of its own. Lengths are
verified to 1 µm, outlines and markings to 2 µm.

Every violation has a kind, one of these words:

=========== ===================================================================================
overlap     two footprints or two pockets share more than 1 µm
gap         two footprints are closer than the larger of their gaps
web         less than the web is left between two pockets, or between a pocket and the edge
margin      a footprint is closer to the sheet's edge than the margin, or leaves the sheet; with an
            overhang, a body's pocket does, or its silhouette reaches further beyond the edge
keep-out    a footprint or pocket enters a keep-out
sheet       a sheet that is not in stock, used too often, of no use, or too large for the bed
quantity    an item or a blank placed more often than wanted
turn        a turn that is not allowed
mirror      a mirror image that is not allowed
grid        a placement off the 1 µm grid
number      a figure that is not finite, or does not agree with what it counts
pocket      a pocket's number or blank is wrong
clearance   a pocket's outline is not the blank's footprint grown by the clearance
kerf        a cut path is not the pocket's outline moved in by half the kerf
path        a step of a path is missing, doubled, out of order or unknown
travel      a stated length of a path is not what its steps add up to
load        a load's number, sheet or pocket is wrong, a sheet is loaded too often, or units share
            a load that the job keeps apart
due         a unit is loaded after one that could change places with it and is due later
unit        a unit is missing, doubled, unknown, or in another blank's pocket
artwork     a unit carries another artwork than its order line asks for
marking     a marking is not the artwork's drawing where and as large as it should be
mark-area   a mark lies outside the blank's mark area
sweep       a fill's sweeps leave its area, miss some of it, or are not spaced as set
height      a unit is out of its load's focus height
seat        a body's silhouette, seat or height is not what samples of the solid give
bound       a bound that the result itself passes, or a proof that does not hold
=========== ===================================================================================
"""

from nesting.check.layout import check_layout
from nesting.check.plan import check_plan
from nesting.check.report import KINDS, Kind, Report, Violation

__all__ = ["KINDS", "Kind", "Report", "Violation", "check_layout", "check_plan"]
