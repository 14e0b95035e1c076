"""What can go wrong, as one line a person can act on."""

import re
from typing import Any

# Control characters, marks that turn the direction of writing, line and paragraph separators, and half characters.
STEERING = re.compile(
    r"[\x00-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff\U000e0000-\U000e007f]")
BAD_INPUT = 2  # exit code of a command that was asked wrongly
LINKING = re.compile(r"!\[|\]\(")  # the marks of pictures and links on a page
LONGEST_NAME = 200  # characters of a value's name that an error shows
LONGEST_LINE = 1500  # of the whole error


class PlannerError(Exception):
    """Base of every error that is meant for the user's eyes."""


class InvalidInputError(PlannerError, ValueError):
    """A value breaks a rule: *name = value: rule. Remedy.*

    `name`: what the user called the value, e.g. ``telescope "long".focal_length``. `value`: the value as given.
    `rule`: the rule it breaks, without a full stop. `remedy`: what to do about it, a whole sentence. An
    option that takes no value, True, stands by its name alone.
    """

    def __init__(self, name: str, value: Any, rule: str, remedy: str = "") -> None:
        self.name = name
        self.value = value
        self.rule = rule
        self.remedy = remedy
        given = "" if value is True and name.startswith("--") else f" = {_shortened(value)}"
        line = f"{_shortened(name, LONGEST_NAME)}{given}: {rule}. {remedy}"
        super().__init__(_shortened(line, LONGEST_LINE))

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.name, self.value, self.rule, self.remedy)


class UsageError(PlannerError):
    """Words on the command line that are no command, no option or too many."""


def plain_text(text: str) -> str:
    """Return a text in which nothing can steer a terminal or turn what stands beside it; ? stands for what was."""
    return STEERING.sub("?", text)


def inert(text: str) -> str:
    """Return a plain text that a page shows as it is: no picture or link is fetched or made of what it holds."""
    return LINKING.sub(lambda found: f"{found[0][0]} {found[0][1]}", plain_text(text))


def _shortened(value: Any, longest: int = 60) -> str:
    """Return the value on one line, cut to a readable length."""
    text = inert(" ".join(str(value)[:20 * longest].split()))
    return text if len(text) <= longest else text[: longest - 1] + "…"
