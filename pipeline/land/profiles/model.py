"""What a profile may say: how the text is written, where the time is, which column is which channel."""

from typing import Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from pipeline.land.profiles.units import SHARES, factor_to
from pipeline.land.profiles.zones import zone_fault
from pipeline.schema.channels import CHANNEL_BY_NAME, REQUIRED_CHANNELS
from pipeline.settings import nearest

TimeForm = Literal["elapsed", "epoch", "iso", "date_and_clock", "clock"]

_TIME_KEYS: Final[dict[TimeForm, frozenset[str]]] = {
    "elapsed": frozenset({"unit"}),
    "epoch": frozenset({"unit"}),
    "iso": frozenset({"zone"}),
    "date_and_clock": frozenset({"date_column", "date_order", "zone"}),
    "clock": frozenset({"zone"}),
}
"""Which keys of [time] belong to a form, besides `form` and `column`."""


class _Frozen(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class TextForm(_Frozen):
    """How the text of a log is written; a Parquet log has none of this.

    `preamble_lines` stand before the heading, `lines_below_heading` (of units, for instance)
    between it and the first sample; `blanks` are words for "no value".
    """

    encoding: Literal["utf-8", "utf-16", "latin-1"] = "utf-8"
    delimiter: str = Field(default=",", min_length=1, max_length=1)
    decimal: Literal[".", ","] = "."
    preamble_lines: int = Field(default=0, ge=0, le=1000)
    lines_below_heading: int = Field(default=0, ge=0, le=20)
    blanks: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _separators_differ(self) -> Self:
        if self.delimiter == self.decimal:
            raise ValueError("delimiter and decimal are the same character")
        return self


class TimeColumn(_Frozen):
    """Where a row's time is: seconds elapsed, seconds since 1970, or a clock and perhaps a date."""

    form: TimeForm
    column: str
    unit: Literal["us", "ms", "s", "min", "h"] = "s"
    zone: str | None = None
    date_column: str | None = None
    date_order: Literal["ymd", "dmy", "mdy"] = "ymd"

    @model_validator(mode="after")
    def _keys_belong_to_the_form(self) -> Self:
        given = self.model_fields_set - {"form", "column"}
        foreign = sorted(given - _TIME_KEYS[self.form])
        if foreign:
            raise ValueError(f"{', '.join(foreign)} does not belong to the form {self.form!r}")
        if self.form in ("date_and_clock", "clock") and self.zone is None:
            raise ValueError(
                "zone is missing: a clock without one tells no moment; name it as UTC or Europe/Oslo"
            )
        if self.form == "date_and_clock" and self.date_column is None:
            raise ValueError("date_column is missing")
        return self

    @field_validator("zone")
    @classmethod
    def _zone_exists(cls, zone: str | None) -> str | None:
        fault = None if zone is None else zone_fault(zone)
        if fault is not None:
            raise ValueError(fault)
        return zone


class ChannelColumn(_Frozen):
    """The column of one channel: its unit, which way is positive, or what stands for none and full.

    Controls, trims and power are parts of full travel or power: `zero` and `full` are the column's
    readings there. `true` and `false` are a switch's words besides the usual ones.
    """

    column: str
    unit: str | None = None
    sign: Literal[1, -1] = 1
    zero: float | None = None
    full: float | None = None
    true: tuple[str, ...] = ()
    false: tuple[str, ...] = ()


class Heading(_Frozen):
    """Which north headings count from, and how far magnetic north lies from the true one.

    A variation is east positive: either one number of degrees, or that of the World Magnetic
    Model at a place (fixed, or from two columns in degrees) on the session's day.
    """

    reference: Literal["magnetic", "true"] = "magnetic"
    variation_deg: float | None = Field(default=None, ge=-180, le=180)
    latitude_deg: float | None = Field(default=None, ge=-90, le=90)
    longitude_deg: float | None = Field(default=None, ge=-180, le=180)
    latitude_column: str | None = None
    longitude_column: str | None = None

    @model_validator(mode="after")
    def _has_one_way(self) -> Self:
        place = (self.latitude_deg, self.longitude_deg)
        columns = (self.latitude_column, self.longitude_column)
        if any((a is None) != (b is None) for a, b in (place, columns)):
            raise ValueError("a place needs both latitude and longitude")
        ways = sum(way is not None for way in (self.variation_deg, place[0], columns[0]))
        if self.reference == "magnetic" and ways:
            raise ValueError("a magnetic heading takes no variation and no place")
        if self.reference == "true" and ways != 1:
            raise ValueError(
                "a true heading needs one of variation_deg, latitude_deg with longitude_deg, "
                "or latitude_column with longitude_column"
            )
        return self


class Altitude(_Frozen):
    """What altitude the log holds; pressure altitude needs the altimeter setting to be indicated.

    Geometric (satellite) altitude is not taken: a pilot holds what the altimeter shows.
    """

    reference: Literal["indicated", "pressure"] = "indicated"
    setting: float | None = None
    setting_column: str | None = None
    setting_unit: Literal["hPa", "inHg"] = "hPa"

    @model_validator(mode="after")
    def _has_one_setting(self) -> Self:
        given = (self.setting is not None) + (self.setting_column is not None)
        if given != (self.reference == "pressure"):
            raise ValueError(
                "a pressure altitude needs setting or setting_column, an indicated one neither"
            )
        return self


class Profile(_Frozen):
    """How one recorder writes its logs. `channels` maps a channel's name to its column."""

    about: str = Field(default="", max_length=400)
    text: TextForm = TextForm()
    time: TimeColumn
    channels: dict[str, ChannelColumn]
    heading: Heading = Heading()
    altitude: Altitude = Altitude()

    @field_validator("channels")
    @classmethod
    def _channels_fit(cls, channels: dict[str, ChannelColumn]) -> dict[str, ChannelColumn]:
        faults = [fault for name, column in channels.items() for fault in _faults(name, column)]
        faults += [
            f"{name}: the required channel has no column"
            for name in REQUIRED_CHANNELS
            if name not in channels
        ]
        if faults:
            raise ValueError("; ".join(faults))
        return channels

    @property
    def columns(self) -> dict[str, str]:
        """Every column that the profile reads, with what for."""
        found = {mapped.column: name for name, mapped in self.channels.items()}
        others = {
            self.time.column: "the time",
            self.time.date_column: "the date",
            self.heading.latitude_column: "the latitude",
            self.heading.longitude_column: "the longitude",
            self.altitude.setting_column: "the altimeter setting",
        }
        return found | {name: what for name, what in others.items() if name is not None}


def _faults(name: str, mapped: ChannelColumn) -> list[str]:
    """What is wrong with the column of one channel."""
    if name not in CHANNEL_BY_NAME:
        return [f"{name}: no such channel{nearest(name, CHANNEL_BY_NAME)}"]
    channel = CHANNEL_BY_NAME[name]
    given = mapped.model_fields_set - {"column"}
    if not channel.is_number:
        foreign, kind = given - {"true", "false"}, "a switch"
    elif channel.unit in SHARES:
        foreign, kind = given & {"true", "false"}, "a number"
    else:
        foreign, kind = given & {"true", "false", "zero", "full"}, f"a channel in {channel.unit}"
    faults = [f"{name}.{key}: has no meaning for {kind}" for key in sorted(foreign)]
    if mapped.full is not None and mapped.full == (mapped.zero or 0.0):
        faults.append(f"{name}.full: is the same reading as zero")
    if mapped.unit is not None and channel.is_number and mapped.full is None:
        faults += _unit_faults(name, mapped.unit, channel.unit)
    return faults


def _unit_faults(name: str, unit: str, wanted: str) -> list[str]:
    try:
        factor_to(unit, wanted)
    except ValueError as error:
        return [f"{name}.unit: {error}"]
    return []
