"""Nesting optimiser: packs mixed blanks with their artwork onto sheets, and plans how to mark them.

>>> import nesting
>>> layout = nesting.pack(
...     [nesting.Item("coaster", nesting.Footprint.circle(95), quantity=6, gap=4)],
...     [nesting.Sheet(310, 210, margin=4)],
... )
>>> len(layout.placements), len(layout.sheets), layout.proven
(6, 1, True)
"""

__version__ = "0.1.0"

from nesting.check import check_layout, check_plan
from nesting.errors import InputError, NestingError, OutputError
from nesting.extending import extend
from nesting.job.job import Job
from nesting.job.load import load_job
from nesting.output import write_plan
from nesting.packing.choice import pack
from nesting.packing.problem import Footprint, Item, Sheet
from nesting.packing.result import Layout, Placement
from nesting.plan import make_plan
from nesting.plan_file import load_plan
from nesting.plan_values import Plan
from nesting.progress import Progress
from nesting.rack import add_to_rack, read_rack, retire_from_rack
from nesting.remaking import remake
from nesting.routing.order import order_path

__all__ = [
    "Footprint",
    "InputError",
    "Item",
    "Job",
    "Layout",
    "NestingError",
    "OutputError",
    "Placement",
    "Plan",
    "Progress",
    "Sheet",
    "add_to_rack",
    "check_layout",
    "check_plan",
    "extend",
    "load_job",
    "load_plan",
    "make_plan",
    "order_path",
    "pack",
    "read_rack",
    "remake",
    "retire_from_rack",
    "write_plan",
]
