"""From the inbox to the store: every file is taken, waits, or is refused with all its reasons."""

from pipeline.land.landing import Progress, land_inbox

__all__ = ["Progress", "land_inbox"]
