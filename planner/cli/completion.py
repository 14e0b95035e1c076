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
    """Return the words that may follow each command and each "command part": parts and options."""
    from planner.cli import COMMANDS, command_named
    from planner.files.equipment.start import KINDS

    first = {"help": list(COMMANDS), "init": list(KINDS), "completion": list(SHELLS)}
    words: dict[str, list[str]] = {}
    for name in COMMANDS:
        command = command_named(name)
        parts = getattr(command, "commands", {})
        words[name] = [*first.get(name, []), *parts, *_options(command)]
        words |= {f"{name} {part}": _options(each) for part, each in parts.items()}
    return words | {"help": first["help"]}


def _options(command: typer.core.TyperCommand) -> list[str]:
    return sorted({word for item in command.params for word in item.opts if word.startswith("--")} | set(EVERYWHERE))


def _bash(words: dict[str, list[str]], *, zsh: bool) -> str:
    typed = "${words[@]:0:$((CURRENT-1))}" if zsh else "${COMP_WORDS[@]:0:$COMP_CWORD}"
    known = "|".join(f'"{name}"' if " " in name else f'" {name}"' for name in words)
    cases = [f"    '{name}') list='{' '.join(options)}' ;;" for name, options in words.items()]
    first = " ".join(name for name in words if " " not in name)
    return "\n".join([
        *(["(( $+functions[compdef] )) || { autoload -U compinit && compinit; }"] if zsh else []),
        "_planner() {", "  local said='' list='' each", f'  for each in "{typed}"; do',
        f'    case "$said $each" in {known}) said="${{said:+$said }}$each" ;; esac', "  done",
        '  case "$said" in', f"    '') list='{first}' ;;", *cases, "  esac",
        *(["  if compset -P '--*='; then _files; else compadd -- ${=list} || _files; fi"] if zsh else
          ['  COMPREPLY=($(compgen -W "$list" -- "${COMP_WORDS[COMP_CWORD]}"))']),
        "}", "compdef _planner planner" if zsh else "complete -o default -F _planner planner"])


def _fish(words: dict[str, list[str]]) -> str:
    first = " ".join(name for name in words if " " not in name)
    lines = [f"complete -c planner -n __fish_use_subcommand -f -a '{first}'"]
    for name, options in words.items():
        seen = "-n '" + "; and ".join(f"__fish_seen_subcommand_from {each}" for each in name.split()) + "'"
        plain = [word for word in options if not word.startswith("--")]
        if plain and any(key.startswith(f"{name} ") for key in words):
            seen = f"{seen[:-1]}; and not __fish_seen_subcommand_from {' '.join(plain)}'"
        long = " ".join(f"-l {word[2:]}" for word in options if word.startswith("--"))
        lines += [f"complete -c planner {seen} {long}"] if long else []
        lines += [f"complete -c planner {seen} -a '{' '.join(plain)}'"] if plain else []
    return "\n".join(lines)
