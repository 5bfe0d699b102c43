"""How a maneuver's figures came about, from the seconds of the flight; and one log's debrief."""

from pipeline.explain.debrief import Debrief, DebriefAnswer, debrief_log, neutral_of
from pipeline.explain.maneuver import explain_maneuver

__all__ = ["Debrief", "DebriefAnswer", "debrief_log", "explain_maneuver", "neutral_of"]
