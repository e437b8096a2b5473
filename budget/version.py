"""The program's version, in a module that imports nothing, so that every layer may name it."""

__version__ = "0.1.0"
