"""How closely and how steadily each student held an assigned altitude, heading and airspeed."""

__version__ = "0.1.0"
