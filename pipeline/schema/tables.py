"""The tables of the store as pyarrow schemas, column for column in the order in which they are
written.
"""

from typing import Final

import pyarrow as pa

from pipeline.schema.channels import CHANNELS

SCHEMA_VERSION: Final = 1

MANEUVER_KINDS: Final = ("level", "level_off", "power_change", "turn", "climb", "descent")
FLOWN_BY: Final = ("student", "instructor")
AIRS: Final = ("smooth", "light", "moderate", "rough")
DEVICE_CLASSES: Final = ("simulator", "aeroplane")
CONTROLS: Final = ("centring", "free")
SEVERITIES: Final = ("note", "warning", "suspect", "not_scored")
REVIEW_KINDS: Final = (
    "acknowledge",
    "set-aside",
    "withdraw",
    "reassign",
    "undo-set-aside",
    "undo-withdraw",
    "undo-reassign",
)

UTC_TIME: Final = pa.timestamp("us", tz="UTC")


def _key(name: str, kind: pa.DataType) -> pa.Field:
    return pa.field(name, kind, nullable=False)


GATE: Final = pa.struct(
    [
        pa.field("gate", pa.string()),
        pa.field("severity", pa.string()),
        pa.field("channel", pa.string()),
        pa.field("affected", pa.int64()),
        pa.field("from_s", pa.float64()),
        pa.field("to_s", pa.float64()),
        pa.field("detail", pa.string()),
    ]
)
"""One finding of a data check about a session; `affected` counts samples, from_s .. to_s where it
lies.
"""

SAMPLES: Final = pa.schema(
    [
        _key("session_id", pa.string()),
        _key("revision", pa.int32()),
        _key("t_ms", pa.int32()),
        *(pa.field(channel.name, channel.arrow_type) for channel in CHANNELS),
    ]
)
"""Sorted by session_id, t_ms; t_ms (from the session's start) strictly increases within a
session.
"""

SESSIONS: Final = pa.schema(
    [
        _key("session_id", pa.string()),
        _key("revision", pa.int32()),
        _key("batch_id", pa.string()),
        _key("student_id", pa.string()),
        _key("session_date", pa.date32()),
        _key("started_at", UTC_TIME),
        pa.field("device_id", pa.string()),
        pa.field("aircraft_type", pa.string()),
        pa.field("instructor_id", pa.string()),
        pa.field("lesson", pa.string()),
        pa.field("air", pa.string()),
        _key("recorder", pa.string()),
        pa.field("duration_s", pa.float64()),
        _key("sample_count", pa.int64()),
        pa.field("median_step_s", pa.float64()),
        pa.field("gap_limit_s", pa.float64()),
        pa.field("observed_s", pa.float64()),
        _key("log_name", pa.string()),
        _key("log_sha256", pa.string()),
        _key("row_sha256", pa.string()),
        pa.field("tasks_sha256", pa.string()),
        _key("channels", pa.list_(pa.string())),
        _key("sparse_channels", pa.list_(pa.string())),
        _key("gates", pa.list_(GATE)),
        _key("time_column", pa.string()),
    ]
)
"""One row per accepted revision of a session; time_column says what the log's times were read
from.
"""

TASKS: Final = pa.schema(
    [
        _key("session_id", pa.string()),
        _key("revision", pa.int32()),
        _key("task_no", pa.int32()),
        _key("start_s", pa.float64()),
        _key("end_s", pa.float64()),
        _key("kind", pa.string()),
        pa.field("target_altitude_ft", pa.float64()),
        pa.field("target_heading_deg", pa.float64()),
        _key("flown_by", pa.string()),
    ]
)

ROSTER: Final = pa.schema(
    [
        _key("student_id", pa.string()),
        pa.field("cohort", pa.string()),
        pa.field("start_date", pa.date32()),
        pa.field("stage", pa.string()),
        pa.field("left_on", pa.date32()),
        pa.field("research_consent", pa.bool_()),
        _key("row_sha256", pa.string()),
        _key("batch_id", pa.string()),
    ]
)
"""Only new and changed rows are appended; the newest batch wins per student_id."""

DEVICES: Final = pa.schema(
    [
        _key("device_id", pa.string()),
        _key("device_class", pa.string()),
        _key("control", pa.string()),
        pa.field("valid_from", pa.date32()),
        _key("row_sha256", pa.string()),
        _key("batch_id", pa.string()),
    ]
)
"""Only new and changed rows are appended; the newest batch wins per (device_id, valid_from)."""

REVIEWS: Final = pa.schema(
    [
        _key("review_id", pa.string()),
        _key("kind", pa.string()),
        pa.field("session_id", pa.string()),
        pa.field("maneuver_id", pa.string()),
        pa.field("student_id", pa.string()),
        pa.field("aspect", pa.string()),
        pa.field("note", pa.string()),
        _key("made_at", UTC_TIME),
        pa.field("until", pa.date32()),
    ]
)

TABLES: Final[dict[str, pa.Schema]] = {
    "samples": SAMPLES,
    "sessions": SESSIONS,
    "tasks": TASKS,
    "roster": ROSTER,
    "devices": DEVICES,
    "reviews": REVIEWS,
}
