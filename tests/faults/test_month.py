"""A month of a school's nights, and all that goes wrong in one, against one night of a fresh store."""

import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

import pytest

from pipeline.cli.told_night import night_lines
from pipeline.measure import measure_warehouse
from pipeline.nightly import NightReport, run_night
from pipeline.reading import kept_relations, open_warehouse, school_settings
from pipeline.relations import needed_for, relation_files
from pipeline.store import audit_store
from tests.inboxes import School
from tests.larger_school import TASKS, flight
from tests.stores import WITH_CHOICES

ROOT = Path(__file__).parents[2]
FIRST = datetime(2026, 1, 5, 9, tzinfo=UTC)
STUDENTS = {"MH1": 0.4, "MH2": 2.4, "MH3": 0.8, "MH4": 1.5}
"""Each student's clumsiness; MH4 will be forgotten."""

ROSTER = "student_id,cohort,start_date,stage\n" + "".join(
    f"{student},January,2026-01-01,first-lessons\n" for student in STUDENTS
)
DEVICES = (
    "device_id,device_class,control,valid_from\n"
    "SIM-1,simulator,centring,2026-01-01\nSIM-2,simulator,centring,2026-01-01\n"
)
MANEUVER = re.compile(r"(MH\d-d\d\d)\.(\d)\.")
NOT_COMPARED = frozenset({"batch_id", "made_at", "review_id", "maneuver_no", "contribution_id"})
"""What differs by the night on which it came, or is counted or made of a revision."""

ONE_NIGHT = """
import sys
from datetime import datetime
from pathlib import Path
from pipeline.cli.told_night import night_lines
from pipeline.nightly import run_night
from pipeline.reading import school_settings
from pipeline.store import Warehouse
place = Warehouse(Path(sys.argv[2]))
now = datetime.fromisoformat(sys.argv[3])
print(*night_lines(run_night(Path(sys.argv[1]), place, school_settings(place), now)), sep="\\n")
"""
STRUCK = """
import sys
import pipeline.pages.publish
from tests.faults.interposed import Fate, interpose
interpose(Fate(int(sys.argv.pop(1)), sys.argv.pop(1)))
"""
COMMAND = "from pipeline.cli import main\nmain(sys.argv[1:])\n"


@dataclass
class Month:
    """A school whose nights are run one after another; `told` is all that they said."""

    school: School
    rows: dict[str, str] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)

    @property
    def night(self) -> tuple[Path, Path]:
        """The two folders of a night."""
        return self.school.inbox, self.school.store.root

    def fly(self, day: int, *students: str, has_log: bool = True) -> None:
        """Sessions of one day: their rows, logs and tasks into the inbox."""
        for number, student in enumerate(students):
            session, at = f"{student}-d{day:02d}", FIRST + timedelta(days=day, minutes=number)
            self.rows[session] = (
                f"{session},{student},{at.isoformat()},SIM-{1 + day % 2},trainer,IN1,levels\n"
            )
            self.school.put(f"tasks/{session}.csv", TASKS)
            if has_log:
                self.deliver(session)
        self.school.sessions(*self.rows.values())

    def deliver(self, session: str, seed: str = "", text: str | None = None) -> None:
        """A session's log; another seed draws another flight."""
        clumsiness = STUDENTS[session.partition("-")[0]]
        log = flight(Random(session + seed), clumsiness) if text is None else text
        self.school.put(f"logs/{session}.csv", log)

    def run(self, day: int) -> NightReport:
        """The night after a day, by the version of today."""
        store = self.school.store
        report = run_night(self.school.inbox, store, school_settings(store), after(day))
        self.told += [f"-- the night after day {day}", *night_lines(report)]
        return report

    def run_elsewhere(self, script: str, *words: object, root: Path = ROOT) -> tuple[int, str]:
        """A script in a process of its own, with the package that lies in `root`."""
        command = [sys.executable, "-c", script, *map(str, words)]
        done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
        self.told += [*done.stdout.splitlines(), *done.stderr.splitlines()]
        return done.returncode, done.stdout + done.stderr


def after(day: int) -> datetime:
    """The moment of the night after a day."""
    return FIRST + timedelta(days=day, hours=17)


