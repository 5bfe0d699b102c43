"""The school's settings: school.toml in the warehouse, every key optional, unknown keys refused."""

import tomllib
from collections.abc import Collection, Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from pipeline.errors import SettingsError

SETTINGS_NAME: Final = "school.toml"


_COUNTS: Final = frozenset(
    [
        *("buckets", "channels", "events", "level-offs", "maneuvers", "rounds", "rows"),
        *("sessions", "students", "swings", "trim inputs", "weeks"),
    ]
)

_RANGES: Final = {
    "0 or 1": (0.0, 1.0),
    "correlation": (-1.0, 1.0),
    "fraction": (0.0, 1.0),
    "fraction of full power": (0.0, 1.0),
    "fraction of travel": (0.0, 1.0),
    "probability": (0.0, 1.0),
    "standard normal": (-6.0, 6.0),
    "deg": (0.0, 180.0),
}
"""The least and the most that a limit of a unit can be; counts begin at 1, all others above 0."""

_MAY_BE_ZERO: Final = frozenset(["0 or 1", "correlation", "standard normal"])


class _Frozen(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Standard(_Frozen):
    """A tolerance of the school's own, per channel; at least one is given."""

    altitude_ft: float | None = Field(default=None, gt=0)
    heading_deg: float | None = Field(default=None, gt=0, le=180)
    airspeed_kt: float | None = Field(default=None, gt=0)

    @model_validator(mode="after")
    def _has_a_tolerance(self) -> Self:
        if self.altitude_ft is None and self.heading_deg is None and self.airspeed_kt is None:
            raise ValueError("give at least one of altitude_ft, heading_deg, airspeed_kt")
        return self


class Landing(_Frozen):
    """What one input file may cost; a larger one is refused, so that one file cannot exhaust the
    machine.
    """

    max_log_mb: float = Field(default=256, gt=0)
    max_columns: int = Field(default=500, gt=0)
    max_paper_mb: float = Field(default=16, gt=0)
    max_paper_rows: int = Field(default=500_000, gt=0)


class Keep(_Frozen):
    """For how many days the store keeps what no figure rests on; None is for good."""

    runs_days: int | None = Field(default=None, ge=1)
    quarantine_days: int | None = Field(default=None, ge=1)


class Export(_Frozen):
    """What every export says of its terms: a licence (an SPDX identifier, or words), whom to ask,
    the consent or ethics basis.
    """

    licence: str | None = Field(default=None, min_length=1, max_length=120)
    contact: str | None = Field(default=None, min_length=1, max_length=200)
    ethics: str | None = Field(default=None, min_length=1, max_length=500)


class Settings(_Frozen):
    """Everything a school can set. `limits` holds only what differs from the shipped limits."""

    school_name: str | None = Field(default=None, max_length=80)
    stages: dict[str, str] = Field(default_factory=dict)
    standards: dict[str, Standard] = Field(default_factory=dict)
    limits: dict[str, float] = Field(default_factory=dict)
    landing: Landing = Field(default_factory=Landing)
    keep: Keep = Field(default_factory=Keep)
    export: Export = Field(default_factory=Export)


def load_settings(
    path: Path, limit_units: Mapping[str, str], standard_names: Collection[str] = ()
) -> Settings:
    """The settings of `path` (school.toml, or the warehouse that holds it); the defaults where
    there is none.

    `limit_units` are the limits that may be set, with their units; `standard_names` the shipped
    standards that a stage may name besides the school's own (not checked where none are given).
    Raises SettingsError that names every fault as `file: key: what is wrong`, with the nearest known name.
    """
    file = path / SETTINGS_NAME if path.is_dir() else path
    if not file.exists():
        return Settings()
    try:
        content = tomllib.loads(file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise SettingsError(f"{file.name}: {error}; mend the file or remove it") from error
    return parse_settings(content, file.name, limit_units, standard_names)


def parse_settings(
    content: dict[str, Any],
    name: str,
    limit_units: Mapping[str, str],
    standard_names: Collection[str] = (),
) -> Settings:
    """The settings in `content`, with the same checks as `load_settings`; `name` is the file to
    blame.
    """
    try:
        settings = Settings.model_validate(content)
    except ValidationError as error:
        faults = [_sentence(detail) for detail in error.errors()]
    else:
        faults = [
            *_impossible_limits(settings, limit_units),
            *_unknown_standards(settings, standard_names),
        ]
        if not faults:
            return settings
    raise SettingsError("; ".join(f"{name}: {fault}" for fault in faults))


def nearest(word: str, known: Collection[str]) -> str:
    """A hint that names the known word most like `word`, or all of them if few, else nothing."""
    close = get_close_matches(word, sorted(known), n=1)
    if close:
        return f"; did you mean {close[0]}?"
    return f"; known: {', '.join(sorted(known))}" if 0 < len(known) <= 12 else ""


def _sentence(detail: ErrorDetails) -> str:
    key = ".".join(str(part) for part in detail["loc"])
    if detail["type"] == "extra_forbidden":
        return (
            f"{key}: no such key{nearest(str(detail['loc'][-1]), _known_keys(detail['loc'][:-1]))}"
        )
    message = detail["msg"].removeprefix("Value error, ")
    got = detail["input"]
    return f"{key}: {message}" + ("" if isinstance(got, dict) else f" (got {got!r})")


def _known_keys(where: tuple[int | str, ...]) -> Collection[str]:
    """The keys allowed at a place in the file."""
    models: dict[str, type[BaseModel]] = {
        "standards": Standard,
        "landing": Landing,
        "keep": Keep,
        "export": Export,
    }
    model = models[str(where[0])] if where else Settings
    return tuple(model.model_fields)


def _impossible_limits(settings: Settings, units: Mapping[str, str]) -> Iterator[str]:
    for key, value in settings.limits.items():
        if key not in units:
            yield f"limits.{key}: no such limit{nearest(key, units)}"
        elif not _is_possible(value, units[key]):
            yield f"limits.{key}: must be {_possible_words(units[key])} (got {value:g})"


def _is_possible(value: float, unit: str) -> bool:
    if unit in _COUNTS:
        return value >= 1
    if unit == "0 or 1":
        return value in {0, 1}
    low, high = _RANGES.get(unit, (0.0, float("inf")))
    return low <= value <= high and (value != 0 or unit in _MAY_BE_ZERO)


def _possible_words(unit: str) -> str:
    if unit in _COUNTS:
        return f"1 or more, in {unit}"
    if unit == "0 or 1":
        return "0 or 1"
    if unit in _MAY_BE_ZERO:
        low, high = _RANGES[unit]
        return f"from {low:g} to {high:g}"
    at_most = f" and at most {_RANGES[unit][1]:g}" if unit in _RANGES else ""
    return f"above 0{at_most}, in {unit}"


def _unknown_standards(settings: Settings, shipped: Collection[str]) -> Iterator[str]:
    if not shipped:
        return
    known = {*shipped, *settings.standards}
    for stage, standard in settings.stages.items():
        if standard not in known:
            yield f"stages.{stage}: no standard named {standard!r}{nearest(standard, known)}"
