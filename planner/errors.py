"""What can go wrong, as one line a person can act on."""

from typing import Any


class PlannerError(Exception):
    """Base of every error that is meant for the user's eyes."""


class InvalidInputError(PlannerError, ValueError):
    """A value breaks a rule: *name = value: rule. Remedy.*

    Parameters
    ----------
    name : str
        What the user called the value, e.g. ``telescope "long".focal_length``.
    value : object
        The value as given.
    rule : str
        The rule it breaks, without a full stop.
    remedy : str
        What to do about it, a whole sentence.
    """

    def __init__(self, name: str, value: Any, rule: str, remedy: str = "") -> None:
        self.name = name
        self.value = value
        self.rule = rule
        self.remedy = remedy
        super().__init__(f"{name} = {_shortened(value)}: {rule}. {remedy}".strip())

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.name, self.value, self.rule, self.remedy)


def _shortened(value: Any, longest: int = 60) -> str:
    """Return the value on one line, cut to a readable length."""
    text = " ".join(str(value).split())
    return text if len(text) <= longest else text[: longest - 1] + "…"
