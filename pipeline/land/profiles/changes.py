"""What a profile does to a log, in words: each column with its channel, unit change and sign."""

from collections.abc import Iterator

from pipeline.land.gates import Gate
from pipeline.land.profiles.folder import digest_of_profile
from pipeline.land.profiles.model import Altitude, ChannelColumn, Heading, Profile
from pipeline.land.profiles.units import factor_to
from pipeline.schema.channels import CHANNEL_BY_NAME, Channel


def changes(profile: Profile) -> tuple[str, ...]:
    """One line for the time and for each channel, in the order of the channels."""
    channels = (n for n in CHANNEL_BY_NAME if n in profile.channels)
    lines = (
        f"{n} from {profile.channels[n].column!r}{''.join(_steps(profile, n))}" for n in channels
    )
    return (f"time from {profile.time.column!r}: {_clock(profile)}", *lines)


def profile_gates(
    profile: Profile, recorder: str, absent: tuple[str, ...], samples: int
) -> tuple[Gate, ...]:
    """Notes for the record: which profile a log was read with, and which of its columns it lacked."""
    digest = digest_of_profile(profile)[:12]
    said = f"read with the profile {recorder} (fingerprint {digest})"
    gates = [Gate("read_with_profile", "note", None, samples, None, None, said)]
    if absent:
        names = ", ".join(repr(column) for column in absent)
        said = f"the profile {recorder} names {names}; the log has no such column"
        gates.append(Gate("column_absent", "note", None, 0, None, None, said))
    return tuple(gates)


def _clock(profile: Profile) -> str:
    clock = profile.time
    if clock.form in ("elapsed", "epoch"):
        since = "the session's start" if clock.form == "elapsed" else "1970 (UTC)"
        return f"{clock.unit} since {since}"
    zone = "with its offset" if clock.zone is None else f"in the zone {clock.zone}"
    if clock.form == "iso":
        return f"ISO 8601 {zone}"
    days = "the session's date" if clock.date_column is None else f"{clock.date_column!r}"
    return f"a clock {zone}, on {days}"


def _steps(profile: Profile, name: str) -> Iterator[str]:
    mapped, channel = profile.channels[name], CHANNEL_BY_NAME[name]
    yield _unit_change(mapped, channel)
    if mapped.sign < 0:
        yield ", sign turned"
    if name == "heading_deg" and profile.heading.reference == "true":
        yield f", true to magnetic {_variation(profile.heading)}"
    if name == "altitude_ft" and profile.altitude.reference == "pressure":
        yield f", pressure to indicated altitude {_setting(profile.altitude)}"


def _unit_change(mapped: ChannelColumn, channel: Channel) -> str:
    if not channel.is_number:
        return ""
    if mapped.full is not None:
        return f": {mapped.zero or 0:g} is none and {mapped.full:g} is full"
    if mapped.zero is not None:
        return f": {mapped.zero:g} {mapped.unit or ''}".rstrip() + " is none"
    factor = 1.0 if mapped.unit is None else factor_to(mapped.unit, channel.unit)
    if factor == 1:
        return f": {channel.unit}, as it stands"
    return f": {mapped.unit} to {channel.unit} (x {factor:.6g})"


def _variation(heading: Heading) -> str:
    if heading.variation_deg is not None:
        return f"by a variation of {heading.variation_deg:+g} deg (east +)"
    if heading.latitude_deg is not None:
        return f"by the World Magnetic Model at {heading.latitude_deg:g}, {heading.longitude_deg:g}"
    return (
        f"by the World Magnetic Model at {heading.latitude_column!r}, {heading.longitude_column!r}"
    )


def _setting(altitude: Altitude) -> str:
    if altitude.setting_column is not None:
        return f"by the setting in {altitude.setting_column!r} ({altitude.setting_unit})"
    return f"by a setting of {altitude.setting:g} {altitude.setting_unit}"
