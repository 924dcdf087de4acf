"""What writers make of a plan that uses a kept sheet."""

import json

from nesting._plugins import load, names
from nesting.plan_file import plan_from_json
from nesting.plan_values import Plan
from nesting.plug_in_options import lacking
from nesting_adapters.report.drawings import DECIMALS
from nesting_adapters.svg_path_data import joint_path_data
from tests.adapters.written_plan import from_the_rack, small_plan


def _written(plan: Plan) -> dict[str, bytes]:
    writers = [load("plan_writers", name) for name in names("plan_writers")]
    return {
        name: content
        for writer in writers
        if not lacking(writer)
        for name, content in writer.files(plan).items()
    }


def test_nothing_is_cut_and_every_load_is_marked_as_on_a_new_sheet() -> None:
    """No file of a kept sheet cuts anything; the files that mark it are those of the same sheet when new."""
    files, new = _written(from_the_rack()), _written(small_plan())
    assert not [name for name in files if name.startswith("sheet-") and not name.endswith(".geojson")]
    for ending in ("svg", "ngc"):
        marks = [name for name in new if name.startswith("load-") and name.endswith(f"-marks.{ending}")]
        assert all(files[name] == new[name] for name in marks)
    features = [f["properties"] for f in json.loads(files["sheet-A-pockets.geojson"])["features"]]
    assert [f["pocket"] for f in features if f["role"] == "pocket"] == [1, 2, 3, 4]


def test_the_pages_say_what_to_fetch() -> None:
    """Report and run sheet name the kept sheet, and the report draws its idle pocket once."""
    plan = from_the_rack()
    files = _written(plan)
    report, sheet = files["report.html"].decode(), files["run-sheet.html"].decode()
    assert '<dt>Sheets from the rack</dt><dd class="main">1</dd>' in report
    assert "kept as R7" in sheet and "Sheets to cut</h2>" not in sheet
    idle = plan.job.kept[0].pockets[4].outline
    assert f'class="pocket empty" d="{joint_path_data(idle.contours, 200, DECIMALS)}"' in report
    assert files["sheets.csv"].decode().splitlines()[1].endswith(",yes")


def test_such_a_plan_reads_back() -> None:
    """plan.json gives the kept sheet back."""
    plan = from_the_rack()
    assert plan_from_json(_written(plan)["plan.json"]) == plan
