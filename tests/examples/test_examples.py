from pathlib import Path

import pytest

from nesting import examples
from nesting.errors import InputError, OutputError
from nesting.examples import names, write_example
from nesting.job.load import load_job


@pytest.mark.parametrize("name", names())
def test_each_example_is_a_sound_job_wherever_it_is_copied(tmp_path: Path, name: str) -> None:
    """A copy of an example loads and means the same as the packaged one."""
    write_example(name, tmp_path / "deep" / "copy")
    packaged = Path(examples.__file__).parent / name / "job.toml"
    assert load_job(tmp_path / "deep" / "copy" / "job.toml") == load_job(packaged)


def test_the_large_example_shows_what_a_job_can_hold(tmp_path: Path) -> None:
    """The regatta job has the variety it is there to show, and more than one sheet's worth of blanks."""
    write_example("regatta", tmp_path)
    job = load_job(tmp_path / "job.toml")
    area = {blank.name: blank.footprint.area for blank in job.blanks}
    assert sum(order.quantity for order in job.orders) >= 80
    assert len(job.orders) == 12
    assert len(job.blanks) >= 5
    assert len({blank.height for blank in job.blanks}) >= 4
    assert any(blank.footprint.holes for blank in job.blanks)
    assert len(list((tmp_path / "art").glob("*.svg"))) == 6
    assert any(sheet.outline for sheet in job.stock)
    assert sum(order.quantity * area[order.blank] for order in job.orders) > 2 * 600 * 400


def test_an_example_goes_into_an_empty_folder_only(tmp_path: Path) -> None:
    """A folder that holds something, a file or a link is refused and left as it was."""
    write_example("first", tmp_path / "new")
    before = sorted((tmp_path / "new").rglob("*"))
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    (tmp_path / "empty").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "empty")
    for folder in ("new", "file", "link"):
        with pytest.raises(OutputError, match="new or an empty folder"):
            write_example("regatta", tmp_path / folder)
    assert sorted((tmp_path / "new").rglob("*")) == before
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
    write_example("first", tmp_path / "empty")
    assert (tmp_path / "empty" / "job.toml").is_file()


def test_a_folder_that_cannot_be_made_is_an_output_error(tmp_path: Path) -> None:
    """A path that leads through a file is refused as the output's fault."""
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError):
        write_example("first", tmp_path / "file" / "below")


def test_an_unknown_example_is_refused_with_what_there_is(tmp_path: Path) -> None:
    """A wrong name, also one that is a path, lists the names."""
    for name in ("frist", "../examples/first", ""):
        with pytest.raises(InputError, match="allowed: first, regatta"):
            write_example(name, tmp_path / "x")
    assert not (tmp_path / "x").exists()