def newer_version(folder: Path) -> Path:
    """A copy of the package as a later version: one measure and one view are defined otherwise."""
    for part in ("pipeline", "sql"):
        shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
    for file, old, new in (
        ("pipeline/__init__.py", '__version__ = "', '__version__ = "9.'),
        ("sql/0_store/settings.sql", "('altitude_bin_ft', 0.25,", "('altitude_bin_ft', 20,"),
        ("sql/4_measure/altitude_hold.sql", "ROUND(c.hold95, 9)", "ROUND(c.hold95 / 4, 9)"),
    ):
        text = (folder / file).read_text(encoding="utf-8")
        assert text.count(old) == 1, file
        (folder / file).write_text(text.replace(old, new), encoding="utf-8")
    return folder


def all_rows(school: School) -> Mapping[str, list[str]]:
    """Every relation's rows as sorted text: of sessions as they are now, what only names a night left out.

    Relations that number or join samples for measuring alone are told by what is measured with them.
    """
    kept = kept_relations()
    names = [
        name
        for name in relation_files()
        if name not in WITH_CHOICES
        and not name.startswith("stored_")
        and (name in kept or "stored_samples" not in {r.name for r in needed_for([name], kept)})
    ]
    con = open_warehouse(school.store, school_settings(school.store), [*names, "sessions"])
    current = dict(con.execute("SELECT session_id, revision FROM sessions").fetchall())
    return {
        name: sorted(
            row
            for found in con.sql(f"FROM {name}").to_arrow_table().to_pylist()
            if (row := _alike(found, current)) is not None
        )
        for name in names
    }


def _alike(row: Mapping[str, object], current: Mapping[str, int]) -> str | None:
    """A row with its session's newest revision called the first; None where it is of an older one."""
    kept = {name: value for name, value in row.items() if name not in NOT_COMPARED}
    maneuver = MANEUVER.match(str(kept.get("maneuver_id")))
    session = maneuver[1] if maneuver else kept.get("session_id")
    revision = int(maneuver[2]) if maneuver else kept.get("revision")
    if session in current and revision not in (None, current[str(session)]):
        return None
    if "revision" in kept:
        kept["revision"] = 1
    return re.sub(MANEUVER, r"\1.1.", repr(kept))


def fresh_school(month: School, root: Path, without: str) -> School:
    """A school with the month's inbox as it is at the end, without one student."""
    school = School(root)
    shutil.copytree(month.inbox, school.inbox)
    for path in [*school.inbox.glob(f"*/{without}-*")]:
        path.unlink()
    for paper in ("roster.csv", "sessions.csv"):
        lines = (school.inbox / paper).read_text().splitlines(keepends=True)
        school.put(paper, "".join(line for line in lines if without not in line))
    return school


def says_what_where_and_what_to_do(lines: list[str]) -> Iterator[str]:
    """The lines of refusals and errors that lack a file or what to do about it."""
    for line in lines:
        if line.startswith("refused: ") and not re.match(r"refused: [\w./-]+[,:].+; .+", line):
            yield line
        if line.startswith("levelhold: ") and not re.match(r"levelhold: .+: .+[:;] .+", line):
            yield line
        if line.startswith("waiting: ") and not re.match(
            r"waiting: (session |logs/|tasks/)[\w-]+", line
        ):
            yield line


