"""Completion scripts for the shells, made from the parser itself."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from typing import Final, cast

SHELLS: Final = ("bash", "zsh", "fish")
NAMES_OF: Final[Mapping[str, str]] = {"LOOM": "looms", "CODE": "checks", "WEAVE": "weaves"}
"""Names of the service that may be written for an argument, by how the argument is called."""


def completion(parser: argparse.ArgumentParser, shell: str) -> str:
    """Return the script that teaches ``shell`` the words of ``parser``.

    Args:
        parser: A parser with commands.
        shell: One of ``SHELLS``.
    """
    commands = _commands(parser)
    if shell == "fish":
        return "\n".join(_fish(parser.prog, commands)) + "\n"
    script = "\n".join(_bash(parser.prog, commands)) + "\n"
    if shell == "zsh":
        return f"#compdef {parser.prog}\nautoload -U +X bashcompinit && bashcompinit\n{script}"
    return script


def _commands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    for action in parser._actions:
        choices: object = action.choices
        if isinstance(choices, dict):
            return cast("dict[str, argparse.ArgumentParser]", choices)
    return {}


def _options(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    return (each for each in parser._actions if each.option_strings)


def _words(parser: argparse.ArgumentParser) -> str:
    return " ".join(name for each in _options(parser) for name in each.option_strings)


def _bash(program: str, commands: dict[str, argparse.ArgumentParser]) -> Iterator[str]:
    """Yield the lines for bash, in which names of files are what is left when nothing else fits."""
    function = "_" + program.replace("-", "_")
    yield f"{function}() {{"
    yield "    local current=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}"
    yield r"    local words='' names='' each IFS=$'\n'"
    yield '    if [ "$COMP_CWORD" -eq 1 ]; then'
    yield f"        words='{' '.join(commands)} --help --version'"
    yield "    else"
    yield '        case "${COMP_WORDS[1]} $before" in'
    for name, command in commands.items():
        for each in _options(command):
            if each.nargs != 0:  # it takes a value: its choices, names, or else the name of a file
                pattern = "|".join(f"'{name} {option}'" for option in each.option_strings)
                yield f"            {pattern}) words='{_choices(each)}'{_asks(each)} ;;"
        asks = "".join(map(_asks, _arguments(command)))
        yield f"            '{name} '*) words='{_words(command)}{_places(command)}'{asks} ;;"
    yield "        esac"
    yield "    fi"
    # A name may have blanks, so that each is a line.
    yield r"    words=${words// /$'\n'} current=${current//\\/}"
    yield '    if [ -n "$names" ] && [ "${current#-}" = "$current" ]; then'
    yield rf'        words+=$IFS$({program} completion "$names" 2>/dev/null)'
    yield "    fi"
    yield "    COMPREPLY=()"
    yield "    for each in $words; do"
    yield '        case $each in "$current"*) COMPREPLY+=("$(printf %q "$each")") ;; esac'
    yield "    done"
    yield "}"
    yield f"complete -o default -F {function} {program}"


def _arguments(command: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    return (each for each in command._actions if not each.option_strings)


def _asks(action: argparse.Action) -> str:
    names = NAMES_OF.get(str(action.metavar))
    return f" names={names}" if names else ""


def _places(command: argparse.ArgumentParser) -> str:
    """Return the choices of the arguments that are no options."""
    places = [each for each in _arguments(command) if each.choices]
    return "".join(f" {_choices(each)}" for each in places)


def _choices(action: argparse.Action) -> str:
    return " ".join(map(str, action.choices or ()))


def _fish(program: str, commands: dict[str, argparse.ArgumentParser]) -> Iterator[str]:
    for name, command in commands.items():
        about = (command.description or "").replace("'", "")
        yield f"complete -c {program} -n __fish_use_subcommand -a {name} -d '{about}'"
        for each in _options(command):
            long = max(each.option_strings, key=len).removeprefix("--")
            value = "" if each.nargs == 0 else _fish_value(program, each)
            about = (each.help or "").replace("'", "").replace("%(default)s", str(each.default))
            yield (
                f"complete -c {program} -n '__fish_seen_subcommand_from {name}' -l {long}"
                f"{value} -d '{about}'"
            )
        for each in _arguments(command):
            if names := NAMES_OF.get(str(each.metavar)):
                yield (
                    f"complete -c {program} -n '__fish_seen_subcommand_from {name}' "
                    f"-a '({program} completion {names} 2>/dev/null)'"
                )


def _fish_value(program: str, action: argparse.Action) -> str:
    names = NAMES_OF.get(str(action.metavar))
    if names:
        return f" -x -a '({program} completion {names} 2>/dev/null)'"
    return f" -x -a '{_choices(action)}'" if action.choices else " -r"
