"""Shell completion, run by the shells themselves."""

import shutil
import subprocess
from pathlib import Path

import pytest

from nesting.cli import main


def _script(shell: str, capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["completion", shell]) == 0
    return capsys.readouterr().out


def _run(shell: str, script: str, folder: Path) -> str:
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"{shell} is not installed")
    (folder / "script").write_text(script, encoding="utf-8")
    result = subprocess.run(
        [program, str(folder / "script")], capture_output=True, text=True, check=True, cwd=folder
    )
    return result.stdout


def test_bash_completes_commands_options_and_files(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In bash the first word is a command, then come its options and, for a job, files."""
    (tmp_path / "job.toml").touch()
    script = _script("bash", capsys) + (
        '\nask() { COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _nesting; echo "${COMPREPLY[*]}"; }\n'
        "ask nesting pl\nask nesting plan --se\nask nesting plan jo\nask nesting schema p\n"
    )
    assert _run("bash", script, tmp_path).split("\n")[:4] == ["plan", "--seconds --seed", "job.toml", "plan"]


def test_fish_completes_commands_and_options(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In fish commands and options are offered with their purpose."""
    script = _script("fish", capsys) + '\ncomplete -C "nesting pl"\ncomplete -C "nesting plan --see"\n'
    found = _run("fish", script, tmp_path).splitlines()
    assert [line.split("\t")[0] for line in found] == ["plan", "--seed"]


def test_zsh_takes_the_script(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In zsh the script loads and registers itself for the command."""
    start = "autoload -U compinit\ncompinit -u -D\n"
    script = start + _script("zsh", capsys) + "\nprint $_comps[nesting]\n"
    assert _run("zsh", script, tmp_path).strip() == "_nesting"
