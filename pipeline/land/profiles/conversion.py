"""A recorder's cells as the channels: units, signs, full travel, which north, which altitude."""

from datetime import date
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from pipeline.land.faults import RefusedFile, make_reason
from pipeline.land.log_cells import LogCells, as_numbers
from pipeline.land.profiles.altimeter import held_settings, setting_difference_ft
from pipeline.land.profiles.model import ChannelColumn, Profile
from pipeline.land.profiles.north import declinations_deg
from pipeline.land.profiles.units import factor_to
from pipeline.schema.channels import CHANNEL_BY_NAME, CLOCK_COLUMN, ELAPSED_COLUMN, Channel

Floats = NDArray[np.float64]

_SHARE: Final = "fraction"


def convert(cells: LogCells, profile: Profile, day: date, file: str) -> LogCells:
    """The delivered cells as channels. A cell that is no value stays one that is counted as bad."""
    columns: dict[str, pa.Array] = {}
    names = {ELAPSED_COLUMN: profile.time.column, CLOCK_COLUMN: profile.time.column}
    originals = {name: cells.columns[column] for name, column in names.items()}
    for name, mapped in profile.channels.items():
        if mapped.column not in cells.columns:
            continue
        column = cells.columns[mapped.column]
        names[name], originals[name] = mapped.column, column
        columns[name] = _as_channel(column, mapped, CHANNEL_BY_NAME[name])
    columns["heading_deg"] = _to_magnetic(columns["heading_deg"], cells, profile, day, file)
    columns["altitude_ft"] = _to_indicated(columns["altitude_ft"], cells, profile, file)
    return LogCells(
        columns,
        cells.row_count,
        cells.ignored,
        cells.cut_rows,
        cells.row_of,
        delivered=originals,
        names=names,
    )


def _as_channel(column: pa.Array, mapped: ChannelColumn, channel: Channel) -> pa.Array:
    if not channel.is_number:
        return _as_switch(column, mapped)
    numbers = as_numbers(column, np.float64)
    values = numbers.values.astype(np.float64)
    if mapped.full is not None or mapped.zero is not None:
        zero = mapped.zero or 0.0
        full = mapped.full if mapped.full is not None else zero + _whole(mapped)
        values = (values - zero) / (full - zero)
    elif mapped.unit is not None:
        values = values * factor_to(mapped.unit, channel.unit)
    return _with_blanks(values * mapped.sign, numbers.bad)


def _whole(mapped: ChannelColumn) -> float:
    """Full travel in the column's unit where only its zero is given."""
    return 1.0 if mapped.unit is None else 1.0 / factor_to(mapped.unit, _SHARE)


def _as_switch(column: pa.Array, mapped: ChannelColumn) -> pa.Array:
    """true/false cells, the profile's own words made plain ones."""
    if not (mapped.true or mapped.false):
        return column
    words = dict.fromkeys(mapped.true, "true") | dict.fromkeys(mapped.false, "false")
    texts = pc.cast(column, pa.string()).to_pylist()
    plain = [None if text is None else words.get(text.strip(), text) for text in texts]
    return pa.array(plain, pa.string())


def _with_blanks(values: Floats, bad: NDArray[np.int64]) -> pa.Array:
    """Numbers as an array in which a blank cell is null and a bad one NaN."""
    is_blank = np.isnan(values)
    is_blank[bad] = False
    return pa.array(values, pa.float64(), mask=is_blank)


def _to_magnetic(
    heading: pa.Array, cells: LogCells, profile: Profile, day: date, file: str
) -> pa.Array:
    north = profile.heading
    if north.reference == "magnetic":
        return heading
    try:
        if north.variation_deg is not None:
            variation: Floats | float = north.variation_deg
        elif north.latitude_deg is not None and north.longitude_deg is not None:
            place = np.array([north.latitude_deg]), np.array([north.longitude_deg])
            variation = float(declinations_deg(*place, day)[0])
        else:
            columns = (str(north.latitude_column), str(north.longitude_column))
            lat, lon = (_numbers(cells.columns[column]) for column in columns)
            variation = declinations_deg(lat, lon, day)
    except ValueError as error:
        said = f"the true heading cannot be made magnetic: {error}"
        raise RefusedFile([make_reason("no_variation", file, said, "mend the profile")]) from None
    return _shifted(heading, -np.asarray(variation))


def _to_indicated(altitude: pa.Array, cells: LogCells, profile: Profile, file: str) -> pa.Array:
    told = profile.altitude
    if told.reference == "indicated":
        return altitude
    to_hpa = factor_to(told.setting_unit, "hPa")
    if told.setting_column is not None:
        settings = held_settings(_numbers(cells.columns[told.setting_column]) * to_hpa)
    else:
        settings = held_settings(np.full(cells.row_count, (told.setting or 0.0) * to_hpa))
    if cells.row_count and np.isnan(settings).all():
        said = "no row has an altimeter setting, and pressure altitude alone is not what was flown"
        reason = make_reason("no_setting", file, said, "mend the profile or the log")
        raise RefusedFile([reason])
    return _shifted(altitude, setting_difference_ft(settings))


def _numbers(cells: pa.Array) -> Floats:
    return np.asarray(as_numbers(cells, np.float64).values, np.float64)


def _shifted(cells: pa.Array, by: Floats) -> pa.Array:
    """Values with something added; blank cells stay null and bad ones NaN."""
    return pc.add(cells, pa.array(np.broadcast_to(by, len(cells)), pa.float64()))
