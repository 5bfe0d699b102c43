"""The last night in one line, from the landing under way or from the newest run report."""

import json
from datetime import UTC, datetime
from pathlib import Path

from pipeline.pages.last_run import from_landing, newest_run
from pipeline.reports import LandedSession, LandReport, Reason, Refusal, Waiting
from pipeline.store import Warehouse

AT = datetime(2026, 3, 28, 2, 5, tzinfo=UTC)
REASON = Reason("empty", "logs/s2.csv: empty; send it again", "logs/s2.csv")


def test_a_landing_is_told_in_one_line() -> None:
    report = LandReport(
        "b1",
        AT,
        landed=(LandedSession("s1", 1, "2026-03-27", 400),),
        refusals=(
            Refusal("log", "logs/s2.csv", (REASON,), "s2"),
            Refusal("log", "logs/s3.csv", (REASON,), "s3", is_new=False),
        ),
        waiting=(Waiting("unclaimed", "logs/s4.csv", "logs/s4.csv waits"),),
    )
    run = from_landing(report)
    assert run.line == (
        "Last run 28 Mar 2026, 02:05 UTC: 1 new session taken, 2 inputs refused "
        "(1 of them known from earlier nights), 1 input waiting."
    )
    assert run.refused[0].sentences == ("logs/s2.csv: empty; send it again",)
    assert run.refused[0].faults == ("empty; send it again",)


def test_the_newest_report_is_told(tmp_path: Path) -> None:
    warehouse = Warehouse(tmp_path)
    assert newest_run(warehouse) is None
    warehouse.runs.mkdir()
    nights: dict[str, list[dict[str, str]]] = {"27": [], "28": [{}, {}]}
    for day, landed in nights.items():
        report = {
            "started_at": f"2026-03-{day}T02:00:00+00:00",
            "landed": landed,
            "already_landed": 0,
            "refused": [],
            "waiting": [],
            "warnings": [],
        }
        (warehouse.runs / f"r202603{day}T020000Z.json").write_text(json.dumps(report))
    run = newest_run(warehouse)
    assert run is not None
    assert run.line == (
        "Last run 28 Mar 2026, 02:00 UTC: 2 new sessions taken, 0 inputs refused, 0 inputs waiting."
    )


def test_of_runs_that_started_in_one_second_the_last_is_told(tmp_path: Path) -> None:
    warehouse = Warehouse(tmp_path)
    warehouse.runs.mkdir()
    for number, name in enumerate(
        ("r20260328T020000Z", *(f"r20260328T020000Z-{n}" for n in range(2, 11)))
    ):
        report = {
            "started_at": "2026-03-28T02:00:00+00:00",
            "landed": [],
            "already_landed": number,
            "refused": [],
            "waiting": [],
            "warnings": [],
        }
        (warehouse.runs / f"{name}.json").write_text(json.dumps(report))
        run = newest_run(warehouse)
        assert run is not None
        assert run.already_landed == number
