"""The night on a schedule: units for systemd, or a line for cron, ready to be put in place."""

import re
import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pipeline.errors import UsageError

REFUSED: Final = 3
"""The exit code of a night that is done but refused some input: no failure of the service."""

_CLOCK: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f]")


@dataclass(frozen=True)
class Nightly:
    """What is run each night: the command, two folders (absolute), the local time ("02:30"), as whom."""

    command: Path
    inbox: Path
    warehouse: Path
    at: str = "02:30"
    user: str = "root"

    def __post_init__(self) -> None:
        if _CLOCK.fullmatch(self.at) is None:
            raise UsageError(f"--at {self.at}: not a time of day; write it as 02:30")
        for path in (self.command, self.inbox, self.warehouse):
            if _CONTROL.search(str(path)):
                raise UsageError(
                    f"{str(path)!r}: a schedule cannot name a path with such a character"
                )

    @property
    def words(self) -> tuple[str, ...]:
        """The command line, word by word."""
        folders = ("--inbox", str(self.inbox), "--warehouse", str(self.warehouse))
        return (str(self.command), "nightly", "--quiet", *folders)


def systemd_units(night: Nightly) -> dict[str, str]:
    """The text of each unit by its file name: the night, its timer, and what runs when it fails."""
    return {
        "levelhold.service": _service(night),
        "levelhold.timer": _timer(night),
        "levelhold-failed.service": _failed(night),
    }


def cron_line(night: Nightly) -> str:
    """One line of a crontab: cron mails what the night prints, and it prints only what needs somebody."""
    hour, minute = night.at.split(":")
    # In a crontab a bare % ends the command.
    line = shlex.join(night.words).replace("%", r"\%")
    return f"{int(minute)} {int(hour)} * * * {line}\n"


def _service(night: Nightly) -> str:
    """Hardened by systemd.exec(5) and systemd.service(5): it writes the warehouse alone, no network."""
    return f"""\
[Unit]
Description=Score the night's flight training logs (levelhold)
OnFailure=levelhold-failed.service
RequiresMountsFor={_quoted(night.inbox)} {_quoted(night.warehouse)}

[Service]
Type=oneshot
User={night.user}
ExecStart={" ".join(_quoted(word, is_command=True) for word in night.words)}
# {REFUSED}: done, but some input was refused; the run report names it.
SuccessExitStatus={REFUSED}
TimeoutStartSec=4h
Nice=10
UMask=0027
ProtectSystem=strict
ProtectHome=read-only
ReadWritePaths={_quoted(night.warehouse)}
PrivateTmp=yes
PrivateDevices=yes
PrivateNetwork=yes
NoNewPrivileges=yes
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
LockPersonality=yes
RestrictAddressFamilies=AF_UNIX
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
SystemCallArchitectures=native
CapabilityBoundingSet=
# Not MemoryDenyWriteExecute: what draws the charts compiles as it runs.
"""


def _timer(night: Nightly) -> str:
    """A night that was missed, as the machine was off, is made up for (systemd.timer(5))."""
    return f"""\
[Unit]
Description=Run levelhold every night

[Timer]
OnCalendar=*-*-* {night.at}:00
RandomizedDelaySec=10min
Persistent=true

[Install]
WantedBy=timers.target
"""


def _failed(night: Nightly) -> str:
    """Replace the command by what reaches the operator: a mail, a message."""
    words = (str(night.command), "status", "--warehouse", str(night.warehouse))
    return f"""\
[Unit]
Description=Tell that levelhold's night failed

[Service]
Type=oneshot
User={night.user}
ProtectSystem=strict
PrivateTmp=yes
# Into the journal at the level of an error; put in its place what sends a message to somebody.
SyslogLevel=err
ExecStart={" ".join(_quoted(word, is_command=True) for word in words)}
"""


def _quoted(value: object, *, is_command: bool = False) -> str:
    """A word as systemd reads it back: its quotes, its specifiers (%), in a command its variables ($)."""
    text = str(value).replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    if is_command:
        text = text.replace("$", "$$")
    return f'"{text}"' if re.search(r"[\s\"'\\;]", text) else text
