"""The version of the program, written into every answer."""

VERSION = "0.1.0"
