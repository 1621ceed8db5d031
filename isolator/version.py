"""The version, for the wheel and for what is written."""

VERSION = "0.1.0"
