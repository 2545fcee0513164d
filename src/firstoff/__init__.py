"""Firstoff: examine an NC program against a self-built milling machine before it runs."""

__version__ = "0.1.0"
