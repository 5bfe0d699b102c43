"""Recorder profiles: a recorder's own columns, units, signs and clock, read as the channels."""

from pipeline.land.profiles.changes import profile_gates
from pipeline.land.profiles.folder import Profiles, load_profile, read_profiles
from pipeline.land.profiles.model import Profile
from pipeline.land.profiles.reading import read_with_profile

__all__ = [
    "Profile",
    "Profiles",
    "load_profile",
    "profile_gates",
    "read_profiles",
    "read_with_profile",
]
