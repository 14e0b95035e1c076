"""A plugin that tells mypy what it cannot read in astropy's units: ``u.Quantity[u.mm]``, sums, some names."""

from collections.abc import Callable

from mypy.nodes import AssignmentStmt, EllipsisExpr, MypyFile, NameExpr
from mypy.plugin import AnalyzeTypeContext, MethodContext, Plugin
from mypy.types import AnyType, Instance, Type, TypeOfAny, get_proper_type

QUANTITY = "astropy.units.quantity.Quantity"
# What numpy declares to give an array, and gives a quantity.
GIVE_QUANTITIES = {f"{QUANTITY}.__{name}__" for name in ("add", "radd", "sub", "rsub", "neg", "abs")} | {
    f"{QUANTITY}.reshape"} | {f"numpy._typing._ufunc._UFunc_Nin{count}_Nout1.__call__" for count in (1, 2)}
MADE_AT_RUN_TIME = {"astropy.units": ("mag",), "astropy.constants": ("h", "c", "sigma_sb")}


class Units(Plugin):
    """A unit in brackets is for people and for `planner.checks.check_units`; a sum of quantities is a quantity."""

    def get_type_analyze_hook(self, fullname: str) -> Callable[[AnalyzeTypeContext], Type] | None:
        return (lambda context: context.api.named_type(QUANTITY, [])) if fullname == QUANTITY else None

    def get_method_hook(self, fullname: str) -> Callable[[MethodContext], Type] | None:
        return _as_quantity if fullname in GIVE_QUANTITIES else None

    def get_additional_deps(self, file: MypyFile) -> list[tuple[int, str, int]]:
        for name in MADE_AT_RUN_TIME.get(file.fullname, ()):
            file.defs.append(AssignmentStmt([NameExpr(name)], EllipsisExpr(), AnyType(TypeOfAny.explicit)))
        return []


def _as_quantity(context: MethodContext) -> Type:
    taken = map(get_proper_type, [context.type, *(kind for kinds in context.arg_types for kind in kinds)])
    return next((one for one in taken if isinstance(one, Instance) and one.type.fullname == QUANTITY),
                context.default_return_type)


def plugin(version: str) -> type[Plugin]:
    """Return the plugin, as mypy asks for it."""
    return Units
