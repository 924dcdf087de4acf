"""What every operator is told, in our own words; standards and local codes come first."""

from nesting.plan_values import Plan

ALWAYS = (
    "Stay with the machine as long as its beam can fire. Keep a fire extinguisher within reach, extraction "
    "and air assist running, and every interlock in force.",
    "Never put PVC, vinyl or anything else that holds chlorine under the beam: it gives off hydrogen "
    "chloride, which harms people and eats the machine. Polycarbonate chars and bursts into flame, ABS melts "
    "with poisonous fume, and foams catch fire.",
    "Acrylic vapour can flare up, and its fumes go on for twenty minutes and more after the lid is opened: "
    "keep extracting. MDF and plywood give off the fume of their binder.",
    "Material or coating not known for certain? Stop, and get its data sheet first.",
    "Open sealed vessels before they are heated. On vacuum flasks mark the coating only, never dwell on one "
    "spot and never pierce the wall. Bare metal throws the beam back.",
    "Times and focus heights on this page are estimates. They never replace a test piece.",
)

DEFERENCE = (
    "These notes defer to your local codes, to the machine's own instructions and to licensed practice, and "
    "to the standards IEC 60825-1:2014, ANSI Z136.1, ISO 11553-1:2020 and NFPA 115."
)

SEQUENCE = (
    "Cut the sheet; measure its thickness and the kerf",
    "Trace the outline with the beam off",
    "Mark a test piece",
    "Mark one unit and have it approved",
    "Run the loads",
    "Inspect every unit and list what must be made again",
)
"""Working sequence: common practice, no source."""

TAKE = "Take the kept sheets from the rack and see that nothing is worn or bent"


def sequence(plan: Plan) -> tuple[str, ...]:
    """Give the working sequence of a plan, with what is to be fetched and without what is not to be cut."""
    take = (TAKE,) if plan.kept else ()
    return (*take, *(SEQUENCE if plan.sheets or not plan.kept else SEQUENCE[1:]))
