"""What each kind of document is made of: the results that tell it side by side, and those that may tell more."""

from dataclasses import dataclass
from typing import Annotated, Any

from planner.cli.equipment.init import Begun
from planner.cli.of_file import Checked, OfFile
from planner.cli.sources import Sources
from planner.files.equipment.changed_advice import Effect, NotedEffect
from planner.measure.drift.answer import DriftAnswer
from planner.measure.drift.sway import MeasuredSway
from planner.measure.frame.model import FrameFiles
from planner.measure.frame.report import Report
from planner.measure.pointing.drift import PathDrift
from planner.measure.pointing.results import PointingFit, SetAside
from planner.measure.polar.alignment import PolarAlignment
from planner.measure.polar.remedy import ScrewTurns
from planner.pier.balance.plan import BalancePlan
from planner.pier.cautions import OfPier
from planner.pier.column.answer import ColumnAnswer
from planner.pier.dew import HeaterNeed
from planner.pier.wiring.verdict import Wiring
from planner.session.advice.document import AdviceAnswer
from planner.session.advice.first_light import FirstLightAnswer
from planner.session.campaign.ahead import NightAnswer
from planner.session.campaign.answer import CampaignAnswer
from planner.session.match.answer import ListAnswer, MatchAnswer
from planner.session.projects.project import DoneAnswer
from planner.session.year.objects import FittingObjects
from planner.session.year.season import Season


@dataclass(frozen=True)
class Beside:
    """What is told of several rigs at once."""

    beside: Annotated[tuple[dict[str, Any], ...], "the same of each rig beside the first"]


@dataclass(frozen=True)
class OtherFigures:
    """What is told beside an advice on changed equipment."""

    set: Annotated[tuple[str, ...], "figures that are other than in the equipment file"]


KINDS: dict[str, tuple[type, ...]] = {
    "advise": (AdviceAnswer,),
    "campaign": (CampaignAnswer,),
    "done": (DoneAnswer,),
    "drift": (DriftAnswer, Effect),
    "first-light": (FirstLightAnswer,),
    "frame": (Report, FrameFiles),
    "gear_check": (Checked,),
    "init": (Begun,),
    "match": (MatchAnswer,),
    "match_projects": (ListAnswer,),
    "night": (NightAnswer,),
    "objects": (FittingObjects,),
    "pier_balance": (OfPier, BalancePlan),
    "pier_check": (Checked,),
    "pier_init": (Begun,),
    "pier_column": (OfPier, ColumnAnswer),
    "pier_power": (OfPier, Wiring, HeaterNeed),
    "pier_sway": (OfFile, MeasuredSway),
    "pointing": (PointingFit, SetAside, NotedEffect),
    "polar": (PolarAlignment, ScrewTurns, Effect),
    "season": (Season,),
    "sources": (Sources,),
}
MORE: dict[str, tuple[type, ...]] = {
    "advise": (OtherFigures,), "campaign": (Beside,), "night": (Beside,), "pointing": (PathDrift,),
}
