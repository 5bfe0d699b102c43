"""Every measured relation of a store, from the reference alone, under the same names and columns."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from functools import cached_property
from typing import Any

import pyarrow as pa

from tests.reference.air import has_unbroken_time, is_rougher, shakes_of
from tests.reference.breathing import breathing_of
from tests.reference.events import capture_of, turn_of
from tests.reference.excursions import CHANNELS as BANDED
from tests.reference.excursions import excursion_figures, runs_beyond
from tests.reference.fleet import Fleet, LevelFlight
from tests.reference.hands_off import hands_off_of
from tests.reference.holds import Hold, hold_of
from tests.reference.neutrals import LevelControl, control_kind, device_neutral
from tests.reference.sessions import Limits, Session, Window, read_sessions, read_windows
from tests.reference.settling import Event, settling_of
from tests.reference.steadiness import control_turns, steadiness_of, trim_moves
from tests.reference.technique import technique_of

Row = dict[str, Any]
Rows = dict[tuple[Any, ...], Row]

HOLDS = {"altitude": "ft", "heading": "deg", "airspeed": "kt"}
GATE_CHANNELS = {f"{c}_{u}" for c, u in HOLDS.items()}


class Measures:
    """The reference figures of all maneuvers in `windows` (rows of maneuver_windows).

    `as_of` is the date that lists are told for; without it that of the latest session.
    """

    def __init__(
        self,
        tables: Mapping[str, pa.Table],
        windows: list[Row],
        standards: list[Row],
        limits: Limits,
        as_of: date | None = None,
    ) -> None:
        self.tables = tables
        self.limits = limits
        self.standards = standards
        self.sessions = read_sessions(tables, limits)
        self.all_windows = read_windows(windows, self.sessions)
        self.devices = tables["stored_devices"].to_pylist()
        self.reviews = tables["stored_reviews"].to_pylist()
        self._scored: dict[str, bool] = {}
        last = max((s.session_date for s in self.sessions.values()), default=date.min)
        self.as_of = as_of or last

    @cached_property
    def counted(self) -> dict[str, Session]:
        """The sessions that count: the newest revision of each, not withdrawn."""
        withdrawn = {r["session_id"] for r in self.reviews if r["kind"] == "withdraw"}
        newest: dict[str, Session] = {}
        for session in self.sessions.values():
            name, revision = session.key
            if name not in withdrawn and (name not in newest or newest[name].key[1] < revision):
                newest[name] = session
        return newest

    @cached_property
    def windows(self) -> list[Window]:
        """The maneuvers of sessions that count."""
        return [w for w in self.all_windows if self.counted.get(w.session.key[0]) is w.session]

    def student_of(self, session: Session) -> str:
        """Who flew it, after any reassignment."""
        moved = [
            r for r in self.reviews if r["kind"] == "reassign" and r["session_id"] == session.key[0]
        ]
        last = max(moved, key=lambda r: r["made_at"], default=None)
        return str(last["student_id"]) if last else str(session.row["student_id"])

    @cached_property
    def holds(self) -> dict[tuple[str, str], Hold | None]:
        """Per maneuver and channel, computed once."""
        names = (*HOLDS, "pitch_control", "pitch_force")
        return {(w.maneuver_id, c): hold_of(w, c, self.limits) for w in self.windows for c in names}

    def _gate_on(self, session: Session, channel: str | None) -> bool:
        return any(
            g["severity"] == "not_scored" and g["channel"] == channel for g in session.row["gates"]
        )

    def is_scored(self, window: Window) -> bool:
        """Level, long enough, observed, flown by the student, nothing against it."""
        if window.maneuver_id not in self._scored:
            self._scored[window.maneuver_id] = self._judged(window)
        return self._scored[window.maneuver_id]

    def _judged(self, window: Window) -> bool:
        inside = [i for i, t in enumerate(window.session.t_ms) if window.is_inside(t)]
        columns = window.session.columns
        altitude = self.holds[window.maneuver_id, "altitude"]
        observed_s = (altitude.observed_s if altitude else None) or 0.0
        return not (
            window.kind != "level"
            or window.length_s < self.limits["scored_minimum_s"]
            or window.flown_by == "instructor"
            or any(columns["autopilot"][i] for i in inside)
            or any(columns["on_ground"][i] for i in inside)
            or observed_s < self.limits["scored_observed_share"] * window.length_s - 1e-6
            or self._gate_on(window.session, None)
            or any(
                r["kind"] == "set-aside"
                and r["maneuver_id"] == window.maneuver_id
                and r["aspect"] is None
                for r in self.reviews
            )
        )

    def maneuvers(self) -> Rows:
        return {
            (w.maneuver_id,): {
                "observed_s": (h.observed_s if (h := self.holds[w.maneuver_id, "altitude"]) else 0)
                or 0,
                "is_scored": self.is_scored(w),
            }
            for w in self.windows
        }

    def hold_rows(self, channel: str) -> Rows:
        """altitude_hold, heading_hold or airspeed_hold."""
        unit = HOLDS[channel]
        found: Rows = {}
        for w in self.windows:
            hold = self.holds[w.maneuver_id, channel]
            figures = asdict(hold) if hold else dict.fromkeys(Hold.__dataclass_fields__)
            has_target = {
                "altitude": w.target_altitude_ft is not None,
                "heading": w.target_heading_deg is not None,
                "airspeed": True,
            }[channel]
            row: Row = {
                f"{channel}_sd_{unit}": figures["spread"],
                f"{channel}_drift_{unit}_per_min": figures["drift_per_min"],
                f"{channel}_observed_s": figures["observed_s"],
            }
            for name, figure in {
                "bias": "mean",
                "rmse": "rms",
                "mae": "mean_absolute",
                "max": "largest",
                "hold95": "hold95",
            }.items():
                row[f"{channel}_{name}_{unit}"] = figures[figure] if has_target else None
            if channel == "airspeed":
                row["airspeed_median_kt"] = figures["median"]
            observed_s = figures["observed_s"]
            is_seen = observed_s is not None and (
                observed_s >= self.limits["scored_observed_share"] * w.length_s - 1e-6
            )
            is_held_back = self._gate_on(w.session, f"{channel}_{unit}")
            row["has_reason"] = not (is_seen and has_target) or is_held_back
            found[w.maneuver_id,] = row
        return found

    def excursions(self) -> Rows:
        return {
            (w.maneuver_id, s["standard_id"], s["channel"]): dict(
                excursion_figures(w, s["channel"], s["tolerance"], self.limits)
            )
            for w in self.windows
            for s in self.standards
        }

    def edges(self) -> dict[str, set[float]]:
        """The band edges of each channel, both signs: once and twice every tolerance."""
        found: dict[str, set[float]] = {c: set() for c in BANDED}
        for s in self.standards:
            found[s["channel"]] |= {f * s["tolerance"] for f in (1, -1, 2, -2)}
        band = self.limits["near_zero_vertical_speed_fpm"]
        found["vertical_speed"] = {band, -band}
        return found

    def excursion_runs(self) -> Rows:
        return {
            (w.maneuver_id, channel, edge, i + 1): asdict(run)
            for w in self.all_windows
            for channel, edges in self.edges().items()
            for edge in edges
            for i, run in enumerate(runs_beyond(w, channel, edge, self.limits))
        }

    def steadiness(self) -> Rows:
        return {(w.maneuver_id,): steadiness_of(w, self.limits) for w in self.windows}

    def trim_moves(self) -> Rows:
        return {
            (w.maneuver_id, i + 1): asdict(move)
            for w in self.all_windows
            for i, move in enumerate(trim_moves(w, self.limits))
        }

    def control_turns(self) -> Rows:
        found: Rows = {}
        for w in self.all_windows:
            for channel in ("pitch_control", "pitch_trim"):
                turns = control_turns(w, channel, self.limits)
                if turns is not None:
                    found[w.maneuver_id, channel] = {"turns": turns[0], "seconds": turns[1]}
        return found

    @cached_property
    def neutrals(self) -> Rows:
        """device_neutrals."""
        controls = [
            LevelControl(
                w.session.row["device_id"], self.student_of(w.session), w.session.session_date, mean
            )
            for w in self.windows
            if self.is_scored(w)
            and w.session.row["device_id"] is not None
            and (hold := self.holds[w.maneuver_id, "pitch_control"]) is not None
            and (mean := hold.mean) is not None
        ]
        days = self.fleet.days
        return {(d, day): device_neutral(d, day, controls, self.limits) for d, day in days}

    def neutral_of(self, window: Window) -> float | None:
        key = (window.session.row["device_id"], window.session.session_date)
        found: float | None = self.neutrals.get(key, {}).get("pitch_neutral")
        return found

    def kind_of(self, window: Window) -> str:
        row = window.session.row
        return control_kind(row["device_id"], row["session_date"], self.devices)

    def held_control(self) -> Rows:
        found: Rows = {}
        for w in (w for w in self.windows if w.kind == "level"):
            hold, force = (self.holds[w.maneuver_id, c] for c in ("pitch_control", "pitch_force"))
            is_free = self.kind_of(w) == "free"
            neutral, mean = self.neutral_of(w), hold.mean if hold else None
            held = None if is_free or neutral is None or mean is None else mean - neutral
            held_force = force.mean if force else None
            judged = force if is_free else hold
            share = self.limits["scored_observed_share"]
            seen_s = (judged.observed_s if judged else None) or 0.0
            value = held_force if is_free else held
            limit = self.limits["untrimmed_force_n" if is_free else "untrimmed_limit"]
            is_seen = seen_s >= share * w.length_s - 1e-6
            found[w.maneuver_id,] = {
                "held_control": held,
                "held_force_n": held_force,
                "is_untrimmed": abs(value) > limit if value is not None and is_seen else None,
            }
        return found

    def trim_settling(self) -> Rows:
        return {
            (w.maneuver_id,): settling_of(
                Event(w, self.kind_of(w), self.neutral_of(w), self.limits)
            )
            for w in self.windows
            if w.kind in ("level_off", "power_change")
        }

    def hands_off(self) -> Rows:
        found: Rows = {}
        for w in self.windows:
            neutral = self.neutral_of(w)
            is_level = w.kind in ("level", "level_off", "power_change")
            if not is_level or neutral is None or self.kind_of(w) == "free":
                continue
            for i, row in enumerate(hands_off_of(w, neutral, self.limits)):
                told = breathing_of(w, row["start_s"], row["end_s"], self.limits)
                if is_rougher(w.session, self.limits):
                    told |= {"damping_ratio": None, "damping_se": None}
                    told |= {"damping_reason": "rougher air"}
                found[w.maneuver_id, i + 1] = {**row, **told}
        return found

    def turn_figures(self) -> Rows:
        found: Rows = {}
        turns = [w for w in self.all_windows if w.kind == "turn"]
        for w in (w for w in self.windows if w.kind == "turn"):
            later = [
                t.start_ms for t in turns if t.session is w.session and t.start_ms > w.start_ms
            ]
            found[w.maneuver_id,] = turn_of(w, min(later, default=None), self.limits)
        return found

    def capture_figures(self) -> Rows:
        kinds = ("level_off", "climb", "descent")
        return {
            (w.maneuver_id,): capture_of(w, self.limits) for w in self.windows if w.kind in kinds
        }

    def technique(self) -> Rows:
        kinds = ("level", "level_off", "power_change")
        return {
            (w.maneuver_id,): technique_of(w, self.kind_of(w), self.neutral_of(w), self.limits)
            for w in self.windows
            if w.kind in kinds
        }

    def air_readings(self) -> Rows:
        return {s.key: shakes_of(s) for s in self.sessions.values() if has_unbroken_time(s)}

    def roll_trim(self) -> Rows:
        found: Rows = {}
        for w in (w for w in self.windows if w.kind == "level"):
            roll, bank = (hold_of(w, c, self.limits) for c in ("roll_control", "bank"))
            neutral = self._roll_neutral(w)
            is_telling = (
                self.kind_of(w) == "centring" or "roll_trim" not in w.session.row["channels"]
            )
            held = None
            if is_telling and roll and roll.mean is not None and neutral is not None:
                held = roll.mean - neutral
            wing = None
            if held is not None and abs(held) > self.limits["untrimmed_roll"]:
                wing = "right" if held < 0 else "left"
            elif bank and bank.mean is not None and bank.spread is not None:
                limit = max(self.limits["steady_bank_deg"], 2 * bank.spread)
                if abs(bank.mean) > limit:
                    wing = "right" if bank.mean > 0 else "left"
            found[w.maneuver_id,] = {
                "held_roll_control": held,
                "steady_bank_deg": bank.mean if bank else None,
                "heavy_wing": wing,
            }
        return found

    def _roll_neutral(self, window: Window) -> float | None:
        """Where the device's roll control rests: as its pitch control, but unrounded."""
        device, day = window.session.row["device_id"], window.session.session_date
        row = self.fleet.neutrals.get((device, day, "roll_control"), {})
        found: float | None = row.get("neutral")
        return found

    @cached_property
    def fleet(self) -> Fleet:
        """What is told of the devices."""
        flights = [
            LevelFlight(w, self.student_of(w.session), self.kind_of(w))
            for w in self.windows
            if w.session.row["device_id"] is not None and self.is_scored(w)
        ]
        return Fleet(flights, list(self.counted.values()), self.as_of, self.limits)
