"""A session lands by its recorder's profile; what waits or was refused is tried again when it changes."""

from datetime import timedelta
from pathlib import Path

from tests.inboxes import NOW, ROSTER, SESSION_HEADING, School, gates_of, rules_of, session_line
from tests.recorders import ELAPSED, TWO_CHANNELS, columns_text

HEADING = SESSION_HEADING.rstrip() + ",recorder\n"
METRIC = ELAPSED + TWO_CHANNELS.replace('"alt"', '"alt", unit = "m"')
LOG = columns_text(
    t=[i / 4 for i in range(40)],
    alt=[1200 + i % 7 for i in range(40)],
    hdg=[90 + i % 2 for i in range(40)],
)


def _school(root: Path, recorder: str = "moth") -> School:
    school = School(root)
    school.put("roster.csv", ROSTER)
    school.sessions(f"{session_line('S1').rstrip()},{recorder}\n", heading=HEADING)
    school.put("logs/S1.csv", LOG)
    return school


def _profile(school: School, text: str, name: str = "moth") -> None:
    folder = school.store.root / "profiles"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{name}.toml").write_text(text)


def test_a_session_waits_for_its_profile_and_lands_when_it_is_there(tmp_path: Path) -> None:
    school = _school(tmp_path)
    _profile(school, METRIC, "moths")
    (waiting,) = school.night().waiting
    assert (waiting.what, waiting.name) == ("recorder", "S1")
    assert "put moth.toml into the warehouse's folder profiles" in waiting.sentence
    assert "did you mean moths?" in waiting.sentence
    _profile(school, METRIC)
    report = school.night(NOW + timedelta(days=1))
    assert [landed.session_id for landed in report.landed] == ["S1"]
    session = school.session()
    assert session["recorder"] == "moth"
    assert round(school.samples()[0]["altitude_ft"]) == 3937
    assert "the profile moth" in gates_of(session)["read_with_profile", None]["detail"]


def test_a_faulty_profile_lets_its_sessions_wait_and_no_other(tmp_path: Path) -> None:
    school = _school(tmp_path)
    _profile(school, METRIC.replace('"m"', '"kg"'))
    _profile(school, METRIC, "wasp")
    lines = [f"{session_line(s).rstrip()},{r}\n" for s, r in (("S1", "moth"), ("S2", "wasp"))]
    school.sessions(*lines, heading=HEADING)
    school.put("logs/S2.csv", LOG)
    report = school.night()
    assert [landed.session_id for landed in report.landed] == ["S2"]
    (waiting,) = report.waiting
    assert "altitude_ft.unit: 'kg' does not measure what 'ft' does" in waiting.sentence


def test_a_refused_log_is_read_again_when_its_profile_changes(tmp_path: Path) -> None:
    school = _school(tmp_path)
    _profile(school, METRIC.replace('"hdg"', '"course"'))
    assert rules_of(school.night()) == ["missing_column"]
    again = school.night(NOW + timedelta(days=1))
    assert (again.landed, again.new_refusals) == ((), ())
    _profile(school, METRIC)
    assert [s.session_id for s in school.night(NOW + timedelta(days=2)).landed] == ["S1"]


def test_a_landed_session_stays_when_its_profile_changes(tmp_path: Path) -> None:
    school = _school(tmp_path)
    _profile(school, METRIC)
    school.night()
    before = school.content()
    _profile(school, METRIC.replace('"m"', '"ft"'))
    report = school.night(NOW + timedelta(days=1))
    assert (report.already_landed, report.landed) == (1, ())
    after = dict(school.content())
    after.pop("warehouse/profiles/moth.toml")
    assert after == {k: v for k, v in before.items() if k != "warehouse/profiles/moth.toml"}


def test_a_corrected_recorder_reads_the_log_anew_or_waits_for_it(tmp_path: Path) -> None:
    school = _school(tmp_path)
    _profile(school, METRIC.replace('"m"', '"ft"'))
    school.night()
    assert school.samples()[0]["altitude_ft"] == 1200
    _profile(school, METRIC, "wasp")
    school.sessions(f"{session_line('S1').rstrip()},wasp\n", heading=HEADING)
    log = (school.inbox / "logs/S1.csv").rename(tmp_path / "kept.csv")
    (waiting,) = school.night(NOW + timedelta(days=1)).waiting
    assert "its log is no longer in the inbox to be read again" in waiting.sentence
    log.rename(school.inbox / "logs/S1.csv")
    (landed,) = school.night(NOW + timedelta(days=2)).landed
    assert (landed.revision, landed.changed) == (2, ("row",))
    assert round(school.samples()[0]["altitude_ft"]) == 3937


def test_a_corrected_start_moves_the_times_of_a_log_with_a_clock(tmp_path: Path) -> None:
    school = _school(tmp_path)
    clock = METRIC.replace(ELAPSED, "[time]\nform = 'clock'\ncolumn = 't'\nzone = 'UTC'\n")
    _profile(school, clock)
    times = [f"09:00:{i:02d}" for i in range(40)]
    school.put("logs/S1.csv", columns_text(t=times, alt=[1200] * 40, hdg=[90] * 40))
    school.night()
    late = session_line("S1", started_at="2026-03-14T08:59:50Z").rstrip() + ",moth\n"
    school.sessions(late, heading=HEADING)
    (school.inbox / "logs/S1.csv").unlink()
    school.night(NOW + timedelta(days=1))
    assert [row["t_ms"] for row in school.samples()[:2]] == [10_000, 11_000]
