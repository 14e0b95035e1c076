"""`planner completion`: a script that completes commands and options in a shell."""

from typing import Annotated

import typer

from planner.checks import not_one_of
from planner.cli.options import new_app

app = new_app()
SHELLS = ("bash", "zsh", "fish")
EVERYWHERE = ("--help", "--quiet")


@app.command()
def completion(shell: Annotated[str, typer.Argument(metavar="SHELL", help="bash, zsh or fish.")]) -> None:
    """Print a script that completes commands and options; for bash: eval "$(planner completion bash)"."""
    if shell not in SHELLS:
        raise not_one_of("shell", shell, SHELLS, "Name your shell.")
    print(_fish(_words()) if shell == "fish" else _bash(_words(), zsh=shell == "zsh"))


def _words() -> dict[str, list[str]]:
    """Return the words that may follow each command: sub-commands and options."""
    from planner.cli import COMMANDS, command_named
    from planner.files.equipment.start import KINDS

    words: dict[str, list[str]] = {}
    for name in COMMANDS:
        command = command_named(name)
        parts = getattr(command, "commands", {})
        options = {word for each in (command, *parts.values()) for item in each.params for word in item.opts
                   if word.startswith("--")}
        words[name] = [*parts, *sorted({*options, *EVERYWHERE})]
    words["help"], words["init"] = list(COMMANDS), [*KINDS, *words["init"]]
    words["completion"] = [*SHELLS, *words["completion"]]
    return words


def _bash(words: dict[str, list[str]], *, zsh: bool) -> str:
    cases = [f"    {name}) words='{' '.join(options)}' ;;" for name, options in words.items()]
    return "\n".join([
        *(["autoload -U +X bashcompinit && bashcompinit"] if zsh else []),
        "_planner() {", '  local word="${COMP_WORDS[COMP_CWORD]}" words=""',
        f"  if [ \"$COMP_CWORD\" -eq 1 ]; then words='{' '.join(words)}'; else case \"${{COMP_WORDS[1]}}\" in", *cases,
        "  esac; fi", '  COMPREPLY=($(compgen -W "$words" -- "$word"))', "}",
        "complete -o default -F _planner planner"])


def _fish(words: dict[str, list[str]]) -> str:
    lines = [f"complete -c planner -n __fish_use_subcommand -f -a '{' '.join(words)}'"]
    for name, options in words.items():
        long = " ".join(f"-l {word[2:]}" for word in options if word.startswith("--"))
        plain = " ".join(word for word in options if not word.startswith("--"))
        seen = f"-n '__fish_seen_subcommand_from {name}'"
        lines += [f"complete -c planner {seen} {long}"] if long else []
        lines += [f"complete -c planner {seen} -a '{plain}'"] if plain else []
    return "\n".join(lines)
