"""A diagnostic expert system for bicycles: from a vague complaint to an ordered, measured fix plan."""

__version__ = "0.1.0"
