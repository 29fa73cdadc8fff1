"""The version, alone, so that every layer may print it."""

__version__ = "0.1.0"
