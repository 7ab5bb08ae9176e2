"""Completion scripts; bash runs them here, the others are read."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from weavability_client import cli
from weavability_client._completion import SHELLS, completion

COMMANDS = ("validate", "match", "rate", "changeover", "sequence", "weave", "completion")


def offered(*words: str, service: str = "false") -> set[str]:
    """Return what bash offers for the last of ``words``; ``service`` answers with names."""
    bash = shutil.which("bash")
    assert bash is not None
    listed = " ".join(f"'{word}'" for word in ("weavability", *words))
    script = (
        f"{completion(cli.parser(), 'bash')}\n"
        f"weavability() {{ {service}; }}\n"
        f"COMP_WORDS=({listed}); COMP_CWORD={len(words)}; _weavability; "
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    done = subprocess.run([bash, "-c", script], capture_output=True, text=True, check=True)
    return set(filter(None, done.stdout.splitlines()))


def test_bash_offers_the_commands() -> None:
    assert offered("") >= set(COMMANDS)
    assert offered("ma") == {"match"}


def test_bash_offers_the_options_of_the_command() -> None:
    assert offered("rate", "--s") == {"--save", "--speed", "--sweep", "--svg"}
    assert offered("changeover", "--loom") == {"--loom", "--loom-id", "--looms"}


def test_bash_offers_the_choices_of_an_option_and_of_an_argument() -> None:
    assert offered("validate", "--format", "") == {"table", "page", "json", "csv"}
    assert offered("completion", "z") == {"zsh"}


def test_bash_leaves_names_of_files_to_itself() -> None:
    assert offered("validate", "order") == set()
    assert offered("validate", "--loom", "") == set()
    assert "complete -o default" in completion(cli.parser(), "bash")


def test_bash_offers_the_names_that_the_service_knows() -> None:
    listed = r"printf '%s of %s\n' one $2"
    assert offered("validate", "--loom-id", "", service=listed) == {r"one\ of\ looms"}
    assert offered("checks", "o", service=listed) == {r"one\ of\ checks"}
    assert offered("weave", r"one\ o", service=listed) == {r"one\ of\ weaves"}
    assert "one" not in str(offered("weave", "--s", service=listed))
    assert offered("validate", "--loom-id", "", service="echo trouble >&2; false") == set()


def test_zsh_and_fish_know_every_command_and_option() -> None:
    zsh, fish = (completion(cli.parser(), shell) for shell in ("zsh", "fish"))
    assert zsh.startswith("#compdef weavability\n")
    for command in COMMANDS:
        assert f"'{command} '*)" in zsh
        assert re.search(rf"-a {command} -d '.+'", fish)
    assert "-l loom-id -x -a '(weavability completion looms 2>/dev/null)'" in fish
    assert "from checks' -a '(weavability completion checks 2>/dev/null)'" in fish
    assert "-l format -x -a 'table page json csv'" in fish


@pytest.mark.parametrize("shell", SHELLS)
def test_the_command_prints_the_script(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["completion", shell]) == 0
    assert capsys.readouterr().out == completion(cli.parser(), shell)
