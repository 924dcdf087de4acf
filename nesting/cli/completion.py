"""``nesting completion``: a script by which a shell completes commands, made from the parser itself."""

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from nesting.cli._say import Commands, say


@dataclass(frozen=True)
class Words:
    """What may follow a command: options with their purpose, words to choose from, and whether files may."""

    command: str
    purpose: str
    options: tuple[tuple[str, str], ...]
    choices: tuple[str, ...]
    files: bool


def add_to(commands: Commands) -> None:
    """Add this command to the parser."""
    parser = commands.add_parser("completion", help="print a script that completes commands in a shell")
    parser.add_argument("shell", choices=sorted(SHELLS), help="the shell it is for")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the script."""
    say(SHELLS[options.shell](list(words_of(options.parser))))
    return 0


def words_of(parser: argparse.ArgumentParser) -> Iterator[Words]:
    """Read the words of every command off a parser."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            purposes = {choice.dest: choice.help or "" for choice in action._choices_actions}
            for name, command in action.choices.items():
                yield _words(name, purposes.get(name, ""), command)


def _words(name: str, purpose: str, command: argparse.ArgumentParser) -> Words:
    actions = list(_actions(command))
    options = {
        word: (action.help or "").replace("%%", "%")
        for action in actions
        for word in action.option_strings
        if word.startswith("--")
    }
    plain = [action for action in actions if not action.option_strings]
    choices = tuple(str(choice) for action in plain for choice in action.choices or ())
    files = any(action.type is Path for action in actions)
    return Words(name, purpose, tuple(options.items()), choices, files)


def _actions(command: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """Yield what a command takes, and what the commands under it take."""
    for action in command._actions:
        yield action
        if isinstance(action, argparse._SubParsersAction):
            for under in action.choices.values():
                yield from _actions(under)


def _bash(commands: list[Words]) -> str:
    cases = "\n".join(
        f'        {c.command}) words="{" ".join([*(word for word, _ in c.options), *c.choices])}" ;;'
        for c in commands
    )
    files = "|".join(c.command for c in commands if c.files)
    return f"""# bash: put this into a file of ~/.local/share/bash-completion/completions, named nesting
_nesting() {{
    local words="{" ".join(c.command for c in commands)}" current="${{COMP_WORDS[COMP_CWORD]}}"
    if [ "$COMP_CWORD" -gt 1 ]; then
        case "${{COMP_WORDS[1]}}" in
{cases}
        esac
    fi
    COMPREPLY=($(compgen -W "$words" -- "$current"))
    if [ "$COMP_CWORD" -gt 1 ] && [ "${{current#-}}" = "$current" ]; then
        case "${{COMP_WORDS[1]}}" in
        {files}) COMPREPLY+=($(compgen -f -- "$current")) ;;
        esac
    fi
}}
complete -o filenames -F _nesting nesting"""


def _zsh(commands: list[Words]) -> str:
    listed = "\n".join(f"        {_quoted(f'{c.command}:{c.purpose}')}" for c in commands)
    cases = "\n".join(
        f"    {c.command}) _arguments {' '.join(_zsh_words(c))} ;;" for c in commands
    )  # fmt: skip
    return f"""#compdef nesting
# zsh: put this into a folder of $fpath, named _nesting
_nesting() {{
    local -a commands=(
{listed}
    )
    if (( CURRENT == 2 )); then
        _describe command commands
        return
    fi
    local name=$words[2]
    shift words
    (( CURRENT-- ))
    case $name in
{cases}
    esac
}}
if [ "$funcstack[1]" = "_nesting" ]; then _nesting "$@"; else compdef _nesting nesting; fi"""


def _zsh_words(command: Words) -> Iterator[str]:
    for word, purpose in command.options:
        safe = purpose.replace("[", "(").replace("]", ")")
        yield _quoted(f"{word}[{safe}]")
    if command.choices:
        yield _quoted(f"1:word:({' '.join(command.choices)})")
    if command.files:
        yield _quoted("*:file:_files")


def _fish(commands: list[Words]) -> str:
    lines = ["# fish: put this into ~/.config/fish/completions/nesting.fish", "complete -c nesting -f"]
    for c in commands:
        lines.append(
            f"complete -c nesting -n __fish_use_subcommand -a {c.command} -d {_quoted(c.purpose)}"
        )  # fmt: skip
        there = f"-n '__fish_seen_subcommand_from {c.command}'"
        lines += [
            f"complete -c nesting {there} -l {word.removeprefix('--')} -d {_quoted(purpose)}"
            for word, purpose in c.options
        ]
        lines += [f"complete -c nesting {there} -a {_quoted(' '.join(c.choices))}"] if c.choices else []
        lines += [f"complete -c nesting {there} -F"] if c.files else []
    return "\n".join(lines)


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "").replace("\\", "") + "'"


SHELLS: dict[str, Callable[[list[Words]], str]] = {"bash": _bash, "zsh": _zsh, "fish": _fish}
