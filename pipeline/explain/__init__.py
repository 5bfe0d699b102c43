"""How a maneuver's figures came about, from the seconds of the flight; and one log's debrief."""

from pipeline.explain.debrief import DebriefAnswer, debrief_log
from pipeline.explain.maneuver import explain_maneuver
from pipeline.explain.one_log import Debrief, neutral_of

__all__ = ["Debrief", "DebriefAnswer", "debrief_log", "explain_maneuver", "neutral_of"]
