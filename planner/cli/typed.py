"""What was typed: words stay as they are, and only the rest is converted.

Typer converts by a library whose import takes a tenth of the time of astropy.coordinates and scipy.optimize together.
Text needs no converting, nor does what was not given.
"""

from typing import Any


class _OnDemand:
    """Stands in for typer's converter of one option, which is made only when it has something to convert."""

    def __init__(self, parameter: Any) -> None:
        self.converter = parameter.get_runtime_param

    def itself(self) -> "_OnDemand":
        """Return itself, when typer asks for a converter."""
        return self

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """Return the value of an option from what was typed; typer's name and arguments."""
        several = param.multiple or param.nargs == -1
        if value is None:
            return () if several else None
        if param.type_descriptor.annotation in (str, list[str]):
            return list(value) if several else value
        return self.converter().coerce(value, param=param, ctx=ctx)


def convert_on_demand(command: Any) -> None:
    """Let a command, and those within it, convert only what must be converted."""
    import typer

    for parameter in command.get_params(typer.Context(command)):  # --help among them
        parameter.get_runtime_param = _OnDemand(parameter).itself
    for one in getattr(command, "commands", {}).values():
        convert_on_demand(one)
