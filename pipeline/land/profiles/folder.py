"""The profiles of a school: one file each in the warehouse's folder `profiles`."""

import hashlib
import json
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from pipeline.errors import SettingsError
from pipeline.land.identifiers import fault_of_identifier
from pipeline.land.profiles import model
from pipeline.land.profiles.model import Profile
from pipeline.land.rows import CANONICAL
from pipeline.settings import nearest

FOLDER: Final = "profiles"
ENDING: Final = ".toml"
MOST_BYTES: Final = 64_000

_PARTS: Final[dict[str, type[BaseModel]]] = {
    "text": model.TextForm,
    "time": model.TimeColumn,
    "heading": model.Heading,
    "altitude": model.Altitude,
    "channels": model.ChannelColumn,
}


@dataclass(frozen=True)
class Profiles:
    """The profiles that can be used, by name, and what is wrong with each of the others."""

    usable: Mapping[str, Profile] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)

    def digest(self, recorder: str) -> str | None:
        """A fingerprint of all that a profile says; None for the canonical form."""
        return None if recorder == CANONICAL else digest_of_profile(self.usable[recorder])

    def why_not(self, recorder: str) -> str:
        """Why a recorder's logs cannot be read yet, and what to do."""
        if recorder in self.faults:
            return f"its profile cannot be used ({self.faults[recorder]})"
        hint = nearest(recorder, self.usable)
        return f"put {recorder}{ENDING} into the warehouse's folder {FOLDER}{hint}"


def read_profiles(warehouse: Path) -> Profiles:
    """Every profile of a warehouse; one that is not valid spoils no other."""
    usable: dict[str, Profile] = {}
    faults: dict[str, str] = {}
    for path in sorted((warehouse / FOLDER).glob(f"*{ENDING}")):
        try:
            usable[path.stem] = load_profile(path)
        except SettingsError as error:
            faults[path.stem] = str(error)
    return Profiles(usable, faults)


def load_profile(path: Path) -> Profile:
    """One profile. Raises SettingsError that names every fault as `file: key: what is wrong`."""
    name = f"{path.absolute().parent.name}/{path.name}"
    fault = fault_of_identifier(path.stem)
    if fault is not None or path.stem == CANONICAL:
        said = f"its name {fault}" if fault else f"{CANONICAL!r} is the form without a profile"
        raise SettingsError(f"{name}: {said}; rename it")
    try:
        content = path.read_bytes()
        if len(content) > MOST_BYTES:
            raise SettingsError(f"{name}: larger than {MOST_BYTES} bytes; this is no profile")
        return Profile.model_validate(tomllib.loads(content.decode("utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise SettingsError(f"{name}: {error}; mend the file") from error
    except ValidationError as error:
        faults = "; ".join(f"{name}: {_sentence(detail)}" for detail in error.errors())
        raise SettingsError(faults) from None


def digest_of_profile(profile: Profile) -> str:
    """A fingerprint of what a profile says; its remarks and the order of its keys do not count."""
    said = json.dumps(profile.model_dump(exclude={"about"}), sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()


def _sentence(detail: ErrorDetails) -> str:
    where = detail["loc"]
    key = ".".join(str(part) for part in where)
    if detail["type"] == "extra_forbidden":
        return f"{key}: no such key{nearest(str(where[-1]), _known_keys(where[:-1]))}"
    if detail["type"] == "missing":
        return f"{key}: is missing"
    message = detail["msg"].removeprefix("Value error, ")
    got = detail["input"]
    is_plain = isinstance(got, str | int | float)
    return f"{key}: {message}".removeprefix(": ") + (f" (got {got!r})" if is_plain else "")


def _known_keys(where: tuple[int | str, ...]) -> Collection[str]:
    """The keys that a profile may hold at a place."""
    part: Any = _PARTS[str(where[0])] if where else Profile
    return tuple(part.model_fields)