@pytest.mark.slow
def test_a_month_of_nights_ends_as_one_night_of_a_fresh_store(tmp_path: Path) -> None:
    month = Month(School(tmp_path / "month"))
    school = month.school
    store = school.store
    school.put("roster.csv", ROSTER.replace("MH3,January,2026-01-01,first-lessons\n", ""))
    month.fly(0, "MH1", "MH2", "MH4")
    assert len(month.run(0).landed.landed) == 3

    # A student who is not on the roster yet, a log that is late, one that is broken.
    month.fly(2, "MH1", "MH2", "MH3")
    month.fly(3, "MH4", "MH1", has_log=False)
    month.deliver("MH4-d03")
    broken = flight(Random(1), 1.0).replace(",", ";")
    month.deliver("MH2-d02", text=broken)
    report = month.run(3)
    assert sorted(waiting.what for waiting in report.landed.waiting) == ["awaited", "student"]
    assert [refusal.file for refusal in report.landed.refusals] == ["logs/MH2-d02.csv"]

    # All of that is mended; the night that takes it is killed, and the next one makes up for it.
    school.put("roster.csv", ROSTER)
    school.put("devices.csv", DEVICES)
    month.deliver("MH1-d03")
    month.deliver("MH2-d02")
    for point in (30, 90):  # as it lands, and as it measures
        code, said = month.run_elsewhere(STRUCK + ONE_NIGHT, point, "kill", *month.night, after(4))
        assert (code, said) == (-signal.SIGKILL, "")
    month.fly(5, "MH2", "MH3", "MH4")
    assert {s.session_id for s in month.run(5).landed.landed} >= {"MH2-d05", "MH3-d05"}
    assert audit_store(store) == []

    # Corrections: a log, tasks, a session's row; a file that stays bad.
    month.deliver("MH1-d00", seed=" again")
    school.put("tasks/MH2-d00.csv", TASKS.replace("120,230,", "120,225,"))
    month.rows["MH3-d05"] = month.rows["MH3-d05"].replace("SIM-2", "SIM-1")
    month.fly(8, "MH1", "MH2", "MH3", "MH4")
    month.rows["MH1-d08"] = month.rows["MH1-d08"].replace("levels", "=levels")
    month.deliver("MH3-d08", text="")
    school.sessions(*month.rows.values())
    changed = {s.session_id: s.changed for s in month.run(8).landed.landed if s.changed}
    assert changed == {"MH1-d00": ("log",), "MH2-d00": ("tasks",), "MH3-d05": ("row",)}

    # An upgrade, which measures anew and says what moved; then back again.
    newer = newer_version(tmp_path / "newer")
    before = {path.name for path in store.measures.iterdir()}
    code, said = month.run_elsewhere(ONE_NIGHT, *month.night, after(9), root=newer)
    assert code == 0, said
    assert "now 9." in said
    assert "limit altitude_bin_ft 0.25, now 20; SQL of altitude_hold" in said
    assert "altitude_hold.altitude_hold95_ft: " in said
    assert "flag cleared by this: MH2 altitude: ratio to the standard" in said
    month.fly(11, "MH1", "MH2", "MH3", "MH4")
    back = month.run(11)
    assert {path.name for path in store.measures.iterdir()} == before
    assert back.moved is not None
    assert [f.student_id for f in back.moved.flags if f.is_raised] == ["MH2"]

    # A full disk.
    month.fly(15, "MH1", "MH2", "MH3", "MH4")
    words = ("nightly", "--inbox", month.night[0], "--warehouse", month.night[1])
    code, said = month.run_elsewhere(STRUCK + COMMAND, 8, "full", *words)
    assert (code, said.count("\n")) == (74, 1)
    assert "no room is left on the disk" in said

    # A session that is withdrawn, a student who is forgotten, and whose files stay in the inbox.
    spoilt = ("withdraw", "MH3-d11", "--note", "flown by the instructor", "--warehouse")
    assert month.run_elsewhere("import sys\n" + COMMAND, *spoilt, store.root)[0] == 0
    gone = ("forget", "MH4", "--yes", "--warehouse", store.root)
    code, said = month.run_elsewhere("import sys\n" + COMMAND, *gone)
    assert code == 0, said
    month.fly(22, "MH1", "MH2", "MH3", "MH4")
    landed = {session.session_id for session in month.run(22).landed.landed}
    assert landed == {f"{student}-d{day}" for student in ("MH1", "MH2", "MH3") for day in (15, 22)}
    assert audit_store(store) == []
    assert list(says_what_where_and_what_to_do(month.told)) == []

    fresh = fresh_school(school, tmp_path / "fresh", without="MH4")
    run_night(fresh.inbox, fresh.store, school_settings(fresh.store), after(22))
    assert month.run_elsewhere("import sys\n" + COMMAND, *spoilt, fresh.store.root)[0] == 0
    measure_warehouse(fresh.store, school_settings(fresh.store))
    (tmp_path / "told.txt").write_text("\n".join(month.told), encoding="utf-8")
    expected, found = all_rows(fresh), all_rows(school)
    assert {name for name in expected if expected[name] != found[name]} == set()
    assert len(expected["flags"]) > 0
    assert len(expected["maneuver_scores"]) > 50
